"""What the bag has twice, and what it lacks: balls that do the same job, and cells where nothing works."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.arrays import Floats
from pipeline.decisions.advice.ball_by_phase import advised
from pipeline.decisions.candidates import Candidates, candidates
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import PHASES, ArsenalGap, RedundantPair
from pipeline.decisions.wording.names import ball_named
from pipeline.decisions.wording.overlap import gap_sentence, pair_sentence
from pipeline.models.fitted import Fitted

# Pins per game within which two balls do the same job; our own choice. A season distinguishes balls to some four pins,
# so under three not even identical balls would be found.
SAME_JOB_PINS = 5.0
_WORTH_SAYING = 0.5  # pairs and gaps less likely than this are not reported


def redundant_pairs(fitted: Fitted) -> list[RedundantPair]:
    """Pairs of one bowler's balls that probably do the same job, most probable first; if none, the closest pair.

    On each pattern class the bowler logged, each ball is taken on its own best line in each phase (by posterior mean),
    with equal weight per phase. Pairs with a ball of fewer than ``min_shots`` shots are left out.
    """
    options = candidates(fitted)
    pairs = []
    for bowler in sorted(set(options.rows["bowler"])):
        ordered = sorted(_pairs(options, str(bowler), fitted.fits.settings.evidence.min_shots), key=_by_probability)
        sure = [pair for pair in ordered if pair.p_same_job > _WORTH_SAYING]
        pairs += sure or ordered[:1]
    return pairs


def _by_probability(pair: RedundantPair) -> tuple[float, str, str]:
    return -pair.p_same_job, pair.ball_a, pair.ball_b


def _pairs(options: Candidates, bowler: str, min_shots: int) -> Iterator[RedundantPair]:
    """Every pair of the bowler's balls that share a pattern class, but for those with fewer shots."""
    at = np.flatnonzero(options.rows["bowler"] == bowler)
    jobs, rows = best_places(options, at), options.rows.iloc[at]
    shots = rows.groupby("ball")["shots"].sum()
    for one, two in combinations([ball for ball in sorted(jobs) if shots[ball] >= min_shots], 2):
        shared = sorted(jobs[one].keys() & jobs[two].keys())
        if not shared:
            continue
        apart = differences(options.priced.pins, [(jobs[one][kind], jobs[two][kind]) for kind in shared])
        same = float((np.abs(apart) < SAME_JOB_PINS).all(axis=1).mean())
        balls = (ball_named(one), ball_named(two))
        yield RedundantPair(
            bowler=bowler,
            ball_a=one,
            ball_b=two,
            p_same_job=same,
            apart=estimate(apart.mean(axis=1)),
            shots=int(min(shots[one], shots[two])),
            sentence=pair_sentence(balls, same, same > _WORTH_SAYING, SAME_JOB_PINS, shared),
        )


def gaps(fitted: Fitted) -> list[ArsenalGap]:
    """Pattern classes and phases where even the best choice is probably below the bowler's own average.

    The choices are those of the advice by phase, each ball played the better of two ways; the probability is the share
    of draws in which the best of them by posterior mean is below the average. Spare balls do not count as choices.
    """
    options = candidates(fitted)
    spare = options.rows["spare_ball"].to_numpy(dtype=bool)
    answers = advised(fitted)
    result = []
    for (bowler, pattern_class, phase), at in options.places.items():
        answer = answers.get((bowler, pattern_class, phase))
        shots = int(options.rows["shots"].to_numpy()[at][~spare[at]].sum())
        if answer is None or shots < fitted.fits.settings.evidence.min_shots:
            continue
        best = answer.ways[answer.best].pins
        probability = float((best < 0).mean())
        if probability > _WORTH_SAYING:
            gap = ArsenalGap(
                bowler=bowler,
                pattern_class=pattern_class,
                phase=PHASES[PHASES.index(phase)],
                best_worth=estimate(best),
                probability=probability,
                shots=shots,
                sentence="",
            )
            sentence = gap_sentence(gap, fitted.fits.settings.phases)
            result.append(gap.model_copy(update={"sentence": sentence}))
    return result


def best_places(options: Candidates, at: npt.NDArray[np.intp]) -> dict[str, dict[str, npt.NDArray[np.intp]]]:
    """Ball -> pattern class -> columns of its draws: its best line of each phase, by posterior mean.

    ``at``: the bowler's rows. Spare balls are left out.
    """
    rows = options.rows.iloc[at]
    columns = at[~rows["spare_ball"].to_numpy(dtype=bool)]
    of_bowler = options.rows.iloc[columns].assign(at=columns, mean=options.priced.pins[:, columns].mean(axis=0))
    best = of_bowler.sort_values(["mean", "at"], ascending=[False, True]).drop_duplicates(
        ["ball", "pattern_class", "phase"]
    )
    places: dict[str, dict[str, npt.NDArray[np.intp]]] = {}
    for (ball, pattern_class), part in best.groupby(["ball", "pattern_class"], sort=True):
        places.setdefault(str(ball), {})[str(pattern_class)] = part["at"].to_numpy(dtype=np.intp)
    return places


def differences(pins: Floats, pairs: Sequence[tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]]) -> Floats:
    """Mean of the first columns less mean of the second, one column per pair; ``pins`` (n, rows) -> (n, pairs)."""
    return np.column_stack([pins[:, one].mean(axis=1) - pins[:, two].mean(axis=1) for one, two in pairs])
