"""A report about some nights of the log: what is counted narrows, what was learned does not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from pipeline.cli import cli
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.candidates import choices_of
from pipeline.decisions.last_season.changes import season_beside
from pipeline.decisions.ledger.accounts import ledger
from pipeline.decisions.ledger.blocks import block_ledgers
from pipeline.decisions.period import in_period
from pipeline.decisions.plan.block_plan import default_plans, plan
from pipeline.decisions.records import SeasonBeside
from pipeline.decisions.scope import UnknownBowlerError, mix_of_bowlers, resolve_bowlers, restricted
from pipeline.decisions.season.summary import summarise_season
from pipeline.decisions.students.comparison import students
from pipeline.decisions.wording.names import ball_named
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.models.skills.skill import pocket_cells
from pipeline.pricing.ledger.block_level import block_levels
from pipeline.pricing.ledger.deliveries import open_ledger
from pipeline.settings import Settings, SettingsError, read_settings
from pipeline.store.period import Period, PeriodError, asked_period
from pipeline.store.season import Season, prepare
from pipeline.store.shelf import Key
from pipeline.store.shown import blocks_of, with_period
from tests.decisions.made_season import MadeBall, MadeSeason, day, make

LOGGED = (dt.date(2025, 9, 1), dt.date(2026, 3, 31))
AUTUMN = {"first": "2025-09-01", "last": "2025-12-31"}
SPRING = {"first": "2026-01-01", "last": "2026-05-31"}
NAMED = Settings.model_validate({"seasons": {"spring": SPRING, "autumn": AUTUMN}})
SMALL = Settings.model_validate(
    {
        "evidence": {"draws": 200},
        "seasons": {
            "one": {"first": day(0).isoformat(), "last": day(6).isoformat()},
            "two": {"first": (day(6) + dt.timedelta(days=1)).isoformat(), "last": day(100).isoformat()},
        },
    }
)
BREAK = 180
PLAN = MadeSeason([MadeBall("a1", "ann"), MadeBall("a2", "ann"), MadeBall("b1", "bo")], blocks=12, games=2)


def test_a_season_is_found_by_name_with_the_one_before() -> None:
    period = asked_period(NAMED, LOGGED, "spring")
    assert period is not None and (period.since, period.until, period.name) == (
        SPRING_DAY,
        dt.date(2026, 5, 31),
        "spring",
    )
    assert period.before == Period(dt.date(2025, 9, 1), dt.date(2025, 12, 31), "autumn")
    first = asked_period(NAMED, LOGGED, "autumn")
    assert first is not None and first.before is None
    assert asked_period(NAMED, LOGGED) is None


SPRING_DAY = dt.date(2026, 1, 1)


def test_dates_are_set_beside_as_many_days_before() -> None:
    period = asked_period(NAMED, LOGGED, since=SPRING_DAY)
    assert period is not None and (period.since, period.until) == (SPRING_DAY, LOGGED[1])
    before = period.before
    assert before is not None and before.until == dt.date(2025, 12, 31)
    assert before.until - before.since == period.until - period.since
    until = asked_period(NAMED, LOGGED, until=SPRING_DAY)
    assert until is not None and (until.since, until.until, until.before) == (LOGGED[0], SPRING_DAY, None)


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"season": "sprng"}, r"no season 'sprng' in the settings\. The nearest is 'spring'"),
        ({"season": "1999"}, r"Known are 'spring', 'autumn'"),
        ({"season": "spring", "since": SPRING_DAY}, "not both"),
        ({"since": SPRING_DAY, "until": LOGGED[0]}, r"The log has 2025-09-01 to 2026-03-31"),
        ({"since": dt.date(2030, 1, 1)}, r"The log has 2025-09-01 to 2026-03-31"),
    ],
)
def test_what_cannot_be_asked_for_is_refused_with_what_can(asked: dict[str, object], message: str) -> None:
    with pytest.raises(PeriodError, match=message):
        asked_period(NAMED, LOGGED, **asked)  # type: ignore[arg-type]
    with pytest.raises(PeriodError, match=r'\[seasons\."x"\]'):
        asked_period(Settings(), LOGGED, "x")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[seasons.a]\nfirst = 2025-09-01", "seasons.a.last is missing"),
        ("[seasons.a]\nfirst = 2025-09-01\nlast = 2025-08-01", r"seasons.a: first \(2025-09-01\) must not be after"),
        ("[seasons.a]\nfirst = 2025\nlast = 2026-08-01", "seasons.a.first is 2025; write"),
        ('[seasons.a]\nfirst = "1 May"\nlast = 2026-08-01', "seasons.a.first is '1 May'; write"),
        ("[seasons.a]\nbegin = 2025-09-01\nfirst = 2025-09-01\nlast = 2026-08-01", "seasons.a.begin is no entry"),
        ("seasons = 3", r"seasons is 3; write first and last below \[seasons.NAME\]"),
        ("[season.a]\nfirst = 2025-09-01", r"there is no section \[season\]; the nearest is seasons"),
    ],
)
def test_a_season_at_fault_is_refused_by_name(text: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError, match=message):
        read_settings(path)


def night(block: int) -> dt.date:
    """The day of a block: the second season begins after half a year."""
    return day(block) + dt.timedelta(days=BREAK if block > 6 else 0)


def opened() -> Season:
    connection = make(PLAN, SMALL).connection
    for table in ("deliveries", "blocks"):
        connection.execute(f"UPDATE {table} SET date = date + {BREAK} WHERE block >= 'b007'")
    return prepare(connection, SMALL)


@pytest.fixture(scope="module")
def learned() -> Fits:
    return fit_all(opened(), SMALL)


def narrowed(learned: Fits, change: Callable[[Season], Season], asked: list[str]) -> Fitted:
    season = change(opened())
    return in_period(restricted(Fitted(season, replace(learned, cache={})), resolve_bowlers(season, asked)))


@pytest.fixture(scope="module")
def second(learned: Fits) -> Fitted:
    return narrowed(learned, lambda season: with_period(season, "two"), [])


def test_only_the_nights_of_the_period_are_counted(second: Fitted) -> None:
    season, fits = second.season, second.fits
    summary = summarise_season(second)
    assert (summary.blocks, summary.first_date, summary.last_date) == (5, night(7), night(11))
    assert summary.period is not None and summary.period.season == "two"
    assert {card.games for card in summary.bowlers} == {10}
    assert {block.date for block in block_ledgers(Fitted(season, fits))} == {night(n) for n in range(7, 12)}
    assert sum(fits.mix.shots.values()) == sum(card.shots for card in summary.bowlers)
    scores = season.frame("cells/game_scores").groupby("bowler")["score"].mean()
    for account in ledger(second):
        total = account.expected.mean + sum(part.pins.mean for part in account.parts)
        assert account.games == 10
        assert account.scored == pytest.approx(scores[account.bowler]) == pytest.approx(total, abs=1e-8)


@pytest.fixture(scope="module")
def beside(second: Fitted) -> list[SeasonBeside]:
    return season_beside(second)


def test_parts_of_two_seasons_add_up_to_the_difference_of_the_averages(beside: list[SeasonBeside]) -> None:
    scores = opened().frame("cells/game_scores")
    nights = scores["date"].dt.date
    for bowler, own in scores.groupby(scores["bowler"]):
        last, this = (own["score"][picked[own.index]].mean() for picked in (nights <= day(6), nights > day(6)))
        mine = [item for item in beside if item.bowler == bowler]
        (average,) = (item for item in mine if item.kind == "average")
        assert (average.last, average.this) == (pytest.approx(last), pytest.approx(this))
        assert (average.games_last, average.games_this) == (14, 10)
        parts = sum(item.this - item.last for item in mine if item.kind == "ledger part")
        assert parts == pytest.approx(this - last, abs=1e-8)


def test_balls_and_skills_stand_beside_the_last_season(beside: list[SeasonBeside]) -> None:
    shots = opened().frame("cells/season_mix").groupby("ball")["shots"].sum()
    balls = {item.ball: item for item in beside if item.kind == "carry of a ball"}
    assert {ball: item.shots_last + item.shots_this for ball, item in balls.items()} == shots.to_dict()
    assert {item.ball_name for item in balls.values()} == {ball_named(ball) for ball in ("a1", "a2", "b1")}
    skills = {(item.bowler, item.what) for item in beside if item.kind == "skill"}
    assert {(bowler, skill) for bowler in ("ann", "bo") for skill in ("pocket", "single-pin spares")} <= skills
    assert all(0.5 <= item.probability <= 1 and item.change.lo80 < item.change.hi80 for item in beside)


def test_without_a_season_before_nothing_is_compared(learned: Fits) -> None:
    first = narrowed(learned, lambda season: with_period(season, "one"), ["bo"])
    fits = first.fits
    assert season_beside(first) == []
    assert fits.worth.now == night(0).isoformat() and fits.worth.model is learned.worth.model
    assert fits.conversion.now == night(0).isoformat() != learned.conversion.now


def test_choices_keep_the_shots_of_earlier_seasons(second: Fitted, learned: Fits) -> None:
    """So that a new season starts with what the last one taught; what is thrown now is of the period alone."""
    whole = choices_of(opened(), learned.mix.shots)
    now = choices_of(second.season, learned.mix.shots)
    assert now["shots"].sum() == whole["shots"].sum() == whole["shots_now"].sum()
    assert now["shots_now"].sum() == sum(second.fits.mix.shots.values()) < now["shots"].sum()


def test_a_ball_left_at_home_this_season_is_no_choice(learned: Fits) -> None:
    season = opened()
    season.connection.execute("DELETE FROM deliveries WHERE ball = 'a2' AND date > ?", [day(6)])
    season = with_period(prepare(season.connection, SMALL), "two")
    fitted = in_period(restricted(Fitted(season, replace(learned, cache={})), resolve_bowlers(season, [])))
    assert set(choices_of(fitted.season, fitted.fits.mix.shots)["ball"]) == {"a1", "b1"}
    assert {ball.ball for ball in arsenal(fitted)} == {"a1", "b1"}


def test_a_plan_about_a_season_starts_from_its_bag_and_knows_every_pattern(learned: Fits) -> None:
    connection = opened().connection
    connection.execute(
        "INSERT INTO patterns BY NAME"
        " SELECT * REPLACE ('p42' AS pattern, '42 ft' AS name, 42 AS length_ft) FROM patterns WHERE pattern = 'p40'"
    )
    connection.execute("UPDATE blocks SET pattern = 'p42' WHERE block >= 'b007'")
    connection.execute("DELETE FROM deliveries WHERE ball = 'a2' AND block >= 'b007'")
    season = with_period(prepare(connection, SMALL), "two")
    fitted = in_period(Fitted(season, replace(learned, mix=mix_of_bowlers(learned.mix, ["ann"]), cache={})))
    shots = fitted.fits.mix.shots
    assert shots.keys() == {"ann"} and shots["ann"] < learned.mix.shots["ann"]
    known = plan(fitted, "ann", 40.0, games=2)
    assert known.novelty == 0.0 and {step.ball for step in known.steps} == {"a1"}
    assert plan(fitted, "ann", 46.0, games=2).novelty > 0.0
    assert [made.length_ft for made in default_plans(fitted)] == [42.0]


def test_the_level_of_a_block_is_that_of_its_own_season(learned: Fits) -> None:
    """Whichever season's level is the usual one; noise of what choosing gained goes by that level, to 0.02 pins."""
    rows = []
    for now in (night(0), night(7)):
        fits = replace(learned, worth=replace(learned.worth, now=now.isoformat()), cache={})
        rows.append(block_levels(open_ledger(Fitted(opened(), fits)), "ann"))
    assert np.allclose(rows[0].pins, rows[1].pins, rtol=0, atol=0.05) and len(rows[0].blocks) == 12


