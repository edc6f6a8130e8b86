"""The edges of a face, sought in the straightened picture: sides, sawn ends, sapwood.

Colour alone stops at the sapwood or runs on into bark. Here the most likely smooth way between
wood and not-wood is sought along each side, drawn to where the colour changes most and, by
preference, darkens outward; each sawn end is one straight line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.stock.outline import anticlockwise
from futtock.stock.photo.band import ALONG_MM, Band

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_BINS = 20
_WINDOW = 24  # rows over which likelihoods to either side of an edge are compared
_STIFF = 0.05  # cost of a millimetre's jump from column to column, squared
_JUMP = 5  # rows that an edge may move from one column to the next
_DOUBT = 0.55
_RIM_SHARE = 0.25
_END_REACH, _END_WINDOW, _END_SKEW = 55, 8, 0.9
_END_PULL = 0.01  # of a line's score for each column that it lies from the rough end
_END_PARTS = 0.4  # by which wood and not-wood differ across a line, for its sharpness to count
_END_APART, _END_SURE = 6, 0.6
_BULGE_MM, _BULGE_ALONG = 26.0, 100  # columns to either side over which an edge's run is taken
_SAP_NARROWEST, _SAP_WIDEST = 5, 75
_HUE = 75.0  # so that hues of mid lightness keep Lab's own measure
_SAP_APART = 1.2  # the two colours, in spreads of the heart's own
_SAP_STEP = 5.0  # difference of colour (CIE Lab, 8 bits) by which sapwood is told apart


@dataclass(frozen=True, slots=True)
class Face:
    """A face as found.

    ``whole_mm``, ``sound_mm`` (n, 2): rings; ``sapwood`` True where it could be told apart;
    ``doubt_mm`` (k, 2): places where an edge along it is not sure; ``ends_doubted_mm`` (0 to 2, 2):
    middles of sawn ends that are not; ``cut`` True where the slab runs out of the picture;
    ``middle_mm`` (m, 2): its middle line.
    """

    whole_mm: Array
    sound_mm: Array
    sapwood: bool
    doubt_mm: Array
    cut: bool
    middle_mm: Array
    ends_doubted_mm: Array


def find_face(band: Band) -> Face:
    """The face in a band."""
    likely = _likelihood(band, None)
    middle = len(band.v_mm) // 2
    change = _change(band)
    left_row, left_doubt = _side(likely, change, np.arange(middle, len(band.v_mm)))
    right_row, right_doubt = _side(likely, change, np.arange(middle, -1, -1))
    left, right = band.v_mm[left_row], band.v_mm[right_row]
    rim = _pale_rim(band, left, right)
    if rim is not None:
        # the first look stopped at the sapwood: look again with its colours counted as wood
        likely = _likelihood(band, rim)
        left_row, left_doubt = _side(likely, change, np.arange(middle, len(band.v_mm)))
        right_row, right_doubt = _side(likely, change, np.arange(middle, -1, -1))
        left, right = band.v_mm[left_row], band.v_mm[right_row]
    butt, butt_sure = _end(likely, left, right, band, last=False)
    head, head_sure = _end(likely, left, right, band, last=True)
    whole = _ring(band, left, right, butt, head)
    inner = _sapwood(band, left, right, (butt, head))
    sound = whole if inner is None else _ring(band, *inner, butt, head)
    places: list[Array] = []
    for v, doubt in ((left, left_doubt), (right, right_doubt)):
        columns = np.flatnonzero((doubt > _DOUBT) | _bulges(v, butt[0], head[0]))
        columns = columns[(columns > butt[0]) & (columns < head[0])]
        # one place for each stretch of doubt
        runs = np.split(columns, np.flatnonzero(np.diff(columns) > 12) + 1)
        middles = np.array([run[len(run) // 2] for run in runs if len(run) >= 5], int)
        places.append(band.ground_mm(middles.astype(float), v[middles]))
    doubt_mm = np.vstack(places)
    at, all_columns = np.linspace(butt[0], head[0], 60), np.arange(len(left))
    centre = np.interp(at, all_columns, (left + right) / 2.0)
    cut = _cut(band, butt, head, left, right)
    middle_mm = band.ground_mm(at, centre)
    unsure = middle_mm[[k for k, sure in ((0, butt_sure), (-1, head_sure)) if not sure]]
    return Face(whole, sound, inner is not None, doubt_mm, cut, middle_mm, unsure)


def _bulges(v: Array, butt: float, head: float) -> Mask:
    """Columns where a side stands off its own run by more than wood does: another slab or an
    offcut that lies against it, or a bite of shade.
    """
    from scipy.ndimage import median_filter

    out = np.zeros(len(v), bool)
    span = slice(max(0, int(butt) + 3), max(0, int(head) - 3))
    part = v[span]
    if len(part) < 8:
        return out
    reach = min(_BULGE_ALONG, len(part) - 1)
    # carried on beyond the ends as it runs there, turned about them
    before, after = 2 * part[0] - part[reach:0:-1], 2 * part[-1] - part[-2 : -reach - 2 : -1]
    run = median_filter(np.r_[before, part, after], 2 * reach + 1)[reach : reach + len(part)]
    out[span] = np.abs(part - run) > _BULGE_MM
    return out


def _pale_rim(band: Band, left: Array, right: Array) -> Mask | None:
    """Places just outside the edges found that look like sapwood; None where there are few.

    Sapwood is lighter than heart and yellower than what lies beyond it: the ground a hand's
    breadth out tells what that is.
    """
    import cv2

    smooth = cv2.GaussianBlur(band.lab, (0, 0), 1.2).astype(float)
    v = band.v_mm[:, None]
    columns = np.arange(smooth.shape[1])
    within = (columns >= band.ends[0]) & (columns <= band.ends[1]) & band.seen & ~band.paper
    inside = within & (v < left[None] - 30) & (v > right[None] + 30)
    rim = np.zeros(band.seen.shape, bool)
    for edge, sign in ((left, 1.0), (right, -1.0)):
        out = sign * (v - edge[None])
        near, far = within & (out > 2) & (out < 40), within & (out > 55) & (out < 95)
        if inside.sum() < 500 or far.sum() < 500:
            continue
        heart, ground = np.median(smooth[inside], axis=0), np.median(smooth[far], axis=0)
        yellow = heart[2] - ground[2]
        if yellow < 6.0:
            continue
        usual = np.array([np.median(c) if len(c) else heart[0] for c in _by_column(smooth, inside)])
        pale = near & (smooth[..., 2] - ground[2] > 0.3 * yellow)
        pale &= smooth[..., 0] > 1.02 * usual[None]
        strip = within & (out > 3) & (out < 12)
        if pale[strip].mean() > _RIM_SHARE:
            rim |= pale
    return rim if rim.any() else None


def _by_column(colours: Array, mask: Mask) -> list[Array]:
    return [colours[mask[:, c], c, 0] for c in range(mask.shape[1])]


def _likelihood(band: Band, rim: Mask | None) -> Array:
    """Logarithm of how much likelier wood than not each place is, (rows, columns).

    ``rim`` are places outside the rough shape that are known for wood, too.
    """
    import cv2

    rough = band.rough.astype(np.uint8)
    core = (cv2.erode(rough, np.ones((31, 7), np.uint8)) > 0) & ~band.paper & band.seen
    shell = (cv2.dilate(rough, np.ones((45, 11), np.uint8)) == 0) & band.seen & ~band.paper
    blurred = np.asarray(cv2.GaussianBlur(band.lab, (0, 0), 1.2), np.float32)
    lightness = blurred[..., 0].astype(float)
    inside = np.where(core, lightness, np.nan)
    with np.errstate(all="ignore"):
        usual = np.array(
            [np.median(c[np.isfinite(c)]) if np.isfinite(c).any() else np.nan for c in inside.T]
        )
    good = np.isfinite(usual)
    if good.sum() < 5 or core.sum() < 500 or shell.sum() < 500:
        return np.where(band.rough, 1.0, -1.0)
    usual = np.interp(np.arange(len(usual)), np.flatnonzero(good), usual[good])
    usual = cv2.GaussianBlur(usual[None], (0, 0), 6.0)[0]
    relative = lightness / np.maximum(usual, 1.0)
    cell = _cells(relative, blurred)
    beyond = shell if rim is None else shell & ~rim
    wood, other = _density(cell[core]), _density(cell[beyond])
    if rim is not None:
        wood = np.maximum(wood, 0.6 * _density(cell[rim]))
    out = np.clip(np.log(wood / other), -3.0, 3.0)[cell]
    out = np.where(relative < 0.55, np.minimum(out, -1.0), out)
    out[band.paper] = 3.0
    out[~band.seen] = -3.0
    smooth: Array = np.asarray(cv2.GaussianBlur(out, (0, 0), 1.2), float)
    return smooth


def _cells(relative: Array, colours: NDArray[np.float32]) -> NDArray[np.intp]:
    """Number of each pixel's cell: lightness over the wood's, and both hues."""
    light = np.clip((relative * 0.6 * _BINS).astype(int), 0, _BINS - 1)
    a = np.clip(((colours[..., 1] - 100) / 60 * _BINS).astype(int), 0, _BINS - 1)
    b = np.clip(((colours[..., 2] - 100) / 80 * _BINS).astype(int), 0, _BINS - 1)
    cells: NDArray[np.intp] = (light * _BINS + a) * _BINS + b
    return cells


def _density(cells: NDArray[np.intp]) -> Array:
    from scipy.ndimage import gaussian_filter

    count = np.bincount(cells, minlength=_BINS**3).reshape(_BINS, _BINS, _BINS).astype(float)
    spread: Array = gaussian_filter(count, 0.9).ravel()
    share: Array = spread / max(float(spread.sum()), 1.0) + 2e-5
    return share


def _change(band: Band) -> Array:
    """Change of colour across the rows: its size, signed by whether it grows lighter with v."""
    import cv2

    smooth = cv2.GaussianBlur(band.lab, (0, 0), sigmaX=1.4, sigmaY=1.0)
    step = np.zeros(smooth.shape, np.float32)
    step[3:-3] = smooth[6:] - smooth[:-6]
    size = np.sqrt(((step * np.array([0.6, 1.2, 1.2], np.float32)) ** 2).sum(-1))
    signed: Array = (np.sign(step[..., 0]) * size).astype(float)
    return signed


def _side(likely: Array, change: Array, rows: NDArray[np.intp]) -> tuple[NDArray[np.intp], Array]:
    """Row of one side's edge at each column, and how unsure it is, (columns,) from 0 to 1."""
    inner = likely[rows]
    total = np.cumsum(np.vstack([np.zeros((1, inner.shape[1])), inner]), axis=0)
    n = len(rows)
    at = np.arange(n)
    back, on = np.maximum(at - _WINDOW, 0), np.minimum(at + _WINDOW, n)
    inside = (total[at] - total[back]) / np.maximum(at - back, 1)[:, None]
    outside = (total[on] - total[at]) / np.maximum(on - at, 1)[:, None]
    outward = 1.0 if rows[-1] > rows[0] else -1.0
    signed = change[rows] * outward
    strong = np.where(signed < 0, -signed, 0.55 * signed) / 22.0
    # wood all the way from the middle: an edge beyond other ground is another slab's
    through = np.minimum.accumulate(_run_mean(inner, 30), axis=0)
    cost = -(inside - outside) / 3.0 - np.minimum(strong, 1.6) + 1.2 * np.maximum(-through, 0.0)
    cost[:20] += 2.0
    path = _way(cost)
    best = cost[path, np.arange(cost.shape[1])]
    rival = cost.copy()
    for k in range(-9, 10):
        rival[np.clip(path + k, 0, n - 1), np.arange(cost.shape[1])] = np.inf
    margin = rival.min(0) - best
    doubt = 1.0 / (1.0 + np.exp(np.clip(4.0 * margin + 1.5, -30, 30)))
    return rows[path], doubt


