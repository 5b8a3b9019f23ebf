"""The command as a person or a script meets it: exit codes, one sentence a failure, the whole job end to end."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLE = Path(__file__).parents[1] / "sample_logs"


def run(*words: object, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pipeline", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=folder)


@pytest.fixture(scope="module")
def copied(decided_sample, tmp_path_factory):
    """A copy of the reviewed season that may be written to; ``tests/test_api`` takes all draws."""
    place = tmp_path_factory.mktemp("review")
    for name in ("s.duckdb", "few.toml"):
        shutil.copy(decided_sample / name, place / name)
    return place


def few_draws(place):
    """The season's database, and settings with few draws: for speed."""
    return "--db", place / "s.duckdb", "--settings", place / "few.toml"


@pytest.mark.slow
def test_review_of_the_sample_season(decided_sample):
    code, output, errors = json.loads((decided_sample / "review.json").read_text(encoding="utf-8"))
    assert code == 3, errors  # its honest mistakes go to quarantine
    assert output.rstrip().endswith(str(decided_sample / "reports" / "index.html"))
    assert (decided_sample / "reports" / "index.html").is_file()
    assert (decided_sample / "s.quarantine.csv").is_file()
    assert "Traceback" not in errors


@pytest.fixture(scope="module")
def about_two(copied):
    """The decisions about two bowlers."""
    done = run("decide", *few_draws(copied), "--json", copied / "two.json", "--about", "oda", "--about", "joss")
    assert done.returncode == 0, done.stderr
    return copied / "two.json"


@pytest.mark.slow
def test_the_same_season_gives_the_same_decisions_twice(copied, about_two, tmp_path):
    done = run("decide", *few_draws(copied), "--json", tmp_path / "again.json", "--about", "oda", "--about", "joss")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "again.json").read_bytes() == about_two.read_bytes()
    assert json.loads(about_two.read_text(encoding="utf-8"))["playbook"]


@pytest.mark.slow
def test_alias_leaves_no_name_in_data_or_file_names(copied, tmp_path):
    done = run("decide", "--alias", *few_draws(copied), "--csv", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    lines = (SAMPLE / "bowlers.csv").read_text(encoding="utf-8").splitlines()[1:]
    names = {part for line in lines for part in (line.split(",")[0], *line.split(",")[1].split())}
    for path in (tmp_path / "out").iterdir():
        text = f"{path.name}\n{path.read_text(encoding='utf-8-sig')}"
        assert not [name for name in names if name.casefold() in text.casefold()]


@pytest.mark.slow
def test_a_report_about_some_bowlers_names_nobody_else(copied, about_two, tmp_path):
    answers = json.loads(about_two.read_text(encoding="utf-8"))
    assert [card["bowler"] for card in answers["summary"]["bowlers"]] == ["joss", "oda"]
    assert "brisa" not in about_two.read_text(encoding="utf-8")
    refused = run("decide", *few_draws(copied), "--json", tmp_path / "e.json", "--about", "odo")
    assert refused.returncode == 1 and "known are oda" in refused.stderr
    assert not (tmp_path / "e.json").exists()


@pytest.mark.slow
def test_plan_for_a_posted_pattern(copied):
    done = run("plan", *few_draws(copied), "--bowler", "tevin", "--length", 42, "--volume", 25, "--ratio", 3.5)
    assert done.returncode == 0, done.stderr
    assert "80 %" in done.stdout


@pytest.mark.slow
def test_plan_for_an_unknown_bowler(copied):
    done = run("plan", "--db", copied / "s.duckdb", "--bowler", "nobody", "--length", 42)
    _one_sentence(done)
    assert "nobody" in done.stderr


def test_template_can_be_loaded_as_it_is(tmp_path):
    assert run("template", tmp_path / "new").returncode == 0
    done = run("load", tmp_path / "new", "--db", tmp_path / "s.duckdb")
    assert done.returncode == 0, done.stdout + done.stderr


def _one_sentence(done):
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("rackledger: ")
    assert len(done.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "words",
    [
        ("load", "no_such_folder"),
        ("report", "--db", "no_such.duckdb"),
        ("load", SAMPLE, "--settings", "no_such.toml"),
        ("load", SAMPLE, "--columns", "no_such.toml"),
        ("load", SAMPLE, "--db", "no_such_folder/season.duckdb"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(words, tmp_path):
    _one_sentence(run(*words, folder=tmp_path))


def test_bad_settings_name_the_entry(tmp_path):
    (tmp_path / "s.toml").write_text("[evidence]\nbest_probability = 1.5\n", encoding="utf-8")
    done = run("load", SAMPLE, "--settings", tmp_path / "s.toml", "--db", tmp_path / "x.duckdb")
    _one_sentence(done)
    assert "evidence.best_probability" in done.stderr and "1.5" in done.stderr


def test_words_not_understood_exit_2(tmp_path):
    assert run("decide", "--db", tmp_path / "x.duckdb").returncode == 2
    assert run("no_such_command").returncode == 2


def test_an_unforeseen_failure_is_one_sentence_with_a_way_to_report_it(monkeypatch, capsys):
    from pipeline import cli

    monkeypatch.setattr(cli, "read_settings", lambda path: 1 / 0)
    monkeypatch.setattr(sys, "argv", ["rackledger", "load", "anywhere"])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    printed = capsys.readouterr().err
    assert ended.value.code == 1
    assert "ZeroDivisionError" in printed and cli.TRACEBACK in printed and len(printed.strip().splitlines()) == 1
