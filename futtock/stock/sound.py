"""Where a slab is sound: for each face the distance to the nearest edge or flaw, by sign.

Which flaws are kept clear of, and whether sapwood counts as sound, is the builder's to say
(:class:`FlawRules`). Rot, shakes and checks are never built over, whatever the rules say.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.stock.grid import Grid, slab_grid
from futtock.stock.outline import anticlockwise, crossings
from futtock.stock.slab import Flaw, Slab
from futtock.stock.species import species as known_as

Array = NDArray[np.float64]
FaceName = Literal["top", "bottom"]

NEVER = ("rot", "check", "shake", "split", "bark", "hole", "insect")
"""Flaws that no setting allows in a frame."""


@dataclass(frozen=True, slots=True)
class FlawRules:
    """What may be built over.

    Attributes
    ----------
    knot_mm
        Widest sound tight knot that may stay in a timber; 0 (the default) allows none.
    knot_depth_share
        Such a knot must lie within this share of the moulded depth from the timber's middle
        line, where bending stress is least (common practice, no source).
    sapwood
        Species whose sapwood may be used, by any of their names (``"*"``: every species), none by
        default: on slabs of these the whole faces stand for the sound outlines, and flaws of kind
        sapwood are passed over.
    through
        True where a flaw seen on one face is kept clear of on both, since most run in some way.
    planed_mm
        Wood planed off each face before timbers are marked: their outlines then lie between those
        of the two faces as measured (:mod:`futtock.stock.planed`); 0: as measured.
    """

    knot_mm: float = 0.0
    knot_depth_share: float = 0.25
    sapwood: tuple[str, ...] = ()
    through: bool = True
    planed_mm: float = 0.0


STRICT = FlawRules()


@dataclass(frozen=True, slots=True)
class SoundRaster:
    """Signed distance to unsound wood on a grid, read-only (rows, columns), in mm.

    Positive on sound wood: the distance to the nearest edge or flaw, exact to rounding up to
    ``reach_mm``, where it is cut off; so a disc of that radius about the node is all sound.
    Negative off the slab or on a flaw: minus the distance to that face's edge, or out of that
    flaw. Between nodes the true field changes by no more than the distance moved.
    """

    grid: Grid
    distance_mm: Array
    reach_mm: float


def face_ring(slab: Slab, face: FaceName, rules: FlawRules = STRICT) -> Array:
    """The outline (n, 2) of a face within which timbers may lie."""
    sound, whole = (
        (slab.top_mm, slab.face_top_mm) if face == "top" else (slab.bottom_mm, slab.face_bottom_mm)
    )
    if whole is not None and sapwood_allowed(slab.species, rules):
        sound = whole
    if rules.planed_mm <= 0.0 or slab.thickness_mm <= 0.0:
        return sound
    from futtock.stock.planed import planed_ring

    other: FaceName = "bottom" if face == "top" else "top"
    far = face_ring(slab, other, replace(rules, planed_mm=0.0))
    return planed_ring(sound, far, rules.planed_mm / slab.thickness_mm)


def sapwood_allowed(species: str, rules: FlawRules) -> bool:
    """Whether the sapwood of a species may be used."""
    if not rules.sapwood:
        return False
    if "*" in rules.sapwood or species in rules.sapwood:
        return True
    wood = known_as(species)
    return wood is not None and wood in map(known_as, rules.sapwood)


def forbids(flaw: Flaw, rules: FlawRules = STRICT, species: str = "") -> bool:
    """True where a flaw of a slab of that species must be kept clear of wherever it lies."""
    if flaw.kind == "knot":
        return knot_width_mm(flaw) > rules.knot_mm
    return not (flaw.kind == "sapwood" and sapwood_allowed(species, rules))


def small_knots(slab: Slab, rules: FlawRules = STRICT) -> tuple[Flaw, ...]:
    """The knots of a slab that are allowed by their size, where they lie near the middle line."""
    if rules.knot_mm <= 0.0:
        return ()
    return tuple(f for f in slab.flaws if f.kind == "knot" and not forbids(f, rules))


def knot_width_mm(flaw: Flaw) -> float:
    """The least breadth of a flaw, as a rule laid across it would read: its narrowest way."""
    t = np.radians(np.arange(0.0, 180.0, 5.0))
    across = flaw.outline_mm @ np.vstack([np.cos(t), np.sin(t)])
    return float(np.ptp(across, axis=0).min())


def knot_allowed(
    flaw: Flaw, middle_line_mm: Array, moulded_mm: float, rules: FlawRules = STRICT
) -> bool:
    """Whether a knot may stay in a timber whose middle line (n, 2) lies so on the slab.

    It must be no wider than ``rules.knot_mm`` and wholly within ``rules.knot_depth_share`` of
    ``moulded_mm`` from the middle line.
    """
    import shapely

    if flaw.kind != "knot" or forbids(flaw, rules):
        return False
    line = shapely.LineString(middle_line_mm)
    off = shapely.distance(shapely.points(flaw.outline_mm), line)
    return bool(off.max() <= rules.knot_depth_share * moulded_mm)


def flaws_of(slab: Slab, face: FaceName, rules: FlawRules = STRICT) -> tuple[Flaw, ...]:
    """The flaws that a face must be kept clear of."""
    return tuple(
        f
        for f in slab.flaws
        if forbids(f, rules, slab.species) and (rules.through or f.face in (face, "both"))
    )


def flaw_rings(flaw: Flaw) -> tuple[Array, ...]:
    """The simple rings that bound a flaw; one drawn crossing itself is hulled, to be safe."""
    ring = flaw.outline_mm
    if len(ring) < 3 or len(crossings(ring)):
        import shapely

        hull = shapely.MultiPoint(ring).buffer(2.0).convex_hull
        ring = shapely.get_coordinates(hull)[:-1]
    return (anticlockwise(np.ascontiguousarray(ring)),)


def sound_raster(
    slab: Slab,
    face: FaceName,
    grid: Grid | None = None,
    rules: FlawRules = STRICT,
    reach_mm: float = 250.0,
) -> SoundRaster:
    """Signed distance of sound wood on a face (see :class:`SoundRaster` for the signs)."""
    from futtock.stock.kernels import signed_distance

    grid = grid or slab_grid(slab)
    out, other = np.empty(grid.shape), np.empty(grid.shape)
    x0, y0 = grid.origin_mm
    ring = np.ascontiguousarray(face_ring(slab, face, rules), dtype=float)
    signed_distance(ring, x0, y0, grid.step_mm, reach_mm, out)
    for flaw in flaws_of(slab, face, rules):
        for hole in flaw_rings(flaw):
            signed_distance(hole, x0, y0, grid.step_mm, reach_mm, other)
            np.minimum(out, -other, out=out)
    out.flags.writeable = False
    return SoundRaster(grid, out, reach_mm)
