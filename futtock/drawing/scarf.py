"""A scarf drawn to be cut: the joint from the side, its bolts from above, and its cautions."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from futtock.bench.cautions import cautions
from futtock.bench.scarf import Scarf
from futtock.drawing.figures import close_length, degrees
from futtock.drawing.heading import Heading, Scale, room_on, scale_to_fit, titled
from futtock.drawing.signs import dimension
from futtock.sheet.items import Arc, Face, Group, Item, Text, path
from futtock.sheet.labels import Labels
from futtock.sheet.letters import width_mm, wrapped
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BEHIND, CENTRE, EDGE, SEEN, THIN, Tone

Array = NDArray[np.float64]

_WORDS_MM = 78.0  # height kept for the figures and cautions under the drawing
_ROUND_MM = 64.0  # what dimensions, titles and the gap between the views take of the height


def scarf_drawing(made: Scarf, heading: Heading) -> Sheet:
    """One lying A3: the scarf from the side and from above, to scale, with what must be said.

    Parameters
    ----------
    made
        A scarf set out. The old piece is drawn to the left, as in its own axes.
    heading
        Vessel, date and how lengths are lettered.
    """
    s = made.settings
    room = room_on("A3")
    reach = -float(made.old_mm[:, 0].min())
    real = (s.long_mm + 2 * reach, s.depth_mm + s.width_mm)
    scale = scale_to_fit(real, (room[0] - 50.0, room[1] - _WORDS_MM - _ROUND_MM), heading.show)
    r = scale.ratio
    labels = Labels(0.5)
    foot = -(s.width_mm / r) - 34.0  # the plan's lower side, under the side view's underside at 0
    side = _side(made, r, heading, labels)
    plan = _plan(made, r, foot, heading)
    words = _words(made, heading, (-reach / r - 14.0, foot - 18.0), room[0] - 4.0)
    return titled(
        f"scarf-{s.member}",
        [
            Group(tuple(side), name="side", kind="scarf"),
            Group(tuple(plan), name="plan", kind="scarf"),
            *words,
        ],
        heading,
        f"{s.form} scarf, {s.member}".capitalize(),
        Scale(r, scale.words),
        paper="A3",
        about=(
            f"A {s.form} scarf of a {s.member}, {close_length(s.long_mm, heading.show)} long in"
            f" {close_length(s.depth_mm, heading.show)} of depth: {made.says}"
        ),
        notes=["Mark from the figures, not from the print; try the joint before boring."],
    )


def _side(made: Scarf, r: float, heading: Heading, labels: Labels) -> list[Item]:
    """The joint from the side, its underside at y = 0, x from the scarf's start."""
    s = made.settings
    long, depth, nib = s.long_mm / r, s.depth_mm / r, s.nib_deep_mm / r
    show = heading.show
    reach = -float(made.old_mm[:, 0].min()) / r
    out: list[Item] = [
        path(made.old_mm / r, None, True, Tone.OAK, layer="OLD"),
        path([(-reach, 0), (long + reach, 0)], SEEN, layer="EDGE"),
        path([(-reach, depth), (long + reach, depth)], SEEN, layer="EDGE"),
        *_broken(-reach, 0.0, depth),
        *_broken(long + reach, 0.0, depth),
        path(made.joint_mm / r, SEEN, layer="JOINT"),
        Text("From the side", (-reach, depth + 20.0), 3.6, Face.WORDS_BOLD),
    ]
    d = s.bolt_diameter_mm / r
    for bolt in made.bolts:
        x = bolt.x_mm / r
        out += [
            path([(edge, 0.0), (edge, depth)], BEHIND, layer="BOLTS")
            for edge in (x - d / 2, x + d / 2)
        ]
        out.append(path([(x, -3.0), (x, depth + 3.0)], CENTRE, layer="BOLTS"))
    if s.rabbet_mm is not None:
        z = s.rabbet_mm / r
        out.append(path([(-reach, z), (long + reach, z)], THIN, layer="RABBET"))
        out.append(
            Text("rabbet's middle", (-reach + 1.0, z + 0.8), 2.6, tone=Tone.PENCIL, halo=Tone.OAK)
        )
    labels.keep_off_items(out)
    if made.key is not None:
        out += _key(made, r, heading, labels)
    for x, y in made.stopwaters_mm:
        at = (x / r, y / r)
        radius = max(s.stopwater_mm / 2 / r, 0.8)
        out.append(Arc(at, radius, SEEN, Tone.WHITE, layer="STOPWATER"))
        labels.taken((at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius))
        said = Text(f"stopwater {close_length(s.stopwater_mm, show)}", at, 2.8, halo=Tone.WHITE)
        out += labels.beside(said, at, -60.0, fan_deg=(0, 40, -60, 90, 150, 200))
    for name, x, part in (
        ("old piece", -reach * 0.5, reach),
        ("new piece", long + reach * 0.5, reach),
    ):
        said = Text(name, (x, depth / 2), 3.2, Face.FIGURES_BOLD, "middle", "middle")
        inside = width_mm(name, 3.2, Face.FIGURES_BOLD) < part - 6.0 and depth > 14.0
        spots = [(x, depth * f) for f in (0.8, 0.2)] if inside else [(x, -5.0)]
        out.append(labels.place(said, spots))
    over = depth + 12.0
    out += _drop((0.0, depth), over) + _drop((long, depth), over)
    out += dimension((0.0, over), (long, over), f"{close_length(s.long_mm, show)}, {_ratio(made)}")
    left = -reach - 8.0
    out += dimension((left, 0.0), (left, depth), close_length(s.depth_mm, show))
    if nib > 0:
        x = long + reach + 8.0
        out += [
            path([(long, depth - nib), (x + 1, depth - nib)], THIN),
            path([(long + reach, depth), (x + 1, depth)], THIN),
        ]
        out += _small_dimension(
            (x, depth - nib), (x, depth), "nib " + close_length(s.nib_deep_mm, show)
        )
    return out


