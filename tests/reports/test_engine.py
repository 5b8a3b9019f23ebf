"""The drawing engine: what its process draws, and that its death changes nothing."""

from __future__ import annotations

import vl_convert

from reports import engine

_POINT = {"mark": "point", "data": {"values": [{"x": 1}]}, "encoding": {"x": {"field": "x", "type": "quantitative"}}}


def test_its_process_draws_as_this_one_would() -> None:
    vega = engine.work("compile", _POINT)
    assert vega == vl_convert.vegalite_to_vega(_POINT)
    assert engine.work("draw", vega).startswith("<svg")


def test_drawing_goes_on_here_when_the_process_is_gone() -> None:
    engine.start()
    process = engine._process()
    assert process is not None
    process.kill()
    process.wait()
    assert engine.work("draw", engine.work("compile", _POINT)).startswith("<svg")
    engine._process.cache_clear()


def test_its_process_ends_with_its_input() -> None:
    engine._process.cache_clear()
    process = engine._process()
    assert process is not None and process.stdin is not None
    process.stdin.close()
    assert process.wait(30) == 0
    engine._process.cache_clear()