def test_balls_are_as_old_as_the_whole_log_made_them(second: Fitted) -> None:
    ages = {ball.ball: ball.games_total for ball in arsenal(second)}
    assert ages["b1"] == pytest.approx(24) and ages["a1"] + ages["a2"] == pytest.approx(24)


def test_skills_are_those_of_the_period(second: Fitted) -> None:
    skills = {(s.bowler, s.skill): s for s in students(second)[0]}
    assert skills["ann", "pocket"].shots == pocket_cells(second.season).query("bowler == 'ann'")["shots"].sum()
    assert skills["ann", "pocket"].progress is not None


def test_what_was_learned_stays(second: Fitted, learned: Fits) -> None:
    assert second.fits.worth is learned.worth and second.fits.conversion is learned.conversion
    assert learned.worth.now == night(7).isoformat()
    assert any(note.kind == "period" for note in second.fits.notes)


def test_a_season_that_is_the_whole_log_is_reported_like_the_log(learned: Fits) -> None:
    """To the digit, but for the note that says which nights were asked about."""
    whole = narrowed(learned, lambda season: season, [])
    named = narrowed(learned, lambda season: with_period(season, since=day(0), until=night(11)), [])
    assert whole.season.period is None and whole.fits.cache is not named.fits.cache
    for question in (ledger, block_ledgers, arsenal, students):
        assert question(whole) == question(named)
    apart = {name for name, value in summarise_season(whole) if value != getattr(summarise_season(named), name)}
    assert apart == {"period", "notes"}


