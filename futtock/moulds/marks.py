"""What is written on a mould: bevel marks along its edges, and labels with their directions."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.framing.frame import Frame, Mark, Timber
from futtock.moulds.mould import BevelMark, Label, MouldPlace, SawnEdge

Array = NDArray[np.float64]


def bevel_marks(
    outer: SawnEdge, inner: SawnEdge, every_mm: float, also_mm: Array, between_deg: float = 0.5
) -> tuple[BevelMark, ...]:
    """Marks from heel to head along the outer edge: even distances, both ends, and ``also_mm``.

    More are added until a straight line between neighbours errs by no more than ``between_deg`` on
    either edge. The inner edge's degrees are those of the ruling opposite. Two marks nearer than
    1 mm are one.
    """
    length = float(outer.at_mm[-1])
    even = np.arange(0.0, length, every_mm)
    at = _apart(np.unique(np.concatenate([even, np.asarray(also_mm, float), [length]])))
    leans = np.stack([outer.lean_deg, inner.lean_deg])
    for _ in range(len(outer.at_mm)):
        off = np.stack(
            [np.abs(np.interp(outer.at_mm, at, np.interp(at, outer.at_mm, v)) - v) for v in leans]
        ).max(axis=0)
        worst = int(off.argmax())
        if off[worst] <= between_deg:
            break
        at = np.sort(np.append(at, outer.at_mm[worst]))
    outer_deg = np.interp(at, outer.at_mm, outer.lean_deg)
    inner_deg = np.interp(at, outer.at_mm, inner.lean_deg)
    return tuple(map(BevelMark, at.tolist(), outer_deg.tolist(), inner_deg.tolist()))


def _apart(at: Array) -> Array:
    """Of rising places those more than 1 mm from the last kept; both ends stay."""
    kept = [float(at[0])]
    for place in at[1:-1].tolist():
        if place - kept[-1] > 1.0 and at[-1] - place > 1.0:
            kept.append(place)
    return np.array([*kept, float(at[-1])])


def labels(
    frame: Frame,
    timber: Timber,
    girth_mm: Array,
    outer_mm: Array,
    place: MouldPlace,
    grain_mm: Array,
    centre: Array,
) -> tuple[Label, ...]:
    """The labels of one mould.

    Parameters
    ----------
    girth_mm : (n,)
        Girth of the joint edge's points, from the frame's heel.
    outer_mm : (n, 2)
        The joint face's outer edge in the mould's axes, at those girths.
    grain_mm : (m, 2)
        Middle line, heel to head.
    centre
        (x, y, ...) of the centre of mass.
    """
    flip = -1.0 if place.flipped else 1.0
    up_deg = _turned(90.0 + place.turn_deg)
    out_deg = _turned((0.0 if flip > 0 else 180.0) + place.turn_deg)
    first, last = grain_mm[0], grain_mm[-1]
    heel, head = ("port", "starboard") if timber.side == "C" else ("heel", "head")
    made = [
        Label("mark", timber.mark, (float(centre[0]), float(centre[1]))),
        Label("heel", heel, (float(first[0]), float(first[1])), _bearing(grain_mm[1] - first)),
        Label("head", head, (float(last[0]), float(last[1])), _bearing(grain_mm[-2] - last)),
        Label("up", "up", (float(centre[0]), float(centre[1])), up_deg),
        Label(
            "out",
            "starboard" if timber.side == "C" else "outboard",
            (float(centre[0]), float(centre[1])),
            out_deg,
        ),
    ]
    whole = timber.side == "C"
    for mark in (*frame.marks, *_other_butts(frame, timber)):
        for side in (1.0, -1.0) if whole and mark.girth_mm > 0 else (1.0,):
            girth = side * mark.girth_mm
            if not girth_mm[0] <= girth <= girth_mm[-1]:
                continue
            at = np.array([np.interp(girth, girth_mm, outer_mm[:, k]) for k in (0, 1)])
            if mark.kind in ("level", "sheer"):
                direction = _turned(out_deg + 180.0) if side > 0 else out_deg
            else:
                k = int(np.clip(np.searchsorted(girth_mm, girth), 1, len(girth_mm) - 1))
                along = outer_mm[k] - outer_mm[k - 1]
                inward = np.array([-along[1], along[0]])
                if inward @ (grain_mm[min(k, len(grain_mm) - 1)] - at) < 0:
                    inward = -inward
                direction = _bearing(inward)
            made.append(Label(mark.kind, mark.name, (float(at[0]), float(at[1])), direction))
    return tuple(made)


def _other_butts(frame: Frame, timber: Timber) -> list[Mark]:
    """The other layer's butts that fall on this timber, clear of its own ends."""
    low, high = timber.girth_mm
    ends = sorted(
        (t for t in frame.timbers if t.layer != timber.layer and t.side in ("S", "C")),
        key=lambda t: t.girth_mm,
    )
    return [
        Mark(f"butt {a.layer}{a.number}/{b.number}", "butt", a.girth_mm[1], (0.0, 0.0))
        for a, b in pairwise(ends)
        if max(low, 0.0) + 1.0 < a.girth_mm[1] < high - 1.0
    ]


def _bearing(v: Array) -> float:
    return float(np.degrees(np.arctan2(v[1], v[0])))


def _turned(deg: float) -> float:
    """The angle in (-180, 180]."""
    return 180.0 - (180.0 - deg) % 360.0
