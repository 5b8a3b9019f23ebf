"""Names from logs stay data: never a formula, a tag, a path or SQL; and code that could run data is not there."""

from __future__ import annotations

import ast
import csv
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import duckdb
import pytest

import queries
from pipeline.decisions.alias import alias
from pipeline.decisions.export.writers import to_csv
from pipeline.decisions.records import Decisions
from pipeline.intake import load_folder
from pipeline.store.database import open_for_reading, open_for_writing
from reports.files import ALL
from reports.publish import render_all
from tests.decisions.referring import referring
from tests.faults.places import rackledger, run
from tests.intake.logs import shot, write_logs
from tests.reports.factory import season
from tests.reports.invented_names import BALLS, BOWLERS

ROOT = Path(__file__).parents[2]
ENGINE = ROOT / "reports" / "charts" / "worker.py"
SOURCES = sorted(path for folder in ("pipeline", "reports", "queries") for path in (ROOT / folder).rglob("*.py"))
# A spreadsheet runs a cell that starts with one of these; an application-security guide's list, from memory.
FORMULA_STARTS = tuple("=+-@\t\r\n")
PATHS = {"b1": "../../x", "b2": "/etc/passwd", "b3": "..\\\\..\\\\x", "amber": "../../ball", "anvil": "con"}


def hostile() -> Decisions:
    """The invented season with ids that look like paths, beside its names that look like tags and formulas."""
    text = season().model_dump_json()
    for old, new in PATHS.items():
        text = text.replace(f'"{old}"', f'"{new}"')
    return Decisions.model_validate_json(text)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Reports and CSVs of the hostile season, plain and aliased, in a folder of their own."""
    place = tmp_path_factory.mktemp("written")
    hidden = alias(*referring(hostile()), "salt")[0]
    for name, decisions in (("plain", hostile()), ("aliased", hidden)):
        to_csv(decisions, place / name / "csv")
    render_all(hostile(), place / "plain" / "reports")
    return place


class _Page(HTMLParser):
    """What a browser would act on."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


@pytest.mark.parametrize("file", [report.file for report in ALL])
def test_every_report_is_sealed(written: Path, file: str) -> None:
    page = _Page((written / "plain" / "reports" / file).read_text(encoding="utf-8"))
    policies = [
        a["content"] for tag, a in page.tags if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy"
    ]
    assert len(policies) == 1
    rules = dict(part.strip().split(" ", 1) for part in str(policies[0]).split(";"))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    for kind in ("script-src", "style-src"):
        assert re.fullmatch(r"'sha256-[A-Za-z0-9+/]{43}='", rules[kind])
    assert sum(tag == "script" for tag, _ in page.tags) == 1
    for tag, attributes in page.tags:
        assert tag not in {"iframe", "object", "embed", "base", "img"}
        assert not [name for name in attributes if name.startswith("on")], (tag, attributes)
        for name in ("src", "href", "action", "srcset"):
            link = attributes.get(name) or ""
            assert link.startswith("#") or re.fullmatch(r"[a-z]+\.html(#.*)?|", link), link


def test_ids_never_become_paths(written: Path) -> None:
    by_key = {str(path.relative_to(written)) for path in written.rglob("*") if path.is_file()}
    reports = {f"plain/reports/{report.file}" for report in ALL}
    assert reports <= by_key
    assert all(re.fullmatch(r"(plain|aliased)/csv/[a-z_0-9]+\.csv", name) for name in by_key - reports)
    assert not (written.parent / "x").exists() and not (written.parent / "ball").exists()


def test_no_export_starts_a_formula(written: Path) -> None:
    cells = 0
    for path in written.rglob("*.csv"):
        with path.open(encoding="utf-8-sig", newline="") as stream:
            for row in csv.reader(stream):
                for cell in row:
                    cells += 1
                    assert not cell.lstrip().startswith(FORMULA_STARTS) or re.fullmatch(r"-?[\d.]+(e-?\d+)?", cell), (
                        cell
                    )
    assert cells > 1000


