"""Templates load as they stand, and the log sheet needs nothing but itself."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pytest

from pipeline.intake import IntakeError
from pipeline.intake.files.columns import REFERENCES, columns_of
from pipeline.intake.files.log_sheet import log_sheet_html
from pipeline.intake.files.templates import write_guide, write_log_sheet, write_template
from tests.intake.logs import file_report, load


class Page(HTMLParser):
    """Collects tags and whatever a page would fetch."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.fetched: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.fetched += [str(value) for name, value in attrs if name in {"src", "href", "action", "data"}]


def test_worked_example_loads(tmp_path: Path) -> None:
    written = write_template(tmp_path / "logs")
    assert {path.stem for path in written} == {*REFERENCES, "shots"}
    for path in written:
        header = path.read_text(encoding="utf-8").splitlines()[0].split(",")
        assert header == [column.name for column in columns_of(path.stem)]
    report = load(tmp_path / "logs")
    assert (report.rows_quarantined, report.refused) == (0, ())
    assert file_report(report).kept == 3


def test_the_guide_says_what_every_column_may_hold(tmp_path: Path) -> None:
    write_template(tmp_path)
    text = write_guide(tmp_path).read_text(encoding="utf-8")
    for kind in (*REFERENCES, "shots"):
        part = text[text.index(f"{kind}.csv") :].split("\n\n")[0].splitlines()[1:]
        assert [line.split()[0] for line in part] == [column.name for column in columns_of(kind)]
    assert "one of right, left\n" in text.replace("left, right", "right, left")
    assert load(tmp_path).rows_quarantined == 0  # it is not taken for a log


def test_no_log_is_overwritten(tmp_path: Path) -> None:
    write_template(tmp_path)
    with pytest.raises(IntakeError, match="is there already"):
        write_template(tmp_path)
    (tmp_path / "file").write_text("")
    with pytest.raises(IntakeError, match="is a file"):
        write_template(tmp_path / "file")


def test_log_sheet(tmp_path: Path) -> None:
    text = write_log_sheet(tmp_path).read_text(encoding="utf-8")
    assert text == log_sheet_html()
    page = Page(text)
    assert page.fetched == []
    assert "script" not in page.tags
    assert "url(" not in text
    assert page.tags.count("tr") == 1 + 21  # nine frames of two deliveries and a tenth of three, under the heads
    assert "default-src 'none'" in text
