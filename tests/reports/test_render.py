"""Rendering: whole or not at all, small, sealed, and true to the decisions."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import cast

import pytest

from pipeline.decisions.records import Decisions, SeasonSummary
from pipeline.decisions.wording.focus import skill_name
from reports import page, publish
from reports.charts.queue import Pen
from reports.context import ReportContext
from reports.errors import ReportError
from reports.publish import render_all
from reports.style import wording
from reports.views.advice import best_advice
from reports.views.person import _strength
from tests.reports import factory
from tests.reports import invented_names as names

FILES = {
    "index.html",
    "season.html",
    "transition.html",
    "arsenal.html",
    "students.html",
    "person.html",
    "plan.html",
    "method.html",
}
MOST_BYTES = 3_000_000


class _Numbers(HTMLParser):
    """Values behind the cells of each table, row by row."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: dict[str, list[list[str]]] = {}
        self._rows: list[list[str]] | None = None
        self._open: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        result = dict(attrs)
        if tag == "table":
            self._rows = self.tables.setdefault(result.get("id") or "", [])
        elif tag == "tr" and self._rows is not None:
            self._rows.append([])
        elif tag in ("td", "th") and self._rows:
            value = result.get("data-v")
            self._rows[-1].append(value or "")
            self._open = None if value is not None else tag

    def handle_endtag(self, tag: str) -> None:
        if tag == "table":
            self._rows = None
        if tag == self._open:
            self._open = None

    def handle_data(self, data: str) -> None:
        if self._open and self._rows:
            self._rows[-1][-1] += data.strip()


def numbers(path: Path) -> dict[str, list[list[str]]]:
    """Table id -> rows of values, heads included."""
    parser = _Numbers()
    parser.feed(path.read_text(encoding="utf-8"))
    return parser.tables


def test_writes_eight_files_each_small(reports: Path) -> None:
    assert {item.name for item in reports.iterdir()} == FILES
    assert max(item.stat().st_size for item in reports.iterdir()) < MOST_BYTES


def test_progress_runs_to_the_end(tmp_path: Path) -> None:
    rows: list[float] = []
    render_all(_empty(), tmp_path / "out", lambda text, share: rows.append(share))
    assert rows == sorted(rows)
    assert rows[-1] == 1.0


def test_a_season_without_answers_still_reads(tmp_path: Path) -> None:
    text = render_all(_empty(), tmp_path / "out").read_text(encoding="utf-8")
    assert "Nothing is sure enough to act on yet" in text
    assert '<option value="">everyone' not in text  # one bowler alone is the one the pages are about


def test_failed_run_leaves_earlier_reports_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "out"
    render_all(_empty(), out)
    before = {item.name: item.read_bytes() for item in out.iterdir()}

    def fail(*_: object) -> str:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(page, "render_page", fail)
    with pytest.raises(ReportError, match="No space left"):
        render_all(_empty(), out)
    assert {item.name: item.read_bytes() for item in out.iterdir()} == before
    assert [item.name for item in tmp_path.iterdir()] == ["out"]


def test_swap_that_fails_brings_the_old_folder_back(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "index.html").write_text("old", encoding="utf-8")
    with pytest.raises(OSError, match="missing"):
        publish._swap(tmp_path / "missing", out)
    assert (out / "index.html").read_text(encoding="utf-8") == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["out"]


def test_second_run_replaces_the_first(tmp_path: Path) -> None:
    out = tmp_path / "out"
    render_all(_empty(), out)
    render_all(_empty().model_copy(update={"title": "Second season"}), out)
    assert "Second season" in (out / "index.html").read_text(encoding="utf-8")
    assert [item.name for item in tmp_path.iterdir()] == ["out"]


def test_refuses_a_folder_with_other_files(tmp_path: Path) -> None:
    (tmp_path / "thesis.doc").write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match=r"thesis\.doc") as caught:
        render_all(_empty(), tmp_path)
    assert "\n" not in str(caught.value)
    assert (tmp_path / "thesis.doc").read_text(encoding="utf-8") == "mine"


def test_refuses_a_file(tmp_path: Path) -> None:
    target = tmp_path / "out"
    target.write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match="not a folder"):
        render_all(_empty(), target)


