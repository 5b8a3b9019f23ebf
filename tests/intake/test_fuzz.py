"""Whatever stands in the files: no row is lost, and nothing but an IntakeError comes out."""

from __future__ import annotations

import tempfile
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.intake import IntakeError
from pipeline.intake.checks.dates import leave_from_date, looks_like_a_date, read_dates
from pipeline.intake.checks.frames import Mark, Outcome, SetAside, check_frame
from pipeline.intake.files.column_map import read_column_map
from pipeline.sport.leaves import FULL_RACK
from tests.intake.logs import HEADER, REFERENCES, ask, file_report, load, shot, write_logs

_WORDS = st.sampled_from([
    *"X/-0'", "", "7", "10", "7-10", "3-6-10", "7-Oct", "46302", "1.5", "17,5", "1e3", "-1", "99999999", "nan", "inf",
    "b1", "w1", "wren", "tarn", "=1+1", "2026-03-05", "\u0660", '"', "a b", "\ufeff", "yes", "no", "'; DROP TABLE t;--",
])  # fmt: skip
_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
_CELL = st.one_of(_WORDS, _WORDS, _TEXT)
_few = settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
_many = settings(max_examples=500, deadline=None, derandomize=True)


@st.composite
def _rows(draw: st.DrawFn, most: int = 12) -> list[str]:
    rows = []
    for _ in range(draw(st.integers(1, most))):
        row = shot(draw(st.integers(1, 10)), draw(st.integers(1, 3)), draw(_WORDS), game=draw(st.integers(1, 2))).split(
            ","
        )
        for _ in range(draw(st.integers(0, 2))):
            row[draw(st.integers(0, len(row) - 1))] = draw(_CELL)
        rows.append(",".join(row) + draw(st.sampled_from(["", "", "", ",", "\r", "\n", '"'])))
    return rows


@_few
@given(_rows())
def test_rows(rows: list[str]) -> None:
    with tempfile.TemporaryDirectory() as place, suppress(IntakeError):
        folder = write_logs(Path(place) / "logs", rows)
        report = file_report(load(folder))
        counts = "SELECT (SELECT count(*) FROM deliveries), (SELECT count(DISTINCT line) FROM quarantine)"
        assert ask(folder, counts) == [(report.kept, report.quarantined)]
        _deliveries_obey_the_rules(folder)


def _deliveries_obey_the_rules(folder: Path) -> None:
    risen = "SELECT count(*) FROM deliveries WHERE standing & ~facing <> 0 OR facing NOT BETWEEN 1 AND 1023"
    alone = (
        "SELECT count(*) FROM deliveries AS d WHERE delivery > 1 AND NOT EXISTS (FROM deliveries AS e WHERE "
        "e.delivery = d.delivery - 1 AND (e.block, e.bowler, e.game, e.frame) = (d.block, d.bowler, d.game, d.frame))"
    )
    twice = "SELECT count(*) - count(DISTINCT (block, bowler, game, frame, delivery)) FROM deliveries"
    assert ask(folder, f"SELECT ({risen}), ({alone}), ({twice})") == [(0, 0, 0)]


@_few
@given(st.data())
def test_mutated_files(data: st.DataObject) -> None:
    """Bytes of any one file are cut, doubled or overwritten."""
    with tempfile.TemporaryDirectory() as place:
        folder = write_logs(Path(place) / "logs", [shot(f, 1, "X") for f in range(1, 8)] + [shot(8, 1, "7-10")])
        path = folder / data.draw(st.sampled_from([*REFERENCES, "shots.csv"]))
        content = bytearray(path.read_bytes())
        for _ in range(data.draw(st.integers(1, 4))):
            start = data.draw(st.integers(0, len(content)))
            length = data.draw(st.integers(0, 9))
            content[start : start + length] = data.draw(st.binary(max_size=9))
        path.write_bytes(content)
        with suppress(IntakeError):
            load(folder)


@_few
@given(
    st.lists(st.lists(_CELL, max_size=22).map(",".join), max_size=8), st.sampled_from(["utf-8", "utf-16", "utf-8-sig"])
)
def test_any_table(rows: list[str], encoding: str) -> None:
    with tempfile.TemporaryDirectory() as place, suppress(IntakeError):
        folder = write_logs(Path(place) / "logs", [])
        (folder / "shots.csv").write_text("\n".join([HEADER, *rows]), encoding=encoding)
        load(folder)


@_many
@given(st.text(max_size=30))
def test_column_maps(text: str) -> None:
    with tempfile.TemporaryDirectory() as place, suppress(IntakeError):
        path = Path(place) / "columns.toml"
        path.write_text(text, encoding="utf-8", errors="ignore")
        read_column_map(path)


@_many
@given(st.one_of(_TEXT, st.from_regex(r"\d{1,4}[-/. ]?(\d{1,2}|[A-Za-z]{3})([-/. ]\d{1,4})?", fullmatch=True)))
def test_dates(text: str) -> None:
    read_dates([text])
    if looks_like_a_date(text):
        mask = leave_from_date(text, FULL_RACK)
        assert mask is None or 2 <= mask.bit_count() <= 3


_MARK = st.one_of(st.none(), st.builds(SetAside), st.builds(Mark, _CELL, st.booleans()))


@_many
@given(st.tuples(_MARK, _MARK, _MARK), st.booleans(), st.booleans())
def test_frames(marks: tuple[Mark | SetAside | None, ...], tenth: bool, left_handed: bool) -> None:
    """A delivery is kept only after a kept one, faces what that left, and mirrored hands see mirrored racks."""
    results = check_frame(marks, tenth=tenth, left_handed=left_handed)
    other = check_frame(marks, tenth=tenth, left_handed=not left_handed)
    before: object = None
    for number, (mark, result) in enumerate(zip(marks, results, strict=True)):
        assert isinstance(mark, Mark) or result is None
        if isinstance(result, Outcome):
            assert number == 0 or isinstance(before, Outcome)
            assert result.standing & ~result.facing == 0
            if isinstance(before, Outcome):
                assert result.facing == (before.standing or FULL_RACK)
        before = result
    assert [type(result) for result in results] == [type(result) for result in other]


@pytest.mark.slow
@settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(_rows(most=60))
def test_many_rows(rows: list[str]) -> None:
    test_rows.hypothesis.inner_test(rows)  # type: ignore[attr-defined]
