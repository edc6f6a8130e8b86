"""What each step tells a person: short lines, the answer first, every figure with its unit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from futtock.measure import (
    feet_inches_eighths,
    metric,
    show,
    show_angle,
    show_area,
    show_mass,
)

if TYPE_CHECKING:
    from futtock.bench.cuts import SawSheet
    from futtock.bench.treenails import Fastenings
    from futtock.findings import Finding
    from futtock.framing.frame import Framing
    from futtock.layout.hand import Place, SlabAnswer
    from futtock.layout.heal import Healing
    from futtock.layout.placement import Layout
    from futtock.lines.fair import Fairing
    from futtock.lines.fairness import Bend, Patch
    from futtock.lines.standing import StandingHull
    from futtock.measure import Style
    from futtock.moulds.mould import Mould
    from futtock.stock.pile import Pile, StackCount
    from futtock.stock.rack import Rack
    from futtock.vessel import Stated


def offset(mm: float, style: Style) -> str:
    """A figure of the table as the table would write it."""
    return feet_inches_eighths(mm) if style == "imperial" else metric(mm)


def counted(n: int, one: str, many: str | None = None) -> str:
    """``counted(2, "frame")`` is "2 frames"."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def checked(stated: Stated, findings: Sequence[Finding]) -> str:
    """The account of ``check``, above all that was found in vessel, table and rack."""
    from futtock.findings import Severity

    count = Counter(f.severity for f in findings)
    faults, misfits, doubts = (count[s] for s in (Severity.FAULT, Severity.MISFIT, Severity.DOUBT))
    unfit = counted(misfits, "thing does not fit", "things do not fit")
    if faults:
        said = f"{counted(faults, 'thing')} cannot be read" + (
            f", and {unfit}." if misfits else "."
        )
    elif misfits:
        said = f"Everything stated is read, but {unfit}."
    elif doubts:
        said = f"Everything is read; {counted(doubts, 'question stands', 'questions stand')}."
    else:
        said = "Everything stated can be read."
    lines = [said]
    if stated.table is not None:
        table = stated.table
        lines.append(
            f"Table of offsets: {counted(len(table.rows), 'row')} at "
            f"{counted(len(table.stations), 'station')}, "
            f"{counted(len(table.ends), 'line')} at the ends."
        )
    if stated.mends:
        lines.append(f"Mends: {len(stated.mends)} of mends.csv are honoured.")
    return "\n".join(lines)


def faired(
    fairing: Fairing, style: Style, bends: Sequence[Bend] = (), scanty: Sequence[Patch] = ()
) -> str:
    """The account of ``fair``."""
    doubtful = fairing.doubtful
    lines = [
        f"Fair: {counted(len(fairing.points), 'figure')}, off the fair hull by "
        f"{fairing.rms_mm:.2f} mm rms (tolerance {fairing.tolerance_mm:.2f} mm)."
    ]
    if doubtful:
        were = "figure is" if len(doubtful) == 1 else "figures are"
        lines.append(f"{len(doubtful)} {were} doubtful:")
    for p in doubtful:
        line = (
            f"  {p.line} at station {p.station}: the table says {offset(p.given_mm, style)}, "
            f"the fair hull {offset(p.fair_mm, style)}"
        )
        if p.likely:
            line += f" ({p.likely})"
        lines.append(line + ".")
    h = fairing.hydrostatics
    if h is not None:
        lines.append(
            f"To the waterline at {offset(h.waterline_mm, style)}: "
            f"{h.volume_m3:.3f} m³, centre {offset(h.lcb_mm, style)} aft and "
            f"{offset(h.vcb_mm, style)} up, waterplane {show_area(h.waterplane_m2, style)}, "
            f"wetted {show_area(h.wetted_m2, style)}, Cp {h.cp:.3f}."
        )
    return "\n".join([*lines, *_fairness(bends, scanty, style)])


def _fairness(bends: Sequence[Bend], scanty: Sequence[Patch], style: Style) -> list[str]:
    """Where lines turn over, and where to measure more."""
    lines = []
    turning = [b for b in bends if len(b.inflections)]
    if bends:
        lines.append(
            f"Of {len(bends)} waterlines, buttocks and diagonals, "
            f"{len(turning)} {'turns' if len(turning) == 1 else 'turn'} over:"
            if turning
            else "No waterline, buttock or diagonal turns over."
        )
    for b in turning:
        x = ", ".join(offset(float(p[0]), style) for p in b.inflections)
        lines.append(f"  {b.kind} {b.at}: at {x} aft.")
    if scanty:
        lines.append("She is known least, and would be helped most by measuring, near:")
    lines += [
        f"  {offset(p.at_mm[0], style)} aft, {offset(p.at_mm[1], style)} out, "
        f"{offset(p.at_mm[2], style)} up: to {p.spread_mm:.1f} mm and {p.lean_deg:.1f} degrees."
        for p in scanty
    ]
    return lines