def _run_mean(values: Array, width: int) -> Array:
    total = np.cumsum(np.vstack([np.zeros((1, values.shape[1])), values]), axis=0)
    at = np.arange(len(values))
    low = np.maximum(at - width, 0)
    mean: Array = (total[at + 1] - total[low]) / (at + 1 - low)[:, None]
    return mean


def _way(cost: Array, stiff: float = _STIFF, jump: int = _JUMP) -> NDArray[np.intp]:
    """The cheapest smooth way (columns,) through a cost (rows, columns)."""
    rows, columns = cost.shape
    steps = np.arange(-jump, jump + 1)
    price = stiff * steps**2
    total = cost[:, 0].copy()
    came = np.empty((columns, rows), np.int8)
    padded = np.full(rows + 2 * jump, np.inf)
    for c in range(1, columns):
        padded[jump:-jump] = total
        tried = np.stack(
            [padded[jump + s : jump + s + rows] + p for s, p in zip(steps, price, strict=True)]
        )
        pick = tried.argmin(0)
        came[c] = steps[pick]
        total = tried[pick, np.arange(rows)] + cost[:, c]
    path = np.empty(columns, np.intp)
    path[-1] = int(total.argmin())
    for c in range(columns - 1, 0, -1):
        path[c - 1] = path[c] + came[c, path[c]]
    return path


