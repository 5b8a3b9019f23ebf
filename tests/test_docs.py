"""The README is true: every command it shows exists, every command that exists is shown, the schema is stated."""

import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from pipeline.cli import cli
from queries import names, sql

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"`(rackledger [a-z][^`]*)`", README)


def test_every_command_is_in_the_readme():
    shown = {line.split()[1] for line in SHOWN}
    assert shown == set(cli.commands)


@pytest.mark.parametrize("line", SHOWN)
def test_shown_options_exist(line):
    _, name, *words = line.split()
    known = {option for parameter in cli.commands[name].params for option in parameter.opts}
    assert {word for word in words if word.startswith("--")} <= known


@pytest.mark.parametrize("name", sorted(cli.commands))
def test_every_option_has_help(name):
    command = cli.commands[name]
    assert command.help
    assert all(p.help for p in command.params if isinstance(p, click.Option))
    assert CliRunner().invoke(cli, [name, "--help"]).exit_code == 0


@pytest.mark.parametrize("name", names())
def test_every_query_states_its_grain_and_readers(name):
    head = "\n".join(line for line in sql(name).splitlines() if line.startswith("--"))
    assert head.startswith("-- Grain:")
    assert "Reader" in head


def test_make_targets_in_the_readme_exist():
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    for target in set(re.findall(r"make ([a-z]+)\b", README)):
        assert re.search(rf"^{target}:", makefile, re.MULTILINE), target


def test_lock_files_carry_no_addresses():
    for lock in ROOT.glob("constraints*.txt"):
        text = lock.read_text(encoding="utf-8")
        assert "://" not in text
        assert "--hash=sha256:" in text


def test_every_path_that_contributors_are_sent_to_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    paths = set(re.findall(r"`((?:pipeline|queries|reports|tests|sample_logs)/[\w./]+)`", text))
    assert len(paths) > 30
    assert not [path for path in sorted(paths) if not (ROOT / path).exists()]
