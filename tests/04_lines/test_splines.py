"""The spline, the ways of bending and the field's derivatives against reference libraries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from futtock.lines.bspline import Axis
from futtock.lines.heightfield import HeightField, Turn
from futtock.lines.prior import Prior, ways_of
from futtock.lines.ways import band_matrix


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


@pytest.mark.parametrize("order", [3, 4])
def test_ways_of_bending_are_the_batten_s_own(order: int) -> None:
    """Ways are orthonormal, diagonal in the bending; the first are polynomials that are free."""
    axis = Axis(100.0, 420.0, 13)
    ways = ways_of(axis, order)
    plain, bending = band_matrix(axis.gram(0)), band_matrix(axis.gram(order))
    np.testing.assert_allclose(ways.shapes.T @ plain @ ways.shapes, np.eye(axis.size), atol=1e-8)
    got = ways.shapes.T @ bending @ ways.shapes
    most = ways.energy[order].max()
    np.testing.assert_allclose(got, np.diag(ways.energy[order]), atol=1e-9 * most)
    assert (ways.energy[order, order:] > 0).all()
    s = np.linspace(axis.start, axis.end, 40)
    for degree in range(order):
        fit = np.polynomial.Polynomial.fit(s, ways.at(s)[:, degree], degree)
        np.testing.assert_allclose(fit(s), ways.at(s)[:, degree], atol=1e-12)
        assert ways.energy[degree + 1 :, degree].max(initial=0.0) == 0.0


def test_energy_is_the_integral_where_bending_runs_one_way() -> None:
    """A field that bends along one axis only is charged its integral of squared derivatives."""
    along, across, stiff_u, stiff_t = Axis(0, 400, 20), Axis(0, 120, 15), 1500.0, 600.0
    prior = Prior.of(along, across, stiff_u, stiff_t, 4)
    rng = np.random.default_rng(3)
    bend = rng.normal(0, 1, along.size)
    u = np.linspace(along.start, along.end, 900)
    t = np.full(len(u), 700.0)
    weights = np.zeros((along.size, across.size))
    weights[:, 0] = bend  # the first way across is a constant
    coef = prior.coefficients(weights.ravel())
    field = HeightField(along, across, coef, Turn(), 0.0, 0.0, along.end)
    np.testing.assert_allclose(
        field.heights(u, t)[:, 0], prior.rows(u, t) @ weights.ravel(), atol=1e-9
    )
    node, weight = np.polynomial.legendre.leggauss(6)
    places = (400.0 * np.arange(20)[:, None] + 200.0 * (node + 1)).ravel()
    index, value = along.rows(places, 4)
    fourth = (value * coef[index[:, None] + np.arange(6), 7]).sum(axis=1)
    energy = stiff_u**7 / stiff_t * np.tile(200.0 * weight, 20) @ fourth**2 * across.end
    charged = (weights.ravel() ** 2 / prior.variance).sum()
    weak = (weights**2).sum() * 0.15 / (stiff_u * stiff_t)
    assert charged - weak == pytest.approx(energy, rel=1e-6)


def test_covariance_is_that_of_the_weights() -> None:
    """W W' is rows times variances times rows."""
    prior = Prior.of(Axis(0, 400, 20), Axis(0, 120, 15), 1500.0, 600.0)
    rng = np.random.default_rng(3)
    rows = prior.rows(rng.uniform(0, 8000, 60), rng.uniform(0, 1800, 60))
    expected = rows @ np.diag(prior.variance) @ rows.T
    got = prior.covariance(prior.half(rows))
    np.testing.assert_allclose(got, expected, rtol=1e-9, atol=1e-9 * np.abs(expected).max())


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