def test_policy_allows_only_the_page_itself(reports: Path) -> None:
    for path in reports.iterdir():
        text = path.read_text(encoding="utf-8")
        policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
        assert policy is not None
        rule = policy.group(1).replace("&#39;", "'")
        assert rule.startswith("default-src 'none';")
        assert "unsafe" not in rule and "http" not in rule
        for tag in ("style", "script"):
            inside = re.findall(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
            assert len(inside) == 1
            digest = base64.b64encode(hashlib.sha256(inside[0].encode("utf-8")).digest()).decode("ascii")
            assert f"{tag}-src 'sha256-{digest}'" in rule


class _Attributes(HTMLParser):
    """Every attribute of every element."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [(name, value or "") for name, value in attrs]


def test_nothing_points_outside(reports: Path) -> None:
    for path in reports.iterdir():
        parser = _Attributes()
        parser.feed(path.read_text(encoding="utf-8"))
        links = [
            value for name, value in parser.found if name in ("src", "href", "action", "srcset", "data", "xlink:href")
        ]
        assert links
        assert all(link.startswith("#") or link.split("#")[0] in FILES for link in links)
        assert not [name for name, _ in parser.found if name.startswith("on") or name == "style"]
    assert not re.search(r"@import|url\(|https?:", page.style_sheet() + page.script_text())


def test_hostile_names_never_become_markup(reports: Path) -> None:
    for path in reports.iterdir():
        text = path.read_text(encoding="utf-8")
        assert names.SCRIPT not in text
        assert names.BALL_MARKUP not in text
        assert text.count("<script>") == 1


def test_combinations_equal_the_decisions(reports: Path) -> None:
    tables = numbers(reports / "season.html")
    for combo in factory.season().combos:
        rows = tables[f"combos-{combo.bowler}-{combo.pattern_class}"]
        result = [row for row in rows if row[:3] == [combo.ball_name, combo.line, combo.phase]]
        values = [[float(row[3]), float(row[4]), float(row[5]), float(row[6]), float(row[7])] for row in result]
        expected = [combo.worth.mean, combo.raw_worth, combo.strike.mean, combo.p_best, combo.p_200]
        assert pytest.approx(expected) in values


def test_ledger_equals_the_decisions(reports: Path) -> None:
    rows = numbers(reports / "transition.html")["ledger"][1:]
    changes = factory.season().changes
    assert len(rows) == len(changes)
    assert sorted(float(row[6]) for row in rows) == pytest.approx(sorted(item.gain.mean for item in changes))


def test_verdicts_skills_and_checks_equal_the_decisions(reports: Path) -> None:
    decisions = factory.season()
    tasks = numbers(reports / "arsenal.html")["work-list"][1:]
    shown = [float(row[7]) for row in tasks]
    assert shown == pytest.approx(sorted((b.pins_a_season for b in decisions.arsenal_tasks), reverse=True))
    clean = sorted(o.gain.mean for task in decisions.arsenal_tasks for o in task.options if o.act == "clean")
    assert {float(row[8]) for row in tasks} == {0.0} and sorted(float(row[9]) for row in tasks) == pytest.approx(clean)
    students = numbers(reports / "students.html")
    for skill in {item.skill for item in decisions.skills}:
        shown = [float(row[2]) for row in students["skills-table"][1:] if row[0] == skill_name(skill)]
        result = [item for item in decisions.skills if item.skill == skill]
        order = sorted((item.value.mean for item in result), reverse=result[0].higher_is_better)
        assert shown == pytest.approx(order)
    checks = numbers(reports / "method.html")["checks"][1:]
    assert [float(row[1]) for row in checks] == pytest.approx([item.value for item in decisions.checks])


def test_every_chart_has_finding_words_and_data(reports: Path) -> None:
    seen = 0
    for path in reports.iterdir():
        figures = re.findall(r'<figure class="chart".*?</figure>', path.read_text(encoding="utf-8"), re.DOTALL)
        for figure in figures:
            seen += 1
            assert re.search(r'class="finding"><bdi>.+?</bdi>', figure)
            assert re.search(r'role="img" tabindex="0" aria-label=".{30,}?"', figure, re.DOTALL)
            assert re.search(r'<p class="unit">.+?</p>', figure)
            assert "<tbody>" in figure and 'class="save"' in figure
            assert "<svg" in figure and "NaN" not in figure
    decisions = factory.season()
    curves = {(item.bowler, item.pattern_class) for item in decisions.curves}
    entry = {item.bowler for item in decisions.entry}
    ages = [item for item in decisions.arsenal if item.curve]
    seasons = {item.bowler for item in decisions.ledger_blocks}
    assert seen == len(curves) + len(entry) + len(ages) + len(decisions.plans) + len(seasons) + 1


def test_cautions_stand_beside_the_verdicts(reports: Path) -> None:
    from pipeline.decisions.wording import cautions

    text = (reports / "arsenal.html").read_text(encoding="utf-8")
    for caution in (cautions.SANDING, cautions.SOLVENTS, cautions.HEAT, cautions.RULES):
        assert caution.split(":")[0] in text


def _empty() -> Decisions:
    season = factory.season()
    summary: SeasonSummary = season.summary.model_copy(update={"bowlers": season.summary.bowlers[:1]})
    lists: dict[str, list[object]] = {name: [] for name in Decisions.model_fields if name not in ("title", "summary")}
    return Decisions.model_validate({"title": "Quiet season", "summary": summary, **lists})


def test_one_student_is_set_beside_the_class_and_never_leads_it(tmp_path: Path) -> None:
    whole = factory.season()
    skills = [item for item in whole.skills if item.bowler == "b1"]
    worst = [
        item.model_copy(
            update={"p_above_average": 0.02, "class_average": item.value.mean + (5 if item.higher_is_better else -5)}
        )
        for item in skills
    ]
    render_all(whole.model_copy(update={"skills": worst}), tmp_path / "reports", lambda _text, _share: None)
    page = (tmp_path / "reports" / "students.html").read_text(encoding="utf-8")
    assert len({row[0] for row in numbers(tmp_path / "reports" / "students.html")["skills-table"][1:]}) == len(worst)
    assert page.count("is clearly behind the class") == len(worst) and " leads" not in page


def test_how_often_right_adds_up_to_the_calibration(reports: Path) -> None:
    rows = numbers(reports / "method.html")["how-often-right"][1:]
    mine = [item for item in factory.season().calibration if item.source == "model"]
    strikes = [row for row in rows if row[0].startswith("Strikes")]
    shots = [float(row[3]) for row in strikes]
    assert len(strikes) == 3 and sum(shots) == sum(item.shots for item in mine)
    for column, values in ((1, [item.predicted for item in mine]), (2, [item.observed for item in mine])):
        whole = sum(value * item.shots for value, item in zip(values, mine, strict=True)) / sum(shots)
        assert sum(float(row[column]) * n for row, n in zip(strikes, shots, strict=True)) / sum(shots) == pytest.approx(
            whole
        )
    said = [float(row[1]) for row in strikes]
    assert said == sorted(said)


def test_a_second_estimate_that_is_far_less_precise_confirms_nothing() -> None:
    """The case that was called compatible: +25.0 (0 to 50) beside +3.1 (2 to 4)."""
    from reports.views.method import _agreement
    from tests.reports.invented_names import estimate

    item = factory.season().sensitivity[0]
    noisy = item.model_copy(update={"model": estimate(3.1, 0.8), "doubly_robust": estimate(25.0, 20.0)})
    assert _agreement(noisy) == "too noisy to confirm"
    assert _agreement(noisy.model_copy(update={"doubly_robust": estimate(3.5, 0.9)})) == "agree"
    assert _agreement(noisy.model_copy(update={"agree": False})) == "contradict each other"


def test_a_rule_nobody_could_test_has_no_chance(reports: Path) -> None:
    rows = numbers(reports / "season.html")["maxims"][1:]
    untested = [row for row in rows if row[2] == "not tested"]
    assert untested and all(row[4] == "" for row in untested)
    assert all(row[4] != "" for row in rows if row[2] != "not tested")


def test_leaves_are_in_the_order_of_what_can_be_won_back(reports: Path) -> None:
    for key, rows in numbers(reports / "season.html").items():
        if key.startswith("leaves-"):
            back = [float(row[-1]) for row in rows[1:]]
            assert back == sorted(back, reverse=True)


def test_a_strength_is_named_only_if_it_stands_clear_of_the_class() -> None:
    skill = factory.season().skills[0]
    clear, close = (_strength(skill.model_copy(update={"p_above_average": p})) for p in (0.85, 0.7))
    assert clear.startswith(wording.sentence_case(skill.skill)) and close.startswith("None stands clear of the class")
    assert skill.skill in close and _strength(None).startswith("Not enough shots")


def test_an_advice_is_said_in_a_few_words() -> None:
    """At most 25 words, and no number that the marks beside it already give."""
    season = factory.season()
    kinds = best_advice(ReportContext(season, cast(Pen, None)))
    assert [kind.name for kind, _ in kinds] == ["On the lanes", "In the bag", "In practice"]
    for item in [item for _, items in kinds for item in items]:
        assert len(item.sentence.split()) <= 25
        assert "%" not in item.sentence and "pins" not in item.sentence


def test_the_first_drawn_interval_of_a_page_has_its_key_before_it(reports: Path) -> None:
    for name in ("season", "arsenal", "students", "transition", "plan", "method"):
        text = (reports / f"{name}.html").read_text(encoding="utf-8")
        assert text.index('<svg class="strip') == text.index('<span class="sample">') + len('<span class="sample">')


def test_the_season_review_opens_with_the_chart_of_the_season(reports: Path) -> None:
    text = (reports / "season.html").read_text(encoding="utf-8")
    charts = [text.index(f'id="season-{bowler}"') for bowler in names.BOWLERS]
    assert text.index('<h2 id="course">') < min(charts) and max(charts) < text.index('<h2 id="first">')
    assert text.count("<h2", 0, text.index('<h2 id="first">')) == 1


def test_who_has_most_to_win_back_stands_first(reports: Path) -> None:
    costs = {key: rows for key, rows in numbers(reports / "season.html").items() if key.startswith("costs-")}
    dearest = [max(float(row[1]) for row in rows[1:]) for rows in costs.values()]
    assert len(dearest) > 1 and dearest == sorted(dearest, reverse=True)