def _ratio(made: Scarf) -> str:
    return f"{made.ratio:.3g} to 1"


def _key(made: Scarf, r: float, heading: Heading, labels: Labels) -> list[Item]:
    key = made.key
    assert key is not None
    t = np.radians(key.turn_deg)
    u = np.array([np.cos(t), np.sin(t)])
    v = np.array([-u[1], u[0]])
    c = np.asarray(key.at_mm) / r
    h = key.side_mm / 2 / r
    ring = [c - h * u - h * v, c + h * u - h * v, c + h * u + h * v, c - h * u + h * v]
    square = path(ring, SEEN, True, Tone.OAK_DEEP, layer="KEY")
    said = Text(
        f"key {close_length(key.side_mm, heading.show)} square", (0, 0), 2.8, halo=Tone.WHITE
    )
    at = c + v * h
    return [
        square,
        *labels.beside(
            said,
            (float(at[0]), float(at[1])),
            90.0,
            fan_deg=(0.0, 20.0, -20.0, 40.0, -40.0, 180.0, 150.0),
        ),
    ]


def _plan(made: Scarf, r: float, foot: float, heading: Heading) -> list[Item]:
    """The scarf from above: bolts in their stagger, nibs, key."""
    s = made.settings
    show = heading.show
    long, wide = s.long_mm / r, s.width_mm / r
    reach = -float(made.old_mm[:, 0].min()) / r
    mid, top = foot + wide / 2, foot + wide
    out: list[Item] = [
        path([(-reach, foot), (long + reach, foot)], SEEN, layer="EDGE"),
        path([(-reach, top), (long + reach, top)], SEEN, layer="EDGE"),
        *_broken(-reach, foot, top),
        *_broken(long + reach, foot, top),
        path([(-reach - 4, mid), (long + reach + 4, mid)], CENTRE, layer="CENTRE"),
        path([(long, foot), (long, top)], SEEN, layer="NIB"),
        path([(0.0, foot), (0.0, top)], BEHIND, layer="NIB"),
        Text("From above", (-reach, top + 8.0), 3.6, Face.WORDS_BOLD),
    ]
    if made.key is not None:
        t = np.radians(made.key.turn_deg)
        h = made.key.side_mm / 2 / r * (np.cos(t) + np.sin(t))
        x = made.key.at_mm[0] / r
        out += [path([(e, foot), (e, top)], BEHIND, layer="KEY") for e in (x - h, x + h)]
    radius = s.bolt_diameter_mm / 2 / r
    for bolt in made.bolts:
        x, y = bolt.x_mm / r, mid + bolt.across_mm / r
        arm = radius + 1.6
        out += [
            Arc((x, y), radius, SEEN, Tone.WHITE, layer="BOLTS"),
            path([(x - arm, y), (x + arm, y)], THIN, layer="BOLTS"),
            path([(x, y - arm), (x, y + arm)], THIN, layer="BOLTS"),
        ]
    left = -reach - 8.0
    out += dimension((left, foot), (left, top), close_length(s.width_mm, show))
    if made.bolts:
        out += _bolt_dimensions(made, r, foot, heading)
        aside = abs(made.bolts[0].across_mm)
        if aside > 0:
            right = long + reach + 8.0
            y = mid + aside / r
            out += [path([(made.bolts[-1].x_mm / r, y), (right + 1, y)], THIN)]
            out += _small_dimension((right, mid), (right, y), close_length(aside, show))
    return out