def test_a_period_of_some_bowlers(learned: Fits) -> None:
    fitted = narrowed(learned, lambda season: with_period(season, "two"), ["bo"])
    assert [card.bowler for card in summarise_season(fitted).bowlers] == ["bo"]
    assert {account.games for account in ledger(fitted)} == {10}
    assert {ball.games_total for ball in arsenal(fitted)} == {24.0}
    states = fitted.season.frame("cells/ball_states", usual=60.0)
    assert dict(zip(states["ball"], states["games_total"].round(6), strict=True)) == {"b1": 24.0}


def test_a_bowler_or_a_night_that_is_not_there_is_refused() -> None:
    season = opened()
    season.connection.execute("DELETE FROM deliveries WHERE bowler = 'bo' AND date > ?", [day(6)])
    with pytest.raises(PeriodError, match="No delivery was logged in 2027-05-01 to"):
        with_period(season, since=dt.date(2027, 5, 1), until=dt.date(2027, 6, 1))
    with pytest.raises(UnknownBowlerError, match="is logged in two, "):
        resolve_bowlers(with_period(season, "two"), ["bo"])


def test_a_night_past_midnight_is_of_the_day_it_began_on() -> None:
    season = opened()
    late = "UPDATE deliveries SET date = date + 1 WHERE block = 'b006' AND game = 2"
    season.connection.execute(late)
    season = with_period(season, "two")
    theirs = {f"b{n:03d}" for n in range(7, 12)}
    rows = season.connection.execute("SELECT block FROM period_blocks ORDER BY block").fetchall()
    assert {block for (block,) in rows} == theirs
    assert season.period is not None and blocks_of(season, season.period) == theirs


