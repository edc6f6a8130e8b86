"""From readings to a height field: the batten chosen, bent and doubted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.lines.batten import Batten
from futtock.lines.composed import ForeAndAft, SeenPlain
from futtock.lines.figures import Readings
from futtock.lines.heightfield import HeightField, Turn
from futtock.lines.laying import Bench, Laid, Stiffness
from futtock.lines.robust import Settled, settle
from futtock.lines.smoothing import evidence, likeliest

Array = NDArray[np.float64]
EDGE_TIMES = 2.0
"""How much further off a point of an end line must lie: there the surface has one side only."""
_BETTER = 4.0  # evidence by which another batten must be likelier than the usual one
_BLUFF = 1.5  # slope of the height along x that the plain projection still bears
_TURNS = (20.0, 30.0, 40.0)

CANDIDATES = (
    Stiffness(1.0, 0.25),
    Stiffness(0.67, 0.25),
    Stiffness(1.5, 0.25),
    Stiffness(2.1, 0.1),
    Stiffness(0.7, 0.25, 3),
)


@dataclass(frozen=True)
class Fit:
    """A height field with everything that is known about how it came to be.

    Attributes
    ----------
    field
        The surface as a height in the projection it was fitted in.
    readings
        What it was fitted to.
    settled
        Residuals, doubts, posterior.
    gradient : (n, 3)
        Of the height misfit at each reading, in x, y, z.
    laid
        The batten, laid out.
    """

    field: HeightField
    readings: Readings
    settled: Settled
    gradient: Array
    laid: Laid

    @property
    def stiffness(self) -> Stiffness:
        """The batten chosen."""
        return self.laid.stiffness

    def spread(self, points: Array, across: Array | None = None) -> tuple[Array, Array]:
        """How well the surface is known near points (n, 3).

        Parameters
        ----------
        points
            Places on the hull.
        across
            Unit normal (3,) of the planes in which leans are measured; x if not given.

        Returns
        -------
        normal_mm : (n,)
            Posterior standard deviation of the surface's place along its normal.
        lean_deg : (n,)
            Of the lean of its normal from such planes.
        """
        uth = self.field.turn.into(np.asarray(points, float).reshape(-1, 3))
        u, v = uth[:, 0], uth[:, 1]
        deviation = self.laid.deviations(self.settled.posterior, u, v)
        h = self.field.heights(u, v)
        eu, et, eh = self.field.turn.axes
        g = eh - h[:, 1, None] * eu - h[:, 2, None] * et
        steep = np.linalg.norm(g, axis=1)
        a = np.array([1.0, 0.0, 0.0]) if across is None else np.asarray(across, float)
        sine = g @ a / steep
        by_u = (-(eu @ a) + sine * (g @ eu) / steep) / steep
        by_t = (-(et @ a) + sine * (g @ et) / steep) / steep
        cosine = np.sqrt(np.maximum(1 - sine**2, 1e-6))
        lean = np.hypot(by_u * deviation[1], by_t * deviation[2]) / cosine
        return deviation[0] / steep, np.degrees(lean)


@dataclass(frozen=True)
class Side:
    """The hull's side as later rooms see it, and the fits behind it.

    Attributes
    ----------
    field
        The surface as a height over the plain diagonal, u = x.
    fits
        One fit, or a turned one for each bluff end beside the plain one, forward first.
    limits
        x between one fit and the next: fit k speaks of what lies before ``limits[k]``.
    under
        The side whose surface the readings were taken from, where they were not measured; its
        doubt is this one's too.
    """

    field: HeightField
    fits: tuple[Fit, ...]
    limits: tuple[float, ...] = ()
    under: Side | None = None

    @property
    def fit(self) -> Fit:
        """The plain fit, of the hull's middle and ends that are not bluff."""
        return (
            next(f for f in self.fits if f.field.turn.plan_deg == 0)
            if self.limits
            else (self.fits[0])
        )

    def which(self, x: Array) -> NDArray[np.intp]:
        """Index of the fit that speaks of each x."""
        return np.searchsorted(np.asarray(self.limits), x, side="right")

    def spread(self, points: Array, across: Array | None = None) -> tuple[Array, Array]:
        """See :meth:`Fit.spread`; each point by the fit that speaks of it."""
        points = np.asarray(points, float).reshape(-1, 3)
        normal, lean = np.empty(len(points)), np.empty(len(points))
        speaks = self.which(points[:, 0])
        for k, fit in enumerate(self.fits):
            mine = speaks == k
            if mine.any():
                normal[mine], lean[mine] = fit.spread(points[mine], across)
        if self.under is not None:
            below = self.under.spread(points, across)
            normal, lean = np.hypot(normal, below[0]), np.hypot(lean, below[1])
        return normal, lean


