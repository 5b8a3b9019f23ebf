"""Measure one task in a process of its own: wall seconds and peak memory, imports of the task's libraries left out."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any


@dataclass(frozen=True)
class Measured:
    """What one task took; ``answer`` is what it returned."""

    seconds: float
    peak_mb: float
    answer: Any


def in_own_process(
    task: str,
    *arguments: object,
    runs: int = 1,
    as_command: bool = False,
    environment: Mapping[str, str] | None = None,
) -> Measured:
    """Run ``tests.benchmarks.tasks.<task>`` in fresh processes; median seconds, highest peak, last answer.

    ``environment``: variables of theirs. ``as_command``: with the one thread of linear algebra that our command sets;
    else with what a library takes.
    """
    given = os.environ | ({"OPENBLAS_NUM_THREADS": "1"} if as_command else {}) | dict(environment or {})
    command = [sys.executable, "-m", "tests.benchmarks.tasks", task, *map(str, arguments)]
    results = []
    for _ in range(runs):
        finished = subprocess.run(command, capture_output=True, text=True, env=given, check=False)
        if finished.returncode:
            raise RuntimeError(f"{task}: {finished.stderr[-2000:]}")
        results.append(json.loads(finished.stdout.splitlines()[-1]))
    return Measured(
        median(result["seconds"] for result in results),
        max(result["peak_mb"] for result in results),
        results[-1]["answer"],
    )


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Wall seconds of ``work`` and what it returned."""
    started = time.perf_counter()
    answer = work()
    return time.perf_counter() - started, answer


def peak_mb() -> float:
    """Highest memory of this process so far, in MB."""
    own = peak_mb_of(os.getpid())  # getrusage counts the peak of whoever started it as its own
    return own or resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def peak_mb_of(process: int) -> float:
    """The same of a running process, by its number; where the system keeps no such figure, 0."""
    with suppress(OSError):
        for line in Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    return 0.0
