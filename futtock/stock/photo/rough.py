"""Where in a picture the slab lies, roughly: by colour, from the cards on it or beside it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.stock.outline import anticlockwise
from futtock.stock.photo.portrait import Portrait

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]

_WIDE_MM = 420.0  # no slab is wider than twice this
_BEYOND_MM = 1500.0  # nor runs farther than this past its outermost card
_RING_MM = (74.0, 100.0)  # ground round a card's middle that is taken for slab
_SPINE_MM = 40.0
_HUE_OFF = 12.0  # half of it in the eight bits of a Lab hue
_OTHER = 0.5  # of the ground between the cards, of another hue than round them


def rough_face(overview: Portrait, centres_mm: Array, beside: bool = False) -> Array | None:
    """The slab's rough ring (n, 2), from colours at the cards; None where there is none.

    ``overview`` is a coarse portrait (some 8 mm a pixel) of the ground round the cards. Cards that
    lie ``beside`` the slab show the floor's colours instead, and the slab runs between them: some
    lie on either side of it.
    """
    import cv2

    h, w = overview.picture.shape[:2]
    px = overview.mm_per_px
    at = overview.pixels(centres_mm)
    away = np.full((h, w), 255, np.uint8)
    spine = _through(_between(at) if beside else at, px)
    for a, b in pairwise(spine):
        cv2.line(away, _whole(a), _whole(b), 0, 1)
    distance = cv2.distanceTransform(away, cv2.DIST_L2, 5) * px
    state = np.full((h, w), cv2.GC_PR_BGD, np.uint8)
    state[distance < 140.0] = cv2.GC_PR_FGD
    state[distance > _WIDE_MM] = cv2.GC_BGD
    state[~overview.seen] = cv2.GC_BGD
    ring = np.zeros((h, w), np.uint8)
    for centre in at:
        cv2.circle(ring, _whole(centre), round(_RING_MM[1] / px), 255, -1)
    paper = np.zeros((h, w), np.uint8)
    for centre in at:
        cv2.circle(paper, _whole(centre), round(_RING_MM[0] / px), 255, -1)
    seeded = cv2.GC_BGD if beside else cv2.GC_FGD
    state[(ring > 0) & (paper == 0)] = seeded
    colours = lab(overview.picture)
    # shade moves lightness more than hue, so it counts less
    flat = np.clip(np.dstack([colours[..., 0] * 0.45, colours[..., 1:] * 2.0 - 128.0]), 0, 255)
    flat = flat.astype(np.uint8)
    cards = paper > 0
    # the paper would teach both colours white: paint it as the ground round it
    flat[cards] = np.median(flat[(ring > 0) & ~cards], axis=0) if (ring > 0).any() else 0
    state[cards] = seeded
    if beside:
        # where the ground half way between two cards is none of the floor's, it is the slab
        floor = np.median(flat[(ring > 0) & ~cards].astype(float), axis=0)
        for place in _between(at):
            c, r = _inside(place, w, h)
            if np.abs(flat[r, c, 1:] - floor[1:]).max() > _HUE_OFF:
                cv2.circle(state, (c, r), max(1, round(_SPINE_MM / px)), cv2.GC_FGD, -1)
    model_b, model_f = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.setRNGSeed(7)
    try:
        cv2.grabCut(flat, state, None, model_b, model_f, 4, cv2.GC_INIT_WITH_MASK)  # type: ignore[call-overload]
    except cv2.error:
        return None
    mask = ((state == cv2.GC_FGD) | (state == cv2.GC_PR_FGD)).astype(np.uint8)
    size = max(3, round(40.0 / px) | 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, kernel)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, kernel)
    _, labels = cv2.connectedComponents(mask)
    if beside:
        on = [int(n) for n in labels[distance < _SPINE_MM] if n]
    else:
        on = [int(labels[r, c]) for c, r in (_inside(p, w, h) for p in at)]
        on = [n for n in on if n]
    if not on:
        return None
    best = int(np.bincount(on).argmax())
    rings, _ = cv2.findContours(
        (labels == best).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    ring_px = max(rings, key=cv2.contourArea).reshape(-1, 2).astype(float)
    if len(ring_px) < 12:
        return None
    return anticlockwise(overview.millimetres(ring_px))


def seem_beside(overview: Portrait, centres_mm: Array) -> bool:
    """Whether the ground between the cards differs in hue from that round every one of them.

    So it does where they lie on the floor on both sides of a slab. Shade moves lightness, which
    does not count. Cards that all lie on one side show nothing of it.
    """
    import cv2

    if len(centres_mm) < 3:
        return False
    at, px = overview.pixels(centres_mm), overview.mm_per_px
    h, w = overview.picture.shape[:2]
    blurred = np.asarray(cv2.GaussianBlur(overview.picture, (0, 0), 1.0), np.uint8)
    hues = lab(blurred)[..., 1:].astype(np.float64)
    ring, line = np.zeros((h, w), np.uint8), np.zeros((h, w), np.uint8)
    order = _between(at)
    for a, b in pairwise(order):
        cv2.line(line, _whole(a), _whole(b), 255, max(1, round(60.0 / px)))
    for centre in at:
        cv2.circle(ring, _whole(centre), round(1.2 * _RING_MM[1] / px), 255, -1)
    line[ring > 0] = 0
    for centre in at:
        cv2.circle(ring, _whole(centre), round(1.1 * _RING_MM[0] / px), 0, -1)
    round_, between = hues[(ring > 0) & overview.seen], hues[(line > 0) & overview.seen]
    if len(round_) < 40 or len(between) < 40:
        return False
    off = between - np.median(round_, axis=0)
    spread = np.maximum(1.4826 * np.median(np.abs(round_ - np.median(round_, axis=0)), axis=0), 2.0)
    return bool(np.mean((np.abs(off) > 3.0 * spread).any(1)) > _OTHER)


def _between(points: Array) -> Array:
    """Half way from each card to the next along the slab."""
    middle = points.mean(0)
    axis = np.linalg.svd(points - middle)[2][0] if len(points) > 1 else np.array([1.0, 0.0])
    line = points[np.argsort((points - middle) @ axis)]
    halves: Array = (line[1:] + line[:-1]) / 2.0 if len(line) > 2 else line
    return halves


def _through(points: Array, px: float) -> Array:
    """The cards' middles in order along the slab, carried on beyond both ends."""
    middle = points.mean(0)
    axis = np.linalg.svd(points - middle)[2][0] if len(points) > 1 else np.array([1.0, 0.0])
    line = points[np.argsort((points - middle) @ axis)]
    if len(line) < 2:
        line = np.array([middle - axis, middle + axis])
    first, last = line[0] - line[1], line[-1] - line[-2]
    # half the last bend's turn: farther out a crook goes on bending, but who knows how far
    first, last = (v / max(float(np.hypot(*v)), 1e-9) for v in (first, last))
    reach = _BEYOND_MM / px
    through: Array = np.vstack([line[0] + first * reach, line, line[-1] + last * reach])
    return through


def lab(picture: Picture) -> Picture:
    """A picture in lightness and two hues (CIE Lab, 8 bits)."""
    import cv2

    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2LAB), np.uint8)


def _whole(point: Array) -> tuple[int, int]:
    x, y = np.clip(np.rint(point), -30_000, 30_000).astype(int).tolist()
    return x, y


def _inside(point: Array, w: int, h: int) -> tuple[int, int]:
    x, y = np.rint(point).astype(int).tolist()
    return min(max(x, 0), w - 1), min(max(y, 0), h - 1)
