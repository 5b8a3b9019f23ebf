"""No page contradicts another: whatever names a ball to throw first names the card's, and the one chosen is shown.

Walked are the invented season of these tests, the sample season and one season of each of three simulated worlds.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from pipeline.decisions.records import PHASES, Decisions, Policy, SkillEstimate
from pipeline.decisions.wording.focus import skill_name
from pipeline.settings import Settings
from pipeline.sport.lane import line_name, phase_of
from pipeline.validation.track_record import track_record
from reports.publish import render_all
from reports.style import wording
from tests.reports import factory

Card = tuple[str, str, str]


@pytest.fixture(scope="module", params=["invented", "sample", "shared_lane", "shared_lane_strong", "ball_numbers"])
def walked(
    request: pytest.FixtureRequest,
    reports: Path,
    decided_sample: Path,
    decided_world: Callable[[str], Path],
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Decisions, Path]:
    """A season's decisions, and the folder with its pages."""
    if request.param == "invented":
        return factory.season(), reports
    folder = decided_sample if request.param == "sample" else decided_world(request.param)
    season = Decisions.model_validate_json((folder / "decisions.json").read_text(encoding="utf-8"))
    return season, render_all(season, tmp_path_factory.mktemp("walked") / "out").parent


@pytest.fixture(scope="module")
def season(walked: tuple[Decisions, Path]) -> Decisions:
    return walked[0]


@pytest.fixture(scope="module")
def pages(walked: tuple[Decisions, Path]) -> Path:
    return walked[1]


@pytest.fixture(scope="module")
def policies(season: Decisions) -> dict[Card, Policy]:
    return {(item.bowler, item.pattern_class, item.phase): item.policy for item in season.playbook if item.policy}


def _read(reports: Path, name: str) -> str:
    return (reports / f"{name}.html").read_text(encoding="utf-8")


def _figure(text: str, key: str) -> str:
    """A figure's markup by its id."""
    match = re.search(rf'<figure[^>]*id="{key}".*?</figure>', text, re.DOTALL)
    assert match is not None, key
    return match.group()


def _finding(figure: str) -> str:
    match = re.search(r'class="finding"><bdi>(.*?)</bdi>', figure, re.DOTALL)
    assert match is not None
    return unescape(match.group(1))


def _titles(figure: str) -> dict[str, str]:
    """What stands above each drawing of a lane: phase or games -> ball."""
    titles = [unescape(text) for text in re.findall(r'class="lane-name"[^>]*>(.*?)</text>', figure)]
    return dict(title.split(": ", 1) for title in titles if ": " in title)


def test_cards_of_the_season_review_and_the_one_sheet_name_one_ball(pages: Path, policies: dict[Card, Policy]) -> None:
    review, sheet = _read(pages, "season"), _read(pages, "person")
    for (bowler, kind, phase), policy in policies.items():
        card = re.search(rf'<li id="answer-{bowler}-{kind}-{phase}".*?</li>', review, re.DOTALL)
        assert card is not None
        named = re.search(r'<p class="throw"><b><bdi>(.*?)</bdi>', card.group())
        assert named is not None and unescape(named.group(1)) == policy.ball_name
        person = re.search(rf'<details class="person" data-bowler="{bowler}".*?</article>', sheet, re.DOTALL)
        row = re.search(rf'<th scope="row">{kind}</th>(.*?)</tr>', person.group() if person else "", re.DOTALL)
        assert row is not None
        cell = row.group(1).split("</td>")[("fresh", "transition", "late").index(phase)]
        assert f"<bdi>{policy.ball_name}</bdi>" in unescape(cell)


def test_the_title_of_who_leads_names_the_cards_balls_from_their_first_games(
    pages: Path, season: Decisions, policies: dict[Card, Policy]
) -> None:
    text = _read(pages, "transition")
    balls = {(item.bowler, item.pattern_class, item.ball) for item in season.leads}
    for bowler, kind in {(bowler, kind) for bowler, kind, _ in balls}:
        if sum(key[:2] == (bowler, kind) for key in balls) == 1:
            assert f'id="leads-{bowler}-{kind}"' not in text  # one ball leads nobody
            continue
        title = _finding(_figure(text, f"leads-{bowler}-{kind}"))
        by_key = {int(game): name for name, game in re.findall(r"(?:: |then )(.+?) from game (\d+)", title)}
        in_hand = ""
        for game, phase in ((1, "fresh"), (3, "transition"), (5, "late")):
            policy = policies.get((bowler, kind, phase))
            if policy is None:
                continue
            name = wording.shorten(policy.ball_name, 24)
            assert (by_key.get(game) == name) if name != in_hand else game not in by_key, (title, phase)
            in_hand = name


