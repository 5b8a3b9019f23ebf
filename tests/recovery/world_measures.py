"""What the decisions of one simulated season say beside what is so; one row a measure: measure, total, count.

A measure is total / count over all seasons; the season is the unit of its Monte Carlo error (``worlds_study.py``).
Worth is in pins per game against the bowler's own average, as the records have it, unless a name says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.candidates import Candidates, candidates
from pipeline.decisions.plan.block_plan import PlanError, plan
from pipeline.decisions.records import PhaseAdvice, Policy
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.sport.lane import NO_LINE
from pipeline.store.season import Season
from tests.recovery.worlds.club import PATTERN_CLASSES
from tests.recovery.worlds.truth import GAMES, LINE_BOARDS, WorldTruth

_KEY = ["bowler", "pattern_class", "phase", "ball", "line"]
_CELL = ["bowler", "pattern_class", "phase"]
_SHOTS = ((0, 0), (1, 2), (3, 9), (10, 19), (20, 49), (50, 10**6))
_FIRST_ITEMS = 3
_PLANNED = (0, 2, 5)  # patterns: a short, a medium and a long one
Draws = np.ndarray


class Tally:
    """Sums and counts by measure."""

    def __init__(self) -> None:
        self._rows: dict[str, list[np.ndarray]] = {}

    def add(self, measure: str, values: float | Iterable[float] | np.ndarray) -> None:
        """Take values of one measure; those not finite are left out."""
        array = np.atleast_1d(np.asarray(values, dtype=float))
        self._rows.setdefault(measure, []).append(array[np.isfinite(array)])

    def interval(self, measure: str, draws: Draws, truth: np.ndarray) -> None:
        """Coverage of 80 and 95 % intervals, bias and squared error of draws (n, k) against ``truth`` (k,)."""
        if draws.shape[1] == 0:
            return
        lo95, lo80, hi80, hi95 = np.quantile(draws, [0.025, 0.1, 0.9, 0.975], axis=0)
        error = draws.mean(axis=0) - truth
        self.add(f"{measure}: in 80 %", (lo80 <= truth) & (truth <= hi80))
        self.add(f"{measure}: in 95 %", (lo95 <= truth) & (truth <= hi95))
        self.add(f"{measure}: bias", error)
        self.add(f"{measure}: squared error", error**2)
        self.add(f"{measure}: width of 80 %", hi80 - lo80)

    def frame(self) -> pd.DataFrame:
        """One row a measure."""
        rows = [(name, float(np.concatenate(p).sum()), sum(map(len, p))) for name, p in self._rows.items()]
        return pd.DataFrame(rows, columns=["measure", "total", "count"])


def of_season(season: Season, fits: Fits, truth: WorldTruth) -> pd.DataFrame:
    """All measures of one season."""
    options = candidates(Fitted(season, fits))
    tally = Tally()
    choices = _choices(season, fits, options, truth)
    pins = options.priced.pins
    _own_average(tally, options, truth)
    _by_shots(tally, choices, pins)
    listed, ranked = choices[choices["listed"]], choices[choices["ranked"]]
    tally.interval("strike, ranked", options.priced.strike[:, ranked["at"]], ranked["strike_held"].to_numpy())
    tally.interval("worth, ranked", pins[:, ranked["at"]], ranked["held"].to_numpy())
    tally.interval("worth, all listed", pins[:, listed["at"]], listed["held"].to_numpy())
    following = getattr(options, "following", None)
    if following is not None:
        at = ranked["at"]
        tally.interval("worth following, ranked", following.pins[:, at], ranked["following"].to_numpy())
        tally.interval("worth following as now, ranked", following.pins[:, at], ranked["as_now"].to_numpy())
    for _, cell in choices.groupby(_CELL):
        _of_cell(tally, cell, pins, None if following is None else following.pins)
    _settled(tally, season, fits, choices)
    _advised(tally, playbook(Fitted(season, fits))[1], choices, truth)
    _plans(tally, season, fits, truth)
    return tally.frame()


def _choices(season: Season, fits: Fits, options: Candidates, truth: WorldTruth) -> pd.DataFrame:
    """Candidates on a logged line with their record and truths; ``held``, ``following``, ``as_now`` and ``own`` as
    worth."""
    worths, _ = playbook(Fitted(season, fits))
    columns = [*_KEY, "ranked", "p_best", "raw_worth"]
    record = pd.DataFrame([[getattr(w, name) for name in columns] for w in worths], columns=columns)
    table = options.rows.reset_index(names="at").merge(record, on=_KEY, how="left")
    table = table[(table["line"] != NO_LINE) & ~table["spare_ball"].astype(bool)].reset_index(drop=True)
    table["listed"] = table["ranked"].notna()
    table["ranked"] = table["ranked"].eq(True)
    own = table["bowler"].map({name: truth.own_pins(name) for name in table["bowler"].unique()})
    held, following = truth.held(table), truth.following(table)
    keys = list(zip(table["bowler"], table["pattern_class"], table["game"], strict=True))
    throwing = {key: truth.own_pins(*key) for key in set(keys)}
    lost = {key: truth.lost_by_habit(*key) for key in set(keys)}
    return table.assign(
        strike_held=held["strike"],
        held=held["pins"] - own,
        following=following["pins"] - own,
        as_now=following["pins"] - own - np.array([lost[key] for key in keys]),
        own=np.array([throwing[key] for key in keys]) - own,
        own_average=own,
    )


def _own_average(tally: Tally, options: Candidates, truth: WorldTruth) -> None:
    names = list(options.priced.average_score)
    draws = np.column_stack([options.priced.average_score[name] for name in names])
    tally.interval("own average", draws, np.array([truth.own_pins(name) for name in names]))


def _by_shots(tally: Tally, choices: pd.DataFrame, pins: Draws) -> None:
    error = pins[:, choices["at"]].mean(axis=0) - choices["held"]
    shots = choices["shots"]
    for low, high in _SHOTS:
        name = f"{low}" if low == high else f"{low}-{high}" if high < 10**6 else f"{low}+"
        tally.add(f"bias of worth at {name} shots", error[(low <= shots) & (shots <= high)])


def _of_cell(tally: Tally, cell: pd.DataFrame, pins: Draws, following: Draws | None) -> None:
    """One bowler, pattern class and phase: the first choice, its margins, its gain and what it falls short of."""
    ranked = cell[cell["ranked"]]
    if ranked.empty:
        return
    mean = pins[:, ranked["at"]].mean(axis=0)
    ranked = ranked.iloc[np.argsort(-mean, kind="stable")]
    held, at = ranked["held"].to_numpy(), ranked["at"].to_numpy()
    first = ranked.iloc[0]
    thrown = cell[cell["shots"] > 0]
    weight = (thrown["shots"] / thrown["shots"].sum()).to_numpy()
    own = pins if following is None else following
    gain = pins[:, at[:1]] - (own[:, thrown["at"]] @ weight)[:, None]
    true = held[0] - float(first["own"])
    tally.interval("gain of first over own throwing, held", gain, np.array([true]))
    tally.add("gain of first, stated", gain.mean())
    tally.add("gain of first, true, line held", true)
    tally.add("gain of first, true, line following", float(first["following"] - first["own"]))
    tally.add("gain possible, line held", cell["held"].max() - float(first["own"]))
    tally.add("gain possible, line following", cell["following"].max() - float(first["own"]))
    if following is not None:
        _followed(tally, cell, ranked, following)
    tally.add("regret of first among all, line held", cell["held"].max() - held[0])
    most = float(thrown.loc[thrown["shots"].idxmax(), "held"])
    if len(ranked) < 2:
        return
    tally.interval("margin of first over each other", pins[:, at[:1]] - pins[:, at[1:]], held[0] - held[1:])
    tally.interval("margin of first over second", pins[:, at[:1]] - pins[:, at[1:2]], held[:1] - held[1:2])
    _contrasts(tally, pins[:, at].mean(axis=0), held)
    if following is not None:
        _contrasts(tally, following[:, at].mean(axis=0), ranked["following"].to_numpy())
    tally.add("P(best) said", float(first["p_best"]))
    tally.add("P(best) right", held[0] >= held.max())
    tally.add("regret of first among ranked", held.max() - held[0])
    raw = ranked.loc[ranked["raw_worth"].astype(float).idxmax(), "held"]
    tally.add("regret of best raw average among ranked", held.max() - float(raw))
    tally.add("regret of most thrown among ranked", held.max() - most)


def _contrasts(tally: Tally, stated: np.ndarray, true: np.ndarray) -> None:
    """Sums from which the slope of true on stated differences follows; both (choices,) of one cell."""
    apart = stated - stated.mean()
    tally.add("contrasts, stated x true", apart * (true - true.mean()))
    tally.add("contrasts, stated squared", apart**2)


def _followed(tally: Tally, cell: pd.DataFrame, ranked: pd.DataFrame, following: Draws) -> None:
    """Where the pipeline prices a line that follows the lane: its own first choice and what that gains."""
    at = ranked["at"].to_numpy()
    best = ranked.iloc[int(np.argmax(following[:, at].mean(axis=0)))]
    thrown = cell[cell["shots"] > 0]
    weight = (thrown["shots"] / thrown["shots"].sum()).to_numpy()
    stated = following[:, int(best["at"])] - following[:, thrown["at"]] @ weight
    tally.add("gain of first following, stated", stated.mean())
    tally.add("gain of first following, true", float(best["following"] - best["own"]))


def _settled(tally: Tally, season: Season, fits: Fits, choices: pd.DataFrame) -> None:
    """Is a choice called settled the best of those ranked?"""
    ranked = choices[choices["ranked"]].set_index(_KEY)["held"]
    best = ranked.groupby(_CELL).max()
    said = playbook(Fitted(season, fits))[1]
    for advice in said:
        if advice.best is None or advice.runner_up is None:
            continue
        key = tuple(getattr(advice.best, name) for name in _KEY)
        if key not in ranked.index:
            continue
        settled = advice.verdict == "settled"
        tally.add("share of compared cells settled", settled)
        if settled:
            tally.add("settled right", float(ranked[key]) >= float(best[key[:3]]))


def _advised(tally: Tally, advice: Sequence[PhaseAdvice], choices: pd.DataFrame, truth: WorldTruth) -> None:
    """The policies as the pages advise them, and the club's first items in pins per season, by the pages' own order."""
    items, brought_in = [], _brought_in(advice)
    for item in advice:
        policy, now = item.policy, item.gain_over_now
        cell = choices[(choices[_CELL] == [item.bowler, item.pattern_class, item.phase]).all(axis=1)]
        if policy is None or now is None:
            continue
        ball = cell[cell["ball"] == policy.ball]
        if policy.keeps_line:
            ball = ball[ball["line"] == policy.line]
        if ball.empty:
            continue
        own, possible = float(cell["own"].iloc[0]), float(cell["following"].max())
        true = float(ball["held" if policy.keeps_line else "following"].iloc[0]) - own
        tally.add("gain of advice, true, from the best board", true)
        true = _from_its_board(item, policy, brought_in[item.bowler, item.pattern_class, item.phase], truth, true)
        tally.add("gain of advice, stated", now.gain.mean)
        tally.add("gain of advice, true", true)
        tally.add("gain of advice: in 80 %", now.gain.lo80 <= true <= now.gain.hi80)
        tally.add("P(gain) said", now.p_gain)
        tally.add("P(gain) right", true > 0)
        items.append((now.pins_a_season, true * now.games, (possible - own) * now.games))
    if len(items) < _FIRST_ITEMS:
        return
    first = sorted(items, reverse=True)[:_FIRST_ITEMS]
    tally.add("first three items, pins per season, stated", sum(stated for stated, _, _ in first))
    tally.add("first three items, pins per season, true", sum(true for _, true, _ in first))
    tally.add("best three items, pins per season, possible", sum(sorted(p for _, _, p in items)[-_FIRST_ITEMS:]))


def _brought_in(advice: Iterable[PhaseAdvice]) -> dict[tuple[str, str, str], tuple[int, float | None]]:
    """The game in which the ball of each cell comes in and its board then: where it stays from phase to phase, once."""
    found: dict[tuple[str, str, str], tuple[int, float | None]] = {}
    in_hand: dict[tuple[str, str], tuple[str, bool, tuple[int, float | None]]] = {}
    for item in sorted(advice, key=lambda item: item.from_game):
        if item.policy is None:
            continue
        who, policy = (item.bowler, item.pattern_class), item.policy
        ball, kept, start = in_hand.get(who, ("", False, (0, None)))
        if (ball, kept) != (policy.ball, policy.keeps_line):
            start = (item.from_game, policy.start_board)
        in_hand[who] = (policy.ball, policy.keeps_line, start)
        found[item.bowler, item.pattern_class, item.phase] = start
    return found


def _from_its_board(
    item: PhaseAdvice, policy: Policy, start: tuple[int, float | None], truth: WorldTruth, otherwise: float
) -> float:
    """True gain of a ball brought in as the advice says (game and board of ``start``), then followed.

    ``otherwise``: what it is where no board is named, or for a phase longer than the truth knows.
    """
    first, board = start
    if board is None or item.to_game is None or item.to_game > GAMES:
        return otherwise
    games = range(item.from_game, item.to_game + 1)
    own = np.mean([truth.own_pins(item.bowler, item.pattern_class, float(game)) for game in games])
    return truth.played_from(item.bowler, item.pattern_class, policy.ball, board, first, games) - float(own)


def _plans(tally: Tally, season: Season, fits: Fits, truth: WorldTruth) -> None:
    """Plans for three patterns the club knows: level and gain, with lines held as planned and following the lane."""
    club = truth.club
    for bowler in club.bowlers["bowler"]:
        for number in _PLANNED:
            oil = [float(values[number]) for values in (club.length, club.volume, club.ratio)]
            try:
                made = plan(Fitted(season, fits), bowler, *oil, games=GAMES)
            except PlanError:
                continue
            _of_plan(tally, made, truth, bowler, PATTERN_CLASSES[club.pattern_class[number]], number)


def _of_plan(tally: Tally, made, truth: WorldTruth, bowler: str, kind: str, number: int) -> None:  # type: ignore[no-untyped-def]
    steps = [(game, step) for step in made.steps for game in range(step.from_game, step.to_game + 1)]
    if any(step.line not in LINE_BOARDS for _, step in steps):
        return
    grid = pd.DataFrame([{"game": game, "ball": step.ball, "line": step.line} for game, step in steps])
    grid = grid.assign(bowler=bowler, pattern_class=kind, pattern=number)
    held, following = truth.held(grid)["pins"].mean(), truth.following(grid)["pins"].mean()
    own = float(np.mean([truth.own_pins(bowler, kind, game, number) for game in grid["game"]]))
    tally.add("plan: level less true, line held", made.score.mean - held)
    tally.add("plan: level less true, line following", made.score.mean - following)
    tally.add("plan: true level in 80 %", made.score.lo80 <= held <= made.score.hi80)
    tally.add("plan: gain, line held", held - own)
    tally.add("plan: gain, line following", following - own)
