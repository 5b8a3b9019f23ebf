"""What is truly so where a verdict rests on it: what each act on a ball is worth, and every bowler's skills."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.special import expit, logit
from scipy.stats import norm

from pipeline.decisions.arsenal.verdict_rules import ACTIONS
from pipeline.decisions.candidates import Candidates, priceable
from pipeline.decisions.students.comparison import versatility
from pipeline.models.skills.skill import SkillDraws
from pipeline.settings import BlockPhases, Costs, PocketLimits
from pipeline.sport.lane import phase_of
from pipeline.sport.leaves import parse_leave
from pipeline.sport.score_distribution import score_distribution
from sample_logs import mechanism as m
from sample_logs.play import ANGLE_SD, ARROW_SD, TAIL_SHARE, TAIL_WIDTH
from sample_logs.truth import Truth
from sample_logs.world import CLASSES, PATTERN_CLASSES, STRENGTH
from tests.recovery.drawn_world import Ages, DrawnTruth

_AHEAD = (0.5 - 0.5 / np.sqrt(3), 0.5 + 0.5 / np.sqrt(3))  # two Gauss points: pins are nearly straight in wear
_CARRY_WEAR, _HOOK_WEAR = 0.006, 0.0024  # means of the world's gamma draws


def typical(truth: Truth) -> Truth:
    """The same world with every ball as the mean of its class."""
    world = truth.world
    worn = (world.ball_class > 0).astype(float)
    plain = replace(
        world,
        strength=STRENGTH[world.ball_class],
        ball_effect=np.zeros_like(world.ball_effect),
        carry_wear=_CARRY_WEAR * worn,
        hook_wear=_HOOK_WEAR * worn,
    )
    if isinstance(truth, DrawnTruth):
        effects = truth.effects
        none = {name: np.zeros_like(getattr(effects, name)) for name in ("ball", "ball_game", "ball_class")}
        return replace(truth, world=plain, effects=replace(effects, **none, wear=effects.usual_wear * worn))
    return replace(truth, world=plain)


def wear_loss(truth: Truth) -> pd.Series:
    """Pins a game each ball (index) loses by the 10 games of wear about its mean wear, at its own mix."""
    grid, weight = _own_mix(truth)
    pins, start = [], np.maximum(truth.mean_wear - 5.0, 0.0)
    for games in (0.0, 10.0):
        worn = replace(truth, mean_wear=start + games)
        pins.append(pd.Series(worn.true_pins(grid) * weight).groupby(grid["ball"]).sum())
    return pins[0] - pins[1]


def utilities(truth: Truth, costs: Costs) -> pd.DataFrame:
    """True utility of each act, one row a ball that was bowled (index) and one column an act.

    As the arsenal defines it: mean pins over the games ahead at the ball's own mix, against today, less the cost.
    Nothing comes of a clean in the rich world.
    """
    grid, weight = _own_mix(truth)
    now = truth.ages_now if isinstance(truth, DrawnTruth) else None
    care = None if now is None else now.cared_for()
    fresh = None if now is None else now.resurfaced()
    new = None if now is None else now.new()

    def pins(of: Truth, wear: np.ndarray | float, ages: Ages | None, games: float = 0.0) -> pd.Series:
        aged = replace(of, mean_wear=np.zeros(len(of.mean_wear)) + wear + games)
        if isinstance(aged, DrawnTruth) and ages is not None:
            aged = replace(aged, mean_ages=ages.after(games))
        return pd.Series(aged.true_pins(grid) * weight).groupby(grid["ball"]).sum()

    def ahead(of: Truth, wear: np.ndarray | float, ages: Ages | None) -> pd.Series:
        return sum(pins(of, wear, ages, share * costs.games_ahead) for share in _AHEAD) / len(_AHEAD)

    acts = pd.DataFrame({"keep": ahead(truth, truth.wear_now, now), "clean": ahead(truth, truth.wear_now, care)})
    acts["resurface"] = ahead(truth, 0.0, fresh)
    acts["retire"] = ahead(typical(truth), 0.0, new)
    today = pins(truth, truth.wear_now, now)
    paid = np.array([0.0, costs.clean, costs.resurface, costs.retire])
    return acts[list(ACTIONS)].sub(today, axis=0) - paid


def _own_mix(truth: Truth) -> tuple[pd.DataFrame, np.ndarray]:
    """Every ball on what it was bowled on, games joined in twos; weights sum to one for each ball."""
    bowled, world = _named(truth), truth.world
    keys = ["bowler", "ball", "pattern_class", "line", "stage"]
    cells = bowled.assign(stage=(bowled["game"] + 1) // 2).groupby(keys, as_index=False)
    grid = cells.agg(game=("game", "mean"), shots=("game", "size"))
    grid["bowler"] = world.bowlers["bowler"].to_numpy()[grid["bowler"]]
    grid["ball"] = world.balls["ball"].to_numpy()[grid["ball"]]
    shots = grid["shots"].astype(float)
    return grid, (shots / shots.groupby(grid["ball"]).transform("sum")).to_numpy()


def _named(truth: Truth) -> pd.DataFrame:
    """``bowled`` with the number and the class of the pattern."""
    pattern = np.array([slot.pattern for slot in truth.slots])[truth.bowled["slot"].to_numpy()]
    classes = np.array(PATTERN_CLASSES, dtype=object)[truth.world.pattern_class[pattern]]
    return truth.bowled.assign(pattern=pattern, pattern_class=classes)


def worths(options: Candidates, truth: Truth) -> np.ndarray:
    """True worth (rows,) of every candidate."""
    grid = priceable(options.rows)
    return truth.true_pins(grid) - grid["bowler"].map(truth.own_average()).to_numpy(dtype=float)


def bowled_average(truth: Truth, thrown: pd.DataFrame, rng: np.random.Generator) -> float:
    """Average of games bowled once, at the world's rules of luck; one row of ``thrown`` a game of a block."""
    first, second = truth.first_and_second(thrown)
    luck = rng.normal(0, truth.world.block_sd)
    strike = expit(logit(first[:, 10]) + luck)
    first = first * ((1 - strike) / (1 - first[:, 10]))[:, None]
    first[:, 10] = strike
    chances = score_distribution(first, second)
    return float(np.mean([rng.choice(len(row), p=row / row.sum()) for row in chances]))


