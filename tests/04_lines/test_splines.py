"""The spline, the prior's factor and the field's derivatives against reference libraries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BSpline
from scipy.linalg import cho_solve_banded

from futtock.lines.bspline import Axis, tensor_band
from futtock.lines.heightfield import HeightField, Turn
from futtock.lines.prior import Prior


@pytest.mark.parametrize("order", [0, 1, 2, 3])
def test_basis_agrees_with_scipy(order: int) -> None:
    """Basis values and derivatives are those of SciPy's B-splines on the same knots."""
    axis = Axis(-3.0, 0.7, 9)
    at = np.linspace(axis.start, axis.end - 1e-9, 57)
    knots = axis.start + axis.step * np.arange(-5, axis.cells + 6)
    expected = BSpline(knots, np.eye(axis.size), 5).derivative(order)(at)
    index, value = axis.rows(at, order)
    dense = np.zeros_like(expected)
    np.put_along_axis(dense, index[:, None] + np.arange(6), value, 1)
    np.testing.assert_allclose(dense, expected, atol=1e-10)


def test_gram_is_the_integral() -> None:
    """The energy matrix equals Gauss's quadrature, exact for these polynomials."""
    axis = Axis(0.0, 2.0, 4)
    node, weight = np.polynomial.legendre.leggauss(8)
    u = (np.arange(4)[:, None] * 2 + node + 1).ravel()
    w = np.tile(weight, 4)
    index, value = axis.rows(u, 2)
    dense = np.zeros((len(u), axis.size))
    np.put_along_axis(dense, index[:, None] + np.arange(6), value, 1)
    expected = dense.T @ (w[:, None] * dense)
    band = axis.gram(2)
    for d in range(6):
        np.testing.assert_allclose(band[d, : axis.size - d], np.diagonal(expected, -d), atol=1e-12)


def test_covariance_solves_the_band() -> None:
    """W'W equals V K^-1 V' by SciPy's banded solver."""
    prior = Prior.of(Axis(0, 400, 20), Axis(0, 120, 15), 1500.0, 600.0)
    rng = np.random.default_rng(3)
    index, value = prior.rows(rng.uniform(0, 8000, 60), rng.uniform(0, 1800, 60))
    v = np.zeros((60, prior.size))
    np.put_along_axis(v, index, value, 1)
    expected = v @ cho_solve_banded((prior.factor, True), v.T)
    got = prior.covariance(prior.half(index, value))
    np.testing.assert_allclose(got, expected, rtol=1e-9, atol=1e-9 * np.abs(expected).max())


def test_tensor_band_is_the_kronecker_product() -> None:
    """The banded form equals NumPy's Kronecker product, diagonal by diagonal."""
    a, b = Axis(0, 1.0, 4), Axis(0, 0.5, 3)

    def dense(band: np.ndarray) -> np.ndarray:
        n = band.shape[1]
        return sum(
            np.diag(band[d, : n - d], -d) + (np.diag(band[d, : n - d], d) if d else 0)
            for d in range(6)
        )

    expected = np.kron(dense(a.gram(1)), dense(b.gram(2)))
    band = tensor_band([(1.0, a.gram(1), b.gram(2))], b.size)
    for k in range(band.shape[0]):
        np.testing.assert_allclose(
            band[k, : len(expected) - k], np.diagonal(expected, -k), atol=1e-9
        )


@given(plan=st.floats(-40, 40), warp=st.floats(0, 0.6), seed=st.integers(0, 50))
def test_derivatives_agree_with_differences(plan: float, warp: float, seed: int) -> None:
    """First and second derivatives are those of central differences, in any turn and warp."""
    rng = np.random.default_rng(seed)
    along, across = Axis(-100, 300, 12), Axis(0, 150, 10)
    coef = rng.normal(0, 30, (along.size, across.size))
    field = HeightField(along, across, coef, Turn(45, plan), warp, 100.0, 3000.0)
    u, v, e = rng.uniform(400, 2600, 5), rng.uniform(200, 1300, 5), 0.05
    d = field.derivatives(u, v)
    fore, aft = field.derivatives(u + e, v), field.derivatives(u - e, v)
    up, down = field.derivatives(u, v + e), field.derivatives(u, v - e)
    np.testing.assert_allclose(d[:, 1], (fore[:, 0] - aft[:, 0]) / (2 * e), atol=1e-5)
    np.testing.assert_allclose(d[:, 2], (up[:, 0] - down[:, 0]) / (2 * e), atol=1e-5)
    np.testing.assert_allclose(d[:, 3], (fore[:, 1] - aft[:, 1]) / (2 * e), atol=1e-6)
    np.testing.assert_allclose(d[:, 4], (up[:, 1] - down[:, 1]) / (2 * e), atol=1e-6)
    np.testing.assert_allclose(d[:, 5], (up[:, 2] - down[:, 2]) / (2 * e), atol=1e-6)


def test_nearest_point_is_square_to_the_surface() -> None:
    """A point moved off along the normal comes back with its distance and its foot."""
    along, across = Axis(-500, 500, 12), Axis(0, 200, 12)
    rng = np.random.default_rng(1)
    coef = np.cumsum(rng.normal(0, 4, (along.size, across.size)), axis=0)
    field = HeightField(along, across, coef, Turn(), 0.3, 0.0, 5000.0)
    u, v = rng.uniform(200, 4500, 40), rng.uniform(300, 2000, 40)
    away = rng.uniform(-60, 60, 40)
    points = field.points(u, v) + away[:, None] * field.normals(u, v)
    got, foot = field.nearest(points)
    np.testing.assert_allclose(got, away, atol=1e-6)
    np.testing.assert_allclose(foot, np.stack([u, v], axis=1), atol=1e-5)
