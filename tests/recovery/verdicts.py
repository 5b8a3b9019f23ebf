"""Every verdict of one simulated season with its stated probability, and whether it was truly right.

Rows have columns kind, stated (probability) and right. A verdict that names the likelier of two states its probability
from one half up; one that something happens (a crossing, being the best choice of a plan) from zero up.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pandas as pd

from pipeline.decisions.advice.ball_by_phase import advised
from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.arsenal.overlap import (
    SAME_JOB_PINS,
    best_places,
    differences,
    gaps,
    redundant_pairs,
)
from pipeline.decisions.arsenal.verdict_rules import ACTIONS
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.arsenal.work_list import work_list
from pipeline.decisions.candidates import TRIED, candidates, row_dicts
from pipeline.decisions.plan.block_plan import plan
from pipeline.decisions.plan.choices import choices
from pipeline.decisions.records import WITHHELD, BlockPlan
from pipeline.decisions.rules_of_thumb.rules import MAXIMS, Maxim
from pipeline.decisions.rules_of_thumb.trials import contrast, maxims
from pipeline.decisions.students.comparison import KINDS, skill_draws
from pipeline.decisions.students.focus import focus_of, win_back
from pipeline.decisions.transition.ball_changes import Outlook, games_late, in_hand, moment, outlooks, timing_shares
from pipeline.decisions.transition.curves import crossings, first_lines
from pipeline.decisions.wording.names import ball_named
from pipeline.decisions.wording.rules_of_thumb import rule_text
from pipeline.decisions.wording.terms import with_ball
from pipeline.everyone import EVERYONE
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.models.skills.skill import SkillDraws, spare_cells
from pipeline.models.strikes.oil_rules import fit_oil_rules
from pipeline.pricing.worth_curves import GAMES, LOAD, Panel, crossing_points, panels
from pipeline.settings import PatternLimits
from pipeline.sport.lane import phase_of
from pipeline.store.season import Season
from sample_logs.truth import Truth
from sample_logs.world import PATTERN_CLASSES
from tests.recovery import verdict_truths as true_of

Verdict = tuple[str, float, bool]
Rows = dict[str, tuple[pd.DataFrame, np.ndarray]]
_PLANNED = (0, 3, 5)  # patterns of the world to plan for: a short, a medium and a long one
_PLAN_GAMES = 6


def of_season(season: Season, fits: Fits, truth: Truth, ranking: pd.DataFrame) -> pd.DataFrame:
    """All verdicts of a season; ``ranking`` as from ``quantities.of_season``."""
    top = ranking[ranking["top"].astype(bool)]
    result = [("playbook: best choice", float(row.stated), bool(row.best)) for row in top.itertuples()]
    worth = true_of.worths(candidates(Fitted(season, fits)), truth)
    result += _next_steps(season, fits, worth)
    result += _arsenal(season, fits, truth)
    result += _bag(season, fits, worth)
    result += _changes(season, fits, truth)
    result += _students(season, fits, truth, worth)
    result += _maxims(season, fits, truth, worth)
    result += _crossings(season, fits, truth)
    result += _plans(season, fits, truth)
    return pd.DataFrame(result, columns=["kind", "stated", "right"])


def _either(kind: str, draws: np.ndarray, truth: float) -> Verdict:
    """The likelier sign of a difference, from its draws, against the true difference."""
    likely = float((draws > 0).mean())
    return kind, max(likely, 1 - likely), (likely >= 0.5) == (truth > 0)


def _arsenal(season: Season, fits: Fits, truth: Truth) -> list[Verdict]:
    """Is the act named the best of the four, and does it gain over keeping?

    Withheld verdicts are judged by the act said to look best so far.
    """
    true = true_of.utilities(truth, fits.settings.costs)
    out = []
    for verdict in arsenal(Fitted(season, fits)):
        if verdict.ball not in true.index:
            continue
        best = max(ACTIONS, key=lambda act: verdict.utilities[act].mean)
        kind = "arsenal: withheld" if verdict.verdict in WITHHELD else "arsenal: verdict"
        out.append((kind, verdict.probability, best == str(true.loc[verdict.ball].idxmax())))
    for task in work_list(Fitted(season, fits)):
        called = next((option for option in task.options if option.act == task.do), None)
        if called is not None and called.p_gain is not None and task.ball in true.index:
            gains = bool(true.loc[task.ball, called.act] > true.loc[task.ball, "keep"])
            out.append((f"arsenal: {called.act} gains", called.p_gain, gains))
    return out


def _next_steps(season: Season, fits: Fits, worth: np.ndarray) -> list[Verdict]:
    """Is the move or the change advised into the next phase, or staying, truly better than what it is set against?

    A move is between kept lines. A ball changed to or left moves with the lane, so it is truly worth its best line.
    """
    rows = candidates(Fitted(season, fits)).rows.assign(worth=worth)
    cell = ["bowler", "pattern_class", "phase", "ball"]
    by_line, by_ball = rows.set_index([*cell, "line"])["worth"], rows.groupby(cell)["worth"].max()
    out = []
    for advice in playbook(Fitted(season, fits))[1]:
        if (step := advice.move) is not None:
            where = (advice.bowler, advice.pattern_class, phase_of(step.from_game, fits.settings.phases))
            gain = by_line[*where, step.ball, step.line] - by_line[*where, step.over_ball, step.over_line]
            out.append(("playbook: move, or stay", step.probability, bool(gain > 0)))
        if (step := advice.change) is not None:
            where = (advice.bowler, advice.pattern_class, phase_of(step.from_game, fits.settings.phases))
            gain = by_ball[*where, step.ball] - by_ball[*where, step.over_ball]
            out.append(("playbook: change of ball", step.probability, bool(gain > 0)))
    return out


def _bag(season: Season, fits: Fits, worth: np.ndarray) -> list[Verdict]:
    """Are two balls truly within the pins that make one job; is the best choice of a gap truly below the average?"""
    options = candidates(Fitted(season, fits))
    out = []
    for pair in redundant_pairs(Fitted(season, fits)):
        jobs = best_places(options, np.flatnonzero(options.rows["bowler"] == pair.bowler))
        one, two = jobs[pair.ball_a], jobs[pair.ball_b]
        apart = differences(worth[None, :], [(one[kind], two[kind]) for kind in one.keys() & two.keys()])
        out.append(("arsenal: same job", pair.p_same_job, bool((np.abs(apart) < SAME_JOB_PINS).all())))
    for gap in gaps(Fitted(season, fits)):
        answer = advised(Fitted(season, fits))[gap.bowler, gap.pattern_class, gap.phase]
        at = answer.ways[answer.best].at
        out.append(("arsenal: gap", gap.probability, bool(worth[at] < 0)))
    return out


def _changes(season: Season, fits: Fits, truth: Truth) -> list[Verdict]:
    """Did a change gain or lose, did a bowler's changes on average, and was each early, on time or late?"""
    changes = season.frame("cells/ball_changes")
    rows = row_dicts(changes)
    expected: list[Outlook] = [part for _, own in changes.groupby("bowler", sort=True) for part in outlooks(fits, own)]
    if not rows:
        return []
    grid = _true_grid(changes, expected)
    codes = grid.groupby(list(grid.columns), sort=False, dropna=False).ngroup().to_numpy()
    pins = truth.true_pins(grid.loc[~pd.Series(codes).duplicated()])[codes]
    out, start = [], 0
    gains: dict[str, list[tuple[np.ndarray, float]]] = {}
    for row, part in zip(rows, expected, strict=True):
        size = len(part.games)
        true = pins[start : start + size] - pins[start + size : start + 2 * size]
        start += 2 * size
        lead = part.new_score - part.stay_score
        gain = part.gain(row), float(true[part.span(row)].mean())
        gains.setdefault(row["bowler"], []).append(gain)
        out.append(_either("ball change: gain or loss", *gain))
        shares, truly = (
            timing_shares(games_late(delta, part.games, in_hand(row), moment(row))) for delta in (lead, true[:, None])
        )
        out.append(("ball change: timing", float(shares.max()), bool(truly[shares.argmax()] > 0)))
    for own in gains.values():
        draws, truly_gained = zip(*own, strict=True)
        out.append(_either("ball change: a bowler's on average", np.mean(draws, axis=0), float(np.mean(truly_gained))))
    return out


