"""Lines kept: worth of each ball and line as the block goes on, and where another line takes over.

``leads.py`` shows which ball is advised in which game; here every line is kept whatever the lane does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal, cast

import numpy as np

from pipeline.decisions.advice.ball_by_phase import ranked_places
from pipeline.decisions.candidates import candidates
from pipeline.decisions.estimates import estimate, estimates
from pipeline.decisions.probability_best import probability_best
from pipeline.decisions.records import Crossing, CurvePoint, TransitionCurve
from pipeline.decisions.shrinkage import shift
from pipeline.decisions.wording.crossing import crossing_sentence
from pipeline.decisions.wording.names import ball_named
from pipeline.decisions.wording.terms import with_ball
from pipeline.models.fitted import Fitted
from pipeline.pricing.pinfall import Pinfall, pinfalls
from pipeline.pricing.rate_draws import mean_in_cells
from pipeline.pricing.worth_curves import Curve, Panel, crossing_points, panels

Axis = Literal["games into the block", "deliveries on the pair"]
_RARE = 0.05  # a crossing less likely than this is reported without its place
_LIKELY = 0.30  # further challengers are reported from this probability
_MOST_CHALLENGERS = 3


def transition(fitted: Fitted) -> tuple[list[TransitionCurve], list[Crossing]]:
    """Curves and crossings of every bowler and pattern class, along the games and along the load of the pair.

    The raw value of a point is the unadjusted strike rate logged there, priced at the bowler's own spares. The leader
    of a panel is the best line to keep in the first phase that has one, as in the playbook; the challenger with
    the best mean worth at the last point is always reported, others if they are likely to overtake.
    """
    shapes = pinfalls(fitted)
    first = first_lines(fitted)
    drawn = [_drawn_in(panel) for panel in panels(fitted, {(*key, *line) for key, line in first.items()})]
    curves = []
    for panel in drawn:
        best = _best_by_point(panel)
        curves += [_curve(panel, curve, shapes[panel.bowler], best[place]) for place, curve in enumerate(panel.curves)]
    return curves, crossings(drawn, first)


def _drawn_in(panel: Panel) -> Panel:
    """The curves of a panel shrunk toward their mean at each point, lines weighted by shots."""
    curves, points = len(panel.curves), len(panel.x)
    pins = np.concatenate([curve.pins for curve in panel.curves], axis=1)
    shots = np.repeat([max(curve.shots.sum(), 1.0) for curve in panel.curves], points)
    mix = mean_in_cells(pins, np.tile(np.arange(points), curves), shots)
    by = shift(pins, mix, np.ones(curves * points, dtype=bool)).reshape(curves, points)
    return replace(panel, curves=tuple(replace(c, pins=c.pins + by[k]) for k, c in enumerate(panel.curves)))


def first_lines(fitted: Fitted) -> dict[tuple[str, str], tuple[str, str]]:
    """Bowler and pattern class -> ball and line of the best line to keep in the first phase that has one."""
    options = candidates(fitted)
    first: dict[tuple[str, str], tuple[str, str]] = {}
    for (bowler, pattern_class, _), at in ranked_places(options, fitted.fits.settings.evidence).items():
        if at:
            best = options.choices[at[0]]
            first.setdefault((bowler, pattern_class), (str(best["ball"]), str(best["line"])))
    return first


def crossings(drawn: list[Panel], first: Mapping[tuple[str, str], tuple[str, str]]) -> list[Crossing]:
    """Where challengers overtake the leader of each panel, as ``transition`` reports; ``first`` names the leader.

    If the panel lacks that curve, the one with the best mean worth at the first point leads.
    """
    return [
        crossing for panel in drawn for crossing in _crossings(panel, first.get((panel.bowler, panel.pattern_class)))
    ]


def _best_by_point(panel: Panel) -> list[list[float | None]]:
    """For each curve of a panel its probability of being the best at each point, from joint draws; None if alone."""
    if len(panel.curves) < 2:
        return [[None] * len(panel.x)]
    pins = np.stack([curve.pins for curve in panel.curves], axis=1)
    by_point = np.column_stack([probability_best(pins[:, :, k]) for k in range(pins.shape[2])])
    return [[float(p) for p in row] for row in by_point]


def _curve(panel: Panel, curve: Curve, shape: Pinfall, best: list[float | None]) -> TransitionCurve:
    usual = float(shape.mean(shape.strike))
    worth = estimates(curve.pins)
    raw = shape.mean(curve.strikes / np.maximum(curve.shots, 1)) - usual
    points = [
        CurvePoint(x=float(x), worth=worth[k], shots=int(shots), raw=float(raw[k]) if shots else None, p_best=best[k])
        for k, (x, shots) in enumerate(zip(panel.x, curve.shots, strict=True))
    ]
    return TransitionCurve(
        bowler=panel.bowler,
        pattern_class=panel.pattern_class,
        axis=cast(Axis, panel.axis),
        ball=curve.ball,
        ball_name=ball_named(curve.ball),
        line=curve.line,
        points=points,
    )


def _crossings(panel: Panel, first: tuple[str, str] | None) -> list[Crossing]:
    if len(panel.curves) < 2:
        return []
    best = max(panel.curves, key=lambda curve: float(curve.pins[:, 0].mean()))
    leader = next((curve for curve in panel.curves if (curve.ball, curve.line) == first), best)
    others = sorted((c for c in panel.curves if c is not leader), key=lambda c: -float(c.pins[:, -1].mean()))
    out: list[Crossing] = []
    for rank, challenger in enumerate(others):
        at = crossing_points(panel.x, challenger.pins - leader.pins)
        probability = float(np.isfinite(at).mean())
        if rank == 0 or (probability >= _LIKELY and len(out) < _MOST_CHALLENGERS):
            ahead = float((challenger.pins[:, -1] > leader.pins[:, -1]).mean())
            out.append(_crossing(panel, leader, challenger, at, probability, ahead))
    return out


def _crossing(
    panel: Panel, leader: Curve, challenger: Curve, at: np.ndarray, probability: float, ahead: float
) -> Crossing:
    one, two = (with_ball(ball_named(curve.ball), curve.line) for curve in (leader, challenger))
    crossing = Crossing(
        bowler=panel.bowler,
        pattern_class=panel.pattern_class,
        axis=cast(Axis, panel.axis),
        leader=one,
        challenger=two,
        at=estimate(at[np.isfinite(at)]) if probability >= _RARE else None,
        probability=probability,
        shots=int(min(leader.shots.sum(), challenger.shots.sum())),
        sentence="",
    )
    return crossing.model_copy(update={"sentence": crossing_sentence(crossing, float(panel.x[-1]), ahead)})