def test_quarantine_starts_no_formula(tmp_path: Path) -> None:
    risky = ["=1+1", "+1", "-1", "@x", "\t=1", "'=1", "＝1", " =1"]
    rows = [shot(frame, 1, text) for frame, text in enumerate(risky, start=1)]
    load_folder(write_logs(tmp_path / "logs", rows), tmp_path / "s.duckdb")
    with (tmp_path / "s.quarantine.csv").open(encoding="utf-8-sig", newline="") as stream:
        cells = [cell for row in csv.reader(stream) for cell in row]
    assert not [cell for cell in cells if cell.startswith(FORMULA_STARTS)]
    assert "'=1+1" in cells


# The database


@pytest.mark.parametrize("writing", [True, False])
def test_the_database_reaches_nothing_else(tmp_path: Path, writing: bool) -> None:
    database, secret = tmp_path / "s.duckdb", tmp_path / "secret.csv"
    load_folder(write_logs(tmp_path / "logs", [shot(1, 1, "X")]), database)
    secret.write_text("a,b\n1,2\n")
    with open_for_writing(database, (tmp_path / "logs",)) if writing else open_for_reading(database) as connection:
        for name in ("autoinstall_known_extensions", "autoload_known_extensions", "enable_external_access"):
            assert connection.execute("SELECT current_setting(?)", [name]).fetchall() == [(False,)]
        for attempt in (
            f"FROM read_csv('{secret}')",
            f"COPY bowlers TO '{tmp_path / 'out.csv'}'",
            f"ATTACH '{tmp_path / 'other.duckdb'}'",
            "INSTALL httpfs",
            "LOAD httpfs",
            "SET enable_external_access = true",
        ):
            with pytest.raises(duckdb.Error):
                connection.execute(attempt).fetchall()
    assert not (tmp_path / "out.csv").exists() and not (tmp_path / "other.duckdb").exists()


def test_sql_in_an_id_is_an_id(tmp_path: Path) -> None:
    name = "'; DROP TABLE bowlers; --"
    folder = write_logs(tmp_path / "logs", [shot(1, 1, "X", bowler="wren")])
    for path in folder.glob("*.csv"):
        path.write_text(path.read_text().replace("wren", name))
    report = load_folder(folder, tmp_path / "s.duckdb")
    assert report.rows_quarantined == 0
    with open_for_reading(tmp_path / "s.duckdb") as connection:
        assert (name,) in connection.execute("SELECT bowler FROM bowlers").fetchall()


# SQL may be put together from names of our own tables and columns only, at these places.
_OWN_NAMES = {
    ("pipeline/store/season.py", "name"),
    ("pipeline/intake/checks/shots.py", "name"),
    ("pipeline/intake/checks/shots.py", "table"),
    ("pipeline/intake/load.py", "table"),
    ("pipeline/intake/file_reports.py", "table"),
    ("pipeline/intake/dangling.py", "table"),
    ("pipeline/intake/forget.py", "table"),
    ("pipeline/intake/stored_files.py", "file.kind"),
    ("pipeline/intake/stored_files.py", "key"),
    ("pipeline/intake/stored_files.py", "value"),
}
_RUNS = {"execute", "executemany", "sql", "query", "project", "filter", "aggregate"}
_NAMED_BY = {"_fill": 1, "create_temp_table": 1, "_remove": 1, "_count": 0}


def _calls(path: Path) -> list[ast.Call]:
    return [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]