def _true_grid(changes: pd.DataFrame, expected: list[Outlook]) -> pd.DataFrame:
    """Rows to price: for each change the games of its block with the new ball, then those with the old one."""
    games = [part.games for part in expected]
    sizes = np.repeat([len(part) for part in games], 2)
    lines = [(part.new_line, part.stay_line) for part in expected]
    choices = pd.DataFrame(
        {
            "change": np.repeat(np.arange(len(changes)), 2),
            "ball": np.column_stack([changes["to_ball"], changes["from_ball"]]).ravel(),
            "line": np.array(lines, dtype=object).ravel(),
        }
    )
    lanes = changes[["bowler", "pattern_class", "length_ft", "volume_ml", "ratio"]].reset_index(drop=True)
    grid = choices.join(lanes, on="change").drop(columns="change")
    grid = grid.iloc[np.repeat(np.arange(len(grid)), sizes)].reset_index(drop=True)
    return grid.assign(game=np.concatenate([part for own in games for part in (own, own)]))


def _students(season: Season, fits: Fits, truth: Truth, worth: np.ndarray) -> list[Verdict]:
    """Who is better at what, and which focus is worth most."""
    stated, settings = skill_draws(Fitted(season, fits)), fits.settings
    options = candidates(Fitted(season, fits))
    true = true_of.skills(stated, spare_cells(season), options, worth, truth, settings.phases, settings.pocket)
    out = []
    for skill, drawn in stated.items():
        out += _better(skill, drawn, true[skill].value[0])
        out += _above_average(skill, drawn, true[skill].value[0])
    # as many copies as there are draws of what a board at the arrows moves at the pins
    known = {skill: replace(drawn, value=np.repeat(drawn.value, fits.n_draws, axis=0)) for skill, drawn in true.items()}
    best = {focus.bowler: focus.skill for focus in focus_of(win_back(Fitted(season, fits), known), known)}
    for focus in focus_of(win_back(Fitted(season, fits), stated), stated):
        out.append(("practice focus", focus.p_best, focus.skill == best[focus.bowler]))
    return out