def _end(
    likely: Array, left: Array, right: Array, band: Band, last: bool
) -> tuple[tuple[float, float], bool]:
    """A sawn end as a line: its column at v = 0, and columns gained per millimetre of v; and
    whether it is sure.

    Every straight line near the rough end is tried: along it the colour should change, and there
    should be wood before and none after. An offcut of the same colour that lies against the end
    speaks for the line beyond it in its own rows alone. Where little speaks for any line (a
    shadow's edge does, on a floor of the slab's own colour) the rough end stands, unsure; so is one
    that another line elsewhere nearly equals.
    """
    near = band.ends[1] if last else band.ends[0]
    columns = np.arange(max(8, near - _END_REACH), min(likely.shape[1] - 8, near + _END_REACH))
    v_low = int(np.interp(near, np.arange(len(right)), right) - band.v_mm[0]) + 8
    v_high = int(np.interp(near, np.arange(len(left)), left) - band.v_mm[0]) - 8
    rows = np.arange(max(v_low, 0), min(v_high, len(band.v_mm)), 3)
    if len(rows) < 6 or len(columns) < 4:
        return (float(near), 0.0), False
    part = likely[rows]
    total = np.cumsum(np.pad(part, ((0, 0), (1, 0))), axis=1)
    at = np.arange(part.shape[1])
    back, on = np.maximum(at - _END_WINDOW, 0), np.minimum(at + _END_WINDOW, part.shape[1])
    before = (total[:, at] - total[:, back]) / np.maximum(at - back, 1)
    after = (total[:, on] - total[:, at]) / np.maximum(on - at, 1)
    contrast = (before - after if last else after - before) / 3.0
    change = _change_along(band)[rows]
    # nothing but wood from well within the slab to the line
    sense = 1 if last else -1
    start = near - sense * _END_REACH
    inner = part[:, start:] if last else part[:, start::-1]
    run = np.minimum.accumulate(_run_mean(inner.T, 8), axis=0).T
    through = np.zeros(part.shape)
    if last:
        through[:, start:] = run
    else:
        through[:, start::-1] = run
    wooded, sharp = contrast + 0.8 * np.minimum(through, 0.0), 0.9 * np.minimum(change, 1.6)
    v = band.v_mm[rows]
    best, found = -np.inf, (float(near), 0.0)
    spoken = np.full(len(columns), -np.inf)
    pull = _END_PULL * np.abs(columns - near)
    for slope in np.linspace(-_END_SKEW, _END_SKEW, 41) / ALONG_MM:
        line = np.rint(columns[None] + slope * v[:, None]).astype(int)
        line = np.clip(line, 0, part.shape[1] - 1)
        parts = np.take_along_axis(contrast, line, axis=1).mean(0)
        # a change with wood to either side of it is a shadow's edge
        backed = np.clip(parts / _END_PARTS, 0.25, 1.0)
        mean = np.take_along_axis(wooded, line, axis=1).mean(0)
        mean += backed * np.take_along_axis(sharp, line, axis=1).mean(0)
        mean -= 0.15 * abs(slope) * ALONG_MM
        spoken = np.maximum(spoken, mean)
        k = int((mean - pull).argmax())
        if mean[k] - pull[k] > best:
            best, found = float(mean[k] - pull[k]), (float(columns[k]), float(slope))
    apart = np.abs(columns - found[0]) > _END_APART
    rival = float(spoken[apart].max()) if apart.any() else 0.0
    sure = float(spoken[int(found[0]) - columns[0]]) - max(rival, 0.0) > _END_SURE
    return _sharpened(change, v, found), sure


