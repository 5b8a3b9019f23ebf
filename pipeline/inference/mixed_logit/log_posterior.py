"""The log posterior of the log sds: its value and slope, its maximum, and how it falls away from there."""

from __future__ import annotations

import numpy as np

from pipeline.arrays import Floats
from pipeline.inference.mixed_logit.arrowhead import HUGE
from pipeline.inference.mixed_logit.conditional_mode import EXACT, LOOSE, MixedLogitProblem, Mode
from pipeline.inference.mixed_logit.hyperposterior import (
    LOOSEST_LOG_SD,
    AxisProfile,
    HyperPosterior,
    fit_hyperposterior,
)
from pipeline.inference.mixed_logit.sd_priors import SdPrior
from pipeline.inference.mixed_logit.variances import Slopes, evidence_slopes, exact_block_layout

LOG_SD_BOUNDS = (np.log(0.003), np.log(8.0))  # also of the scale multiplier
_GRADIENT_STEP = 0.01  # on the log of a sd; the inner mode is exact to far less
_STEPS = (0.25, 1.0)  # by which its fall is tried: wide, for what matters is over the posterior's own width
_USUAL_SD = 0.3  # where the search starts, or at the scale of its prior if that is smaller
_RELATIVE_GAIN = 1e-6  # of the log posterior, below which the sds are not improved further


class LogPosterior:
    """Log posterior of the log sds, each evaluation started from the mode nearest to hand."""

    def __init__(self, problem: MixedLogitProblem, prior: SdPrior) -> None:
        self.problem, self.base, self.prior = problem, problem.start(), prior
        self.layout = exact_block_layout(problem)
        levels = [float(term.levels) for term in problem.terms]
        self._information = np.array(levels if prior.shared is None else [*levels, prior.shared.columns.sum()])

    def mode(self, log_sd: Floats) -> Mode:
        """The conditional mode at ``log_sd``, to the accuracy a value needs."""
        return self.problem.mode(log_sd, self.problem.predict(self.base, log_sd), LOOSE)

    def move_to(self, log_sd: Floats) -> None:
        """Find the exact mode at ``log_sd`` and start from it from now on."""
        tolerance = EXACT if len(self.problem.owner) < HUGE else LOOSE  # the last step is taken: it ends as near
        self.base = self.problem.mode(log_sd, self.problem.predict(self.base, log_sd), tolerance)

    def value(self, mode: Mode) -> float:
        """The log posterior at ``mode``."""
        return mode.integrated + self.prior.log_density(mode.log_sd)

    def at(self, log_sd: Floats) -> float:
        """The log posterior at ``log_sd``."""
        return self.value(self.mode(log_sd))

    def slopes(self, mode: Mode) -> Slopes:
        """Slope of the log posterior at ``mode``, and its expected curvature along each log sd."""
        assert self.layout is not None
        evidence = evidence_slopes(self.layout, mode)
        slope, curve = self.prior.slopes(mode.log_sd)
        return Slopes(evidence.slope + slope, evidence.information + curve)

    def negative_with_gradient(self, log_sd: Floats) -> tuple[float, Floats]:
        """Minus the log posterior and its gradient: exact, or or by forward differences if matrices would not fit."""
        self.move_to(log_sd)
        here = self.value(self.base)
        if self.layout is not None:
            slopes = self.slopes(self.base)
            self._information = slopes.information
            return -here, -slopes.slope
        slope = [(self.at(log_sd + step) - here) / _GRADIENT_STEP for step in np.eye(len(log_sd)) * _GRADIENT_STEP]
        return -here, -np.array(slope)

    def information(self) -> Floats:
        """Expected curvature of minus the log posterior along each log sd where it was last evaluated."""
        return np.maximum(self._information, LOOSEST_LOG_SD**-2)

    def hyperposterior(self, centre: Floats) -> HyperPosterior:
        """How the log posterior falls away from its mode ``centre``, by steps of about one sd along each axis."""
        steps = np.clip(self.information() ** -0.5, *_STEPS)
        return fit_hyperposterior(
            *(self._profile_by_values if self.layout is None else self._profile_by_slopes)(centre, steps)
        )

    def _profile_by_slopes(self, centre: Floats, steps: Floats) -> tuple[AxisProfile, Floats]:
        """Falls after a step up and down each axis, and the curvature (size, size) by the slopes above."""
        here, start = self.value(self.base), self.slopes(self.base).slope
        up, down, slopes = np.empty(len(steps)), np.empty(len(steps)), np.empty((len(steps), len(steps)))
        for i, step in enumerate(np.diag(steps)):
            mode = self.mode(centre + step)
            up[i], down[i] = here - self.value(mode), here - self.at(centre - step)
            slopes[i] = self.slopes(mode).slope
        return AxisProfile(steps, up, down, -np.diag(slopes)), (start - slopes) / steps[:, None]

    def _profile_by_values(self, centre: Floats, steps: Floats) -> tuple[AxisProfile, Floats]:
        """The same from values alone."""
        size, along = len(steps), np.diag(steps)
        here = self.value(self.base)
        up = here - np.array([self.at(centre + s) for s in along])
        down = here - np.array([self.at(centre - s) for s in along])
        farther = here - np.array([self.at(centre + (1.0 + _GRADIENT_STEP) * s) for s in along])
        curvature = np.empty((size, size))
        for i in range(size):
            for j in range(i):
                both = here - self.at(centre + along[i] + along[j])
                curvature[i, j] = curvature[j, i] = (both - up[i] - up[j]) / (steps[i] * steps[j])
        return AxisProfile(steps, up, down, (farther - up) / (_GRADIENT_STEP * steps)), curvature


def maximise_posterior(log_posterior: LogPosterior, sds: Floats | None) -> Floats:
    """Move to the best log sds, or to those given, and return them."""
    axes = log_posterior.problem.axes
    if sds is not None or not axes:
        centre = np.log(sds) if sds is not None else np.zeros(0)
    else:
        centre = _lbfgs(log_posterior, log_posterior.prior.start(_USUAL_SD, axes))
    log_posterior.move_to(centre)
    return centre


def _lbfgs(log_posterior: LogPosterior, start: Floats) -> Floats:
    """Best log sds by L-BFGS-B, on axes scaled to equal curvature, which saves expensive evaluations."""
    log_posterior.negative_with_gradient(start)
    scale = np.sqrt(log_posterior.information())

    def scaled(point: Floats) -> tuple[float, Floats]:
        value, slope = log_posterior.negative_with_gradient(point / scale)
        return value, slope / scale

    from scipy import optimize  # slow to import

    optimum = optimize.minimize(
        scaled,
        start * scale,
        jac=True,
        method="L-BFGS-B",
        bounds=[(LOG_SD_BOUNDS[0] * s, LOG_SD_BOUNDS[1] * s) for s in scale],
        options={"ftol": _RELATIVE_GAIN, "gtol": 1e-2, "maxiter": 40},
    )
    best: Floats = optimum.x / scale
    return best