def _better(skill: str, stated: SkillDraws, true: np.ndarray) -> list[Verdict]:
    sign = 1 if KINDS[skill].higher_is_better else -1
    out = []
    for a, b in combinations(range(len(stated.bowlers)), 2):
        if true[a] != true[b]:  # nobody is better where they are alike
            difference = sign * (stated.value[:, a] - stated.value[:, b])
            out.append(_either(f"who is better: {skill}", difference, sign * (true[a] - true[b])))
    return out


def _above_average(skill: str, stated: SkillDraws, true: np.ndarray) -> list[Verdict]:
    sign = 1 if KINDS[skill].higher_is_better else -1
    own, truly = (sign * (values - values.mean(axis=-1, keepdims=True)) for values in (stated.value, true))
    alike = len(stated.bowlers) < 2 or not truly.any()
    kind = "better or worse than the class on average"
    return [] if alike else [_either(kind, own[:, k], truly[k]) for k in range(len(truly))]


def _maxims(season: Season, fits: Fits, truth: Truth, worth: np.ndarray) -> list[Verdict]:
    """Does a rule hold: the same contrast of the same shots, priced by the truth. The exit board means nothing here."""
    options = candidates(Fitted(season, fits))
    logged = options.rows["shots"].to_numpy() >= TRIED
    tables = {"choices": _by_bowler(options.rows[logged], worth[logged])}
    oil = fit_oil_rules(season, fits.mix.shots, fits.n_draws, fits.generator("oil rules")).rows
    tables["oil"] = _by_bowler(oil, _oil_strike(oil, truth, fits))
    by_text = {rule_text(maxim.name): maxim for maxim in MAXIMS if maxim.name != "rule_of_31"}
    out, single = [], {}
    trials = [
        trial for trial in maxims(Fitted(season, fits)) if trial.verdict != "not tested" and trial.maxim in by_text
    ]
    for trial in trials:
        maxim = by_text[trial.maxim]
        if trial.bowler == EVERYONE:
            values, weights = zip(*single[trial.maxim], strict=True)
            true = float(np.average(values, weights=weights))
        else:
            true, shots = _true_contrast(maxim, tables[maxim.table], trial.bowler)
            single.setdefault(trial.maxim, []).append((true, shots))
        stated = max(trial.probability, 1 - trial.probability)
        model = "oil model" if maxim.table == "oil" else "worth model"
        out.append((f"rule of thumb: {model}", stated, (trial.probability >= 0.5) == (true > 0)))
    return out


