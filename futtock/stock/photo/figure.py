"""The figure of the wood: which way its grain runs in a portrait, and how sure that is.

The structure tensor of the picture after its local contrast is made even, so that the edge of a
shadow counts no more than a ring. The confidence rests on what is seen alone: how much one way
prevails, and how much figure there is. No prior has touched it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from futtock.stock.grain import GrainField, GrainRaster
from futtock.stock.grid import Grid
from futtock.stock.outline import arc_mm, middle_line, normals
from futtock.stock.photo.portrait import Portrait

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Single = NDArray[np.float32]

_GRID_MM = 5.0
_STEEPEST = 2.5  # gradients are cut off at so many of the usual
_SURE = 0.45
_AGREED = (0.80, 0.16)
_NEAR_MM = 22.0
# Degrees a millimetre by which the grain turns: up to the first seen as it is (on rendered slabs
# 4 in 100 such places are more than 5 degrees off), from the last not believed (half are).
_TURN_OVER_MM, _TURN = 8.0, (0.1, 0.4)
_MEDIAN = 1.6
_MARKS_MM, _MARKS_EVEN_MM, _MARKS_HELD = 110.0, 6.0, 0.06


@dataclass(frozen=True, slots=True)
class _Scale:
    """A fineness at which the figure is looked at: all in mm, ``share`` its say in the whole."""

    smooth: float
    over: float
    even: float
    share: float


# Fine rings speak at the first, broad ones at the last; marks of the saw, thin and straight
# across the grain, drown out the rings at the first alone, so the coarser have more say.
_SCALES = (
    _Scale(1.0, 11.0, 14.0, 0.15),
    _Scale(2.2, 17.0, 22.0, 0.6),
    _Scale(4.5, 26.0, 40.0, 2.5),
)


def _local(grey: Single, wood: Mask, over: float) -> tuple[Single, Single]:
    """Local level and spread of grey over the wood."""
    import cv2

    weight = wood.astype(np.float32)
    count = np.maximum(cv2.GaussianBlur(weight, (0, 0), over), 1e-3)
    mean = cv2.GaussianBlur(grey * weight, (0, 0), over) / count
    # the median follows the edge of a shadow where the mean would leave a step across it
    filled = np.clip(np.where(wood, grey, mean), 0, 255).astype(np.uint8)
    median = cv2.medianBlur(filled, max(3, round(_MEDIAN * over)) | 1).astype(np.float32)
    level = cv2.GaussianBlur(median, (0, 0), max(0.8, 0.06 * over))
    off = (grey - level) * weight
    spread = np.sqrt(cv2.GaussianBlur(off * off, (0, 0), over) / count)
    floor = 0.35 * float(np.median(spread[wood])) if wood.any() else 1.0
    return np.asarray(level), np.asarray(np.maximum(spread, max(floor, 1e-6)))


def even_contrast(grey: Single, wood: Mask, over: float) -> Single:
    """Grey with its local mean and spread over the wood made 0 and 1; 0 off the wood."""
    mean, spread = _local(grey, wood, over)
    even: Single = (grey - mean) / spread * wood
    return even


def without_saw_marks(grey: Single, clear: Mask, px: float, axis_deg: float = 0.0) -> Single:
    """Grey with the marks of the saw taken off: straight lines across the slab, far longer than any
    ring is straight.

    What is left of the picture after averaging along a line square to the slab's axis (or a few
    degrees off, whichever holds most) is taken off where it is more than chance would leave.
    """
    import cv2

    around, spread = _local(grey, clear, _MARKS_EVEN_MM / px)
    high: Single = np.clip((grey - around) / spread * clear, -3.0, 3.0).astype(np.float32)
    weight = clear.astype(np.float32)
    length = int(_MARKS_MM / px) | 1

    def along(values: Single, angle_deg: float, shrink: int) -> Single:
        kernel = _line(max(9, length // shrink) | 1, angle_deg)
        return np.asarray(cv2.filter2D(values, cv2.CV_32F, kernel, borderType=cv2.BORDER_CONSTANT))

    best, most = 0.0, 0.0
    shrink = max(1, round(2.0 / px))
    size = (max(8, grey.shape[1] // shrink), max(8, grey.shape[0] // shrink))
    small = np.asarray(cv2.resize(high, size, interpolation=cv2.INTER_AREA), np.float32)
    ground = np.asarray(cv2.resize(weight, size, interpolation=cv2.INTER_AREA), np.float32)
    if not (ground > 0.9).any():
        return grey
    usual = float(np.var(small[ground > 0.9]))
    for tilt in (-8.0, -6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0, 8.0):
        square = 90.0 - axis_deg + tilt
        mean = along(small * ground, square, shrink) / np.maximum(
            along(ground, square, shrink), 0.2
        )
        held = float(np.var(mean[ground > 0.9])) / max(usual, 1e-9)
        if held > most:
            best, most = square, held
    if most < _MARKS_HELD:
        return grey
    mean = along(high * weight, best, 1) / np.maximum(along(weight, best, 1), 0.2)
    bare: Single = (grey - mean * spread).astype(np.float32)
    return bare


def _line(length: int, angle_deg: float) -> Single:
    """A kernel that averages along a line; the angle clockwise from x, as rows run down."""
    import cv2

    kernel = np.zeros((length, length), np.float32)
    c = (length - 1) / 2.0
    t = np.radians(angle_deg)
    d = c * np.array([np.cos(t), np.sin(t)])
    a, b = (np.rint(16 * (c + sign * d)).astype(int).tolist() for sign in (-1.0, 1.0))
    cv2.line(kernel, tuple(a), tuple(b), 1.0, 1, cv2.LINE_AA, 4)
    rows = np.flatnonzero(kernel.sum(1))
    columns = np.flatnonzero(kernel.sum(0))
    # the smallest odd window that holds it, its middle kept
    half_r = int(max(abs(rows[0] - c), abs(rows[-1] - c)))
    half_c = int(max(abs(columns[0] - c), abs(columns[-1] - c)))
    m = int(c)
    kernel = kernel[m - half_r : m + half_r + 1, m - half_c : m + half_c + 1]
    out: Single = kernel / kernel.sum()
    return out


def seen_grain(
    portrait: Portrait, wood: Mask, wary: Mask | None = None, axis_deg: float = 0.0
) -> GrainRaster:
    """The grain as seen, on a 5 mm grid in the portrait's own axes.

    Parameters
    ----------
    wood
        (h, w): True on bare wood, well within the outline, off cards.
    wary
        (h, w): True in and near knots and other flaws, where what is seen is not the grain.
    axis_deg
        The slab's long axis, anticlockwise from x: the saw's marks lie square to it.
    """
    import cv2

    px = portrait.mm_per_px
    grey = cv2.cvtColor(portrait.picture, cv2.COLOR_BGR2GRAY).astype(np.float32)
    clear = wood if wary is None else wood & ~wary
    grey = without_saw_marks(grey, clear, px, axis_deg)
    step = max(1, round(_GRID_MM / px))
    shape = grey[::step, ::step].shape
    total_c, total_s, sureness = (np.zeros(shape) for _ in range(3))
    voices, loud = np.zeros(shape, complex), np.zeros(shape)
    for scale in _SCALES:
        shrink = max(1, int(scale.smooth / (1.1 * px)))
        cos2, sin2, coherence, energy, count = _tensor(grey, clear, scale, px, shrink, step, shape)
        weight = coherence**2 * energy
        total_c += scale.share * weight * cos2
        total_s += scale.share * weight * sin2
        voices += weight * (cos2 + 1j * sin2)
        loud += weight
        sureness = np.maximum(sureness, np.clip((coherence - 0.25) / 0.45, 0, 1) * energy * count)
    # where one fineness sees another way than the next (the edge of a shadow, marks of the saw)
    # neither is believed: two that differ by 20 degrees leave 0.94 of their mean
    agreed = np.abs(voices) / np.maximum(loud, 1e-9)
    sure = np.clip(sureness, 0, 1) * np.clip((agreed - _AGREED[0]) / _AGREED[1], 0, 1)
    if wary is not None:
        sure *= _apart(wary, shape, step, px)
    angle = np.degrees(np.arctan2(total_s, total_c) / 2.0)
    rows, columns = angle.shape
    height = portrait.picture.shape[0]
    # row 0 of the picture is the greatest y: turned so that the grid's rows run along y
    last = (rows - 1) * step
    low_y = portrait.origin_mm[1] + (height - 1 - last) * px
    grid = Grid((portrait.origin_mm[0], low_y), step * px, rows, columns)
    angle, sure = angle[::-1], sure[::-1]
    sure = sure * _steady(angle, sure, step * px)
    doubled = np.exp(2j * np.radians(angle)) * sure
    heading = float(np.degrees(np.angle(doubled.sum())) / 2.0)
    angle = (angle - heading + 90.0) % 180.0 - 90.0 + heading
    return GrainRaster(grid, np.ascontiguousarray(angle), np.ascontiguousarray(sure), heading)


def _steady(angle_deg: Array, sure: Array, step_mm: float) -> Array:
    """Less than 1 where the grain turns fast: what is seen there is a mean over a hand's breadth,
    and the way it was taken from may lie to either side.
    """
    from scipy.ndimage import gaussian_filter

    if min(angle_deg.shape) < 3:
        return np.ones(angle_deg.shape)
    doubled = np.exp(2j * np.radians(angle_deg)) * (sure**2 + 1e-3)
    sigma = _TURN_OVER_MM / step_mm
    calm = gaussian_filter(doubled.real, sigma) + 1j * gaussian_filter(doubled.imag, sigma)
    turns = np.zeros((2, *angle_deg.shape))
    turns[0, 1:-1] = np.angle(calm[2:] * calm[:-2].conj())
    turns[1, :, 1:-1] = np.angle(calm[:, 2:] * calm[:, :-2].conj())
    rate = np.degrees(np.hypot(*turns)) / 2.0 / (2.0 * step_mm)
    low, high = _TURN
    steady: Array = np.clip((high - rate) / (high - low), 0.0, 1.0)
    return steady


def _apart(wary: Mask, shape: tuple[int, ...], step: int, px: float) -> Array:
    """Less than 1 near flaws, where the grain turns faster than can be seen here."""
    import cv2

    away = cv2.distanceTransform((~wary).astype(np.uint8), cv2.DIST_L2, 5)
    rows = np.minimum(np.arange(shape[0]) * step, away.shape[0] - 1)
    columns = np.minimum(np.arange(shape[1]) * step, away.shape[1] - 1)
    near = np.minimum(away[np.ix_(rows, columns)], 10.0 * _NEAR_MM / px) * px
    return np.asarray(1.0 - np.exp(-((near / _NEAR_MM) ** 2)), float)


def _tensor(
    grey: Single,
    clear: Mask,
    scale: _Scale,
    px: float,
    shrink: int,
    step: int,
    shape: tuple[int, ...],
) -> tuple[Array, Array, Array, Array, Array]:
    """Doubled direction (cosine, sine), coherence, energy and cover at one scale, on the grid."""
    import cv2

    size = (grey.shape[1] // shrink, grey.shape[0] // shrink)
    if shrink > 1:
        trimmed = (slice(0, size[1] * shrink), slice(0, size[0] * shrink))
        grey = np.asarray(cv2.resize(grey[trimmed], size, interpolation=cv2.INTER_AREA))
        ground = cv2.resize(clear[trimmed].astype(np.float32), size, interpolation=cv2.INTER_AREA)
        clear = np.asarray(ground) > 0.99
    unit = px * shrink
    even = np.clip(even_contrast(grey, clear, scale.even / unit), -3.0, 3.0)
    even = np.asarray(cv2.GaussianBlur(even, (0, 0), scale.smooth / unit), np.float32)
    gx, gy = cv2.Scharr(even, cv2.CV_32F, 1, 0), cv2.Scharr(even, cv2.CV_32F, 0, 1)
    length = np.hypot(gx, gy)
    edge = max(3, round(2.5 * scale.smooth / unit)) | 1
    inner = cv2.erode(clear.astype(np.uint8), np.ones((edge, edge), np.uint8)) > 0
    usual = float(np.median(length[inner])) if inner.any() else 1.0
    cut = np.minimum(1.0, _STEEPEST * usual / np.maximum(length, 1e-9)) * inner
    gx, gy = gx * cut, gy * cut

    def over(values: NDArray[np.floating]) -> Array:
        spread = cv2.GaussianBlur(values.astype(np.float32), (0, 0), scale.over / unit)
        # the grid's nodes lie at whole pixels of the portrait
        rows = np.minimum(np.arange(shape[0]) * step // shrink, spread.shape[0] - 1)
        columns = np.minimum(np.arange(shape[1]) * step // shrink, spread.shape[1] - 1)
        return np.asarray(spread[np.ix_(rows, columns)], float)

    count = over(inner.astype(np.float32))
    xx, xy, yy = (over(v) / np.maximum(count, 1e-3) for v in (gx * gx, gx * gy, gy * gy))
    total = np.maximum(xx + yy, 1e-12)
    # the grain lies square to the gradient; rows run down and the plane's y up, which turns the
    # sign of the mixed term twice
    c, s = yy - xx, 2.0 * xy
    size_cs = np.maximum(np.hypot(c, s), 1e-12)
    energy = np.clip(np.sqrt(total) / max(usual, 1e-9) / 0.8, 0, 1) * (count > 0.1)
    return c / size_cs, s / size_cs, size_cs / total, energy, np.clip(count / 0.4, 0, 1)


def smoothed(seen: GrainRaster, over_mm: float = 9.0) -> GrainRaster:
    """The same with each node drawn towards what surer neighbours show; confidence as it was."""
    from scipy.ndimage import gaussian_filter

    weight = seen.confidence**2 + 1e-6
    doubled = np.exp(2j * np.radians(seen.angle_deg)) * weight
    sigma = over_mm / seen.grid.step_mm
    real, imaginary = gaussian_filter(doubled.real, sigma), gaussian_filter(doubled.imag, sigma)
    angle = np.degrees(np.arctan2(imaginary, real) / 2.0)
    angle = (angle - seen.heading_deg + 90.0) % 180.0 - 90.0 + seen.heading_deg
    return GrainRaster(seen.grid, angle, seen.confidence, seen.heading_deg)


def traced(
    seen: GrainRaster, ring_mm: Array, apart_mm: float = 35.0, every_mm: float = 40.0
) -> tuple[Array, ...]:
    """Lines along the grain as a person would trace them, where it is sure.

    They start square across the slab at several places along it, so that all of the face has
    one near, and are cut where they leave the ring or the figure is not sure.
    """
    import shapely

    if not (seen.confidence > _SURE).any():
        return ()
    middle = middle_line(ring_mm)
    field = GrainField((middle,), True, (), seen, seen.heading_deg)
    ground = shapely.Polygon(ring_mm).buffer(-6.0)
    shapely.prepare(ground)
    way = np.radians(seen.heading_deg)
    ahead = np.array([np.cos(way), np.sin(way)])
    half = float(np.sqrt(shapely.area(ground)))
    lines: list[Array] = []
    run = arc_mm(middle)
    taken: BaseGeometry = shapely.GeometryCollection()
    for share in (0.5, 0.2, 0.8, 0.35, 0.65, 0.05, 0.95):
        k = int(np.argmin(np.abs(run - share * run[-1])))
        off = np.arange(-half, half, apart_mm)
        seeds = middle[k] + normals(middle)[k] * off[:, None]
        seeds = seeds[shapely.contains_xy(ground, seeds[:, 0], seeds[:, 1])]
        if not len(seeds):
            continue
        free = shapely.distance(shapely.points(seeds), taken) > 0.7 * apart_mm
        seeds = seeds[free] if not taken.is_empty else seeds
        if not len(seeds):
            continue
        both = [_stepped(field, seeds, sign * ahead, run[-1]) for sign in (-1.0, 1.0)]
        tracks = np.concatenate([both[0][::-1], both[1][1:]])
        for n in range(tracks.shape[1]):
            track = tracks[:, n]
            inside = shapely.contains_xy(ground, track[:, 0], track[:, 1])
            good = inside & (_sureness(seen, track) > _SURE)
            for part in np.split(np.arange(len(track)), np.flatnonzero(np.diff(good)) + 1):
                if good[part[0]] and len(part) * _STEP_MM >= 2.5 * every_mm:
                    keep = part[:: max(1, int(every_mm / _STEP_MM))]
                    keep = keep if keep[-1] == part[-1] else np.r_[keep, part[-1]]
                    lines.append(np.round(track[keep], 1))
        taken = shapely.MultiLineString([line.tolist() for line in lines if len(line) > 1])
    return tuple(line for line in lines if len(line) > 1)


_STEP_MM = 8.0


def _stepped(field: GrainField, seeds: Array, ahead: Array, length: float) -> Array:
    at, heading = seeds.copy(), np.tile(ahead, (len(seeds), 1))
    out = [at]
    for _ in range(int(1.05 * length / _STEP_MM)):
        for _half in range(2):
            point = at if _half == 0 else at + 0.5 * _STEP_MM * heading
            a = np.radians(field.at(point)[0])
            v = np.column_stack([np.cos(a), np.sin(a)])
            heading = v * np.where((v * heading).sum(1) < 0, -1.0, 1.0)[:, None]
        at = at + _STEP_MM * heading
        out.append(at)
    return np.stack(out)


def _sureness(seen: GrainRaster, points: Array) -> Array:
    at = np.rint(seen.grid.cells(points)).astype(int)
    ok = (at >= 0).all(1) & (at[:, 0] < seen.grid.columns) & (at[:, 1] < seen.grid.rows)
    out = np.zeros(len(points))
    out[ok] = seen.confidence[at[ok, 1], at[ok, 0]]
    return out
