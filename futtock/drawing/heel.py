"""A frame's heel: the notch over the keel on its three faces, limber hole and heel bolts' zone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.figures import close_length
from futtock.drawing.heading import bare
from futtock.drawing.signs import dimension
from futtock.drawing.standing import heel_of
from futtock.framing.frame import Frame, HeelWork
from futtock.measure import Style
from futtock.sheet.items import Item, Text, path
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, CENTRE, EDGE, LEVEL, SEEN, Tone

Array = NDArray[np.float64]

_WIDE_MM = 150.0  # of paper
_LETTERS_MM = 5.0
_PAST = 1.7  # half-sidings of the keel that are shown to each side
_APART_MM = 0.5  # of wood: lines nearer than that are drawn as one


def heel_picture(frame: Frame, heel: HeelWork, show: Style) -> Sheet:
    """The heel alone, seen from aft, for a page that has its figures beside."""
    half = heel.half_siding_mm
    reach = max(_PAST * half, 1.15 * float(np.abs(_widest(heel)).max(initial=0.0)))
    ratio = 2 * reach / _WIDE_MM
    edge, inner = frame.joint.edge_mm, frame.joint.inner_mm
    floor = float(edge[:, 1].min())

    def on_paper(p: Array, side: float) -> Array:
        q = np.asarray(p, float).reshape(-1, 2)
        return np.stack([side * q[:, 0] / ratio, (q[:, 1] - floor) / ratio], axis=-1)

    out: list[Item] = []
    for side in (1.0, -1.0):
        inside = np.maximum(_within(inner, reach), [0.0, -np.inf])
        ring = np.concatenate([_within(edge, reach), inside[::-1], heel_of(frame)])
        out.append(path(on_paper(ring, side), EDGE, True, Tone.OAK, layer="FRAME"))
        out.append(path(on_paper(_within(edge, reach), side), SEEN, layer="FRAME"))
    high = float(np.max(_within(inner, reach)[:, 1]))
    top = (high - floor) / ratio
    for side in (1.0, -1.0):
        joint = on_paper(heel.notch_mm, side)
        out += [
            path(on_paper(face, side), BEHIND, layer="NOTCH-FACES")
            for face in (heel.notch_forward_mm, heel.notch_aft_mm)
            if len(face) and _apart(face, heel.notch_mm) > _APART_MM
        ]
        if len(joint):
            out.append(path(joint, SEEN, layer="NOTCH"))
        if len(heel.limber_mm):
            out.append(path(on_paper(heel.limber_mm, side), SEEN, layer="LIMBER"))
        if len(heel.bolts_mm):
            out.append(path(on_paper(heel.bolts_mm, side), LEVEL, True, layer="BOLTS"))
    out.append(path([(0.0, -6.0), (0.0, top + 8.0)], CENTRE))
    keel = half / ratio
    foot = min(-14.0, _lowest(heel, floor, ratio) - 8.0)
    siding = close_length(2 * half, show)
    out += dimension((-keel, foot), (keel, foot), f"keel {siding}", size_mm=_LETTERS_MM)
    out.append(Text("from aft", (-_WIDE_MM / 2, top + 5.0), _LETTERS_MM, tone=Tone.PENCIL))
    said = []
    if len(heel.notch_mm) and _differ(heel):
        said.append("notch: whole line at the joint, dashed outside")
    if len(heel.limber_mm):
        said.append("arch: limber hole")
    if len(heel.bolts_mm):
        said.append("box: keep clear for heel bolts")
    for k, words in enumerate(said):
        at = (-_WIDE_MM / 2, foot - 10.0 - 6.6 * k)
        out.append(Text(words, at, _LETTERS_MM, tone=Tone.PENCIL))
    about = f"The heel of frame {frame.number} from aft: where it stands on the keel."
    return bare(f"heel-{frame.number}", out, f"Heel of frame {frame.number}", about)


def _within(line: Array, reach: float) -> Array:
    """A half frame's line as far out as is shown, its end cut there."""
    near = np.flatnonzero(line[:, 0] <= reach)
    last = int(near[-1]) if len(near) else 0
    return line[: last + 2]


def _widest(heel: HeelWork) -> Array:
    parts = [p[:, 0] for p in (heel.notch_mm, heel.limber_mm, heel.bolts_mm) if len(p)]
    return np.concatenate(parts) if parts else np.empty(0)


def _lowest(heel: HeelWork, floor: float, ratio: float) -> float:
    parts = [p[:, 1] for p in (heel.notch_mm, heel.limber_mm, heel.bolts_mm) if len(p)]
    return (float(np.concatenate(parts).min()) - floor) / ratio if parts else 0.0


def _apart(a: Array, b: Array) -> float:
    """How far two cut lines stand apart, at their corners; all where these are not as many."""
    return float(np.abs(a - b).max()) if a.shape == b.shape else float("inf")


def _differ(heel: HeelWork) -> bool:
    faces = (heel.notch_forward_mm, heel.notch_aft_mm)
    return any(len(f) > 0 and _apart(f, heel.notch_mm) > _APART_MM for f in faces)
