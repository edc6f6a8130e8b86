"""What the builder states about the workshop: fastenings, saw, moulds, layout and the yard."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from futtock.vessel.quantities import (
    Angle,
    Diameters,
    Length,
    NotNegative,
    Percent,
    Positive,
    Section,
    Stretch,
    in_mm,
)

Day = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]


class PlankZone(Section):
    """Planking fastenings of another depth: girth on the joint face from the heel."""

    name: str = ""
    from_mm: NotNegative = Field(0.0, alias="from")
    to_mm: Positive = Field(alias="to")
    depth_mm: NotNegative = Field(alias="depth")


class Treenails(Section):
    """``[treenails]``: the fastening of the two layers.

    ``spacing``, ``edge`` and ``end`` are lengths or multiples of the diameter (``"2.5 d"``); None
    leaves them to the rule that the bench offers. ``plank_fastening`` is the depth that the
    planking's own fastenings take from the outer edge. ``shear_kpa`` is the yard's own figure for
    the strength of its treenails across the grain; none is made up.
    """

    species: str = "osage orange"
    diameter_mm: Positive = Field(19.05, alias="diameter")
    spacing: Diameters | None = None
    edge: Diameters | None = None
    end: Diameters | None = None
    rows: Literal["one", "two", "staggered"] = "staggered"
    least: int = Field(2, ge=0, le=20)
    proud_mm: NotNegative = Field(25.4, alias="proud")
    drift_mm: NotNegative = Field(0.79375, alias="drift")
    moisture_percent: Percent = 8.0
    spoil_percent: Percent = 10.0
    wedges: int = Field(2, ge=0, le=4)
    length_step_mm: Positive = Field(12.7, alias="length_step")
    sirmark_clear_mm: NotNegative = Field(0.0, alias="sirmark_clear")
    heel_clear_mm: NotNegative = Field(0.0, alias="heel_clear")
    head_clear_mm: NotNegative = Field(0.0, alias="head_clear")
    plank_fastening_mm: NotNegative = Field(0.0, alias="plank_fastening")
    plank_zones: tuple[PlankZone, ...] = ()
    clear: tuple[tuple[Length, Length], ...] = ()
    shear_kpa: float | None = Field(None, gt=0)

    @property
    def spacing_mm(self) -> float | None:
        """Spacing along the girth, or None."""
        return in_mm(self.spacing, self.diameter_mm)

    @property
    def edge_mm(self) -> float | None:
        """Least distance from a hole's centre to an edge, or None."""
        return in_mm(self.edge, self.diameter_mm)

    @property
    def end_mm(self) -> float | None:
        """Least distance from a hole's centre to a butt or an end, or None."""
        return in_mm(self.end, self.diameter_mm)


class Bedding(Section):
    """``[bedding]``: what the layers are bedded in."""

    compound: str = "bedding compound"
    coverage_m2_per_litre: float = Field(1.5, gt=0)


class TrialCut(Section):
    """One cut of the saw's test piece: scale read, angle measured (left positive), way cranked."""

    read_deg: Angle = Field(alias="read")
    true_deg: Angle = Field(alias="true")
    going: Literal["left", "right"]


class Saw(Section):
    """``[saw]``: the bandsaw with a tilting head, and what its test piece has shown.

    Where the cuts of the test piece are stated (``trial``), zero, scale and backlash come from
    them. ``tilt_axis`` is the height of the tilting axis above the table, negative below it.
    """

    blade_width_mm: Positive = Field(31.75, alias="blade_width")
    blade_set_mm: NotNegative = Field(0.635, alias="blade_set")
    blades: tuple[Positive, ...] = ()
    head_left_deg: float = Field(45.0, ge=0, le=90)
    head_right_deg: float = Field(45.0, ge=0, le=90)
    turns_per_degree: float | None = Field(None, gt=0)
    turns_a_minute: float | None = Field(None, gt=0)
    crank_from: Literal["out", "feed", "left", "right"] = "out"
    mark_spacing_mm: Positive = Field(152.4, alias="mark_spacing")
    step: Literal["quarter", "half"] = "quarter"
    feed: Literal["heel first", "head first", "one hand"] = "heel first"
    feed_mm_per_minute: float | None = Field(None, gt=0)
    hand: Literal["left", "right"] = "left"
    tilt_axis_mm: Length = Field(0.0, alias="tilt_axis")
    zero_deg: Angle = 0.0
    scale: float = Field(1.0, gt=0.5, lt=2)
    backlash_deg: float = Field(0.0, ge=0, le=10)
    trial: tuple[TrialCut, ...] = ()

    @property
    def step_deg(self) -> float:
        """The step in which angles are written."""
        return 0.25 if self.step == "quarter" else 0.5


