"""Sentences are written in ``pipeline/decisions/wording`` alone: models and question folders hand it typed values."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PIPELINE = Path(__file__).parents[2] / "pipeline"
SILENT = ("models", "pricing", "validation", "decisions")
SPEAKING = tuple(PIPELINE / "decisions" / folder for folder in ("wording", "records", "export"))
"""Folders that may hold sentences: the wording itself, and the descriptions of fields."""
_STAGE = "id of a stage of a delivery, in ``pricing/ledger/sums``"
EXCEPTIONS = {
    "a pattern never bowled on": "id of the pattern in the worth model's design; no reader meets it",
    "new {}={}": "id of a level in that design",
    "ball not listed": "id of the class of such balls in that design",
    "other single pin": "id of a type of leave, of which ``sport/leaves`` has the list",
    "line, board logged": _STAGE,
    "line, no board": _STAGE,
    "missed, board logged": _STAGE,
    "missed, no board": _STAGE,
    "{} and {}": "key under which the skills of two seasons are kept",
}
_WORD = re.compile(r"\{\}|[A-Za-z][A-Za-z'’-]*")


def sentences(source: str, ids: frozenset[str] = frozenset()) -> list[tuple[int, str]]:
    """Line and text of every string of three words or more; what an f-string fills in counts as a word.

    Left out: docstrings, errors, names of random streams (``generator``), progress (``tell``), ``ids``.
    """
    tree = ast.parse(source)
    passed = {id(inner) for node in ast.walk(tree) for part in _passed(node) for inner in ast.walk(part)}
    result = ((node.lineno, text) for node in ast.walk(tree) if id(node) not in passed and (text := _text(node)))
    return [(line, text) for line, text in result if text not in ids and len(_WORD.findall(text)) >= 3 and " " in text]


def _passed(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Raise):
        yield node
    if isinstance(node, ast.JoinedStr):
        yield from (part for part in node.values if isinstance(part, ast.Constant))
    if isinstance(node, ast.Call):
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if name in ("generator", "tell") or name.endswith("Error"):
            yield from node.args
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def _ids() -> frozenset[str]:
    """Every value of a ``Literal``: a choice that a field holds, not a sentence."""
    subscripts = (
        node
        for path in PIPELINE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "Literal"
    )
    return frozenset(
        inner.value for node in subscripts for inner in ast.walk(node.slice) if isinstance(inner, ast.Constant)
    )


def test_no_sentence_is_written_outside_the_wording() -> None:
    ids, met = _ids(), set()
    paths = [path for room in SILENT for path in sorted((PIPELINE / room).rglob("*.py"))]
    for path in paths:
        if any(path.is_relative_to(folder) for folder in SPEAKING):
            continue
        for line, text in sentences(path.read_text(encoding="utf-8"), ids):
            place = f"{path.relative_to(PIPELINE)}:{line}"
            assert text in EXCEPTIONS, f"{place}: {text!r} belongs in pipeline/decisions/wording"
            met.add(text)
    assert met == set(EXCEPTIONS), "an exception that nothing needs"


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ('x = "Play it more often."', ["Play it more often."]),
        ('x = f"{ball}: play it {n} times"', ["{}: play it {} times"]),
        ('x = dict(sentence=f"{a}, {b} and {c}")', ["{}, {} and {}"]),
        ("x = f\"{play if more else 'play this ball more'}\"", ["play this ball more"]),
        ('"""Play it more often."""', []),
        ('raise ValueError("this is not a number")', []),
        ('fits.generator(f"luck of {bowler}")', []),
        ('tell("fitting the spares of bowlers", 0.8)', []),
        ('x = Unfitted(NotDeterminedError("it is fitted elsewhere"))', []),
        ('x = "cells/game_scores"', []),
        ('x = "not enough shots"', []),
    ],
)
def test_what_counts_as_a_sentence(source: str, expected: list[str]) -> None:
    assert [text for _, text in sentences(source, frozenset({"not enough shots"}))] == expected
