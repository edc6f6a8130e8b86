"""What proves a half pattern's print: its tape line, the offsets from it, and its code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.drawing.code import CODE_MM, code
from futtock.drawing.mould_checks import edges_at
from futtock.drawing.signs import bearing, unit, upright
from futtock.framing.frame import Frame
from futtock.sheet.extent import box_of
from futtock.sheet.items import Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.style import THIN, Tone
from futtock.sheet.table import Table, set_table

Array = NDArray[np.float64]
_EVERY_MM = 150.0
_TICK_MM = 3.0
_LETTERS_MM = 3.0


@dataclass(frozen=True)
class PatternTape:
    """The tape line A-B of a half pattern, from the outer edge's heel to its head.

    ``start_mm`` (2,) is A; ``along`` (2,) the unit vector to B, ``outward`` (2,) the unit vector
    square to it, away from the centre; ``at_mm`` (n,) the stations along it, and ``outer_mm`` and
    ``inner_mm`` (n,) the joint face's edges there, positive outward of the line.
    """

    start_mm: Array
    along: Array
    outward: Array
    length_mm: float
    at_mm: Array
    outer_mm: Array
    inner_mm: Array

    def points(self, at_mm: Array, off_mm: float = 0.0) -> Array:
        """Points (n, 2) of the frame's plane at lengths along the line."""
        at = np.atleast_1d(at_mm)
        found: Array = self.start_mm + at[:, None] * self.along + off_mm * self.outward
        return found

    def lines(self) -> list[Array]:
        """The line and its ticks, each (2, 2)."""
        ends = self.points(np.array([0.0, self.length_mm]))
        feet, tips = self.points(self.at_mm), self.points(self.at_mm, -_TICK_MM)
        return [ends, *np.stack([feet, tips], axis=1)]

    def items(self, labels: Labels) -> list[Item]:
        """Line, ticks and the lengths beside them."""
        out: list[Item] = [path(line, THIN, layer="CONTROL") for line in self.lines()]
        turn = upright(bearing(self.along))
        for at in self.at_mm.tolist():
            trials = []
            for off in (-5.6, -8.6, 4.4, -12.0, 8.0, -16.0):
                x, y = self.points(np.array([at]), off)[0].tolist()
                said = f"{at:.0f}"
                trials.append(
                    Text(
                        said, (x, y), _LETTERS_MM, anchor="middle", rise="middle", angle_deg=turn,
                        halo=Tone.WHITE, layer="CONTROL",
                    )
                )  # fmt: skip
            out.append(labels.place(trials[0], trials))
        return out

    def table(self) -> Table:
        """The offsets: along the line, and both edges from it, positive outward."""
        rows = [
            (f"{at:.0f} mm", f"{outer:+.1f}", f"{inner:+.1f}")
            for at, outer, inner in zip(self.at_mm, self.outer_mm, self.inner_mm, strict=True)
        ]
        head = ("along A-B", "outer edge", "inner edge")
        return Table(head, tuple(rows), "rrr", "Tape offsets, mm outward of the line A-B")


def tape_of(frame: Frame, every_mm: float = _EVERY_MM) -> PatternTape:
    """The tape line of a frame's half pattern with the joint face's offsets from it."""
    edge, inner = frame.joint.edge_mm, frame.joint.inner_mm
    start, span = edge[0], edge[-1] - edge[0]
    along = unit(span)
    outward = np.array([along[1], -along[0]])
    if outward @ (edge - inner).mean(axis=0) < 0:
        outward = -outward
    turned = np.stack([along, outward], axis=1)
    ring = np.concatenate([edge, inner[::-1]])
    ring = (ring - start) @ turned
    length = float(np.hypot(*span))
    at = np.arange(every_mm, length - 5.0, every_mm)
    found = np.array([edges_at(ring, x) for x in at.tolist()]).reshape(-1, 2)
    return PatternTape(start, along, outward, length, at, found[:, 1], found[:, 0])


def beside(items: Sequence[Item], table: Table, text: str) -> list[Item]:
    """The table of offsets and the print's code in the emptiest places of the drawing's box."""
    size = 3.4
    box = box_of(items) or (0.0, 0.0, 0.0, 0.0)
    labels = Labels(gap_mm=4.0)
    labels.keep_off_items(items)
    probe, height = set_table(table, (0.0, 0.0), size)
    wide = (box_of(probe) or (0.0, 0.0, 0.0, 0.0))[2]
    spot = labels.free_spot(box, (wide, height)) or (box[2] + 10.0, box[1])
    out = set_table(table, (spot[0], spot[1] + height), size)[0]
    if text:
        labels.keep_off_items(out)
        room = CODE_MM * 1.5
        free = labels.free_spot(box, (room, room)) or (box[2] + 10.0, box[3] - room)
        shift = (room - CODE_MM) / 2
        out.append(code(text, (free[0] + shift, free[1] + shift)))
    return out