@pytest.mark.parametrize("name", ["season", "person"])
def test_lanes_draw_the_card_s_ball_and_start_on_its_board(
    pages: Path, policies: dict[Card, Policy], name: str
) -> None:
    text = _read(pages, name)
    figures = re.findall(r'<figure[^>]*id="lane-(\w+)-(short|medium|long)".*?</figure>', text, re.DOTALL)
    assert figures
    for bowler, kind in figures:
        figure = _figure(text, f"lane-{bowler}-{kind}")
        for phase, ball in _titles(figure).items():
            assert ball == wording.shorten(policies[bowler, kind, phase].ball_name, 24)
        policy, finding = policies[bowler, kind, "fresh"], _finding(figure)
        if policy.start_board is not None:
            assert f"start over board {policy.start_board:.0f} at the arrows" in finding
        else:
            drawn = re.search(r"start over board (\d+)", finding)
            assert policy.keeps_line and drawn is not None and line_name(int(drawn.group(1))) == policy.line


def test_a_plan_names_the_cards_balls_unless_it_says_that_it_does_not(
    pages: Path, season: Decisions, policies: dict[Card, Policy]
) -> None:
    text = _read(pages, "plan")
    articles = re.findall(r'<article class="plan".*?</article>', text, re.DOTALL)
    by_bowler = sorted(season.plans, key=lambda plan: season_order(season, plan.bowler))
    assert len(articles) == len(by_bowler)
    for plan, article in zip(by_bowler, articles, strict=True):
        steps = [unescape(ball) for ball in re.findall(r'<p class="throw"><b><bdi>(.*?)</bdi>', article)]
        assert steps[: len(plan.steps)] == [step.ball_name for step in plan.steps]  # the spare ball may follow
        cards = [(phase, policies.get((plan.bowler, plan.pattern_class, phase))) for phase in PHASES]
        first = {
            phase: step.ball_name for step in reversed(plan.steps) for phase in _phases(step.from_game, step.to_game)
        }
        named = [(first[phase], policy.ball_name) for phase, policy in cards if policy is not None and phase in first]
        assert any(thrown != card for thrown, card in named) == bool(plan.departs)
        assert bool(plan.departs) == ("asks for other balls" in article)


def _phases(from_game: int, to_game: int) -> set[str]:
    return {phase_of(game, Settings().phases) for game in range(from_game, to_game + 1)}


def season_order(season: Decisions, bowler: str) -> str:
    """Bowlers stand in the order of their names."""
    return {card.bowler: card.name.casefold() for card in season.summary.bowlers}[bowler]


def test_titles_of_kept_lines_say_so_and_grids_name_no_ball(pages: Path, season: Decisions) -> None:
    transition, review = _read(pages, "transition"), _read(pages, "season")
    for bowler, kind in {(item.bowler, item.pattern_class) for item in season.curves}:
        assert "kept on the" in _finding(_figure(transition, f"curve-{bowler}-{kind}"))
    names = {item.ball_name for item in season.combos}
    for bowler, kind in {(item.bowler, item.pattern_class) for item in season.combos}:
        title = _finding(_figure(review, f"grid-{bowler}-{kind}"))
        assert "kept" in title and not any(name in title for name in names)


def test_a_line_to_stay_on_says_how_often_such_intervals_held(
    pages: Path, season: Decisions, policies: dict[Card, Policy]
) -> None:
    """In the worst simulated world: at every card that says stay, beside the grids, and where lines take over."""
    least = wording.percent(min(item.kept_80 for item in track_record()))
    said = f"80 % intervals of a line kept held {least}"
    review = _read(pages, "season")
    staying = sum(policy.keeps_line for policy in policies.values())
    assert review.count(f"Read that interval as wider: on the hardest simulated lanes, {said}.") == staying
    grids = {(item.bowler, item.pattern_class) for item in season.combos}
    assert review.count(said) == staying + len(grids)
    assert said in _read(pages, "transition") and said in _read(pages, "method")


@pytest.fixture
def plan_page(browser: Browser, reports: Path) -> Page:
    page = browser.new_page(viewport={"width": 360, "height": 760})
    page.goto((reports / "plan.html").as_uri() + "#bowler=b1")
    return page


@pytest.mark.browser
def test_one_plan_is_shown_chosen_by_name_with_the_keyboard_and_printed(plan_page: Page) -> None:
    page, shown = plan_page, "article.plan:visible h4"
    names = page.locator("#by-plan input").evaluate_all("items => items.map(item => item.dataset.name)")
    assert page.locator("#by-plan").is_visible() and "posted last" in page.locator("#by-plan label").first.inner_text()
    assert page.locator(shown).count() == 1 and page.locator(shown).inner_text().startswith(names[0][:20])
    page.locator("#by-plan input").first.focus()
    page.keyboard.press("ArrowDown")
    second = names[1]
    assert page.locator(shown).count() == 1 and page.locator(shown).inner_text().startswith(second[:20])
    page.emulate_media(media="print")
    assert page.locator(shown).count() == 1 and page.locator(shown).inner_text().startswith(second[:20])
    assert second[:20] in page.locator("#shown").inner_text()  # what the page is about stands at its head
    page.emulate_media(media="screen")
    page.reload()
    assert page.locator(shown).inner_text().startswith(second[:20])  # the address holds the choice
    page.locator("#reset").evaluate("button => button.click()")
    assert page.locator("#by-plan input:checked").input_value() == "p0"
    page.close()


