"""What the builder states in ``vessel.toml``: the vessel, her lines, her framing and timbers.

A field's name carries its unit; the key in the file is its alias. Lengths are read in any
notation of :mod:`futtock.measure`; a bare number is in the unit of ``[lines] unit``. What a
plain value may state, a list of tables may state along the vessel; inside it is always the list.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag

from futtock.measure import Style
from futtock.vessel.quantities import (
    Angle,
    HeightOrName,
    Length,
    NotNegative,
    Percent,
    Positive,
    Section,
    one_as_list,
)
from futtock.vessel.workshop import Bedding, Enough, Layout, Moulds, Planer, Saw, Treenails, Yard


class About(Section):
    """``[vessel]``: her name, and how lengths are shown."""

    name: str = Field("", max_length=80)
    show: Style = "imperial"
    note: str = ""


class Lines(Section):
    """``[lines]``: where the lines come from and what the figures mean."""

    offsets: str | None = None
    points: str | None = None
    ends: str | None = None
    unit: Literal["mm", "cm", "m", "in", "ft"] = "mm"
    surface: Literal["outside", "inside"] = "outside"
    tolerance_mm: Positive = Field(1.5875, alias="tolerance")
    waterline_mm: Length | None = Field(None, alias="waterline")


class DiagonalPlane(Section):
    """One of ``[diagonals]``: height on the centreline; slope negative if it falls outboard."""

    height_mm: Length = Field(alias="height")
    slope_deg: Angle


class Zone(Section):
    """A part of a standing hull kept as found, between two stations' x and two heights.

    Each side is kept as it was found; ``side`` names one where only that one stays.
    """

    name: str = ""
    from_mm: Length = Field(alias="from")
    to_mm: Length = Field(alias="to")
    low_mm: Length | None = Field(None, alias="low")
    high_mm: Length | None = Field(None, alias="high")
    side: Literal["both", "port", "starboard"] = "both"


class Restore(Section):
    """``[restore]``: what is taken out of a worn hull, and what is left as found."""

    hog: bool = True
    bend: bool = True
    twist: bool = True
    keel: tuple[tuple[Length, Length], ...] = ()
    neutral_axis_mm: Length | None = Field(None, alias="neutral_axis")
    trust: Literal["both", "port", "starboard"] = "both"
    blend_mm: NotNegative = Field(600.0, alias="blend")
    as_found: tuple[Zone, ...] = ()


class Strake(Section):
    """Planking of another thickness: girth from the rabbet, or downwards from the sheer."""

    name: str = ""
    thickness_mm: Positive = Field(alias="thickness")
    of: Literal["rabbet", "sheer"] = "rabbet"
    from_mm: NotNegative = Field(0.0, alias="from")
    to_mm: Positive = Field(alias="to")


class Planking(Section):
    """``[planking]``: thickness, and the strakes that differ."""

    thickness_mm: Positive = Field(alias="thickness")
    strakes: tuple[Strake, ...] = ()


class Spacing(Section):
    """Room and space from x aft (``from`` absent: from the first frame)."""

    from_mm: Length | None = Field(None, alias="from")
    spacing_mm: Positive = Field(alias="spacing")


class Sided(Section):
    """Sided size of one layer from a frame number aft."""

    from_frame: int = Field(1, alias="from", ge=1)
    sided_mm: Positive = Field(alias="sided")


class MouldedPoint(Section):
    """Moulded size at a share of the girth from heel (0) to head (1)."""

    at: float = Field(ge=0, le=1)
    moulded_mm: Positive = Field(alias="moulded")


class Moulded(Section):
    """Moulded size by girth, straight-line between its points."""

    heel_mm: Positive = Field(alias="heel")
    head_mm: Positive = Field(alias="head")
    points: tuple[MouldedPoint, ...] = ()

    def table(self) -> tuple[tuple[float, float], ...]:
        """(share of girth, moulded mm) in order, from heel (0.0) to head (1.0)."""
        inner = sorted((p.at, p.moulded_mm) for p in self.points if 0 < p.at < 1)
        return ((0.0, self.heel_mm), *inner, (1.0, self.head_mm))


class Cant(Section):
    """A frame turned in plan; positive where its outer end swings forward."""

    frame: int = Field(ge=1)
    angle_deg: Angle


class AddedFrame(Section):
    """A frame beside those of the room and space."""

    x_mm: Length = Field(alias="x")
    angle_deg: Angle = 0.0
    half: bool = False


def _constant_moulded(value: Any) -> Any:
    return value if isinstance(value, dict) else {"heel": value, "head": value}


def _listed(value: Any) -> str:
    return "word" if isinstance(value, str) else "list"


Cants = Annotated[
    Annotated[Literal["none", "propose"], Tag("word")] | Annotated[tuple[Cant, ...], Tag("list")],
    Discriminator(_listed),
]
HalfFrames = Annotated[
    Annotated[Literal["none", "propose"], Tag("word")]
    | Annotated[tuple[Annotated[int, Field(ge=1)], ...], Tag("list")],
    Discriminator(_listed),
]


class Framing(Section):
    """``[framing]``: where the frames stand and how large they are."""

    first_mm: Length = Field(alias="first")
    room_and_space: Annotated[tuple[Spacing, ...], one_as_list("spacing")] = Field(min_length=1)
    count: int | None = Field(None, ge=1, le=500)
    sided: Annotated[tuple[Sided, ...], one_as_list("sided")] = Field(min_length=1)
    moulded: Annotated[Moulded, BeforeValidator(_constant_moulded)]
    heads: HeightOrName = "sheer"
    floors: Literal["separate", "in frame"] = "separate"
    floor_layer: Literal["f", "a"] = "f"
    omit: tuple[Annotated[int, Field(ge=1)], ...] = ()
    add: tuple[AddedFrame, ...] = ()
    half: HalfFrames = "none"
    cants: Cants = "propose"
    largest_bevel_deg: float = Field(25.0, gt=0, lt=90)
    heel_gap_mm: NotNegative = Field(152.4, alias="heel_gap")
    stand: Literal["base", "keel"] = "base"
    declivity_deg: Angle = 0.0
    head_over_mm: NotNegative = Field(0.0, alias="head_over")
    heel_over_mm: NotNegative = Field(0.0, alias="heel_over")
    full_mm: NotNegative = Field(0.0, alias="full")
    inner: Literal["bevelled", "square"] = "bevelled"
    inner_round_mm: NotNegative = Field(12.0, alias="inner_round")
    sirmarks: tuple[str, ...] = ()
    levels_mm: tuple[Length, ...] = Field((), alias="levels")
    cross_spall_mm: Length | None = Field(None, alias="cross_spall")

    @property
    def spacing_mm(self) -> float:
        """Room and space where it starts."""
        return self.room_and_space[0].spacing_mm

    def sided_of_mm(self, frame: int) -> float:
        """Sided size of one layer of this frame."""
        begun = [s for s in self.sided if s.from_frame <= frame]
        return max(begun, key=lambda s: s.from_frame).sided_mm if begun else self.sided[0].sided_mm


class Heels(Section):
    """``[heels]``: how the heels stand on keel or deadwood."""

    depth_mm: NotNegative = Field(0.0, alias="depth")
    keel_siding_mm: Positive | None = Field(None, alias="keel_siding")
    setting_in_mm: NotNegative = Field(0.0, alias="setting_in")
    clearance_mm: NotNegative = Field(1.5875, alias="clearance")
    sawn: Literal["after assembly", "with the timber"] = "after assembly"
    limber_wide_mm: NotNegative = Field(50.8, alias="limber_wide")
    limber_high_mm: NotNegative = Field(31.75, alias="limber_high")
    bolt_mm: NotNegative = Field(19.05, alias="bolt")


class Futtocks(Section):
    """``[futtocks]``: how a layer is divided into timbers."""

    longest_mm: Positive = Field(1828.8, alias="longest")
    shortest_mm: NotNegative = Field(457.2, alias="shortest")
    butt_shift_mm: NotNegative = Field(355.6, alias="butt_shift")
    butt_aim: Literal["middle", "any"] = "middle"
    next_frame_shift_mm: NotNegative = Field(76.2, alias="next_frame_shift")
    grain: Literal["straight", "crooks"] = "straight"


class Timber(Section):
    """``[timber]``: the wood of the frames and how it is roughed out.

    A sound tight knot up to ``sound_knots`` wide may stay where all of it lies within
    ``knots_within`` of the moulded depth from the middle line. ``sapwood`` names the species whose
    sapwood may be used, or allows all.
    """

    species: str = "white oak"
    rough_mm: Positive | None = Field(None, alias="rough")
    grain_slope: float = Field(10.0, ge=1, le=1000)
    grain_slope_butts: float | None = Field(None, ge=1, le=1000)
    kerf_mm: NotNegative = Field(6.35, alias="kerf")
    rough_allowance_mm: NotNegative = Field(0.0, alias="rough_allowance")
    moisture_percent: Percent = 15.0
    rough_moisture_percent: Percent | None = None
    sawn: Literal["flat", "quarter", "not known"] = "not known"
    density_kg_m3: float | None = Field(None, gt=0)
    sound_knots_mm: NotNegative = Field(0.0, alias="sound_knots")
    knots_within: float = Field(0.25, ge=0, le=0.5)
    sapwood: Literal["never", "allowed"] | tuple[str, ...] = "never"


class Vessel(Section):
    """The whole of ``vessel.toml``; sections that must be stated are None where they are not."""

    about: About = Field(default_factory=About, alias="vessel")
    lines: Lines = Field(default_factory=Lines)
    diagonals: dict[str, DiagonalPlane] = Field(default_factory=dict)
    restore: Restore | None = None
    planking: Planking | None = None
    framing: Framing | None = None
    heels: Heels = Field(default_factory=Heels)
    futtocks: Futtocks = Field(default_factory=Futtocks)
    timber: Timber = Field(default_factory=Timber)
    treenails: Treenails = Field(default_factory=Treenails)
    bedding: Bedding = Field(default_factory=Bedding)
    saw: Saw = Field(default_factory=Saw)
    planer: Planer = Field(default_factory=Planer)
    moulds: Moulds = Field(default_factory=Moulds)
    layout: Layout = Field(default_factory=Layout)
    enough: Enough = Field(default_factory=Enough)
    yard: Yard = Field(default_factory=Yard)

    @property
    def name(self) -> str:
        """Her name, or words that stand for it."""
        return self.about.name or "the vessel"

    @property
    def show(self) -> Style:
        """How lengths are shown."""
        return self.about.show
