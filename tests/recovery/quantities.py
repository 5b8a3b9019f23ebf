"""Every quantity the reports state, set beside its truth, for one simulated season.

Rows have columns kind, truth, mean, lo80, hi80, lo95, hi95 and raw (the unadjusted average, where there is one).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd

from pipeline.decisions.advice.playbook import playbook
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.candidates import Candidates, candidates
from pipeline.decisions.estimates import quantiles
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.models.skills.skill import spare_cells, spare_rate
from pipeline.sport.lane import NO_LINE
from pipeline.sport.leaves import parse_leave
from pipeline.sport.score_distribution import score_distribution
from pipeline.store.season import Season
from sample_logs import mechanism as m
from sample_logs.truth import Truth
from tests.recovery import verdict_truths as true_of

_LEVELS = {"lo80": 0.10, "hi80": 0.90, "lo95": 0.025, "hi95": 0.975}
_KEY = ["bowler", "pattern_class", "phase", "ball", "line"]


def rows(kind: str, truth: np.ndarray, draws: np.ndarray, raw: np.ndarray | float = np.nan) -> pd.DataFrame:
    """One row a column of ``draws`` (n, k); ``truth`` and ``raw`` have shape (k,)."""
    ends = quantiles(draws, np.array(list(_LEVELS.values())))
    table = pd.DataFrame(ends, columns=list(_LEVELS))
    return table.assign(kind=kind, truth=truth, mean=draws.mean(axis=0), raw=raw)


def estimated(kind: str, pairs: list[tuple[float, object]]) -> pd.DataFrame:
    """The same from (truth, Estimate) pairs."""
    table = [
        {"kind": kind, "truth": truth, "raw": np.nan} | {name: getattr(e, name) for name in ("mean", *_LEVELS)}
        for truth, e in pairs
    ]
    return pd.DataFrame(table)


def of_season(season: Season, fits: Fits, truth: Truth) -> tuple[pd.DataFrame, pd.DataFrame]:
    """All quantities, and one row a ranked choice for P(best): stated, top (ranked first), best (truly)."""
    options = candidates(Fitted(season, fits))
    choices = _choices(season, fits, options, truth)
    tables = [
        *_worths(choices, options, truth),
        _margins(choices, options),
        _ball_contrasts(season, fits, truth),
        _averages(options, truth),
        _spares(season, fits, truth),
        _wear(season, fits, truth),
        _entry_curves(fits, truth),
        _spare_skills(season, fits, truth),
    ]
    return pd.concat(tables, ignore_index=True), _ranking(choices)


def _choices(season: Season, fits: Fits, options: Candidates, truth: Truth) -> pd.DataFrame:
    """Logged choices with their record, place among the draws, true strike probability and true worth."""
    worths, _ = playbook(Fitted(season, fits))
    record = pd.DataFrame(
        [[*(getattr(w, key) for key in _KEY), w.ranked, w.p_best, w.raw_worth] for w in worths],
        columns=[*_KEY, "ranked", "p_best", "raw_worth"],
    )
    table = options.rows.reset_index(names="at").merge(record, on=_KEY)
    table = table[table["line"] != NO_LINE].reset_index(drop=True)
    grid = table[["bowler", "pattern_class", "game", "ball", "line"]]
    own = truth.own_average()
    first, second = truth.first_and_second(grid)
    table["true_strike"] = first[:, 10]
    table["true_worth"] = truth.true_pins(grid) - table["bowler"].map(own)
    table["true_200"] = score_distribution(first, second)[:, 200:].sum(axis=1)
    return table


def _worths(choices: pd.DataFrame, options: Candidates, truth: Truth) -> list[pd.DataFrame]:
    ranked = choices["ranked"].to_numpy(dtype=bool)
    raw_strike = (choices["strikes"] / choices["shots"]).to_numpy()
    out = []
    for name, keep in (("ranked choices", ranked), ("all listed choices", np.ones(len(choices), dtype=bool))):
        part, at = choices[keep], choices["at"].to_numpy()[keep]
        strike, pins = options.priced.strike[:, at], options.priced.pins[:, at]
        out.append(rows(f"strike probability, {name}", part["true_strike"].to_numpy(), strike, raw_strike[keep]))
        raw = part["raw_worth"].to_numpy()
        out.append(rows(f"worth in pins, {name}", part["true_worth"].to_numpy(), pins, raw))
    part, at = choices[ranked], choices["at"].to_numpy()[ranked]
    out.append(rows("chance of 200, ranked choices", part["true_200"].to_numpy(), options.priced.p200[:, at]))
    return out


def _margins(choices: pd.DataFrame, options: Candidates) -> pd.DataFrame:
    """The choice ranked first: its worth (a winner's curse would show), and its margin over the second."""
    out = []
    mean = options.priced.pins.mean(axis=0)
    for _, cell in choices[choices["ranked"]].groupby(["bowler", "pattern_class", "phase"]):
        order = cell.iloc[np.argsort(-mean[cell["at"].to_numpy()], kind="stable")]
        true, at, raw = order["true_worth"].to_numpy(), order["at"].to_numpy(), order["raw_worth"].to_numpy()
        out.append(rows("worth in pins, ranked first", true[:1], options.priced.pins[:, at[:1]], raw[:1]))
        if len(order) > 1:
            margin = options.priced.pins[:, at[:1]] - options.priced.pins[:, at[1:2]]
            out.append(rows("margin of first over second in pins", true[:1] - true[1:2], margin, raw[:1] - raw[1:2]))
        by_raw = cell.iloc[[int(np.argmax(cell["raw_worth"].to_numpy()))]]
        drawn = options.priced.pins[:, by_raw["at"].to_numpy()]
        out.append(
            rows("worth in pins, first by raw average", by_raw["true_worth"].to_numpy(), drawn, by_raw["raw_worth"])
        )
    return pd.concat(out, ignore_index=True)


def _ranking(choices: pd.DataFrame) -> pd.DataFrame:
    """Ranked choices of cells with at least two: stated P(best), ranked first, truly best."""
    out = []
    for _, cell in choices[choices["ranked"]].groupby(["bowler", "pattern_class", "phase"]):
        if len(cell) < 2:
            continue
        worth, stated = cell["true_worth"].to_numpy(), cell["p_best"].to_numpy()
        raw = cell["raw_worth"].to_numpy()
        out.append(
            pd.DataFrame(
                {
                    "stated": stated,
                    "top": stated == stated.max(),
                    "top_raw": raw == raw.max(),
                    "best": worth == worth.max(),
                    "lost": worth.max() - worth,
                }
            )
        )
    columns = ["stated", "top", "top_raw", "best", "lost"]
    return pd.concat(out, ignore_index=True) if out else pd.DataFrame(columns=columns)


def _ball_contrasts(season: Season, fits: Fits, truth: Truth) -> pd.DataFrame:
    """Two balls of one bowler on one pattern class, the later-used minus the earlier-used, at the mix both met.

    Each pair is compared at the bowler's own games and lines on that class over both balls; the raw difference is that
    of the two averages. Later balls are picked up when shots stop carrying, so the raw one is confounded.
    """
    cells = season.frame("cells/logged_combinations")
    cells = cells[cells["line"].notna() & cells["pattern_class"].isin(["short", "medium", "long"])]
    halves = []
    for (bowler, pattern), part in cells.groupby(["bowler", "pattern_class"]):
        totals = part.groupby("ball")[["shots", "strikes"]].sum()
        mean_game = part.assign(total=part["game"] * part["shots"]).groupby("ball")["total"].sum() / totals["shots"]
        enough = totals.index[totals["shots"] >= 60]
        for one, other in combinations(enough, 2):
            early, late = sorted((one, other), key=lambda ball: mean_game[ball])
            both = part[part["ball"].isin([early, late])]
            mix = both.groupby(["phase", "line"], as_index=False).agg(shots=("shots", "sum"), game=("game", "mean"))
            rate = totals["strikes"] / totals["shots"]
            halves.append((bowler, pattern, early, late, mix, rate[late] - rate[early]))
    if not halves:
        return pd.DataFrame()
    grids, weights, raw = [], [], []
    for bowler, pattern, early, late, mix, difference in halves:
        for ball, sign in ((late, 1.0), (early, -1.0)):
            grids.append(mix.assign(bowler=bowler, pattern_class=pattern, ball=ball))
            weights.append(sign * mix["shots"].to_numpy(dtype=float) / mix["shots"].sum())
        raw.append(difference)
    grid = pd.concat(grids, ignore_index=True)[["bowler", "pattern_class", "game", "ball", "line"]]
    weight = np.concatenate(weights)
    pair = np.repeat(np.arange(len(halves)), [2 * len(f[4]) for f in halves])
    summed = np.zeros((len(grid), len(halves)))
    summed[np.arange(len(grid)), pair] = weight
    draws = fits.worth.strike_draws(grid, fits.n_draws, fits.generator("worth"))
    kind = "strike probability, later-used ball minus earlier-used"
    return rows(kind, truth.true_strike_probability(grid) @ summed, draws @ summed, np.array(raw))


def _averages(options: Candidates, truth: Truth) -> pd.DataFrame:
    own = truth.own_average()
    names = [bowler for bowler in own.index if bowler in options.priced.average_score]
    draws = np.column_stack([options.priced.average_score[bowler] for bowler in names])
    return rows("own average in pins", own[names].to_numpy(), draws)


def _spares(season: Season, fits: Fits, truth: Truth) -> pd.DataFrame:
    bowlers = truth.world.bowlers["bowler"].tolist()
    table, draws = _spare_draws(season, fits, bowlers)
    masks = table["leave"].map(lambda leave: parse_leave(leave)).to_numpy()
    known = np.isin(masks, m.LEAVE_MASKS) & (masks != m.FULL)
    number = truth.world.bowler_number(table["bowler"])
    true = m.spare_probability(truth.world, number, masks)
    raw = (table["made"] / table["attempts"].where(table["attempts"] > 0)).to_numpy()
    logged = known & (table["attempts"] > 0).to_numpy()
    out = [rows("spare probability, leaves the bowler faced", true[logged], draws[:, logged], raw[logged])]
    rest = known & ~logged
    if rest.any():
        out.append(rows("spare probability, leaves the bowler never faced", true[rest], draws[:, rest]))
    return pd.concat(out, ignore_index=True)


def _spare_draws(season: Season, fits: Fits, bowlers: list[str]) -> tuple[pd.DataFrame, np.ndarray]:
    """Every leave of the season for each bowler: a table (bowler, leave, attempts, made) and draws (n, rows)."""
    leaves = fits.conversion.leaves["leave"].tolist()
    rng = fits.generator("conversion")
    draws = [fits.conversion.bowler_draws(bowler, leaves, fits.n_draws, rng) for bowler in bowlers]
    counts = season.frame("cells/spare_cells").groupby(["bowler", "leave"])[["attempts", "made"]].sum()
    every = pd.MultiIndex.from_product([bowlers, leaves], names=["bowler", "leave"])
    return counts.reindex(every, fill_value=0).reset_index(), np.concatenate(draws, axis=1)


def _wear(season: Season, fits: Fits, truth: Truth) -> pd.DataFrame:
    true = true_of.wear_loss(truth)
    verdicts = [v for v in arsenal(Fitted(season, fits)) if v.shots >= fits.settings.evidence.min_shots]
    pairs = [(float(true[v.ball]), v.loss_per_10_games) for v in verdicts]
    return estimated("pins lost per 10 games of wear", pairs)


def _entry_curves(fits: Fits, truth: Truth) -> pd.DataFrame:
    """Strike by entry board, for each bowler and for boards within what was logged, to the half board."""
    if not fits.entry.logged:
        return pd.DataFrame()
    low, high = fits.entry.boards
    boards = np.arange(max(low, 14.0), min(high, 21.0) + 0.25, 1.0)
    out = []
    within = np.linspace(-0.2, 0.2, 5)  # a logged half board stands for a quarter of a board either side
    for bowler in fits.mix.shots:
        draws = fits.entry.entry_draws(boards, bowler, fits.n_draws, fits.generator("entry"))
        true = np.mean([truth.entry_curve(bowler, boards + step) for step in within], axis=0)
        out.append(rows("strike probability by entry board", true, draws))
    return pd.concat(out, ignore_index=True)


def _spare_skills(season: Season, fits: Fits, truth: Truth) -> pd.DataFrame:
    """Differences between bowlers in spares, at the class's mix of leaves."""
    cells = spare_cells(season)
    out = []
    for name, single in (("single-pin", True), ("multi-pin", False)):
        part = cells[cells["single"] == single]
        rates = spare_rate(part, fits.n_draws, fits.generator(name))
        if rates is None:
            continue
        faced = part.groupby("leave")["attempts"].sum()
        masks = np.array([parse_leave(leave) for leave in faced.index])
        known = np.isin(masks, m.LEAVE_MASKS)
        weight = faced.to_numpy(dtype=float)[known] / faced.to_numpy(dtype=float)[known].sum()
        number = truth.world.bowler_number(pd.Series(rates.bowlers))
        chance = m.spare_probability(truth.world, number[:, None], masks[known][None, :])
        true = chance @ weight
        pairs = np.array(list(combinations(range(len(number)), 2)))
        draws = rates.value[:, pairs[:, 0]] - rates.value[:, pairs[:, 1]]
        out.append(rows(f"{name} spares, one bowler minus another", true[pairs[:, 0]] - true[pairs[:, 1]], draws))
    return pd.concat(out, ignore_index=True)