@pytest.mark.browser
def test_a_link_from_the_season_review_carries_the_bowler_and_the_pattern(browser: Browser, reports: Path) -> None:
    page = browser.new_page()
    page.goto((reports / "season.html").as_uri() + "#bowler=b2&pattern=long")
    page.locator(".strip3:visible h4 a.go").click()
    page.wait_for_load_state("load")
    assert page.locator("#by-bowler").input_value() == "b2"
    assert page.locator("#by-plan input:checked").get_attribute("data-class") == "long"
    assert page.locator("article.plan:visible").count() == 1
    page.close()


@pytest.mark.browser
def test_without_script_every_plan_is_there(browser: Browser, pages: Path, season: Decisions) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((pages / "plan.html").as_uri())
    assert page.locator("article.plan:visible").count() == len(season.plans)
    assert not page.locator("#by-plan").is_visible()
    context.close()


@pytest.mark.browser
def test_the_plans_of_everybody_are_folded_by_bowler(browser: Browser, reports: Path) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 760})
    page.goto((reports / "plan.html").as_uri())
    assert page.locator("article.plan:visible").count() == 0
    assert page.evaluate("document.documentElement.scrollHeight") < 8000
    page.locator("#plans ~ details.person > summary").first.click()
    assert page.locator("article.plan:visible").count() == 1
    page.close()


def test_the_start_page_answers_as_the_evidence_does(
    pages: Path, season: Decisions, policies: dict[Card, Policy]
) -> None:
    """Ball by pattern class as on the cards, the ball due as first on the work list, practice and spares as there."""
    text = _read(pages, "index")
    table = re.search(r'<table class="asks".*?</table>', text, re.DOTALL)
    assert table is not None
    rows = re.findall(r"<tr><th scope=\"row\">.*?</tr>", table.group(), re.DOTALL)
    bowlers = sorted(season.summary.bowlers, key=lambda card: card.name.casefold())
    assert len(rows) == len(bowlers)
    focus = {item.bowler: item.skill for item in season.focus}
    replaced = {item.gain_over_now.instead_of_ball for item in season.playbook if item.gain_over_now is not None}
    benched = replaced - {item.policy.ball for item in season.playbook if item.policy is not None}
    due_last = sorted(season.arsenal_tasks, key=lambda task: (task.ball not in benched, task.pins_a_season))
    first = {task.bowler: task for task in due_last if task.do == "resurface"}
    spares = sorted((item for item in season.skills if item.skill == "spares"), key=lambda item: -item.value.mean)
    for card, row in zip(bowlers, rows, strict=True):
        links = re.findall(r'<a href="(.*?)">(?:<bdi>)?(.*?)(?:</bdi>)?</a>', row, re.DOTALL)
        named = {unescape(link): unescape(text) for link, text in links}
        for (bowler, kind, phase), policy in policies.items():
            link = f"season.html#answer-{bowler}-{kind}-{phase}&bowler={bowler}"
            if bowler == card.bowler and phase == "fresh" and kind != "unposted":
                assert named[link] == policy.ball_name
        due, practice = first.get(card.bowler), focus.get(card.bowler)
        assert [text for link, text in named.items() if link.startswith("arsenal")] == ([due.ball_name] if due else [])
        aims = [skill_name(practice)] if practice else []
        assert [text.lower() for link, text in named.items() if link.startswith("students")] == aims
        place = [item.bowler for item in spares].index(card.bowler) + 1
        assert f"{wording.ordinal(place)}, {spares[place - 1].value.mean:.1f}" in row
    _check_spare_order(season, rows, spares)


def _check_spare_order(season: Decisions, rows: list[str], spares: list[SkillEstimate]) -> None:
    """Every bowler's cell says how surely the next below is beaten, or that the two are too close to call."""
    known = {(item.better, item.other): item.probability for item in season.comparisons if item.skill == "spares"}
    names = [re.sub("<.*?>", "", row[: row.index("</th>")]) for row in rows]
    bowlers = {unescape(name): row for name, row in zip(names, rows, strict=True)}
    shown = {card.bowler: card.name for card in season.summary.bowlers}
    for first, second in pairwise(spares):
        pair = (first.bowler, second.bowler)
        chance = known.get(pair, 1 - known[pair[::-1]] if pair[::-1] in known else None)
        row = bowlers[wording.shorten(shown[first.bowler], 24).strip()]
        if chance is not None:
            assert f"{wording.in_hundred(chance)} over" in row
            assert ("too close to call" in row) == (chance < 0.8)
