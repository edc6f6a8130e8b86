"""A photograph to a slab: cards, plane, portrait, outline, grain, flaws, and what was noticed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding, Kind
from futtock.progress import Progress, Report, quiet
from futtock.stock import kinds
from futtock.stock.grain import GrainRaster
from futtock.stock.outline import anticlockwise, middle_line
from futtock.stock.photo.band import straightened
from futtock.stock.photo.blemish import Proposed, propose_checks, propose_knots
from futtock.stock.photo.cards import (
    Card,
    Edges,
    card_edges,
    drawn_to_edges,
    find_cards,
    linear_light,
)
from futtock.stock.photo.correction import Marks
from futtock.stock.photo.decode import open_picture
from futtock.stock.photo.edge import Face, find_face
from futtock.stock.photo.figure import seen_grain, smoothed, traced
from futtock.stock.photo.lens import Lens
from futtock.stock.photo.lying import Lie, cards_beside, where_they_lie
from futtock.stock.photo.plane import Adjusted, Plane, adjust
from futtock.stock.photo.portrait import Portrait, ground_seen, rectified
from futtock.stock.photo.rot import propose_rot
from futtock.stock.photo.rough import rough_face, seem_beside
from futtock.stock.slab import Flaw, Slab

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]

_OVERVIEW_MM = 8.0
_REACH_MM = 1500.0
_ROUND_MM = 190.0
_BLURRED_PX = 3.1  # from quarter to three quarters of an edge
_OFF_MM = 1.2  # of one card's edges, against those of the others
_TAPE_OFF = 0.01
_COARSE_MM = 2.5
_PROPOSED = 0.5
_SEEN_SHARE = 0.3


@dataclass(frozen=True, slots=True)
class PhotoSettings:
    """What a person says of a photograph.

    Attributes
    ----------
    taped
        Distances in mm between the middles of two cards, by their numbers.
    lie
        Where the cards lie: on the slab's ``face`` or on the ``floor``.
    thickness_mm, height_mm
        With cards on the floor: how far the face stands above it, and the camera's height above
        it; without the height it is estimated from the picture.
    accept
        Take what is proposed as decided, with a confidence of at least ``sure``.
    sure
        Least confidence of a proposal that is shown.
    portrait_mm
        Millimetres a pixel of the portrait.
    by_hand
        Corners (4, 2) of cards' black squares set by hand, in pixels of the upright picture,
        clockwise from the card's upper left, by number; they stand in for what is found, and
        need be right to a quarter of a cell (4 mm).
    lens
        The camera's lens where it was measured; used for pictures of its shape.
    """

    taped: Mapping[tuple[int, int], float] | None = None
    lie: Lie | None = None
    thickness_mm: float = 0.0
    height_mm: float | None = None
    accept: bool = False
    sure: float = _PROPOSED
    portrait_mm: float = 1.0
    by_hand: Mapping[int, Array] | None = None
    lens: Lens | None = None


@dataclass(frozen=True, slots=True)
class Photographed:
    """What a photograph gave of one face.

    ``face``, ``proposed`` and ``grain_mm`` are in the axes of the ``portrait`` and its ``plane``:
    x along the slab, y to its left. ``adjusted`` has axes of its own, those of one of the cards.
    ``grain_mm`` are the lines traced from ``seen``, where it is sure. ``cards_mm`` are the middles
    (2,) of the cards by number, plumb above where they lie, and ``beside`` the numbers of those
    that lie off the face.
    """

    portrait: Portrait
    plane: Plane
    adjusted: Adjusted
    face: Face
    proposed: tuple[Proposed, ...]
    seen: GrainRaster
    grain_mm: tuple[Array, ...]
    findings: tuple[Finding, ...]
    cards_mm: Mapping[int, Array]
    beside: tuple[int, ...]

    def marks(self, accept: bool = False) -> Marks:
        """Outlines, flaws and lines as they may be corrected; ``accept`` decides the proposals."""
        flaws = tuple(Flaw(p.kind, p.outline_mm, "top") for p in self.proposed)
        kept, open_ = (flaws, ()) if accept else ((), flaws)
        return Marks(self.face.whole_mm, self.face.sound_mm, kept, open_, self.grain_mm)


def photograph(
    content: bytes,
    settings: PhotoSettings | None = None,
    file: str = "photo",
    report: Report = quiet,
) -> Photographed:
    """Read one face of a slab from a picture file.

    Raises
    ------
    Unreadable
        With findings: the file cannot be opened, no card or one only, or no slab is found.
    """
    settings = settings or PhotoSettings()
    report(Progress("photograph", 0, 5, "opening the picture"))
    opened = open_picture(content, file)
    got = photographed(opened.picture, settings, file, report)
    return replace(got, findings=(*opened.findings, *got.findings))


def photographed(
    picture: Picture,
    settings: PhotoSettings | None = None,
    file: str = "photo",
    report: Report = quiet,
) -> Photographed:
    """The same from a picture (h, w, 3) already decoded, BGR, upright."""
    settings = settings or PhotoSettings()
    report(Progress("photograph", 1, 5, "finding the cards"))
    adjusted, findings = squared_up(picture, settings, file)
    size = (picture.shape[1], picture.shape[0])
    plane, centres, cards = _on_the_face(adjusted, settings, size, findings, file)
    report(Progress("photograph", 2, 5, "finding the slab"))
    low, high = ground_seen(plane, size, centres, _REACH_MM)
    overview = rectified(picture, plane, low, high, _OVERVIEW_MM)
    apart = settings.lie == "floor" or (settings.lie is None and seem_beside(overview, centres))
    rough = rough_face(overview, centres, apart)
    if rough is None:
        finding = kinds.FACE_NOT_FOUND.found("no slab is found under the cards.", file=file)
        raise Unreadable(finding.message, [*findings, finding])
    form = _along(rough)
    plane = plane.moved(form)
    turn = form[:2, :2]
    rough, cards = rough @ turn, [corners @ turn for corners in cards]
    portrait = rectified(
        picture, plane, rough.min(0) - _ROUND_MM, rough.max(0) + _ROUND_MM, settings.portrait_mm
    )
    report(Progress("photograph", 3, 5, "finding its edges"))
    face = find_face(straightened(portrait, anticlockwise(rough), cards))
    report(Progress("photograph", 4, 5, "reading its grain"))
    wood = bare_wood(portrait, face, cards)
    flaws = propose_knots(portrait, wood)
    flaws += propose_rot(portrait, wood, flaws)
    sure = [p for p in flaws if p.confidence >= settings.sure]
    seen = smoothed(
        seen_grain(portrait, wood, _covered(portrait, [p.outline_mm for p in sure], 1.25))
    )
    flaws += propose_checks(portrait, wood, seen, [p for p in flaws if p.kind == "knot"])
    proposed = tuple(p for p in flaws if p.confidence >= settings.sure)
    lines = traced(seen, face.whole_mm)
    findings += _noticed(portrait, face, proposed, seen, wood, settings, file)
    middles = {n: np.asarray(c @ turn, float) for n, c in adjusted.centres_mm.items()}
    beside, across = cards_beside(face.whole_mm, dict(zip(middles, cards, strict=True)))
    findings += where_they_lie(beside, across, len(middles), settings.lie, file)
    return Photographed(
        portrait, plane, adjusted, face, proposed, seen, lines, tuple(findings), middles, beside
    )


def photo_slab(
    name: str,
    species: str,
    thickness_mm: float,
    marks: Marks,
    bottom_mm: Array | None = None,
    face_bottom_mm: Array | None = None,
    **more: object,
) -> Slab:
    """The slab of a photographed face.

    Without a second face its bottom is taken as the sound outline of the top, which never claims
    wood that is not there where the slab widens downward, and is to be measured where it does not.
    """

    def ring(points: Array) -> Array:
        out = anticlockwise(np.round(points, 1))
        out.flags.writeable = False
        return out

    top = ring(marks.sound_mm)
    slab = Slab(
        name=name,
        species=species,
        thickness_mm=thickness_mm,
        moisture_percent=None,
        top_mm=top,
        bottom_mm=top if bottom_mm is None else ring(bottom_mm),
        grain_mm=marks.grain_mm,
        flaws=marks.flaws,
        face_top_mm=ring(marks.whole_mm),
        face_bottom_mm=None if face_bottom_mm is None else ring(face_bottom_mm),
    )
    return replace(slab, **more)  # type: ignore[arg-type]


def squared_up(
    picture: Picture, settings: PhotoSettings, file: str
) -> tuple[Adjusted, list[Finding]]:
    """The plane that the cards give, from a picture (h, w, 3), and what was noticed of them.

    Raises
    ------
    Unreadable
        With findings: no card is seen, or one only that can be used.
    """
    findings: list[Finding] = []

    def refuse(kind: Kind, said: str, read: str) -> Unreadable:
        found = kind.found(said, file=file, read=read, expected="4 cards or more")
        return Unreadable(said, [*findings, found])

    hand = dict(settings.by_hand or {})
    cards = [c for c in find_cards(picture) if c.number not in hand]
    cards += [Card(n, np.asarray(corners, float).reshape(4, 2)) for n, corners in hand.items()]
    cards.sort(key=lambda c: c.number)
    if not cards:
        raise refuse(kinds.CARDS_NONE, "no card is found in the picture.", "none")
    cards, twice = _single(cards)
    if twice:
        text = ", ".join(map(str, twice))
        said = f"card {text} is in the picture more than once; it is passed over."
        findings.append(kinds.CARDS_TWICE.found(said, file=file, read=text))
    light = linear_light(picture)
    cards = [drawn_to_edges(light, c) if c.number in hand else c for c in cards]
    pairs = [(card, card_edges(light, card)) for card in cards]
    good = [(card, edges) for card, edges in pairs if edges is not None]
    for number in sorted(set(hand) - {card.number for card, _ in good}):
        said = f"card {number} is not seen where its corners were set; it is passed over."
        findings.append(kinds.CARDS_DISAGREE.found(said, file=file, read=f"card {number}"))
    if len(good) < 2:
        one = f"card {good[0][0].number}" if good else "none"
        raise refuse(kinds.CARDS_ONE, "one card only can be used.", one)
    adjusted, off = _agreed(good, (picture.shape[1], picture.shape[0]), settings)
    for number in off:
        said = f"card {number} does not lie as the others say; it is passed over."
        findings.append(kinds.CARDS_DISAGREE.found(said, file=file, read=f"card {number}"))
    if len(adjusted.centres_mm) < 2:
        raise refuse(kinds.CARDS_ONE, "only one card agrees with itself.", "1")
    if len(adjusted.centres_mm) < 4:
        text = f"{len(adjusted.centres_mm)} cards"
        said = f"{text} carry the scale; the far end is less sure."
        findings.append(kinds.CARDS_FEW.found(said, file=file, read=text, expected="4 or more"))
    widest = max(edges.width_px for _, edges in good)
    if widest > _BLURRED_PX:
        text = f"edges {widest:.1f} pixels wide"
        said = f"the cards' edges are blurred over {widest:.0f} pixels."
        findings.append(kinds.PHOTO_BLURRED.found(said, file=file, read=text, expected="under 3"))
    if adjusted.taped_off is None:
        said = "the scale rests on the printed size of the cards alone."
        findings.append(kinds.CARDS_TAPE.found(said, file=file))
    elif abs(adjusted.taped_off) > _TAPE_OFF:
        text = f"{adjusted.taped_off:+.1%}"
        said = f"the taped distance is {text} of what the cards' printed size gives; it is used."
        findings.append(kinds.CARDS_TAPE_OFF.found(said, file=file, read=text, expected="1 %"))
    return adjusted, findings


def _single(cards: list[Card]) -> tuple[list[Card], list[int]]:
    numbers = [card.number for card in cards]
    twice = sorted({n for n in numbers if numbers.count(n) > 1})
    return [card for card in cards if card.number not in twice], twice


def _agreed(
    good: list[tuple[Card, Edges]], size: tuple[int, int], settings: PhotoSettings
) -> tuple[Adjusted, list[int]]:
    """The adjustment without the cards that do not fit it, and their numbers."""
    taped = dict(settings.taped or {})
    named = {n for pair in taped for n in pair}
    off: list[int] = []
    while True:
        held = [c for c, _ in good], [e for _, e in good], size, taped
        if settings.lens is not None and settings.lens.fits(size):
            known = settings.lens.coefficient, settings.lens.spread
            adjusted = adjust(*held, known)
        else:
            adjusted = adjust(*held)
        worst = max(adjusted.off_mm, key=lambda n: adjusted.off_mm[n])
        usual = float(np.median(list(adjusted.off_mm.values())))
        limit = max(_OFF_MM, 4.0 * usual)
        if adjusted.off_mm[worst] <= limit or len(good) <= 3 or worst in named:
            return adjusted, off
        off.append(worst)
        good = [(c, e) for c, e in good if c.number != worst]


def _on_the_face(
    adjusted: Adjusted,
    settings: PhotoSettings,
    size: tuple[int, int],
    findings: list[Finding],
    file: str,
) -> tuple[Plane, Array, list[Array]]:
    """The plane of the face itself, and the cards in it.

    With cards on the floor everything on the face lies nearer the camera by its height above the
    floor, and so looks larger by that over the camera's height.
    """
    centres = np.array(list(adjusted.centres_mm.values()))
    cards = list(adjusted.corners_mm.values())
    if settings.lie != "floor":
        return adjusted.plane, centres, cards
    height, foot = camera_over(adjusted.plane, size)
    height = settings.height_mm or height
    if not settings.height_mm:
        said = f"the camera is taken to be {height / 1000:.2f} m above the floor."
        findings.append(
            kinds.CARDS_FLOOR.found(said, file=file, remedy="Give its height if known.")
        )
    share = 1.0 - settings.thickness_mm / max(height, settings.thickness_mm + 1.0)
    # a point p of the face is seen where the floor's point foot + (p - foot) / share lies
    form = np.array(
        [
            [1 / share, 0, foot[0] * (1 - 1 / share)],
            [0, 1 / share, foot[1] * (1 - 1 / share)],
            [0, 0, 1.0],
        ]
    )
    return (
        adjusted.plane.moved(form),
        foot + (centres - foot) * share,
        [foot + (corners - foot) * share for corners in cards],
    )


def camera_over(plane: Plane, size: tuple[int, int]) -> tuple[float, Array]:
    """The camera's height above a plane and its foot on it (2,), in mm.

    Pixels are taken as square and the lens's axis as through the picture's middle; the focal
    length follows from the perspective, or is taken as 0.8 of the width where there is too little.
    """
    shift = np.array([[1, 0, -plane.centre_px[0]], [0, 1, -plane.centre_px[1]], [0, 0, 1.0]])
    h = shift @ plane.to_pixel
    a, b = h[:, 0], h[:, 1]
    # the two axes of the plane are square and of one length: two equations for 1 / f^2
    rows = np.array([a[0] * b[0] + a[1] * b[1], a[0] ** 2 + a[1] ** 2 - b[0] ** 2 - b[1] ** 2])
    ends = np.array([a[2] * b[2], a[2] ** 2 - b[2] ** 2])
    scale = float(np.hypot(*rows)) + 1e-30
    inverse = -float(rows @ ends) / scale**2
    guess = 0.8 * max(size)
    focal = 1.0 / np.sqrt(inverse) if inverse > 0 else guess
    if not 0.4 * max(size) < focal < 2.5 * max(size):
        focal = guess
    view = np.diag([1 / focal, 1 / focal, 1.0]) @ h
    view /= (np.linalg.norm(view[:, 0]) + np.linalg.norm(view[:, 1])) / 2.0
    if view[2, 2] < 0:
        view = -view
    x = view[:, 0] / np.linalg.norm(view[:, 0])
    y = view[:, 1] - x * (x @ view[:, 1])
    y /= np.linalg.norm(y)
    turn = np.column_stack([x, y, np.cross(x, y)])
    eye = -turn.T @ view[:, 2]
    return abs(float(eye[2])), eye[:2]


def _along(rough: Array) -> Array:
    """New axes for a ring: x along the slab, to the right as before."""
    line = middle_line(rough, 150.0)
    way = line[-1] - line[0]
    way = way if way[0] >= 0 else -way
    t = np.arctan2(way[1], way[0])
    c, s = np.cos(t), np.sin(t)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def bare_wood(portrait: Portrait, face: Face, cards: list[Array]) -> NDArray[np.bool_]:
    """Pixels of the portrait that show wood: well within the face, off the cards."""
    import cv2

    mask = _covered(portrait, [face.whole_mm], 1.0).astype(np.uint8)
    inner = cv2.erode(mask, np.ones((13, 13), np.uint8)) > 0
    return np.asarray(inner & ~_covered(portrait, cards, 1.12) & portrait.seen)


def _covered(portrait: Portrait, rings: list[Array], swell: float) -> NDArray[np.bool_]:
    import cv2

    mask = np.zeros(portrait.picture.shape[:2], np.uint8)
    for ring in rings:
        middle = (ring.max(0) + ring.min(0)) / 2.0
        pixels = portrait.pixels(middle + (ring - middle) * swell)
        cv2.fillPoly(mask, [np.rint(pixels).astype(np.int32)], 1)
    return mask > 0


def _noticed(
    portrait: Portrait,
    face: Face,
    proposed: tuple[Proposed, ...],
    seen: GrainRaster,
    wood: NDArray[np.bool_],
    settings: PhotoSettings,
    file: str,
) -> list[Finding]:
    out = []
    if face.cut:
        said = "the slab runs out of the picture."
        out.append(kinds.FACE_CUT.found(said, file=file))
    places = [("end", *at) for at in face.ends_doubted_mm]
    places += [("edge", *at) for at in face.doubt_mm[:8]]
    for part, x, y in places:
        text = f"({x:.0f}, {y:.0f}) mm"
        said = f"the {part} near {text} is not sure."
        out.append(kinds.FACE_DOUBTED.found(said, file=file, read=text))
    if not face.sapwood:
        said = "sapwood and heart are not told apart by colour."
        out.append(kinds.SAPWOOD_UNTOLD.found(said, file=file))
    if proposed and not settings.accept:
        many = {k: sum(p.kind == k for p in proposed) for k in sorted({p.kind for p in proposed})}
        text = ", ".join(f"{n} {k}{'s' if n > 1 else ''}" for k, n in many.items())
        out.append(
            kinds.FLAWS_PROPOSED.found(f"{text} proposed, none decided.", file=file, read=text)
        )
    step = max(1, round(seen.grid.step_mm / portrait.mm_per_px))
    on = wood[::step, ::step][::-1]
    sure = (
        float((seen.confidence[: on.shape[0], : on.shape[1]][on] > 0.45).mean())
        if on.any()
        else 0.0
    )
    if sure < _SEEN_SHARE:
        said = f"the grain is seen well on {sure:.0%} of the face."
        out.append(kinds.GRAIN_UNSURE.found(said, file=file, read=f"{sure:.0%}"))
    return out
