"""What the bag has twice, and what it lacks: balls that do the same job, and cells where nothing works."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.decisions.candidates import Candidates, candidates
from pipeline.decisions.estimates import estimate
from pipeline.decisions.results import PHASES, ArsenalGap, RedundantPair
from pipeline.decisions.words import in_phase, interval, on_pattern, percent, plural
from pipeline.models.fits import Fits
from pipeline.models.season import Season

FloatArray = npt.NDArray[np.float64]
SAME_JOB_PINS = 3.0  # pins per game within which two balls do the same job; our own choice
_WORTH_SAYING = 0.5  # pairs and gaps less likely than not are no finding


def redundant_pairs(season: Season, fits: Fits) -> list[RedundantPair]:
    """Pairs of one bowler's balls that likelier than not do the same job, most likely first.

    On each pattern class the bowler logged, either ball is taken on its own best line in each phase (by posterior
    mean), phases weighing alike. Pairs of which a ball has fewer than ``min_shots`` are left out.
    """
    found = candidates(season, fits)
    pairs = []
    for bowler in sorted(set(found.rows["bowler"])):
        at = np.flatnonzero(found.rows["bowler"] == bowler)
        worth, shots = _worth_by_ball(found, at)
        balls = [ball for ball in sorted(worth) if shots[ball] >= fits.settings.evidence.min_shots]
        for one, two in combinations(balls, 2):
            shared = sorted(worth[one].keys() & worth[two].keys())
            if not shared:
                continue
            apart = np.column_stack([worth[one][kind] - worth[two][kind] for kind in shared])
            same = float((np.abs(apart) < SAME_JOB_PINS).all(axis=1).mean())
            if same > _WORTH_SAYING:
                names = _names(found, at)
                pairs.append(
                    RedundantPair(
                        bowler=str(bowler),
                        ball_a=one,
                        ball_b=two,
                        p_same_job=same,
                        shots=min(shots[one], shots[two]),
                        sentence=f"{names[one]} and {names[two]} do the same job: {percent(same)} probable that they "
                        f"differ by under {SAME_JOB_PINS:.0f} pins a game on {_classes(shared)} patterns.",
                    )
                )
    return sorted(pairs, key=lambda pair: (pair.bowler, -pair.p_same_job, pair.ball_a, pair.ball_b))


def gaps(season: Season, fits: Fits) -> list[ArsenalGap]:
    """Pattern classes and phases where even the best choice is likelier than not below the bowler's own average.

    The best choice is that of highest posterior mean among the balls and lines logged on the class; the probability is
    the share of draws in which it is below the average. Spare balls do not count as choices.
    """
    found = candidates(season, fits)
    spare = found.rows["spare_ball"].to_numpy(dtype=bool)
    result = []
    for (bowler, pattern_class, phase), rows in found.cells():
        at = rows[~spare[rows]]
        shots = int(found.rows["shots"].to_numpy()[at].sum()) if len(at) else 0
        if shots < fits.settings.evidence.min_shots:
            continue
        pins = found.priced.pins[:, at]
        best = pins[:, int(pins.mean(axis=0).argmax())]
        probability = float((best < 0).mean())
        if probability > _WORTH_SAYING:
            worth = estimate(best)
            result.append(
                ArsenalGap(
                    bowler=bowler,
                    pattern_class=pattern_class,
                    phase=PHASES[PHASES.index(phase)],
                    best_worth=worth,
                    probability=probability,
                    shots=shots,
                    sentence=f"Nothing in the bag may work {on_pattern(pattern_class)} "
                    f"{in_phase(phase, fits.settings.phases)}: {percent(probability)} probable that the best choice is "
                    f"below the bowler's own average ({interval(worth)} pins a game, {plural(shots, 'shot')}).",
                )
            )
    return result


def _worth_by_ball(
    found: Candidates, at: npt.NDArray[np.intp]
) -> tuple[dict[str, dict[str, FloatArray]], dict[str, int]]:
    """For one bowler: ball -> pattern class -> draws (n,) of its worth on its best lines; and ball -> shots."""
    rows = found.rows.iloc[at]
    keep = ~rows["spare_ball"].to_numpy(dtype=bool)
    rows, columns = rows[keep], at[keep]
    means = found.priced.pins[:, columns].mean(axis=0)
    worth: dict[str, dict[str, FloatArray]] = {}
    balls, classes, phase_of = (rows[name].to_numpy(dtype=object) for name in ("ball", "pattern_class", "phase"))
    for ball, pattern_class in sorted({(str(b), str(c)) for b, c in zip(balls, classes, strict=True)}):
        places = np.flatnonzero((balls == ball) & (classes == pattern_class))
        phases = phase_of[places]
        best = [places[phases == phase][means[places[phases == phase]].argmax()] for phase in sorted(set(phases))]
        worth.setdefault(ball, {})[pattern_class] = found.priced.pins[:, columns[best]].mean(axis=1)
    shots = {str(ball): int(count) for ball, count in rows.groupby("ball")["shots"].sum().items()}
    return worth, shots


def _names(found: Candidates, at: npt.NDArray[np.intp]) -> dict[str, str]:
    rows = found.rows.iloc[at]
    return {str(ball): str(name) for ball, name in zip(rows["ball"], rows["ball_name"], strict=True)}


def _classes(kinds: list[str]) -> str:
    return kinds[0] if len(kinds) == 1 else f"{', '.join(kinds[:-1])} and {kinds[-1]}"
