"""The shape of the log sds: against distributions of scipy, and whether drawn sds are those the data came from."""

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import loggamma, truncnorm

from pipeline.inference.mixed_logit.conditional_mode import Term
from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from pipeline.inference.mixed_logit.hyperposterior import (
    AxisProfile,
    fit_hyperposterior,
    fit_lower,
    fit_upper,
    quantiles,
)

_SHARES = np.linspace(0.001, 0.999, 999)


def _one(step, up, down, slope_up=1.0):
    return AxisProfile(*(np.array([value]) for value in (step, up, down, slope_up)))


@pytest.mark.parametrize(("mean", "sd"), [(0.0, 1.0), (0.5, 1.0), (3.0, 1.0), (2.0, 0.02)])
def test_below_the_mode_it_is_exact_for_a_sd_that_is_normal_and_truncated_at_zero(mean, sd):
    """Quantiles of the log of scipy's truncated normal, from its fall at one step below its mode alone."""
    of_sd = truncnorm((0 - mean) / sd, np.inf, loc=mean, scale=sd)
    mode = (mean + np.sqrt(mean**2 + 4 * sd**2)) / 2  # of the log: its density is that of the sd, times the sd
    step = 0.7 * min(1.0, sd / mode)
    down = of_sd.logpdf(mode) + np.log(mode) - of_sd.logpdf(mode * np.exp(-step)) - np.log(mode * np.exp(-step))
    at = quantiles(_SHARES, fit_lower(_one(step, 1.0, down))[0], 1.0, 1.0)
    under = np.interp(0.0, at, _SHARES)
    at, shares = at[at < 0], _SHARES[at < 0]
    assert of_sd.cdf(mode * np.exp(at)) / of_sd.cdf(mode) == pytest.approx(shares / under, abs=5e-3)


@pytest.mark.parametrize(("size", "rate"), [(2.5, 2.0), (40.0, 0.3), (1.5, -0.8), (4.0, -2.0)])
def test_above_the_mode_it_is_exact_for_the_log_of_a_power_of_a_gamma_variable(size, rate):
    """Quantiles of scipy's log-gamma, from its fall and slope at one step above its mode."""

    def density(away):
        return loggamma(size).logpdf(np.log(size) - rate * away)

    step, small = 0.6, 1e-5
    slope = (density(step - small) - density(step + small)) / (2 * small)
    sizes, rates = fit_upper(_one(step, density(0.0) - density(step), 1.0, slope))
    assert [sizes[0], rates[0]] == pytest.approx([size, rate], rel=2e-2)
    at = quantiles(_SHARES, 0.5, sizes[0], rates[0])
    over = np.interp(0.0, at, _SHARES)
    at, shares = at[at > 0], _SHARES[at > 0]
    tail = loggamma(size).cdf(np.log(size) - rate * at) if rate > 0 else loggamma(size).sf(np.log(size) - rate * at)
    every = loggamma(size).cdf(np.log(size)) if rate > 0 else loggamma(size).sf(np.log(size))
    assert tail / every == pytest.approx((1 - shares) / (1 - over), abs=5e-3)


def test_axes_that_move_together_are_looser_than_each_alone():
    """A normal with correlation 0.8 falls fast along an axis, but the axis by itself has the wider sd: 0.01."""
    precision = np.linalg.inv(0.0001 * np.array([[1.0, 0.8], [0.8, 1.0]]))
    steps, slopes = np.full(2, 0.006), np.diag(precision) * 0.006
    fallen = 0.5 * slopes * steps
    shape = fit_hyperposterior(AxisProfile(steps, fallen, fallen, slopes), precision)
    assert shape.correlation == pytest.approx(np.array([[1.0, 0.8], [0.8, 1.0]]), abs=1e-9)
    away, _ = shape.points(1 << 12)
    assert away.std(axis=0) == pytest.approx([0.01, 0.01], rel=0.02)
    assert np.corrcoef(away.T)[0, 1] == pytest.approx(0.8, abs=0.02)


def test_drawn_sds_are_neither_larger_nor_smaller_than_those_the_data_came_from():
    """Where sds are drawn from their prior, their places among the draws of the fit are even (Cook, Gelman & Rubin, J.
    Comput. Graph. Stat. 15, 2006, from memory), though the data say little of sds this small."""
    places, too_large = [], []
    for seed in range(40):
        rng = np.random.default_rng([3, seed])
        sds = 0.1 * np.abs(rng.standard_t(4, 5))
        codes = [rng.integers(0, 30, 700) for _ in sds]
        linear = -0.2 + np.sum([rng.normal(0, sd, 30)[code] for sd, code in zip(sds, codes, strict=True)], axis=0)
        made = rng.binomial(5, expit(linear)).astype(float)
        terms = [Term(f"group {k}", code, 30) for k, code in enumerate(codes)]
        fit = fit_mixed_logit(
            np.ones((700, 1)), terms, made, np.full(700, 5.0), fixed_precision=np.ones(1), sd_prior=0.1
        )
        drawn = np.column_stack([fit.draw(1000, rng).sd[term.name] for term in terms])
        places.append((drawn < sds).mean())
        too_large.append((drawn.mean(axis=0) - sds).mean())
    for values, expected in ((places, 0.5), (too_large, 0.0)):
        error = np.std(values) / np.sqrt(len(values))
        assert np.mean(values) == pytest.approx(expected, abs=3 * error)