def _sharpened(change: Array, v: Array, line: tuple[float, float]) -> tuple[float, float]:
    """The line moved to the middle of the change it follows, row by row, and fitted again."""
    reach = np.arange(-2, 3)
    at = np.clip(np.rint(line[0] + line[1] * v).astype(int), 2, change.shape[1] - 3)
    near = change[np.arange(len(v))[:, None], at[:, None] + reach[None]]
    weight = np.maximum(near - near.min(1, keepdims=True), 1e-6) ** 2
    where = at + (weight * reach).sum(1) / weight.sum(1)
    keep = near.max(1) > 0.35
    slope, middle = line[1], line[0]
    for _ in range(4):
        if keep.sum() < max(6, len(v) // 4):
            return line
        slope, middle = np.polyfit(v[keep], where[keep], 1)
        off = np.abs(where - middle - slope * v)
        keep = (off <= max(0.8, 2.5 * float(np.median(off[keep])))) & (near.max(1) > 0.35)
    return float(middle), float(slope)


def _change_along(band: Band) -> Array:
    """Change of colour from column to column, in units of a strong one."""
    import cv2

    smooth = cv2.GaussianBlur(band.lab, (0, 0), sigmaX=0.7, sigmaY=3.0)
    step = np.zeros(smooth.shape, np.float32)
    step[:, 1:-1] = smooth[:, 2:] - smooth[:, :-2]
    size = np.sqrt(((step * np.array([0.6, 1.2, 1.2], np.float32)) ** 2).sum(-1))
    size[band.paper] = 0.0
    change: Array = np.asarray(size, float) / 22.0
    return change


def _ring(
    band: Band, left: Array, right: Array, butt: tuple[float, float], head: tuple[float, float]
) -> Array:
    """The ring between two sides and two end lines, a point every 20 mm or so."""
    at = np.arange(len(left), dtype=float)

    def meets(v: Array, end: tuple[float, float]) -> float:
        off = at - (end[0] + end[1] * v)
        change = np.flatnonzero(np.diff(np.sign(off)) != 0)
        if not len(change):
            return float(np.clip(end[0], 0, len(v) - 1))
        k = change[np.argmin(np.abs(change - end[0]))]
        return float(k + off[k] / (off[k] - off[k + 1]))

    sides = []
    for v in (right, left):
        a, b = meets(v, butt), meets(v, head)
        a, b = min(a, b), max(a, b)
        columns = np.linspace(a, b, max(4, int((b - a) * ALONG_MM / 20.0)))
        sides.append(band.ground_mm(columns, np.interp(columns, at, v)))
    return anticlockwise(np.vstack([sides[0], sides[1][::-1]]))


def _sapwood(
    band: Band, left: Array, right: Array, ends: tuple[tuple[float, float], tuple[float, float]]
) -> tuple[Array, Array] | None:
    """V of the sapwood's inner edges, or None where it cannot be told apart on either side."""
    inner = [_heart_edge(band, edge, sign, ends) for edge, sign in ((left, -1.0), (right, 1.0))]
    if inner[0] is None and inner[1] is None:
        return None
    return (
        left if inner[0] is None else inner[0],
        right if inner[1] is None else inner[1],
    )


def _heart_edge(
    band: Band, edge: Array, sign: float, ends: tuple[tuple[float, float], tuple[float, float]]
) -> Array | None:
    """V of the line where the sapwood of one side gives way to heart; None where none is told.

    From the edge inward the colour is measured along the way from the heart's to the rim's; the
    sapwood ends where all before is pale and a thumb's breadth after is not.
    """
    import cv2

    smooth = cv2.GaussianBlur(band.lab, (0, 0), sigmaX=5.0, sigmaY=1.5).astype(float)
    columns = np.arange(smooth.shape[1])
    depth = np.arange(_SAP_WIDEST + 60)
    rows = np.rint(edge[None] + sign * depth[:, None] - band.v_mm[0]).astype(int)
    rows = np.clip(rows, 0, len(band.v_mm) - 1)
    strip, clear = smooth[rows, columns[None]], ~band.paper[rows, columns[None]]
    # shade and the light's fall are taken off by the heart's own lightness, column by column
    inside = np.where(clear[_SAP_WIDEST:], strip[_SAP_WIDEST:, :, 0], np.nan)
    bare = np.isfinite(inside).sum(0) > 10
    if bare[slice(*band.ends)].sum() < 10:
        return None
    usual = np.full(len(columns), np.nan)
    usual[bare] = np.nanmedian(inside[:, bare], axis=0)
    usual = np.interp(columns, columns[bare], usual[bare])
    usual = cv2.GaussianBlur(usual[None], (0, 0), 8.0)[0]
    # what hue is left of them is the same in any light: Lab's own grow as its lightness does
    strip[..., 1:] = _HUE * (strip[..., 1:] - 128.0) / (strip[..., :1] / 2.55 + 16.0)
    strip[..., 0] *= (np.median(usual) / np.maximum(usual, 1.0))[None]
    span = slice(*band.ends)
    rim = strip[3:9, span][clear[3:9, span]]
    deep = strip[_SAP_WIDEST:, span][clear[_SAP_WIDEST:, span]]
    if not len(rim) or not len(deep):
        return None
    pale, heart = np.median(rim, axis=0), np.median(deep, axis=0)
    way = pale - heart
    size = float(np.sqrt((way**2).sum()))
    # each counts by how steady it is over the heart: lightness little under a shadow aslant
    off = deep[deep[:, 0] > 0.82 * heart[0]] - heart
    across = np.linalg.solve(off.T @ off / max(len(off), 1) + np.eye(3), way)
    apart = float(way @ across)
    if size < _SAP_STEP or apart < _SAP_APART**2 or way[0] < 0:
        return None
    share = np.clip(((strip - heart) @ across) / apart - 0.5, -0.75, 0.75)
    # neither paper nor what is far darker than heart (knots, checks) says anything of the two
    share = np.where(clear & (strip[..., 0] > 0.82 * heart[0]), share, 0.0)
    share[:3] = 0.5  # the rim's own blur says nothing
    total = np.cumsum(np.vstack([np.zeros((1, len(columns))), share]), axis=0)
    at = np.arange(_SAP_WIDEST)
    on = np.minimum(at + 26, len(depth))
    beyond = (total[on] - total[np.minimum(at + 4, len(depth))]) / np.maximum(on - at - 4, 1)[
        :, None
    ]
    # counted only where pale wood goes on, or it would draw the edge inward
    cost = 3.0 * np.maximum(beyond + 0.25, 0.0) - total[at] / 10.0
    # off the wood, beyond the sawn ends, nothing is known: the edge runs on as it came
    butt, head = (int(np.clip(a + b * edge[int(a)], 0, len(edge) - 1)) for a, b in ends)
    cost[:, : butt + 2] = cost[:, max(head - 1, 0) :] = 0.0
    path = _way(cost, stiff=0.8, jump=1)
    path = np.where(path < _SAP_NARROWEST, 0, path)
    found: Array = edge + sign * (path + 0.5)
    return found


def _cut(
    band: Band, butt: tuple[float, float], head: tuple[float, float], left: Array, right: Array
) -> bool:
    """Whether the slab reaches ground that the photograph does not show."""
    for column in (butt[0], head[0]):
        c = int(np.clip(column, 0, len(left) - 1))
        rows = np.clip(np.array([left[c], right[c], 0.0]) - band.v_mm[0], 0, len(band.v_mm) - 1)
        for step in (-4, 4):
            near = int(np.clip(c + step, 0, len(left) - 1))
            if not band.seen[rows.astype(int), near].all():
                return True
    return False
