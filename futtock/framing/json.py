"""Frames as the JSON document carries them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.framing.checks import departure_of
from futtock.framing.frame import Face, Frame, Framing, HeelWork, Layer, Timber

Array = NDArray[np.float64]


def framing_json(framing: Framing) -> dict[str, Any]:
    """The document of ``frames`` (all but ``seconds``): lengths to 1e-5 mm, angles to 1e-6 degrees.

    Keys beyond the fixed ones: ``rake_deg``, ``sided_mm``, ``layers`` (matched far edges, chord
    bevels and the ruled cut's departure, point by point with the joint face) and ``marks``; of each
    timber ``departure_mm``, how far its ruled cut stands off the true surface at its worst.
    """
    return {
        "frames": [frame_json(f) for f in framing.frames],
        "largest_lean_deg": round(framing.largest_lean_deg, 6),
        "cants_proposed": [
            {
                "frame": c.frame,
                "angle_deg": c.angle_deg,
                "largest_deg": round(c.largest_deg, 4),
                "canted_largest_deg": round(c.canted_largest_deg, 4),
                "kept": c.kept,
            }
            for c in framing.cants
        ],
        "findings": [f.as_json() for f in framing.findings],
    }


def frame_json(frame: Frame) -> dict[str, Any]:
    """One frame."""
    plane = frame.plane
    return {
        "number": plane.number,
        "x_mm": round(plane.x_mm, 6),
        "cant_deg": plane.cant_deg,
        "rake_deg": round(plane.rake_deg, 9),
        "sided_mm": plane.sided_mm,
        "faces": [_face(f) for f in (frame.forward, frame.joint, frame.aft)],
        "layers": [_layer(layer) for layer in frame.layers],
        "timbers": [
            {**timber_json(t), "departure_mm": round(departure_of(frame, t), 5)}
            for t in frame.timbers
        ],
        "full": plane.full,
        "on_keel": frame.on_keel,
        "heel": None if frame.heel is None else _heel(frame.heel),
        "marks": [
            {
                "name": m.name,
                "kind": m.kind,
                "girth_mm": round(m.girth_mm, 5),
                "at_mm": [round(v, 5) for v in m.at_mm],
            }
            for m in frame.marks
        ],
    }


def _heel(work: HeelWork) -> dict[str, Any]:
    return {
        "notch_mm": _round(work.notch_mm, 5),
        "limber_mm": _round(work.limber_mm, 5),
        "bolts_mm": _round(work.bolts_mm, 5),
        "top_bevel_deg": round(work.top_bevel_deg, 6),
        "side_bevel_deg": round(work.side_bevel_deg, 6),
        "half_siding_mm": round(work.half_siding_mm, 5),
    }


def timber_json(timber: Timber) -> dict[str, Any]:
    """One timber."""
    return {
        "mark": timber.mark,
        "layer": timber.layer,
        "side": timber.side,
        "girth_mm": [round(g, 5) for g in timber.girth_mm],
        "length_mm": round(timber.length_mm, 4),
        "wide_mm": round(timber.wide_mm, 4),
        "sweep_mm": round(timber.sweep_mm, 4),
        "sided_mm": timber.sided_mm,
        "heel_mm": _round(timber.heel_mm, 5),
    }


def _face(face: Face) -> dict[str, Any]:
    return {
        "name": face.name,
        "edge_mm": _round(face.edge_mm, 5),
        "lean_deg": _round(face.lean_deg, 6),
        "inner_mm": _round(face.inner_mm, 5),
        "inner_lean_deg": _round(face.inner_lean_deg, 6),
        "girth_mm": _round(face.girth_mm, 5),
    }


def _layer(layer: Layer) -> dict[str, Any]:
    return {
        "layer": layer.name,
        "far_edge_mm": _round(layer.far_edge_mm, 5),
        "chord_deg": _round(layer.chord_deg, 6),
        "far_inner_mm": _round(layer.far_inner_mm, 5),
        "inner_chord_deg": _round(layer.inner_chord_deg, 6),
        "departure_mm": _round(layer.departure_mm, 5),
    }


def _round(values: Array, digits: int) -> list[Any]:
    rounded: list[Any] = np.round(values, digits).tolist()
    return rounded