def restored(standing: StandingHull) -> str:
    """The account of a restored survey: each choice and how far it moves her."""
    lines = ["Restored from survey points. Each choice, and the most it moves a point of her side:"]
    for e in standing.restoration.effects:
        how = "stated" if e.stated else "not stated, so taken"
        lines.append(f"  {e.choice}: {e.value} ({how}), {e.moves_mm:.0f} mm")
    port, starboard = standing.restoration.side_off_mm
    lines.append(
        f"Port stands {port:+.1f} mm and starboard {starboard:+.1f} mm off the restored side."
    )
    for z in standing.steps:
        place = z.zone if z.side == "both" else f"{z.zone}, {z.side}"
        off = f"{z.least_mm:+.0f} to {z.most_mm:+.0f} mm off the restored lines"
        lines.append(f"  {place}, kept as found: {off}")
    return "\n".join(lines)


def framed(framing: Framing, style: Style) -> str:
    """The account of ``frames``."""
    timbers = [t for f in framing.frames for t in f.timbers]
    if not timbers:
        return "No frame of the plan stands on this hull."
    longest = max(timbers, key=lambda t: t.length_mm)
    swept = max(timbers, key=lambda t: t.sweep_mm)
    return (
        f"{counted(len(framing.frames), 'double frame')}, {counted(len(timbers), 'timber')}. "
        f"Largest bevel {show_angle(framing.largest_lean_deg)}.\n"
        f"Longest timber {longest.mark}, {show(longest.length_mm, style)}; "
        f"most swept {swept.mark}, {show(swept.sweep_mm, style)} in "
        f"{show(swept.length_mm, style)}." + _canted(framing)
    )


def _canted(framing: Framing) -> str:
    """Cants proposed, and the line that accepts them."""
    from futtock.framing.cants import cants_toml

    if not framing.cants:
        return ""
    turns = ", ".join(f"{c.frame} by {show_angle(c.angle_deg)}" for c in framing.cants)
    return (
        f"\nTo keep the bevels down, cant frame {turns}. "
        f"To accept, put under [framing] of vessel.toml:\n  {cants_toml(framing.cants)}"
    )


def moulded(moulds: Sequence[Mould], style: Style) -> str:
    """The account of ``moulds``."""
    if not moulds:
        return "There are no timbers to mould."
    own = sum(m.same_as is None for m in moulds)
    heaviest = max(moulds, key=lambda m: m.mass_kg)
    return (
        f"{counted(len(moulds), 'timber')} from {counted(own, 'pattern')}; the rest are those "
        f"turned over. {show_area(sum(m.square_m2 for m in moulds), style)} in plan, "
        f"{show_mass(sum(m.mass_kg for m in moulds), style)} finished.\n"
        f"Heaviest {heaviest.mark}, {show_mass(heaviest.mass_kg, style)}."
    )


def racked(rack: Rack, style: Style) -> str:
    """The account of ``rack list``."""
    from futtock.stock.rack import areas_m2

    if not rack.slabs:
        return "The rack is empty. Put slabs in slabs.json, or record one: 'futtock rack add'."
    top, bottom = areas_m2(rack.slabs)
    measured = sum(s.measured for s in rack.slabs)
    lines = [
        f"{counted(len(rack.slabs), 'slab')}, {measured} measured; sound faces "
        f"{show_area(top, style)} above, {show_area(bottom, style)} below."
    ]
    for s in rack.slabs:
        low, high = s.bottom_mm.min(axis=0), s.bottom_mm.max(axis=0)
        long, wide = sorted(high - low, reverse=True)
        wet = f", {s.moisture_percent:.0f} %" if s.moisture_percent is not None else ""
        lines.append(
            f"  {s.name}  {s.species}, {show(long, style)} by {show(wide, style)} over all, "
            f"{show(s.thickness_mm, style)} thick{wet}"
        )
    return "\n".join(lines)


def piled(pile: Pile, style: Style) -> str:
    """The pile, a line a stack and one for the whole."""
    named = [s for s in pile.stacks if s.name]
    lines = [f"  stack {s.name}: {_stack(s, style)}" for s in named]
    return "\n".join([*lines, f"In all {_stack(pile.whole, style)}"])


