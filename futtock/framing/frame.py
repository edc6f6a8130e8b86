"""What framing gives: frames, their faces, layers and timbers, as frozen values.

A frame stands about its *joint face*, the plane both layers share. With cant c and rake r
(design of the axes: see ``docs/methods``) the plane's normal is a, pointing aft; in the plane,
``out`` runs outboard and ``up`` upwards from the origin (x_mm, 0, 0) + s a, where s is the face's
distance along a from the joint face: forward face -sided, joint 0, aft face +sided.
All arrays are float64 and read-only; lengths mm, angles degrees. Starboard; port is its mirror.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding

Array = NDArray[np.float64]
LayerName = Literal["f", "a"]
Side = Literal["P", "S", "C"]
LAYERS: tuple[LayerName, LayerName] = ("f", "a")
MarkKind = Literal["sirmark", "level", "sheer", "centre", "ribband", "butt"]


@dataclass(frozen=True)
class FramePlane:
    """Where one frame stands: number from 1 forward to aft, x of its joint face, cant and rake."""

    number: int
    x_mm: float
    cant_deg: float
    rake_deg: float
    sided_mm: float
    full: bool = True
    """False for a half frame that lands on deadwood."""

    def axes(self) -> tuple[Array, Array, Array]:
        """Unit vectors (a, out, up), each (3,)."""
        return self._axes

    @cached_property
    def _axes(self) -> tuple[Array, Array, Array]:
        c, r = math.radians(self.cant_deg), math.radians(self.rake_deg)
        cos_c, sin_c, cos_r, sin_r = math.cos(c), math.sin(c), math.cos(r), math.sin(r)
        a = np.array([cos_r * cos_c, cos_r * sin_c, -sin_r])
        out = np.array([-sin_c, cos_c, 0.0])
        up = np.array([sin_r * cos_c, sin_r * sin_c, cos_r])
        for axis in (a, out, up):
            axis.setflags(write=False)
        return a, out, up

    def origin(self, s_mm: float) -> Array:
        """Origin (3,) of the face at distance s along a from the joint face."""
        return np.array([self.x_mm, 0.0, 0.0]) + s_mm * self.axes()[0]

    def centre_mm(self, s_mm: float, up_mm: float = 0.0) -> float:
        """Where (out) the face at distance s has the centreline, at a height.

        0 but for cants, whose far faces' origins stand off the centreline.
        """
        a, out, up = self.axes()
        return float(-(s_mm * a[1] + up_mm * up[1]) / out[1])


@dataclass(frozen=True)
class Face:
    """One face of a frame, starboard, from heel to head.

    Attributes
    ----------
    name
        ``"forward"``, ``"joint"`` or ``"aft"``.
    edge_mm : (n, 2)
        Inside of planking (out, up) in the face's own plane; notches never enter it.
    lean_deg : (n,)
        Tangent lean: positive where the hull widens going aft.
    inner_mm : (n, 2)
        Inner edge, point by point opposite ``edge_mm``.
    inner_lean_deg : (n,)
        Lean of the inner edge's own surface.
    girth_mm : (n,)
        Length along the edge from the heel, starting at 0.
    uv : (n, 2)
        Parameters of the surface points the edge comes from.
    """

    name: str
    edge_mm: Array
    lean_deg: Array
    inner_mm: Array
    inner_lean_deg: Array
    girth_mm: Array
    uv: Array


@dataclass(frozen=True)
class Layer:
    """One layer of a frame: the joint face's edge with the matched far face, point by point.

    ``far_edge_mm[i]`` is where the plane square to the joint edge at point i meets the far face's
    edge, so that the straight ruling the saw makes joins ``joint.edge_mm[i]`` to it, both in
    (out, up) of the frame. ``chord_deg`` is the lean of that ruling (same sign as the tangent
    lean); ``departure_mm`` how far the ruled cut stands off the true surface at its worst between
    the faces, positive where wood is left proud. The inner arrays are the same for the inner edge.
    All (n, ...) with the joint face's n.
    """

    name: LayerName
    far_edge_mm: Array
    chord_deg: Array
    far_inner_mm: Array
    inner_chord_deg: Array
    departure_mm: Array


@dataclass(frozen=True)
class Mark:
    """A named mark on a frame: sirmark, level line, sheer, height; girth along the joint edge."""

    name: str
    kind: MarkKind
    girth_mm: float
    at_mm: tuple[float, float]


@dataclass(frozen=True)
class Timber:
    """One futtock: its place in the frame and the figures of its shape.

    ``girth_mm`` (from, to) along the joint face from the heel, negative from where a timber that
    crosses the centreline (side ``C``) begins on the port side. ``length_mm`` is the straight
    length along the chord of its middle line, ``wide_mm`` the width square to that chord
    that a blank needs (both faces), ``sweep_mm`` the greatest departure of the middle line from
    its chord.
    ``heel_mm`` is the outline of what stands on keel or deadwood, replacing the square end, in
    (out, up) on the joint face; empty (0, 2) for an ordinary butt.
    """

    mark: str
    frame: int
    layer: LayerName
    side: Side
    number: int
    girth_mm: tuple[float, float]
    length_mm: float
    wide_mm: float
    sweep_mm: float
    sided_mm: float
    heel_mm: Array = field(default_factory=lambda: np.empty((0, 2)))


@dataclass(frozen=True)
class HeelWork:
    """What is cut where a frame stands on the keel, in (out, up), starboard.

    Attributes
    ----------
    notch_forward_mm, notch_mm, notch_aft_mm : (k, 2)
        Cut lines on the three faces, from the centreline over the keel's top and down its side;
        (0, 2) where the heel is not notched.
    top_bevel_deg
        Slope of the keel's top along the vessel, positive where it rises going aft.
    side_bevel_deg
        Angle of the keel's side to the centreline, positive where she widens going aft.
    half_siding_mm
        Half the keel's siding under the joint.
    limber_mm : (k, 2)
        The limber hole's arch on the joint face.
    bolts_mm : (4, 2)
        Corners of the zone to keep clear for heel bolts; (0, 2) for none.
    rise
        Rise of the heel's line for each millimetre outboard, on the forward, joint and aft face: 0
        but for cants on a sloping keel, whose toe stands forward or aft of the centreline.
    with_timber
        True where the notch is part of half timbers' outlines, False where it is sawn when the
        frame is assembled (a floor's always is).
    """

    notch_forward_mm: Array
    notch_mm: Array
    notch_aft_mm: Array
    top_bevel_deg: float
    side_bevel_deg: float
    half_siding_mm: float
    limber_mm: Array
    bolts_mm: Array
    with_timber: bool = False
    rise: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Frame:
    """A double frame: plane, three faces, two layers, and the timbers of both sides.

    ``on_keel`` says that her heels stand level on the keel's top; else they stop opposite the
    rabbet. ``dub_mm`` is how far timbers are sawn outside the edge, for dubbing.
    """

    plane: FramePlane
    forward: Face
    joint: Face
    aft: Face
    layers: tuple[Layer, Layer]
    timbers: tuple[Timber, ...]
    marks: tuple[Mark, ...] = ()
    on_keel: bool = False
    dub_mm: float = 0.0
    heel: HeelWork | None = None

    @property
    def number(self) -> int:
        """The frame's number, from 1 forward to aft."""
        return self.plane.number

    def face(self, name: str) -> Face:
        """The face called ``forward``, ``joint`` or ``aft``."""
        return {"forward": self.forward, "joint": self.joint, "aft": self.aft}[name]

    def layer(self, name: LayerName) -> Layer:
        """The forward (``f``) or after (``a``) layer."""
        return self.layers[0] if name == "f" else self.layers[1]


@dataclass(frozen=True, slots=True)
class Cant:
    """One frame's proposed cant; ``largest_deg`` is its greatest lean as it stands, square.

    ``kept`` is False where even this turn leaves a bevel beyond the limit.
    """

    frame: int
    angle_deg: float
    largest_deg: float
    canted_largest_deg: float
    kept: bool


@dataclass(frozen=True)
class Framing:
    """All frames of a vessel, forward to aft, with what was noticed.

    ``largest_lean_deg`` is the greatest tangent lean, without its sign, over all faces. ``cants``
    are proposed for frames that stand square; accepting one is writing it into ``vessel.toml``.
    """

    frames: tuple[Frame, ...]
    findings: tuple[Finding, ...]
    largest_lean_deg: float
    cants: tuple[Cant, ...] = ()

    @property
    def timbers(self) -> tuple[Timber, ...]:
        """Every timber of every frame."""
        return tuple(t for f in self.frames for t in f.timbers)

    def frame(self, number: int) -> Frame:
        """The frame of that number.

        Raises
        ------
        KeyError
            Where there is none.
        """
        for f in self.frames:
            if f.number == number:
                return f
        raise KeyError(number)
