"""The drawing engine in a process of its own, so that it starts and draws while this one goes on.

It holds the interpreter for as long as it works, so a thread would gain nothing. The process knows no season: it takes
one description a line and gives one answer a line, until its input ends, be it that this process has ended. Where it
cannot be had, drawing is done here.
"""

from __future__ import annotations

import atexit
import json
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from typing import Any

import vl_convert


def _describe(asked: dict[str, Any]) -> dict[str, Any]:
    from reports.kinds import KINDS  # here, for reading the library takes most of a second of the process that does

    return KINDS[asked["kind"]](*asked["given"])


_TASKS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "describe": _describe,
    "compile": vl_convert.vegalite_to_vega,
    "draw": vl_convert.vega_to_svg,
}


@cache
def _process() -> subprocess.Popen[str] | None:
    """The process, started at the first call."""
    with suppress(OSError):
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "reports.engine"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            encoding="ascii",
        )
        atexit.register(_end, process)
        return process
    return None


def start() -> None:
    """Start the engine beside other work: it takes half a second of a core that is free until charts are wanted."""
    _process()


def _end(process: subprocess.Popen[str]) -> None:
    process.kill()
    process.wait()


def work(task: str, description: dict[str, Any]) -> Any:
    """``describe`` a kind of chart in Vega-Lite, ``compile`` such a description to Vega, or ``draw`` Vega as SVG.

    Raises:
        ValueError: the engine refuses the description.
    """
    with suppress(OSError, ValueError):
        process = _process()
        if process is not None and process.stdin is not None and process.stdout is not None:
            process.stdin.write(f"{task} {json.dumps(description)}\n")
            process.stdin.flush()
            return json.loads(process.stdout.readline())
    return _TASKS[task](description)


def _serve() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that asks; its end is the end of input
    vl_convert.vegalite_to_vega(_describe({"kind": "calibration", "given": [0, 1]}))
    for line in sys.stdin:
        task, text = line.split(" ", 1)
        print(json.dumps(_TASKS[task](json.loads(text))), flush=True)


if __name__ == "__main__":
    _serve()