def _stack(s: StackCount, style: Style) -> str:
    volume = f"{s.volume_m3:.3f} m3 ({s.board_feet:.0f} board feet)"
    parts = [f"{counted(s.slabs, 'slab')}, {s.measured} measured, {s.unmeasured} not; {volume}"]
    if s.weighed:
        parts.append(f"about {show_mass(s.kg, style)}")
    if s.priced:
        parts.append(
            f"value {s.value:.2f}" + ("" if s.priced == s.slabs else f" ({s.priced} priced)")
        )
    if s.moisture_percent:
        low, high = s.moisture_percent
        wet = f"{low:.0f} %" if low == high else f"{low:.0f} to {high:.0f} %"
        dated = f", oldest reading {s.oldest_reading}" if s.oldest_reading else ""
        parts.append(f"moisture {wet}{dated}")
    gone = [
        f"{n} {w}"
        for n, w in ((s.begun, "begun"), (s.consumed, "consumed"), (s.spoiled, "spoiled"))
        if n
    ]
    return ", ".join([*parts, *gone]) + "."


def laid(layout: Layout, timbers: int, slabs: int, style: Style) -> str:
    """The account of ``lay``."""
    placed = len(layout.placements)
    lines = [
        f"{placed} of {counted(timbers, 'timber')} have a place, on {layout.slabs_used} of "
        f"{counted(slabs, 'slab')}. Yield of the slabs begun {100 * layout.yield_:.1f} %."
    ]
    if layout.placements:
        mean = sum(p.slope_mean for p in layout.placements) / placed
        worst = max(p.slope_worst for p in layout.placements)
        lines.append(
            f"Grain runs at 1 in {1 / mean:.0f} on the mean, 1 in {1 / worst:.0f} at the worst."
            if mean > 0 and worst > 0
            else "The grain runs true in every timber."
        )
    if layout.unplaced:
        shown = ", ".join(layout.unplaced[:12])
        more = f" and {len(layout.unplaced) - 12} more" if len(layout.unplaced) > 12 else ""
        lines.append(f"Without a place: {shown}{more}.")
    b = layout.bound
    if not slabs or not timbers:
        return "\n".join(lines)
    lines.append(
        f"No layout of these timbers can do with less than {show_area(b.value, style)} "
        f"({b.what.removesuffix(', m2')}); this one takes "
        f"{show_area(b.reached, style)}, so at most {100 * b.gap:.0f} % of it could still be saved."
    )
    return "\n".join(lines)


def benched(sheets: Sequence[SawSheet], nails: Fastenings, kg: float, style: Style) -> str:
    """The account of ``sheets``."""
    turns = sum(len(c.marks) for s in sheets for c in s.cuts)
    tight = sum(not c.blade_ok for s in sheets for c in s.cuts)
    lengths = ", ".join(f"{c.to_make} of {show(c.length_mm, style)}" for c in nails.lengths)
    lines = [
        f"{counted(len(sheets), 'saw sheet')}, {counted(turns, 'mark')} in all; "
        f"{counted(tight, 'cut')} turn tighter than the blade follows.",
        f"{counted(nails.holes, 'treenail')} of {show(nails.diameter_mm, style)} in "
        f"{show(nails.bore_mm, style, nearest=32)} bores; make {lengths or 'none'}; "
        f"{counted(nails.wedges.count, 'wedge')}.",
        f"Timbers weigh {show_mass(kg, style)} in all.",
    ]
    return "\n".join(lines)


def of_slab(answer: SlabAnswer) -> str:
    """The account of what one slab gives."""
    marks = ", ".join(p.mark for p in answer.placements) or "nothing"
    lines = [f"Best from {answer.slab}: {marks}. Yield {100 * answer.yield_:.0f} %."]
    if answer.scarce:
        few = ", ".join(f"{mark} ({n} slabs)" for mark, n in answer.scarce[:6])
        lines.append(f"Few other slabs give: {few}.")
    if answer.waste:
        many = ", ".join(f"{mark} ({n} slabs)" for mark, n in answer.waste[:6])
        lines.append(f"It would be a waste to cut from it what many others give: {many}.")
    return "\n".join(lines)


def places(timber: str, found: Sequence[Place]) -> str:
    """The account of the best places for a timber."""
    if not found:
        return f"No slab of the rack has a place for {timber}."
    lines = [f"The best places for {timber}, best first:"]
    for k, place in enumerate(found, 1):
        p = place.placement
        slope = f"1 in {1 / p.slope_worst:.0f}" if p.slope_worst > 0 else "true"
        lines.append(
            f"  {k}. {p.slab}, turned {p.turn_deg:.1f}°, at {p.shift_mm[0]:.0f}, "
            f"{p.shift_mm[1]:.0f} mm{', slab turned over' if p.mirrored else ''}; "
            f"grain at worst {slope}"
        )
    return "\n".join(lines)


def healed(healing: Healing) -> str:
    """The account of a healed layout."""
    if not healing.changes:
        return "Nothing has to move."
    lines = [f"{counted(len(healing.changes), 'timber')} changed place:"]
    lines += [
        f"  {c.mark}: {c.was or 'no place'} to {c.now or 'no place'} ({c.why})"
        for c in healing.changes
    ]
    return "\n".join(lines)