def _true_contrast(maxim: Maxim, table: Rows, bowler: str) -> tuple[float, int]:
    difference = contrast(maxim, *table[bowler])
    if difference is None:
        raise ValueError(f"a rule was tried on {bowler} without shots that could tell: {maxim.name}")
    return float(difference.pins[0]), difference.shots


def _by_bowler(rows: pd.DataFrame, value: np.ndarray) -> Rows:
    rows = rows.reset_index(drop=True)
    groups = rows.groupby("bowler").groups.items()
    return {str(bowler): (rows.loc[at].reset_index(drop=True), value[None, at.to_numpy()]) for bowler, at in groups}


def _oil_strike(oil: pd.DataFrame, truth: Truth, fits: Fits) -> np.ndarray:
    """True strike probability (rows,) of the oil model's rows: mean game of the phase, mean oil of class and volume."""
    world, bowled = truth.world, truth.bowled
    phase = bowled["game"].map({g: phase_of(int(g), fits.settings.phases) for g in bowled["game"].unique()})
    game = oil["phase"].map(bowled["game"].groupby(phase).mean())
    limits: PatternLimits = fits.settings.pattern
    met = pd.DataFrame(
        {
            "pattern_class": np.array(PATTERN_CLASSES, dtype=object)[world.pattern_class],
            "volume_class": [_volume_class(float(volume), limits) for volume in world.volume],
            "length_ft": world.length,
            "volume_ml": world.volume,
            "ratio": world.ratio,
        }
    )
    means = met.groupby(["pattern_class", "volume_class"], as_index=False).mean()
    grid = oil[["bowler", "ball", "pattern_class", "volume_class", "line"]].merge(means, how="left", sort=False)
    return truth.true_strike_probability(grid.assign(game=game.to_numpy()))


def _volume_class(volume_ml: float, limits: PatternLimits) -> str:
    """As ``cells/rule_cells`` has it."""
    if volume_ml < limits.light_to_ml:
        return "light"
    return "heavy" if volume_ml >= limits.heavy_from_ml else "medium"


def _crossings(season: Season, fits: Fits, truth: Truth) -> list[Verdict]:
    """Does the challenger pass the leader inside the range logged?"""
    first = first_lines(Fitted(season, fits))
    drawn = panels(Fitted(season, fits), {(*key, *line) for key, line in first.items()})
    own = truth.own_average()
    by_panel = {(p.bowler, p.pattern_class, p.axis): p for p in drawn}
    names = {GAMES: "along the games", LOAD: "along the pair's load"}
    true: dict[tuple[str, str, str], dict[str, np.ndarray]] = {}
    out = []
    for crossing in crossings(drawn, first):
        key = (crossing.bowler, crossing.pattern_class, crossing.axis)
        if key not in true:
            true[key] = _true_curves(by_panel[key], truth, float(own[crossing.bowler]))
        lead = true[key][crossing.challenger] - true[key][crossing.leader]
        passes = bool(np.isfinite(crossing_points(by_panel[key].x, lead[None, :]))[0])
        out.append((f"crossing happens: {names[crossing.axis]}", crossing.probability, passes))
    return out