def test_kept_fits_serve_whatever_seasons_the_settings_name() -> None:
    season = opened()
    one, other = (
        Key.of(season.connection, settings, None) for settings in (SMALL, SMALL.model_copy(update={"seasons": {}}))
    )
    assert one == other
    assert one != Key.of(season.connection, Settings(), None)


def test_the_command_line_hands_on_what_was_asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked: list[object] = []

    def fit(database: Path, **given: object) -> None:
        asked.append([given[name] for name in ("named", "since", "until")])
        raise PeriodError("stop here")

    monkeypatch.setattr("pipeline.api.fit", fit)
    runner, to = CliRunner(), ["decide", "--json", str(tmp_path / "d.json")]
    runner.invoke(cli, [*to, "--since", "2026-01-01", "--until", "2026-02-01"])
    runner.invoke(cli, [*to, "--season", "spring"])
    runner.invoke(cli, to)
    assert asked == [[None, SPRING_DAY, dt.date(2026, 2, 1)], ["spring", None, None], [None, None, None]]
    plans: list[object] = []

    def planned(database: Path, *_: object, **given: object) -> None:
        plans.append([given[name] for name in ("named", "since", "until")])
        raise PeriodError("stop here")

    monkeypatch.setattr("pipeline.api.plan", planned)
    monkeypatch.setattr("pipeline.api.plan_event", planned)
    runner.invoke(cli, ["plan", "--bowler", "ann", "--length", "40", "--season", "spring"])
    runner.invoke(cli, ["plan", "--bowler", "ann", "--pattern", "p40", "--since", "2026-01-01"])
    assert plans == [["spring", None, None], [None, SPRING_DAY, None]]
    bad = runner.invoke(cli, [*to, "--since", "1/2/2026"])
    assert bad.exit_code == 2 and "'1/2/2026' is not a date; write it year first" in bad.output
