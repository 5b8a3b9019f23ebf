"""The dependency audit passes only what was audited, or what could not be for want of the service."""

import json
from pathlib import Path

import pytest

from tests.audit import NOT_RUN, first_pin, verdict

CLEAN = {"name": "oak", "version": "1", "vulns": []}
# The shape of a report with a finding, as pip-audit's own documentation shows it.
BAD = {"name": "ash", "version": "2", "vulns": [{"id": "PYSEC-0000-1", "fix_versions": ["3"]}]}
SKIPPED = {"name": "elm", "skip_reason": "not found"}


@pytest.mark.parametrize(
    ("packages", "code", "words"),
    [
        ([CLEAN], 0, "no known vulnerability"),
        ([CLEAN, BAD], 1, "ash 2: PYSEC-0000-1"),
        ([BAD, SKIPPED], 1, "PYSEC-0000-1"),
        ([CLEAN, SKIPPED], 1, "elm"),
        ([SKIPPED], 0, NOT_RUN),
    ],
)
def test_verdict(packages, code, words):
    result, sentence = verdict(json.dumps({"dependencies": packages}), "")
    assert result == code
    assert words in sentence


def test_a_report_that_is_none():
    assert verdict("", "requests.exceptions.ConnectionError: no route") == (0, NOT_RUN)
    assert verdict("", "hashes do not match")[0] == 1


def test_every_pin_of_the_lock_has_its_hash():
    lock = (Path(__file__).parents[2] / "constraints.txt").read_text(encoding="utf-8")
    first = first_pin(lock)
    assert first.splitlines()[0].count("==") == 1
    assert "--hash=sha256:" in first
    assert first.count("==") == 1