def _true_curves(panel: Panel, truth: Truth, own: float) -> dict[str, np.ndarray]:
    load = {"pair_load": panel.x} if panel.axis == LOAD else {}
    points = pd.DataFrame({"game": panel.game, **load})
    whose = {"bowler": panel.bowler, "pattern_class": panel.pattern_class}
    grid = pd.concat([points.assign(**whose, ball=c.ball, line=c.line) for c in panel.curves], ignore_index=True)
    pins = truth.true_pins(grid).reshape(len(panel.curves), -1) - own
    return {with_ball(ball_named(c.ball), c.line): pins[k] for k, c in enumerate(panel.curves)}


def _plans(season: Season, fits: Fits, truth: Truth) -> list[Verdict]:
    """Is the choice of each stretch truly the best of those compared; does the average bowled lie where it is said?"""
    world = truth.world
    out = []
    for bowler in sorted(candidates(Fitted(season, fits)).rows["bowler"].unique()):
        for number in _PLANNED:
            oil = [float(values[number]) for values in (world.length, world.volume, world.ratio)]
            out += _steps(season, fits, truth, plan(Fitted(season, fits), str(bowler), *oil, games=_PLAN_GAMES))
    return out


def _steps(season: Season, fits: Fits, truth: Truth, made: BlockPlan) -> list[Verdict]:
    """A ball that moves with the lane is truly worth what its best line is in each game."""
    answers = {
        phase: answer
        for (bowler, kind, phase), answer in advised(Fitted(season, fits)).items()
        if (bowler, kind) == (made.bowler, made.pattern_class)
    }
    balls = frozenset(ball for answer in answers.values() for ball in answer.ways)
    rows = choices(Fitted(season, fits), made.bowler, made.pattern_class, balls)
    phases = [phase_of(game + 1, fits.settings.phases) for game in range(made.games)]
    oil = {"length_ft": made.length_ft, "volume_ml": made.volume_ml, "ratio": made.ratio}
    whose = {"bowler": made.bowler, "pattern_class": made.pattern_class, **oil}
    grid = pd.DataFrame(rows)[["ball", "line"]].merge(pd.DataFrame({"game": range(1, made.games + 1)}), how="cross")
    grid = grid.assign(pins=truth.true_pins(grid.assign(**whose)))
    best = grid.groupby(["ball", "game"])["pins"].max()
    where = grid.loc[grid.groupby(["ball", "game"])["pins"].idxmax()].set_index(["ball", "game"])["line"]
    bowled_on = [(step, game) for step in made.steps for game in range(step.from_game, step.to_game + 1)]
    lines = [step.line if step.keeps_line else where[step.ball, game] for step, game in bowled_on]
    thrown = pd.DataFrame({"ball": [step.ball for step, _ in bowled_on], "line": lines})
    thrown = thrown.assign(game=range(1, made.games + 1), **whose)
    bowled = true_of.bowled_average(truth, thrown, fits.generator(f"bowled by {made.bowler} on {made.length_ft}"))
    out = [("plan: average in its 80 % interval", 0.8, made.average.lo80 <= bowled <= made.average.hi80)]
    for step, then in zip(made.steps, [*made.steps[1:], None], strict=True):
        if step.p_going_on is not None and then is not None:
            game = then.from_game
            better = bool(best[then.ball, game] > best[step.ball, game])
            out.append(("plan: going on is better", step.p_going_on, better))
        if step.p_best is not None:
            games = range(step.from_game, step.to_game + 1)
            name = phases[step.from_game - 1]
            usable = set(answers[name].ways) if name in answers else balls or set(grid["ball"])
            mean = {ball: np.mean([best[ball, game] for game in games]) for ball in usable | {step.ball}}
            right = bool(mean[step.ball] >= max(mean.values()))
            out.append(("plan: best choice of a stretch", step.p_best, right))
    return out