def bend(
    bench: Bench,
    laid: Laid,
    *,
    cut: float,
    doubt: bool = True,
    start: float | None = None,
    least_mm: float = 0.0,
    begin: Settled | None = None,
) -> Fit:
    """Bend one batten to the readings of a bench, from the doubts of another if they are given."""
    r = bench.readings
    state: list[tuple[HeightField, Array]] = []

    def regrade(alpha: Array) -> Array:
        field = laid.field(alpha)
        _, gradient, _ = field.offs(r.points)
        state[:] = [(field, gradient)]
        return np.asarray((r.sigma * r.sensed(gradient)) ** 2)

    least = least_mm * np.where(np.any(r.ray, axis=1), 1.0, EDGE_TIMES)

    def slight(_: Array) -> Array:
        return least * r.sensed(state[0][1])

    done = settle(
        laid.covariance,
        laid.rest,
        r.sigma**2,
        free=laid.stiffness.free,
        cut=cut,
        regrade=regrade,
        doubt=doubt,
        start=start,
        least=slight if least_mm else None,
        begin=begin,
    )
    field, gradient = state[0]
    return Fit(field, r, done, gradient, laid)


def fit_field(
    readings: Readings,
    turn: Turn,
    *,
    cut: float = 4.5,
    candidates: tuple[Stiffness, ...] = CANDIDATES,
    doubt: bool = True,
    least_mm: float = 0.0,
    knuckles: tuple[Batten, ...] = (),
) -> Fit:
    """The fair surface of the readings in one projection, its batten the likeliest.

    The first candidate is fitted with all its doubts; the others are weighed on the readings it
    kept, and the best of them is fitted in its turn if it is clearly the likelier.
    """
    bench = Bench.of(readings, turn, knuckles)
    first = bend(bench, bench.lay(candidates[0]), cut=cut, doubt=doubt, least_mm=least_mm)
    if len(candidates) == 1:
        return first
    live = np.flatnonzero(first.settled.kept)
    noise, start = first.settled.noise[live], first.settled.posterior.scale
    usual = float(np.median(first.laid.covariance.diagonal()[live]))

    def seen(laid: Laid) -> tuple[Array, Array, Array, Array]:
        c = laid.covariance if len(live) == len(readings) else laid.covariance[np.ix_(live, live)]
        return c, noise, laid.rest[live], laid.cubic[live]

    def weigh(laid: Laid) -> tuple[float, float]:
        c, d, y, trend = seen(laid)
        return likeliest(c, d, y, start * usual / float(np.median(c.diagonal())), trend)

    usual_one = candidates[0]
    laid_out = {usual_one: first.laid}
    c, d, y, trend = seen(first.laid)
    # it stands at its likeliest scale already
    scores = {usual_one: (evidence(c, d, y, start, trend), start)}
    for k in candidates[1:]:
        # where a stiffer batten did worse, a stiffer one yet is not tried
        worse = (j for j in scores if scores[j][0] > scores[usual_one][0] and j.order == k.order)
        if not any(usual_one.along < j.along < k.along for j in worse):
            laid_out[k] = bench.lay(k)
            scores[k] = weigh(laid_out[k])
    best = min(scores, key=lambda k: scores[k][0])
    if scores[best][0] > scores[usual_one][0] - _BETTER:
        return first
    at, laid = scores[best][1], laid_out[best]
    return bend(bench, laid, cut=cut, doubt=doubt, least_mm=least_mm, start=at, begin=first.settled)


