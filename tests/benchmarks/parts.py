"""The parts of one whole review and what each takes, from cProfile: beside each other, none within another."""

from __future__ import annotations

import cProfile
import os
import pstats
import sys
from pathlib import Path
from typing import Any

from pipeline.store.second_process import PROCESSES

_STAGES = {
    ("load", "run"): "load",
    ("fits", "<lambda>"): "fit",
    ("parts", "<lambda>"): "decide",
    ("parts", "_new_blocks"): "decide",
    ("parts", "_other_checks"): "decide",
    ("publish", "pages"): "report",
}
"""Module and function -> the stage whose parts it calls."""
_PASSED_THROUGH = {"guard", "fits"}  # modules that only call what a part is
_IMPORTS = ("<frozen importlib._bootstrap>", "_find_and_load")


def profiled_review(log: Path, database: Path, out: Path) -> pstats.Stats:
    """The profile of the command in this process alone, imports of the packages it needs included.

    Raises:
        RuntimeError: the command did not finish; 3, done with rows in quarantine, counts as finished.
    """
    profile = cProfile.Profile()
    os.environ[PROCESSES] = "1"
    before, sys.argv = sys.argv, ["rackledger", "review", str(log), "--db", str(database), "--out", str(out)]
    code: Any = 0
    try:
        profile.runcall(_command)
    except SystemExit as end:
        code = end.code
    finally:
        sys.argv = before
    if code not in (None, 0, 3):
        raise RuntimeError(f"the review ended with exit code {code}")
    return pstats.Stats(profile)


def _command() -> None:
    from pipeline.cli import main

    main()


def slowest(stats: pstats.Stats, number: int = 10) -> list[tuple[str, float]]:
    """The ``number`` slowest parts and the cumulative seconds of each under the profiler, slowest first.

    A part is what a stage calls directly; all imports together are one more.
    """
    by_name: dict[str, float] = {}
    for (file, _, name), (_, _, _, taken, callers) in stats.stats.items():  # type: ignore[attr-defined]
        if (file, name) == _IMPORTS:
            by_name["imports"] = taken
            continue
        for (caller_file, _, caller), (_, _, _, under) in callers.items():
            ours = "pipeline" in Path(caller_file).parts or "reports" in Path(caller_file).parts
            stage = _STAGES.get((Path(caller_file).stem, caller))
            if ours and stage is not None and _ours(file) and Path(file).stem not in _PASSED_THROUGH:
                part = f"{stage}: {_named(file, name)}"
                by_name[part] = by_name.get(part, 0.0) + under
    return sorted(by_name.items(), key=lambda item: -item[1])[:number]


def _ours(file: str) -> bool:
    return "site-packages" not in file and ("pipeline" in Path(file).parts or "reports" in Path(file).parts)


def _named(file: str, name: str) -> str:
    return f"{Path(file).stem}.{name}"
