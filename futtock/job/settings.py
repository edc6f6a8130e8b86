"""From what the builder states to what each room wants to know, in millimetres and degrees."""

from __future__ import annotations

from typing import TYPE_CHECKING

from futtock.errors import Unreadable
from futtock.findings import Kind, Severity

if TYPE_CHECKING:
    from futtock.bench.fastening import FasteningSettings
    from futtock.bench.saw import HeadError, SawSettings
    from futtock.bench.thicknessing import Rates, Rough
    from futtock.findings import Finding
    from futtock.framing.settings import FramingSettings
    from futtock.layout.settings import LaySettings
    from futtock.lines.as_found import Zone
    from futtock.lines.restoring import RestoreSettings
    from futtock.lines.settings import FairSettings
    from futtock.lines.surface import Hull
    from futtock.moulds.mould import Mould
    from futtock.moulds.settings import MouldSettings
    from futtock.stock.slab import Slab
    from futtock.stock.sound import FlawRules
    from futtock.vessel.model import Vessel
    from futtock.vessel.smaller import Division

NOT_STATED = Kind(
    "J001",
    Severity.FAULT,
    "A section that this step needs is not stated",
    "State it in vessel.toml; 'futtock new' writes one with every setting explained.",
)


def fair_settings(vessel: Vessel) -> FairSettings:
    """How the table is to be faired."""
    from futtock.lines.settings import FairSettings

    return FairSettings(
        tolerance_mm=vessel.lines.tolerance_mm,
        surface=vessel.lines.surface,
        waterline_mm=vessel.lines.waterline_mm,
        show=vessel.show,
    )


def restore_settings(vessel: Vessel) -> RestoreSettings:
    """What is taken out of a worn hull."""
    from futtock.lines.restoring import RestoreSettings

    asked = vessel.restore
    if asked is None:
        return RestoreSettings(show=vessel.show)
    return RestoreSettings(
        hog=asked.hog,
        bend=asked.bend,
        twist=asked.twist,
        keel=asked.keel,
        neutral_axis_mm=asked.neutral_axis_mm,
        trust=asked.trust,
        blend_mm=asked.blend_mm,
        show=vessel.show,
    )


def zones(vessel: Vessel) -> tuple[Zone, ...]:
    """Parts of a standing hull kept as found."""
    from futtock.lines.as_found import Zone

    kept = vessel.restore.as_found if vessel.restore else ()
    return tuple(Zone(z.name, z.from_mm, z.to_mm, z.low_mm, z.high_mm, z.side) for z in kept)


