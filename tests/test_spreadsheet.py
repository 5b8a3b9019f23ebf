"""No cell of a CSV is a formula to a spreadsheet: starts as an application-security guide lists them, from memory."""

from __future__ import annotations

import json
import re

import pyarrow as pa
import pyarrow.compute as pc
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.spreadsheet import FORMULA, LED, as_text
from reports.page import script_text

STARTS = "=+-@\t\r\n＝＋－＠"


@pytest.mark.parametrize("start", [*STARTS, "'", " =", "  ＝"])
def test_a_risky_start_is_led_by_an_apostrophe(start: str) -> None:
    assert as_text(f"{start}1+1") == f"'{start}1+1"


@pytest.mark.parametrize("text", ["", "a=1", "7-10", "x -1", "1=1"])
def test_other_text_stays(text: str) -> None:
    assert as_text(text) == text


@settings(deadline=None)  # the machine may be busy
@given(st.text(alphabet=f" '{STARTS}a1|%", max_size=6))
def test_arrow_has_the_same_rule_and_it_can_be_undone(text: str) -> None:
    led = as_text(text)
    assert pc.replace_substring_regex(pa.array([text]), pattern=FORMULA, replacement=LED).to_pylist() == [led]
    assert led.lstrip(" ")[:1] not in [*STARTS]
    assert (led[1:] if led.startswith("'") else led) == text


def test_the_reports_tables_have_the_same_rule() -> None:
    """What the script hands to ``RegExp`` is the pattern itself."""
    (pattern,) = re.findall(r'new RegExp\(("(?:[^"\\]|\\.)*")\)', script_text())
    assert json.loads(pattern) == FORMULA and 'flat.replace(risky, "\'$1")' in script_text()
