"""The factor of an arrow-shaped precision matrix against numpy's dense inverse, in either ordering."""

from __future__ import annotations

import weakref

import numpy as np
import pytest
from scipy import sparse

from pipeline.inference.mixed_logit import arrowhead
from pipeline.inference.mixed_logit.arrowhead import factor_arrowhead


def _precision(rng: np.random.Generator) -> np.ndarray:
    """(44, 44): 40 sparse rows of which two touch every other, and 4 dense ones."""
    link = sparse.random(40, 40, 0.05, random_state=rng).toarray()
    link[:2] = rng.normal(size=(2, 40))
    whole = np.zeros((44, 44))
    whole[:40, :40] = link @ link.T + np.diag(rng.uniform(1, 3, 40))
    whole[:40, 40:] = rng.normal(size=(40, 4))
    whole[40:, :40] = whole[:40, 40:].T
    whole[40:, 40:] = 60 * np.eye(4)
    return whole


@pytest.mark.parametrize("huge", [1, 1_000])
def test_solutions_determinants_and_draws_are_those_of_the_dense_matrix(
    huge: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(arrowhead, "HUGE", huge)
    rng = np.random.default_rng(4)
    whole = _precision(rng)
    inverse = np.linalg.inv(whole)
    factor = factor_arrowhead(sparse.csc_array(whole[:40, :40]), whole[:40, 40:], whole[40:, 40:])
    right = rng.normal(size=44)
    assert np.concatenate(factor.solve(right[:40], right[40:])) == pytest.approx(inverse @ right, rel=1e-9, abs=1e-12)
    assert factor.log_det == pytest.approx(np.linalg.slogdet(whole)[1], rel=1e-12)
    random, fixed = factor.draw(40_000, rng)
    spread = np.cov(np.hstack([random, fixed]).T)
    scale = np.sqrt(np.outer(np.diag(inverse), np.diag(inverse)))
    assert np.abs(spread - inverse).max() < 5 * scale.max() / np.sqrt(40_000)


def test_a_matrix_that_is_not_positive_definite_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arrowhead, "HUGE", 1)
    with pytest.raises(ArithmeticError, match="not positive definite"):
        factor_arrowhead(sparse.csc_array(np.diag([1.0, -1.0])), np.zeros((2, 0)), np.zeros((0, 0)))


@pytest.mark.parametrize("huge", [1, 1_000])
def test_a_matrix_put_in_the_order_of_its_first_factor_gives_the_same_factor(
    huge: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(arrowhead, "HUGE", huge)
    whole = _precision(np.random.default_rng(5))
    random, cross, fixed = sparse.csc_array(whole[:40, :40]), whole[:40, 40:], whole[40:, 40:]
    first = factor_arrowhead(random, cross, fixed)
    assert first.lu is not None
    order = first.lu.elimination()
    again = factor_arrowhead(random[order][:, order].tocsc(), cross, fixed, order)
    assert again.lu is not None and again.lu.lower().nnz == first.lu.lower().nnz  # no more is filled in
    assert again.coupling == pytest.approx(first.coupling, rel=1e-12, abs=1e-14)
    assert again.log_det == pytest.approx(first.log_det, rel=1e-13)
    one, two = (factor.draw(3, np.random.default_rng(1)) for factor in (first, again))
    assert np.hstack(two) == pytest.approx(np.hstack(one), rel=1e-10, abs=1e-13)


def test_a_huge_matrix_is_freed_before_its_ordered_copy_is_factored(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both beside the factor do not fit in memory for large data."""
    monkeypatch.setattr(arrowhead, "HUGE", 1)
    whole = _precision(np.random.default_rng(6))
    given = [sparse.csc_array(whole[:40, :40])]
    held, alive = weakref.ref(given[0]), []
    splu = sparse.linalg.splu

    def factored(*args: object, **options: object) -> object:
        alive.append(held() is not None)
        return splu(*args, **options)

    monkeypatch.setattr(sparse.linalg, "splu", factored)
    factor_arrowhead(given.pop(), whole[:40, 40:], whole[40:, 40:])
    assert alive == [False]


def test_of_a_huge_matrix_only_the_lower_factor_is_held(monkeypatch: pytest.MonkeyPatch) -> None:
    """SuperLU holds the upper factor, too, and both in a wasteful form: four times the memory."""
    whole = _precision(np.random.default_rng(7))
    for huge, held in ((1, arrowhead.Lower), (1_000, arrowhead.SymmetricLU)):
        monkeypatch.setattr(arrowhead, "HUGE", huge)
        assert isinstance(
            factor_arrowhead(sparse.csc_array(whole[:40, :40]), whole[:40, 40:], whole[40:, 40:]).lu, held
        )


def test_solving_with_a_kept_factor_leaves_it_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arrowhead, "HUGE", 1)
    whole = _precision(np.random.default_rng(8))
    factor = factor_arrowhead(sparse.csc_array(whole[:40, :40]), whole[:40, 40:], whole[40:, 40:]).lu
    assert factor is not None
    before, right = factor.lower().toarray(), np.ones(40)
    once, again = factor.solve(right), factor.solve(right)
    assert once == pytest.approx(np.linalg.solve(whole[:40, :40], right), rel=1e-9)
    assert np.array_equal(once, again) and np.array_equal(factor.lower().toarray(), before)
