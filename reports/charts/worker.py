"""The drawing engine in a separate process, so it starts and draws while this one goes on.

It holds the interpreter lock while it works, so a thread would gain nothing. The process knows no season: it takes one
description per line and gives one answer per line, until its input ends (as it does when this process ends). If there
can be no such process, drawing is done here.
"""

from __future__ import annotations

import atexit
import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

import vl_convert


def _describe(asked: dict[str, Any]) -> dict[str, Any]:
    # Imported here: reading the library takes most of a second of the process that does.
    from reports.charts.ledger_specs import LEDGER_KINDS
    from reports.charts.specs import KINDS

    return (KINDS | LEDGER_KINDS)[asked["kind"]](*asked["given"])


_TASKS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "describe": _describe,
    "compile": vl_convert.vegalite_to_vega,
    "draw": vl_convert.vega_to_svg,
}


@cache
def _process() -> subprocess.Popen[str] | None:
    """The process, started at the first call; None if it cannot be."""
    here = os.pathsep.join(filter(None, [str(Path(__file__).parents[2]), os.environ.get("PYTHONPATH")]))
    with suppress(OSError, TypeError):  # the latter if no interpreter is known to start
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "reports.charts.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            encoding="ascii",
            env=os.environ | {"PYTHONPATH": here},
        )
        atexit.register(_end, process)
        return process
    return None


def start() -> None:
    """Start the engine during other work: it takes half a second of a core that is free until charts are needed."""
    _process()


def stop() -> None:
    """End the engine; a caller still waiting for its answer draws here instead."""
    process = _process()
    if process is not None:
        _end(process)


def _end(process: subprocess.Popen[str]) -> None:
    process.kill()
    process.wait()


def work(task: str, description: dict[str, Any]) -> Any:
    """``describe`` a kind of chart in Vega-Lite, ``compile`` such a description to Vega, or ``draw`` Vega as SVG.

    Raises:
        ValueError: the engine refuses the description.
    """
    process = _process()
    if process is not None and process.poll() is None:
        try:
            return _asked(process, f"{task} {json.dumps(description)}\n")
        except (OSError, ValueError):
            _end(process)  # an answer still to come must not be taken for the next one
    return _TASKS[task](description)


def _asked(process: subprocess.Popen[str], question: str) -> Any:
    assert process.stdin is not None and process.stdout is not None
    process.stdin.write(question)
    process.stdin.flush()
    return json.loads(process.stdout.readline())


def _serve() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that asks; its end is the end of input
    answers, sys.stdout = sys.stdout, sys.stderr  # nothing else may stand among the answers
    vl_convert.vegalite_to_vega(_describe({"kind": "calibration", "given": [0, 1]}))
    for line in sys.stdin:
        task, text = line.split(" ", 1)
        print(json.dumps(_TASKS[task](json.loads(text))), file=answers, flush=True)


if __name__ == "__main__":
    _serve()
