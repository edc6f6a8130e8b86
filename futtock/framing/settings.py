"""What the builder states about the framing, in millimetres and degrees.

The job fills these values from ``vessel.toml``; every default is common practice in small yards
(no source) and is meant to be changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from futtock.errors import Misused
from futtock.framing.strakes import Strake
from futtock.measure import Style
from futtock.vessel.smaller import Division


@dataclass(frozen=True, slots=True)
class FramingSettings:
    """The frame plan, the scantlings and the rules for dividing a frame.

    Attributes
    ----------
    first_mm, room_and_space_mm, count
        x of the first frame's joint face, distance from frame to frame, how many frames.
    spacing_changes
        ``(number, mm)``: from the frame of that number on, the distance to the next frame.
    left_out, added_mm
        Places of the regular plan without a frame (counted as the plan counts, from 1), and x of
        joint faces beyond it. Frames are numbered afresh, forward to aft.
    added_cants_deg, added_half
        Cants of the added frames, and whether they are half frames, in the order of ``added_mm``;
        square and whole where not given.
    sided_mm
        Thickness of one layer; ``sided_changes`` as ``(number, mm)`` from that frame on.
    moulded_mm
        ``(girth fraction, mm)``, heel 0 to head 1, straight lines between.
    planking_mm
        Thickness of planking.
    strakes
        Strakes of another thickness (garboard, wale): see :class:`futtock.framing.strakes.Strake`.
    heads
        ``"sheer"``, the name of another line whose heights the table gives, or the height of a
        level line in mm above base, at which heads stop.
    head_over_mm, heel_over_mm
        Left long at head and heel.
    floors
        ``"separate"``: every timber is port or starboard. ``"in frame"``: the first timber of the
        layer ``floor_layer`` crosses the keel.
    half_frames
        Frames without a floor across the keel, which land on deadwood; ``"propose"``: those whose
        heels stand higher above the rabbet than twice the moulded heel.
    cants
        ``"none"``, ``"propose"`` (frames stand square and a proposal is given beside them), or
        ``(frame, angle_deg)`` pairs; an angle is positive where the outer end swings forward.
    stand
        Frames plumb to the ``"base"`` line or square to the ``"keel"``.
    full_mm
        Dubbing allowance: how far the sawn outer edge stands outside the inside of planking.
    inner
        Inner edge ``"bevelled"`` with the outer, or ``"square"`` to the joint face.
    show
        How lengths are written in what is told.
    inner_round_mm
        Least radius worked where the inner edge would fold on itself.
    longest_mm, shortest_mm, butt_shift_mm
        Greatest and least length of a timber along the girth; least distance between butts of the
        two layers.
    butt_aim
        ``"middle"`` of the other layer's timber, or ``"any"`` legal place.
    butt_line_mm
        Butts of neighbouring frames nearer than this in girth are counted in line.
    divisions
        Butts that the builder states, of ``futtocks.csv``.
    grain_slope
        Where timbers are to come from straight plank: steepest slope of grain, as 10 for 1 in 10,
        which a frame's division keeps wherever one can; 0 where crooks are to be had.
    largest_bevel_deg, heel_gap_mm
        What cants are proposed for: no bevel beyond this, heels of neighbours no nearer.
    saw_bevel_deg, departure_mm, widest_mm
        Checks: largest bevel the saw can cut, ruled cut's departure worth flagging, widest slab
        (0 where not known).
    notch_mm, notch_clear_mm, setting_in_mm, notch_sawn
        Depth of a heel's notch over the keel, clearance for bedding, how far the heel is let into
        the keel's side, and whether the notch is sawn when the frame is assembled.
    keel_siding_mm
        Siding of the keel at its top; 0: twice the half-breadth of the rabbet.
    limber_mm, limber_wide_mm, heel_bolt_mm
        Height of the limber hole and its width (0: twice the height), and half-width of the zone
        kept clear for heel bolts; 0 for none.
    diagonals
        ``(name, height_mm, slope_deg)`` of the diagonals that give sirmarks.
    levels_mm
        Heights of the level lines to mark.
    cross_spall_mm
        Height of the cross spall; 0 for one a foot below the head.
    declivity_deg, horning_mm, stands_within_mm
        As she lies on the blocks: how far her base line is down by the stern; distance aft of the
        joint, along the keel's top, of the pin that horning lengths are taken from; how near a
        standing frame must come.
    points
        Points along an edge.
    """

    first_mm: float
    room_and_space_mm: float
    count: int
    sided_mm: float
    moulded_mm: tuple[tuple[float, float], ...]
    planking_mm: float
    strakes: tuple[Strake, ...] = ()
    spacing_changes: tuple[tuple[int, float], ...] = ()
    left_out: tuple[int, ...] = ()
    added_mm: tuple[float, ...] = ()
    added_cants_deg: tuple[float, ...] = ()
    added_half: tuple[bool, ...] = ()
    sided_changes: tuple[tuple[int, float], ...] = ()
    heads: str | float = "sheer"
    head_over_mm: float = 0.0
    heel_over_mm: float = 0.0
    floors: Literal["separate", "in frame"] = "separate"
    floor_layer: Literal["f", "a"] = "f"
    half_frames: Literal["propose"] | tuple[int, ...] = ()
    cants: Literal["none", "propose"] | tuple[tuple[int, float], ...] = "none"
    stand: Literal["base", "keel"] = "base"
    full_mm: float = 0.0
    inner: Literal["bevelled", "square"] = "bevelled"
    inner_round_mm: float = 12.0
    longest_mm: float = 1800.0
    shortest_mm: float = 300.0
    butt_shift_mm: float = 350.0
    butt_aim: Literal["middle", "any"] = "middle"
    butt_line_mm: float = 75.0
    divisions: tuple[Division, ...] = ()
    grain_slope: float = 0.0
    largest_bevel_deg: float = 25.0
    heel_gap_mm: float = 75.0
    saw_bevel_deg: float = 45.0
    departure_mm: float = 0.5
    widest_mm: float = 0.0
    notch_mm: float = 0.0
    setting_in_mm: float = 0.0
    notch_sawn: Literal["after assembly", "with the timber"] = "after assembly"
    limber_wide_mm: float = 0.0
    notch_clear_mm: float = 1.5
    keel_siding_mm: float = 0.0
    limber_mm: float = 0.0
    heel_bolt_mm: float = 0.0
    diagonals: tuple[tuple[str, float, float], ...] = ()
    levels_mm: tuple[float, ...] = ()
    cross_spall_mm: float = 0.0
    declivity_deg: float = 0.0
    horning_mm: float = 2438.4
    stands_within_mm: float = 3.175
    points: int = 160
    show: Style = "metric"

    def __post_init__(self) -> None:
        for name in ("room_and_space_mm", "sided_mm", "longest_mm", "shortest_mm"):
            if not getattr(self, name) > 0:
                raise Misused(f"{name} must be more than 0, and {getattr(self, name):g} came.")
        for name in ("planking_mm", "butt_shift_mm", "head_over_mm", "heel_over_mm"):
            if not getattr(self, name) >= 0:
                raise Misused(f"{name} must not be negative, and {getattr(self, name):g} came.")
        if self.count < 1:
            raise Misused(f"At least one frame is needed, and {self.count} came.")
        if self.points < 40:
            raise Misused(f"An edge needs 40 points or more, and {self.points} came.")
        if not self.moulded_mm or min(mm for _, mm in self.moulded_mm) <= 0:
            raise Misused("Moulded sizes must be given and be more than 0.")
        if self.longest_mm < self.shortest_mm:
            raise Misused("The longest timber is shorter than the shortest.")
