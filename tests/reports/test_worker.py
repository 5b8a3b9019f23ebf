"""The drawing engine: what its process draws, and that its failures change nothing."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator

import pytest
import vl_convert
from markupsafe import Markup

from reports.charts import specs, worker
from reports.charts.queue import pen

_POINT = {"mark": "point", "data": {"values": [{"x": 1}]}, "encoding": {"x": {"field": "x", "type": "quantitative"}}}
_BAR = _POINT | {"mark": "bar"}


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    """A process of its own for every test."""
    worker._process.cache_clear()
    yield
    worker.stop()
    worker._process.cache_clear()


def test_its_process_draws_as_this_one_would(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker, "_TASKS", {})  # nothing can be drawn here
    assert worker.work("describe", {"kind": "calibration", "given": [0.2, 0.7]}) == specs.calibration(0.2, 0.7)
    vega = worker.work("compile", _POINT)
    assert vega == vl_convert.vegalite_to_vega(_POINT)
    assert worker.work("draw", vega).startswith("<svg")
    process = worker._process()
    assert process is not None and process.poll() is None


def test_drawing_goes_on_here_when_the_process_is_gone() -> None:
    worker.start()
    worker.stop()
    assert worker.work("draw", worker.work("compile", _POINT)).startswith("<svg")


def test_an_answer_that_makes_no_sense_is_not_followed_by_the_answer_before(monkeypatch: pytest.MonkeyPatch) -> None:
    process = worker._process()
    assert process is not None and process.stdout is not None
    real, lines = process.stdout.readline, ["stray\n"]
    monkeypatch.setattr(process.stdout, "readline", lambda: lines.pop() if lines else real())
    assert worker.work("compile", _POINT) == vl_convert.vegalite_to_vega(_POINT)
    assert worker.work("compile", _BAR) == vl_convert.vegalite_to_vega(_BAR)


def test_a_description_it_refuses_is_refused_here_too() -> None:
    with pytest.raises(ValueError, match="conversion failed"):
        worker.work("compile", {"mark": "no such mark"})
    assert worker.work("compile", _BAR) == vl_convert.vegalite_to_vega(_BAR)


def test_its_process_ends_with_its_input() -> None:
    process = worker._process()
    assert process is not None and process.stdin is not None
    process.stdin.close()
    assert process.wait(30) == 0


def test_a_process_that_hangs_does_not_hold_up_an_interrupt() -> None:
    process = worker._process()
    assert process is not None
    os.kill(process.pid, signal.SIGSTOP)
    started = time.monotonic()

    def chart() -> Markup:
        return Markup(worker.work("draw", worker.work("compile", _POINT)))

    with pytest.raises(KeyboardInterrupt), pen(lambda: None) as drawing:
        drawing.draw(chart)
        time.sleep(0.5)  # until the thread waits for the answer
        raise KeyboardInterrupt
    assert time.monotonic() - started < 10