def skills(
    stated: dict[str, SkillDraws],
    spares: pd.DataFrame,
    options: Candidates,
    worth: np.ndarray,
    truth: Truth,
    phases: BlockPhases,
    pocket: PocketLimits,
) -> dict[str, SkillDraws]:
    """True skills of the bowlers in ``stated``, each as one draw, in its unit; ``worth`` as from ``worths``.

    Pocket and carry are adjusted over what was really bowled; ``spares`` are the logged spare cells, whose mix of
    leaves the spares are read off at. Everybody's arrow boards spread alike in these worlds.
    """
    world = truth.world
    places = dict(zip(world.bowlers["bowler"], range(len(world.bowlers)), strict=True))
    priced = replace(options.priced, pins=worth[None, :])
    wide = versatility(Candidates(options.rows, priced, options.following))
    values = {
        "accuracy at the arrows": np.full(len(places), ARROW_SD),
        "single-pin spares": _spares(truth, spares[spares["single"]]),
        "multi-pin spares": _spares(truth, spares[~spares["single"]]),
    }
    if "pocket" in stated or "accuracy at the pocket" in stated:
        values |= _at_the_pocket(truth, phases, pocket)
    if wide is not None:
        values["versatility"] = pd.Series(wide.value[0], wide.bowlers).reindex(places).to_numpy()
    out = {}
    for skill, draws in stated.items():
        own = values[skill][[places[bowler] for bowler in draws.bowlers]]
        out[skill] = SkillDraws(draws.bowlers, own[None, :], {}, draws.shots)
    return out


def _spares(truth: Truth, cells: pd.DataFrame) -> np.ndarray:
    """P(spare) of every bowler at the class's mix of leaves that the world knows."""
    faced = cells.groupby("leave")["attempts"].sum()
    masks = np.array([parse_leave(leave) for leave in faced.index])
    known = np.isin(masks, m.LEAVE_MASKS)
    number = np.arange(len(truth.world.bowlers))
    weight = faced.to_numpy(dtype=float)[known]
    return m.spare_probability(truth.world, number[:, None], masks[known][None, :]) @ (weight / weight.sum())


def _at_the_pocket(truth: Truth, phases: BlockPhases, pocket: PocketLimits) -> dict[str, np.ndarray]:
    """Pocket rate, carry from it and spread of the entry board of every bowler, adjusted as the skills are."""
    shots, world = _named(truth), truth.world
    who, ball, wear, pattern = (shots[name].to_numpy() for name in ("bowler", "ball", "wear", "pattern"))
    game, arrow = shots["game"].to_numpy(), shots["arrow"].to_numpy()
    strength = world.strength[ball] - world.hook_wear[ball] * wear
    length, volume = world.length[pattern], world.volume[pattern]
    ideal = m.ideal_arrow(world, who, strength, length, volume, game, shots["load"].to_numpy())
    mean = m.entry_mean(world, who, arrow, ideal)
    spread = m.entry_spread(world, who, world.ratio[pattern])
    reach = pocket.half_width + 0.25  # boards are logged to the half
    edges = pocket.centre_board + np.linspace(-reach, reach, 11)
    mass = np.zeros((len(shots), 10))
    for share, width in ((1 - TAIL_SHARE, 1.0), (TAIL_SHARE, TAIL_WIDTH)):
        at = norm.cdf((edges - mean[:, None]) / (width * spread)[:, None])
        mass += share * np.diff(at, axis=1)
    angle = m.entry_angle(world, who, strength, arrow)
    kind, middle = world.pattern_class[pattern], (edges[1:] + edges[:-1]) / 2
    centred = m.strike_logit(world, who, ball, kind, game, wear, angle, np.array(m.CENTRE_BOARD))
    change = m.place_logit(middle) - m.place_logit(np.array(m.CENTRE_BOARD)) - 0.10 * ANGLE_SD**2
    struck = (mass / (1 + np.exp(-(centred[:, None] + change)))).sum(axis=1)
    pockets = mass.sum(axis=1)
    phase = shots["game"].map({g: phase_of(int(g), phases) for g in shots["game"].unique()})
    mix = shots.assign(phase=phase, ball_class=np.array(CLASSES, dtype=object)[world.ball_class[ball]])
    return {
        "pocket": _adjusted(mix, pockets, np.ones(len(mix))),
        "carry": _adjusted(mix, struck / pockets, pockets),
        "accuracy at the pocket": _adjusted(mix, spread, np.ones(len(mix))),
    }


def _adjusted(mix: pd.DataFrame, value: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Least squares of ``value`` on bowler and conditions, read off for every bowler at everybody's conditions."""
    conditions = pd.get_dummies(mix[["pattern_class", "phase", "ball_class"]], drop_first=True, dtype=float)
    rest = conditions.to_numpy() - np.average(conditions.to_numpy(), axis=0, weights=weight)
    bowlers = np.arange(mix["bowler"].max() + 1)
    person = (mix["bowler"].to_numpy()[:, None] == bowlers).astype(float)
    root = np.sqrt(weight)
    fit = np.linalg.lstsq(np.hstack([person, rest]) * root[:, None], value * root, rcond=None)[0]
    return fit[: len(bowlers)]