def _bolt_dimensions(made: Scarf, r: float, foot: float, heading: Heading) -> list[Item]:
    """A chain of dimensions from nib to nib by way of the bolts, where its figures have room."""
    stops = [0.0, *(b.x_mm for b in made.bolts), made.settings.long_mm]
    level = foot - 8.0
    out: list[Item] = [
        path([(x / r, foot - 1.0), (x / r, level - 1.0)], THIN, layer="DIMENSION") for x in stops
    ]
    for k, (a, b) in enumerate(pairwise(stops)):
        said = close_length(b - a, heading.show)
        narrow = (b - a) / r < 1.9 * len(said)
        out += dimension(
            (a / r, level), (b / r, level), said, lift_mm=-4.0 if narrow and k % 2 else 1.0,
            size_mm=2.4,
        )  # fmt: skip
    return out


def _drop(at: tuple[float, float], to: float) -> list[Item]:
    return [path([(at[0], at[1] + 1.0), (at[0], to + 1.0)], THIN, layer="DIMENSION")]


def _small_dimension(a: tuple[float, float], b: tuple[float, float], words: str) -> list[Item]:
    """An upright dimension too short for its figure: the figure stands beside it."""
    return [
        *dimension(a, b, ""),
        Text(words, (a[0] + 2.0, (a[1] + b[1]) / 2), 2.8, rise="middle"),
    ]


def _broken(x: float, low: float, high: float) -> list[Item]:
    """The mark of a member that goes on: a line with a kink."""
    mid, k = (low + high) / 2, min((high - low) / 6, 2.5)
    line = [
        (x, low - 1.5), (x, mid - k), (x - k, mid - k / 3), (x + k, mid + k / 3), (x, mid + k),
        (x, high + 1.5),
    ]  # fmt: skip
    return [path(line, EDGE, layer="BREAK")]


def _words(made: Scarf, heading: Heading, at: tuple[float, float], width: float) -> list[Item]:
    """Two columns under the views: the scarf's figures and rules; strength and cautions."""
    s = made.settings
    show = heading.show
    gap = 8.0
    column = (width - gap) / 2
    x, y = at
    bolts = (
        f"{len(made.bolts)} bolts of {close_length(s.bolt_diameter_mm, show)}, grip"
        f" {close_length(made.bolts[0].grip_mm, show)}, two rows about the middle."
        if made.bolts and made.bolts[0].across_mm
        else f"{len(made.bolts)} bolts of {close_length(s.bolt_diameter_mm, show)}, grip"
        f" {close_length(made.bolts[0].grip_mm, show)}, in one row."
        if made.bolts
        else "No bolts."
    )
    left: list[tuple[str, Face]] = [
        (made.says, Face.WORDS_BOLD),
        (
            f"New piece {close_length(made.new_piece_mm, show)} long over all; it adds"
            f" {close_length(s.adds_mm, show)}. {bolts}",
            Face.WORDS,
        ),
        *([_key_words(made, heading)] if made.key else []),
        *(
            (
                f"Stopwater {close_length(px, show)} from the scarf's start,"
                f" {close_length(py, show)} above the underside.",
                Face.WORDS,
            )
            for px, py in made.stopwaters_mm
        ),
        (made.grain, Face.WORDS),
        *((f.message, Face.WORDS_BOLD) for f in made.findings),
    ]
    rules = [
        (
            f"{'Meets' if c.meets else 'Misses'} {c.least:g} to 1 of {c.code}: {c.says}"
            f" ({c.source}).",
            Face.WORDS,
        )
        for c in made.checks
    ]
    right = [
        *((text, Face.WORDS) for text in made.strength),
        *((c.text, Face.WORDS_BOLD) for c in cautions("scarf")),
    ]
    out = _column("Figures", left, (x, y), column)
    out += _column(
        "Published ratios, strength and cautions", [*rules, *right], (x + column + gap, y), column
    )
    return out


def _key_words(made: Scarf, heading: Heading) -> tuple[str, Face]:
    key = made.key
    assert key is not None
    show = heading.show
    return (
        f"Key {close_length(key.side_mm, show)} along the joint and as deep, half in each piece,"
        f" sloped {degrees(key.turn_deg)} with the joint; {close_length(key.shear_mm, show)} of"
        " wood to the nib behind it.",
        Face.WORDS,
    )


def _column(
    title: str, lines: list[tuple[str, Face]], at: tuple[float, float], width: float
) -> list[Item]:
    x, y = at
    out: list[Item] = [Text(title, (x, y), 3.2, Face.WORDS_BOLD)]
    y -= 1.0
    for words, face in lines:
        for k, piece in enumerate(wrapped(words, 2.7, face, width - 3.0)):
            y -= 3.7
            out.append(Text(piece, (x + (0.0 if k == 0 else 3.0), y), 2.7, face))
    return out
