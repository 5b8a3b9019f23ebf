"""CSVs whose columns are named differently, read through a column map."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.intake import IntakeError
from pipeline.intake.files.column_map import read_column_map
from tests.intake.logs import ask, file_report, load, reasons, shot, write_logs

THEIRS = """Tag;Einheit;Wer;Spiel;Feld;Wurf;Kugel;Rest;Übertritt;Tempo
05.03.2026;b1;wren;1;1;1;w1;7;nein;17,5
05.03.2026;b1;wren;1;1;2;w2;alle;nein;
05.03.2026;b1;wren;1;2;1;w1;alle;ja;
05.03.2026;b1;wren;1;3;1;w1;elf;nein;
"""
MAP = """
[shots.columns]
date = "Tag"
block = "Einheit"
bowler = "Wer"
game = "Spiel"
frame = "Feld"
delivery = "Wurf"
ball = "Kugel"
leave = "rest"
foul = "Übertritt"
speed_mph = "Tempo"
[shots.constants]
lane = 12
[shots.values.leave]
alle = "0"
[shots.values.foul]
ja = "yes"
nein = "no"
[bowlers.values.hand]
R = "right"
L = "left"
"""


def test_other_names_constants_and_values(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [], bowlers="bowler,hand\nwren,R\ntarn,L\n")
    (folder / "shots.csv").write_text(THEIRS, encoding="cp1252")
    column_map = tmp_path / "columns.toml"
    column_map.write_text(MAP, encoding="utf-8")
    assert file_report(load(folder, column_map=column_map)).kept == 3
    stored = ask(folder, "SELECT lane, speed_mph, standing, foul FROM deliveries ORDER BY line")
    assert stored == [(12, 17.5, 64, False), (12, None, 0, False), (12, None, 1023, True)]
    assert reasons(folder)[5, "leave"][0] == "elf"


def test_only_names(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X")])
    text = (folder / "shots.csv").read_text().replace("leave,", "Standing Pins,")
    (folder / "shots.csv").write_text(text)
    with pytest.raises(IntakeError, match="lacks the column leave"):
        load(folder)
    column_map = tmp_path / "columns.toml"
    column_map.write_text('[shots.columns]\nleave = "standing pins"\n')
    assert file_report(load(folder, column_map=column_map)).kept == 1


def test_a_changed_map_reads_again(tmp_path: Path) -> None:
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "all")])
    assert file_report(load(folder)).kept == 0
    column_map = tmp_path / "columns.toml"
    column_map.write_text('[shots.values.leave]\nall = "X"\n')
    assert file_report(load(folder, column_map=column_map)).kept == 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[", "not valid TOML"),
        ("[games.columns]\na = 'b'", "not a known file type"),
        ("[shots.columns]\nspin = 'b'", "shots.columns.spin does not exist"),
        ("[shots.colums]\nlane = 'b'", "shots.colums does not exist"),
        ("[shots.columns]\nlane = ['b']", "must be text"),
        ("shots = 1", "must be a table"),
        ("[shots.values]\nleave = 'x'", "must be a table"),
    ],
)
def test_bad_maps_are_refused(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "columns.toml"
    path.write_text(text)
    with pytest.raises(IntakeError, match=words):
        read_column_map(path)


def test_unreadable_maps_are_refused(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="cannot be read"):
        read_column_map(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(IntakeError, match="not UTF-8"):
        read_column_map(tmp_path / "bad.toml")
