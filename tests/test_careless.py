"""What a careless user types or hands over: one sentence that says what was met, what was expected and how to mend."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline import cli
from pipeline.intake import load_folder
from tests.intake.logs import shot, write_logs

Run = Callable[..., tuple[int, str]]


@pytest.fixture
def place(tmp_path: Path) -> Path:
    write_logs(tmp_path / "logs", [shot(frame, 1, "X") for frame in range(1, 4)])
    (tmp_path / "file").write_text("a user's own")
    (tmp_path / "folder").mkdir()
    return tmp_path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, place: Path) -> Run:
    """The command in this process, its working folder ``place``; gives its exit code and standard error."""
    monkeypatch.chdir(place)

    def command(*words: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["rackledger", *words])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        return int(str(ended.value.code)), capsys.readouterr().err

    return command


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[evidance]\nseed = 1", ["no section [evidance]", "nearest is evidence"]),
        ("[weather]\nseed = 1", ["no section [weather]", "use one of ball, pattern, pocket, phases, evidence, costs"]),
        ("[evidence]\nbest_probabilty = 0.9", ["no entry best_probabilty", "nearest is best_probability"]),
        ("best_probability = 0.9", ["outside its section", "write [evidence]"]),
        ("evidence = 3", ["evidence is a section", "write [evidence]"]),
        ("[evidence]\nbest_probability = 'high'", ["evidence.best_probability is 'high'", "expected a number;"]),
        ("[evidence]\nbest_probability = 9", ["evidence.best_probability is 9", "expected a number less than 1"]),
        ("[evidence]\nmin_shots = 2.5", ["evidence.min_shots is 2.5", "expected a whole number"]),
        ("[evidence]\nmin_shots = 'x'", ["evidence.min_shots is 'x'", "expected a whole number"]),
        ("[costs]\nclean = nan", ["costs.clean is nan", "expected a finite number"]),
        ("[costs]\nclean = 2,5", ["not valid TOML", "line 2, column 10"]),
        ("[ball]\nrg_low_to = 2.6", ["ball.rg_low_to (2.6) must be less than ball.rg_high_from", "correct one"]),
    ],
)
def test_settings(run: Run, place: Path, text: str, words: list[str]) -> None:
    (place / "s.toml").write_text(text + "\n")
    code, message = run("load", "logs", "--settings", "s.toml")
    assert code == 1
    assert message.startswith("rackledger: s.toml: ") and message.count("\n") == 1
    assert [word for word in words if word not in message] == [], message
    assert not (place / "season.duckdb").exists()


@pytest.mark.parametrize(
    ("command", "words"),
    [
        ("load file", ["file: is a file", "give the folder"]),
        ("load folder", ["holds no shots*.csv", "give the folder"]),
        ("load nowhere", ["no such folder", "give the folder"]),
        ("load logs --db nowhere/s.duckdb", ["folder does not exist", "make it first"]),
        ("review logs --out file/reports", ["file is a file", "choose another folder"]),
        ("decide --json file/d.json", ["file is a file", "choose another place"]),
        ("decide --csv file/d/e", ["file is a file", "choose another place"]),
    ],
)
def test_places(run: Run, place: Path, command: str, words: list[str]) -> None:
    code, message = run(*command.split())
    assert code == 1
    assert message.startswith("rackledger: ") and message.count("\n") == 1
    assert [word for word in words if word not in message] == [], message
    assert (place / "file").read_text() == "a user's own"


@pytest.mark.parametrize(
    ("command", "words"),
    [
        ("plan --bowler wren --length nan", "'nan' is not a number"),
        ("plan --bowler wren --length 40m", "'40m' is not a valid number"),
        ("plan --bowler wren --length 400", "not in the range 15"),
        ("plan --bowler wren --length 40 --volume nan", "'nan' is not a number"),
        ("plan --bowler wren --length 40 --ratio inf", "not in the range"),
        ("decide --json folder", "'folder' is a directory"),
        ("decide --csv file", "'file' is a file"),
        ("review logs --out file", "'file' is a file"),
    ],
)
def test_words_that_are_not_understood(run: Run, command: str, words: str) -> None:
    code, message = run(*command.split())
    assert code == 2
    assert words in message.splitlines()[-1]


def test_a_spreadsheet_is_not_a_log(run: Run, place: Path) -> None:
    (place / "logs" / "shots.csv").rename(place / "logs" / "shots.xlsx")
    code, message = run("load", "logs")
    assert code == 1
    assert "shots.xlsx; save each sheet of it as CSV" in message


@pytest.mark.parametrize("sign", ["|", " ", ":"])
def test_fields_separated_by_another_sign(run: Run, place: Path, sign: str) -> None:
    shots = place / "logs" / "shots.csv"
    shots.write_text(shots.read_text().replace(",", sign))
    code, message = run("load", "logs")
    assert code == 1
    assert "shots.csv has no comma, semicolon or tab in its first line" in message and "save it as CSV" in message


def test_no_header(run: Run, place: Path) -> None:
    shots = place / "logs" / "shots.csv"
    shots.write_text("sep=,\n" + shots.read_text())
    code, message = run("load", "logs")
    assert code == 1
    assert "shots.csv has its column names on line 2; remove what stands above them" in message


def test_a_folder_where_a_log_should_be(place: Path) -> None:
    (place / "logs" / "balls.csv").unlink()
    (place / "logs" / "balls.csv").mkdir()
    report = load_folder(place / "logs", place / "season.duckdb")
    assert [file.refused for file in report.files if file.name == "balls.csv"] == [
        "is not a file; put the CSV in its place"
    ]


def test_a_season_without_a_shot_that_counts(run: Run, place: Path) -> None:
    """Only a header, then only a foul: there is nothing to fit to."""
    for rows in ([], [shot(1, 1, "X", foul="yes"), shot(1, 2, "/")]):
        write_logs(place / "logs", rows)
        code, message = run("review", "logs")
        assert code == 1
        assert message == (
            "rackledger: No first delivery that counts is loaded, fouls aside; load a folder with shot files first.\n"
        )
        assert not (place / "reports_out").exists()


def test_names_too_long(run: Run) -> None:
    for command in (["load", "logs", "--db", "x" * 300], ["review", "logs", "--out", "x" * 300]):
        code, message = run(*command)
        assert code == 1
        assert "name is too long; choose a shorter one" in message