class Planer(Section):
    """``[planer]``: passes of planer or sled and thicknesser, what they take, and their time.

    ``clean`` comes off each face beyond its hollows. Without stated times they are learned from the
    journal's own entries of planing.
    """

    first_pass_mm: Positive = Field(1.5, alias="first_pass")
    second_pass_mm: Positive = Field(2.0, alias="second_pass")
    finish_pass_mm: Positive = Field(0.5, alias="finish_pass")
    clean_mm: NotNegative = Field(0.5, alias="clean")
    minutes_per_m2: float | None = Field(None, gt=0)
    setting_minutes: float | None = Field(None, ge=0)


class Moulds(Section):
    """``[moulds]``: patterns, their paper and how far a printer stretches it."""

    up: Literal["joint", "forward", "aft"] = "joint"
    paper: Literal["A4", "A3", "Letter", "Tabloid"] = "A4"
    roll_mm: Positive = Field(914.4, alias="roll")
    stretch: tuple[Stretch, Stretch] = (1.0, 1.0)
    font: str | None = None
    doubt_shown_mm: NotNegative = Field(1.5875, alias="doubt_shown")


class Weights(Section):
    """What matters in a layout: each from 0, not at all, to 3, very much."""

    little_timber: float = Field(1.0, ge=0, le=3)
    straight_grain: float = Field(1.0, ge=0, le=3)
    save_crooks: float = Field(0.0, ge=0, le=3)
    few_slabs: float = Field(0.0, ge=0, le=3)


class Layout(Section):
    """``[layout]``: how the pile is searched, and the relaxations that are off unless asked for."""

    seconds: float = Field(20.0, gt=0)
    seed: int = Field(0, ge=0)
    guard_mm: NotNegative = Field(1.0, alias="guard")
    keep_for_later: tuple[str, ...] = ()
    forbid: tuple[str, ...] = ()
    forbid_pairs: tuple[tuple[str, str], ...] = ()
    prefer_stacks: tuple[str, ...] = ()
    weights: Weights = Field(default_factory=Weights)
    wane_mm: NotNegative = Field(0.0, alias="wane")
    plane_off_mm: NotNegative = Field(0.0, alias="plane_off")


class Enough(Section):
    """``[enough]``: what is lost between the pile and the frame, and how sure one wants to be."""

    spoilage_percent: Percent = 5.0
    drying_percent: Percent = 2.0
    replicates: int = Field(200, ge=20, le=100_000)
    chance_percent: Annotated[float, Field(gt=0, lt=100)] = 90.0


def _three_letters(value: Any) -> Any:
    return value.strip().lower()[:3] if isinstance(value, str) else value


class Yard(Section):
    """``[yard]``: people, machines and days; priors of the forecast until there is experience.

    ``hours`` gives hours of work per timber (or per frame, from ``dry-fitted`` on) by stage.
    Where ``dry_to_percent`` is stated no slab is roughed out before it has dried so far in the
    shed's air (its temperature and humidity, by which is known where its moisture ends).
    """

    journal: str | None = None
    people: int = Field(2, ge=1, le=50)
    machines: dict[str, Annotated[int, Field(ge=0, le=50)]] = Field(
        default_factory=lambda: {"tilting saw": 1, "planer": 1}
    )
    days: tuple[Annotated[Day, BeforeValidator(_three_letters)], ...] = Field(
        ("mon", "tue", "wed", "thu", "fri"), min_length=1
    )
    hours_a_day: float = Field(7.0, gt=0, le=24)
    holidays: tuple[date, ...] = ()
    start: date | None = None
    pace: Literal["machines", "by hand"] = "machines"
    hours: dict[str, Annotated[float, Field(gt=0)]] = Field(default_factory=dict)
    spoilage_percent: Percent = 5.0
    rest_days: float = Field(2.0, ge=0)
    learning_frames: int = Field(5, ge=0)
    out_at_once: int | None = Field(None, ge=1)
    control_every: int = Field(4, ge=1)
    dry_to_percent: float | None = Field(None, gt=0, le=300)
    air_temperature_c: float = Field(10.0, ge=-20, le=60)
    air_humidity_percent: float = Field(75.0, ge=0, lt=100)