def _name(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def test_sql_is_never_put_together_from_data() -> None:
    seen = 0
    for path in SOURCES:
        where = str(path.relative_to(ROOT))
        for call in _calls(path):
            if _name(call) not in _RUNS or not call.args:
                continue
            text = call.args[0]
            assert not isinstance(text, ast.BinOp), (where, ast.unparse(call))
            if isinstance(text, ast.Call):
                assert _name(text) in {"sql", "translated"} or _name(call) == "filter", (where, ast.unparse(call))
            for part in ast.walk(text) if isinstance(text, ast.JoinedStr) else ():
                if isinstance(part, ast.FormattedValue):
                    seen += 1
                    assert (where, ast.unparse(part.value)) in _OWN_NAMES, (where, ast.unparse(call))
    assert seen > 3


def test_names_put_into_sql_are_written_in_the_code() -> None:
    for path in SOURCES:
        for call in _calls(path):
            if _name(call) in _NAMED_BY and len(call.args) > _NAMED_BY[_name(call)]:
                named = call.args[_NAMED_BY[_name(call)]]
                passes_on = isinstance(named, ast.Name) and named.id == "name"
                assert isinstance(named, ast.Constant) or passes_on, (path.name, ast.unparse(call))


def test_queries_hold_no_place_to_paste_into() -> None:
    for name in queries.names():
        assert not re.search(r"\{\w*\}|%s|%\(", queries.sql(name)), name


# Code


def test_nothing_runs_data_as_code() -> None:
    for path in SOURCES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Import | ast.ImportFrom):
                names = {alias.name.split(".")[0] for alias in node.names} | {
                    (getattr(node, "module", "") or "").split(".")[0]
                }
                assert not names & {"pickle", "marshal", "shelve", "dill", "joblib"}, (path.name, names)
                assert "subprocess" not in names or path == ENGINE, path.name
            if isinstance(node, ast.Call):
                assert _name(node) not in {"eval", "exec", "compile", "__import__", "system", "popen"} or (
                    ast.unparse(node.func) == "re.compile"
                ), (path.name, ast.unparse(node))
                assert not [k for k in node.keywords if k.arg in {"shell", "allow_pickle"}], path.name


def test_the_only_program_started_is_our_own_drawing_engine() -> None:
    tree = ast.parse(ENGINE.read_text(encoding="utf-8"))
    started = [
        node for node in ast.walk(tree) if isinstance(node, ast.Call) and "subprocess." in ast.unparse(node.func)
    ]
    assert [ast.unparse(call.args[0]) for call in started] == ["[sys.executable, '-P', '-m', 'reports.charts.worker']"]


# Aliases


def test_aliased_data_holds_no_real_name(written: Path) -> None:
    real = [*BOWLERS.values(), *(name for name, _ in BALLS.values()), *PATHS.values()]
    text = "\n".join(path.name + path.read_text(encoding="utf-8-sig") for path in (written / "aliased").rglob("*.csv"))
    cells = {cell.lstrip("'") for row in csv.reader(text.splitlines()) for cell in row}
    for name in real:
        assert name not in cells
        assert len(name) < 6 or name not in text, name


@pytest.mark.slow
def test_an_aliased_review_holds_no_real_name(tmp_path: Path) -> None:
    """The whole job over the first blocks of the sample, searched page by page for every name its files give."""
    logs = tmp_path / "logs"
    logs.mkdir()
    sample = ROOT / "sample_logs"
    for name in ("bowlers", "balls", "patterns", "blocks", "maintenance"):
        (logs / f"{name}.csv").write_bytes((sample / f"{name}.csv").read_bytes())
    lines = (sample / "shots_2025q3.csv").read_text(encoding="utf-8").splitlines()
    (logs / "shots.csv").write_text("\n".join(lines[:500]) + "\n", encoding="utf-8")
    out, settings = tmp_path / "reports", tmp_path / "few.toml"
    settings.write_text("[evidence]\ndraws = 200\n", encoding="utf-8")  # for speed: names do not depend on it
    words = ["review", logs, "--alias", "--db", tmp_path / "s.duckdb", "--out", out, "--settings", settings]
    done = run(rackledger(*words))
    assert done.returncode in {0, 3}, done.stderr
    printed = "\n".join(
        [done.stdout.replace(str(tmp_path), ""), *(p.name + p.read_text("utf-8") for p in out.iterdir())]
    )
    seen = set(re.findall(r"[\w\-]+(?: [\w\-]+)*", printed.casefold()))
    spoken = printed.casefold()
    for name in _names_in(logs):
        assert not re.search(rf"(?<![\w-]){re.escape(name.casefold())}(?![\w-])", spoken), name
    assert "bowler 1" in spoken and seen


def _names_in(logs: Path) -> set[str]:
    """Ids and names of people and balls, and the words of people's names."""
    names: set[str] = set()
    for kind, columns in (("bowlers", ("bowler", "name", "coach")), ("balls", ("ball", "name"))):
        with (logs / f"{kind}.csv").open(encoding="utf-8", newline="") as stream:
            for row in csv.DictReader(stream):
                names |= {row[column] for column in columns if row[column]}
                names |= set(row["name"].split()) if kind == "bowlers" else set()
    assert len(names) > 60 and json.dumps(sorted(names))
    return names
