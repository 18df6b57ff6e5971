"""Arithmetic on covariances, compared with NumPy and SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_t

from sync.kernel import normal
from sync.kernel.weights import held_open, likeness, weighed

RNG = np.random.default_rng(20261128)


def _covariance(size: int) -> np.ndarray:
    parts = RNG.normal(size=(size, size + 3))
    return parts @ parts.T / size + np.diag(RNG.uniform(0.1, 1.0, size))


@pytest.mark.parametrize("size", [1, 2, 3, 5, 8])
def test_root_and_solutions_are_those_of_numpy(size):
    """Cholesky's root, and both halves of a solution with it."""
    covariance, vector = _covariance(size), RNG.normal(size=size)
    root = normal.root_of(covariance.tolist())
    lower = np.linalg.cholesky(covariance)
    for i, row in enumerate(root):
        assert row == pytest.approx(lower[i, : i + 1])
    white = normal.whitened(root, vector.tolist())
    assert white == pytest.approx(np.linalg.solve(lower, vector))
    assert normal.unwhitened(root, white) == pytest.approx(np.linalg.solve(covariance, vector))


def test_a_triangle_stands_for_the_whole():
    """Rows of the lower triangle, as in the book."""
    whole = _covariance(4)
    assert np.array(normal.symmetric([whole[i, : i + 1].tolist() for i in range(4)])) == pytest.approx(whole)


def test_combinations_carry_their_covariance():
    """Loads times covariance times loads transposed, with loads given by index."""
    covariance = _covariance(4)
    loads = [[(0, 1.0)], [(0, 1.0), (2, -1.0)], [(1, 0.5), (3, 2.0)]]
    full = np.array([[dict(load).get(i, 0.0) for i in range(4)] for load in loads])
    assert np.array(normal.carried(loads, covariance.tolist())) == pytest.approx(full @ covariance @ full.T)
    vector = RNG.normal(size=4)
    assert [normal.along(load, vector.tolist()) for load in loads] == pytest.approx(full @ vector)


def test_an_observation_moves_the_mean_and_narrows_the_spread():
    """Against the rule for normal quantities in matrices; it narrows and never widens."""
    for _ in range(20):
        covariance, mean = _covariance(3), RNG.normal(size=3)
        value, variance = float(RNG.normal()), float(RNG.uniform(0.1, 2.0))
        load = np.array([1.0, 0.0, -0.5])
        gain = covariance @ load / (load @ covariance @ load + variance)
        wanted = mean + gain * (value - load @ mean)
        narrowed = covariance - np.outer(gain, load @ covariance)
        moved, spread = mean.tolist(), covariance.tolist()
        normal.observe(moved, spread, [(0, 1.0), (2, -0.5)], value, variance)
        assert moved == pytest.approx(wanted)
        assert np.array(spread) == pytest.approx(narrowed)
        assert all(spread[i][i] <= covariance[i, i] + 1e-12 for i in range(3))


@pytest.mark.parametrize("count", [1, 2, 3, 7])
def test_the_likeness_is_the_t_distribution_without_its_constant(count):
    """Ratios of SciPy's density at two distances."""
    here, there = RNG.normal(size=count), RNG.normal(size=count) * 3.0
    density = multivariate_t(loc=np.zeros(count), shape=np.eye(count), df=7)
    ratio = density.pdf(here) / density.pdf(there)
    assert likeness(float(here @ here), count, 7) / likeness(float(there @ there), count, 7) == pytest.approx(ratio)


def test_the_set_is_the_smallest_that_holds_the_share():
    """Every smaller set holds less; equal ones keep their order."""
    for _ in range(50):
        scores = {f"c{i}": float(value) for i, value in enumerate(RNG.exponential(size=11))}
        order = weighed(scores)
        assert sum(weight for _, weight in order) == pytest.approx(1.0)
        assert [weight for _, weight in order] == sorted((weight for _, weight in order), reverse=True)
        names = held_open(order, 0.9)
        assert names == [name for name, _ in order[: len(names)]]
        total = sum(weight for name, weight in order if name in names)
        assert total >= 0.9 - 1e-12
        assert total - order[len(names) - 1][1] < 0.9
    assert [name for name, _ in weighed({"b": 1.0, "a": 1.0})] == ["b", "a"]