def fit_side(
    readings: Readings,
    angle_deg: float,
    plan_deg: float | None,
    *,
    cut: float = 4.5,
    candidates: tuple[Stiffness, ...] = CANDIDATES,
    doubt: bool = True,
    least_mm: float = 0.0,
    knuckles: tuple[Batten, ...] = (),
) -> Side:
    """The hull's side, the projection turned in plan where an end is bluff.

    Parameters
    ----------
    plan_deg
        A turn for the whole hull (0 for none); None lets the readings decide: where the plain field
        grows steeper along x than it can bear, that end has a fit of its own, turned so that its
        least n . d is largest, and the two are eased into each other.
    """
    plain = fit_field(
        readings,
        Turn(angle_deg),
        cut=cut,
        candidates=candidates,
        doubt=doubt,
        least_mm=least_mm,
        knuckles=knuckles,
    )
    if plan_deg is not None:
        if plan_deg == 0:
            return Side(plain.field, (plain,))
        turned = fit_field(
            readings,
            Turn(angle_deg, plan_deg),
            cut=cut,
            candidates=candidates,
            doubt=doubt,
            least_mm=least_mm,
        )
        return Side(_seen_plain(plain, turned), (turned,))
    ends = bluff_ends(plain)
    if ends == (None, None):
        return Side(plain.field, (plain,))
    x = readings.points[:, 0]
    low, high = float(x.min()), float(x.max())
    span = high - low
    fore = None if ends[0] is None else ends[0] + 0.02 * span
    aft = None if ends[1] is None else ends[1] - 0.02 * span
    # the middle is fitted without the ends that it cannot bear
    middle = (x > (-np.inf if fore is None else low + 0.5 * (fore - low))) & (
        x < (np.inf if aft is None else high - 0.5 * (high - aft))
    )
    plain = fit_field(
        readings.take(middle),
        Turn(angle_deg),
        cut=cut,
        candidates=candidates,
        doubt=doubt,
        least_mm=least_mm,
        knuckles=knuckles,
    )
    field, fits = plain.field, [plain]
    limits: list[float] = []
    ease = 0.12 * span
    if fore is not None:
        mine = readings.take(x < fore + 2.0 * ease)
        turned = _turned(mine, angle_deg, 1.0, cut, candidates, doubt, least_mm)
        span_x = (fore, fore + ease)
        field = _eased(plain, _seen_plain(plain, turned), field, span_x)
        fits, limits = [turned, *fits], [sum(span_x) / 2, *limits]
    if aft is not None:
        mine = readings.take(x > aft - 2.0 * ease)
        turned = _turned(mine, angle_deg, -1.0, cut, candidates, doubt, least_mm)
        span_x = (aft - ease, aft)
        field = _eased(plain, field, _seen_plain(plain, turned), span_x)
        fits, limits = [*fits, turned], [*limits, sum(span_x) / 2]
    return Side(field, tuple(fits), tuple(limits))


def _turned(
    readings: Readings,
    angle_deg: float,
    sign: float,
    cut: float,
    candidates: tuple[Stiffness, ...],
    doubt: bool,
    least_mm: float,
) -> Fit:
    middle = Turn(angle_deg, sign * _TURNS[1])
    trial = fit_field(
        readings, middle, cut=cut, candidates=candidates[:1], doubt=doubt, least_mm=least_mm
    )
    turn = Turn(angle_deg, sign * best_turn(trial, angle_deg, sign))
    return fit_field(readings, turn, cut=cut, candidates=candidates, doubt=doubt, least_mm=least_mm)


def _seen_plain(plain: Fit, turned: Fit) -> HeightField:
    p = plain.field
    return SeenPlain(
        p.along, p.across, p.coef, p.turn, p.warp, p.origin, p.length, turned=turned.field
    )


def _eased(
    plain: Fit, fore: HeightField, aft: HeightField, ease: tuple[float, float]
) -> HeightField:
    p = plain.field
    return ForeAndAft(
        p.along,
        p.across,
        p.coef,
        p.turn,
        p.warp,
        p.origin,
        p.length,
        fore=fore,
        aft=aft,
        ease=ease,
    )


def bluff_ends(plain: Fit) -> tuple[float | None, float | None]:
    """How far aft a bluff bow, and how far forward a bluff stern, reaches; None where it is not."""
    slope = np.abs(plain.gradient @ plain.field.turn.axes[0])
    x = plain.readings.points[:, 0]
    place = (x - plain.field.origin) / plain.field.length
    out: list[float | None] = []
    for end in (place < 0.2, place > 0.8):
        if (end & (slope > _BLUFF)).sum() < 3:
            out.append(None)
            continue
        steep = x[end & (slope > 0.5 * _BLUFF)]
        out.append(float(steep.max() if place[end].mean() < 0.5 else steep.min()))
    return out[0], out[1]


def best_turn(fit: Fit, angle_deg: float, sign: float) -> float:
    """Of a few turns, the one whose direction meets the hull most squarely where it is worst."""
    steep = np.linalg.norm(fit.gradient, axis=1, keepdims=True)
    normal = (fit.gradient / steep)[fit.settled.kept]
    least = [float(np.percentile(normal @ Turn(angle_deg, sign * g).axes[2], 0.5)) for g in _TURNS]
    return _TURNS[int(np.argmax(least))]