def framing_settings(
    vessel: Vessel, hull: Hull, divisions: tuple[Division, ...] = ()
) -> FramingSettings:
    """How the hull is to be framed; frames run on to the hull's end where no count is stated.

    Raises
    ------
    Unreadable
        Where ``[framing]`` or ``[planking]`` is not stated.
    """
    from futtock.framing.settings import FramingSettings
    from futtock.framing.strakes import Strake

    framing, planking = vessel.framing, vessel.planking
    missing = [f"[{n}]" for n, s in (("framing", framing), ("planking", planking)) if s is None]
    if framing is None or planking is None:
        words = " and ".join(missing)
        raise Unreadable(
            f"Frames need {words}, which vessel.toml does not state.",
            [NOT_STATED.found(f"Frames need {words}.", file="vessel.toml", expected=words)],
        )
    first, spacing = framing.first_mm, framing.spacing_mm
    count = framing.count or max(1, int((hull.u_range[1] - first) // spacing) + 1)
    changes = tuple(
        (max(1, round((s.from_mm - first) / spacing) + 1), s.spacing_mm)
        for s in framing.room_and_space[1:]
        if s.from_mm is not None
    )
    cants = framing.cants
    return FramingSettings(
        first_mm=first,
        room_and_space_mm=spacing,
        count=count,
        sided_mm=framing.sided_of_mm(1),
        moulded_mm=framing.moulded.table(),
        planking_mm=planking.thickness_mm,
        strakes=tuple(Strake(k.thickness_mm, k.from_mm, k.to_mm, k.of) for k in planking.strakes),
        spacing_changes=changes,
        left_out=framing.omit,
        added_mm=tuple(a.x_mm for a in framing.add),
        added_cants_deg=tuple(a.angle_deg for a in framing.add),
        added_half=tuple(a.half for a in framing.add),
        sided_changes=tuple((s.from_frame, s.sided_mm) for s in framing.sided[1:]),
        heads=framing.heads,
        head_over_mm=framing.head_over_mm,
        heel_over_mm=framing.heel_over_mm,
        floors=framing.floors,
        floor_layer=framing.floor_layer,
        half_frames="propose" if framing.half == "propose" else _listed(framing.half),
        cants=cants if isinstance(cants, str) else tuple((c.frame, c.angle_deg) for c in cants),
        stand=framing.stand,
        full_mm=framing.full_mm,
        inner=framing.inner,
        inner_round_mm=framing.inner_round_mm,
        longest_mm=vessel.futtocks.longest_mm,
        shortest_mm=min(vessel.futtocks.shortest_mm or 1.0, vessel.futtocks.longest_mm),
        butt_shift_mm=vessel.futtocks.butt_shift_mm,
        butt_aim="middle" if vessel.futtocks.butt_aim == "middle" else "any",
        butt_line_mm=vessel.futtocks.next_frame_shift_mm,
        divisions=divisions,
        grain_slope=vessel.timber.grain_slope if vessel.futtocks.grain == "straight" else 0.0,
        largest_bevel_deg=framing.largest_bevel_deg,
        heel_gap_mm=framing.heel_gap_mm,
        saw_bevel_deg=max(vessel.saw.head_left_deg, vessel.saw.head_right_deg),
        keel_siding_mm=vessel.heels.keel_siding_mm or 0.0,
        notch_mm=vessel.heels.depth_mm,
        setting_in_mm=vessel.heels.setting_in_mm,
        notch_sawn=vessel.heels.sawn,
        notch_clear_mm=vessel.heels.clearance_mm,
        limber_mm=vessel.heels.limber_high_mm,
        limber_wide_mm=vessel.heels.limber_wide_mm,
        heel_bolt_mm=vessel.heels.bolt_mm,
        diagonals=tuple(
            (n, d.height_mm, d.slope_deg)
            for n, d in vessel.diagonals.items()
            if n in (framing.sirmarks or vessel.diagonals)
        ),
        cross_spall_mm=framing.cross_spall_mm or 0.0,
        declivity_deg=framing.declivity_deg,
        levels_mm=framing.levels_mm
        or (() if vessel.lines.waterline_mm is None else (vessel.lines.waterline_mm,)),
        show=vessel.show,
    )


def _listed(half: str | tuple[int, ...]) -> tuple[int, ...]:
    """Frames stated to be half frames; a word states none."""
    return () if isinstance(half, str) else half


def timber_density_kg_m3(vessel: Vessel) -> float:
    """Of the finished timbers: as stated, else the species' at the stated moisture."""
    from futtock.moulds.settings import MouldSettings
    from futtock.stock.species import species
    from futtock.stock.weight import density_kg_m3

    if vessel.timber.density_kg_m3 is not None:
        return vessel.timber.density_kg_m3
    wood = species(vessel.timber.species)
    known = density_kg_m3(wood, vessel.timber.moisture_percent) if wood else None
    return known or MouldSettings().density_kg_m3


def mould_settings(vessel: Vessel) -> MouldSettings:
    """How timbers are laid flat."""
    from futtock.moulds.settings import MouldSettings

    return MouldSettings(
        up=vessel.moulds.up,
        marks_every_mm=vessel.saw.mark_spacing_mm,
        density_kg_m3=timber_density_kg_m3(vessel),
        doubt_shown_mm=vessel.moulds.doubt_shown_mm,
    )


def flaw_rules(vessel: Vessel) -> FlawRules:
    """Which flaws may be built over."""
    from futtock.stock.sound import FlawRules

    timber = vessel.timber
    words = {"never": (), "allowed": ("*",)}
    sap = words[timber.sapwood] if isinstance(timber.sapwood, str) else timber.sapwood
    planed = vessel.layout.plane_off_mm
    if planed and timber.rough_mm is not None and vessel.framing is not None:
        # no more than comes off at the planer
        thickest = max(s.sided_mm for s in vessel.framing.sided)
        planed = min(planed, max(0.0, (timber.rough_mm - thickest) / 2.0))
    return FlawRules(timber.sound_knots_mm, timber.knots_within, sap, planed_mm=planed)


def lay_settings(vessel: Vessel) -> LaySettings:
    """How timbers are laid on slabs."""
    from futtock.layout.settings import LaySettings, Weights

    asked, given = vessel.layout, vessel.layout.weights
    return LaySettings(
        kerf_mm=vessel.timber.kerf_mm,
        rough_allowance_mm=vessel.timber.rough_allowance_mm,
        grain_slope=vessel.timber.grain_slope,
        grain_slope_butts=vessel.timber.grain_slope_butts,
        thickness_mm=vessel.timber.rough_mm,
        guard_mm=asked.guard_mm,
        wane_mm=asked.wane_mm,
        rules=flaw_rules(vessel),
        keep_for_later=frozenset(asked.keep_for_later),
        forbid=frozenset(asked.forbid),
        forbid_pairs=frozenset(asked.forbid_pairs),
        prefer_stacks=frozenset(asked.prefer_stacks),
        weights=Weights(
            given.little_timber, given.straight_grain, given.save_crooks, given.few_slabs
        ),
        show=vessel.show,
    )


def saw_settings(vessel: Vessel) -> SawSettings:
    """How the saw sheets are written."""
    from futtock.bench.saw import SawSettings

    saw, usual = vessel.saw, SawSettings()
    return SawSettings(
        feed=saw.feed,
        marks_every_mm=saw.mark_spacing_mm,
        step_deg=saw.step_deg,
        left_deg=saw.head_left_deg,
        right_deg=saw.head_right_deg,
        turns_per_deg=saw.turns_per_degree or usual.turns_per_deg,
        feed_mm_min=saw.feed_mm_per_minute or usual.feed_mm_min,
        blade_width_mm=saw.blade_width_mm,
        blade_set_mm=saw.blade_set_mm or usual.blade_set_mm,
        turns_a_minute=saw.turns_a_minute or usual.turns_a_minute,
        tilt_axis_mm=-saw.tilt_axis_mm,
        hand=saw.hand,
        crank_from=saw.crank_from,
        head=saw_error(vessel)[0],
    )


def saw_error(vessel: Vessel) -> tuple[HeadError, tuple[Finding, ...]]:
    """How the head's scale departs from the truth: by the test piece, else as stated."""
    from futtock.bench.calibration import TrialCut, head_error
    from futtock.bench.saw import HeadError

    saw = vessel.saw
    if not saw.trial:
        return HeadError(saw.zero_deg, saw.scale, saw.backlash_deg), ()
    if len({c.read_deg for c in saw.trial}) < 2:
        said = "The saw's test piece wants two different readings at least."
        found = NOT_STATED.found(said, file="vessel.toml", line="saw", column="trial")
        raise Unreadable(said, [found])
    return head_error([TrialCut(c.read_deg, c.true_deg, c.going) for c in saw.trial])


def planing_rates(vessel: Vessel) -> Rates:
    """Passes of the planer and their time."""
    from futtock.bench.thicknessing import Rates

    p = vessel.planer
    return Rates(
        p.first_pass_mm, p.second_pass_mm, p.finish_pass_mm, p.minutes_per_m2, p.setting_minutes
    )


def rough_piece(vessel: Vessel, mould: Mould, slab: Slab | None) -> Rough | None:
    """A timber's piece before thicknessing: out of its slab, else of the rough stock stated."""
    import numpy as np

    from futtock.bench.thicknessing import Rough

    clean, wet = vessel.planer.clean_mm, vessel.timber.rough_moisture_percent
    if slab is None:
        if vessel.timber.rough_mm is None:
            return None
        size = (mould.length_mm, mould.wide_mm)
        rough = vessel.timber.rough_mm
        return Rough(mould.mark, rough, *size, clean_mm=clean, moisture_percent=wet)
    long, wide = sorted(np.ptp(slab.top_mm, axis=0).tolist(), reverse=True)
    whole = Rough(
        mould.mark,
        slab.thickness_mm,
        long,
        wide,
        slab.cup_mm or 0.0,
        slab.bow_mm or 0.0,
        slab.twist_mm or 0.0,
        clean,
        wet if slab.moisture_percent is None else slab.moisture_percent,
    )
    return whole.cut_to(mould.length_mm, mould.wide_mm)


def fastening_settings(vessel: Vessel) -> FasteningSettings:
    """How the layers are fastened."""
    from futtock.bench.fastening import FasteningSettings

    nails = vessel.treenails
    return FasteningSettings(
        diameter_mm=nails.diameter_mm,
        drift_mm=nails.drift_mm,
        spacing_mm=nails.spacing_mm,
        edge_mm=nails.edge_mm,
        end_mm=nails.end_mm,
        rows=nails.rows,
        proud_mm=nails.proud_mm,
        wedges=nails.wedges,
        spoil_percent=nails.spoil_percent,
        moisture_percent=nails.moisture_percent,
        frame_moisture_percent=vessel.timber.moisture_percent,
        species=nails.species,
        least=nails.least,
        length_step_mm=nails.length_step_mm,
        sirmark_clear_mm=nails.sirmark_clear_mm,
        heel_mm=nails.heel_clear_mm,
        head_mm=nails.head_clear_mm,
        plank_fastening_mm=nails.plank_fastening_mm,
        plank_zones=tuple((z.from_mm, z.to_mm, z.depth_mm) for z in nails.plank_zones),
        clear=nails.clear,
    )
