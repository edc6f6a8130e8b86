"""What the stated figures say about one another, before anything is faired."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from futtock.findings import Finding
from futtock.measure import MM_PER, is_bare, show
from futtock.vessel import kinds
from futtock.vessel.model import Vessel
from futtock.vessel.table import OffsetTable

_SHORTEST_MM, _LONGEST_MM = 1_500.0, 150_000.0
"""Lengths between which a vessel that someone frames lies (ours: a dinghy to a great ship)."""

_FEWEST_STATIONS, _FEWEST_FIGURES = 4, 20
_SHAPE = ("waterline", "buttock", "diagonal")


def table_findings(table: OffsetTable, vessel: Vessel) -> Iterator[Finding]:
    """Contradictions within the table: units, lines that cross, too little to go by."""
    yield from _unit(table, vessel)
    yield from _crossed(table, "sheer", "rabbet", vessel)
    yield from _crossed(table, "rabbet", "keel", vessel)
    yield from _enough(table)
    yield from _ends(table, vessel)


def _unit(table: OffsetTable, vessel: Vessel) -> Iterator[Finding]:
    unit = vessel.lines.unit
    bare = [
        abs(v)
        for r in table.rows
        for v, t in zip(r.values_mm, r.texts, strict=True)
        if is_bare(t) and np.isfinite(v)
    ]
    figures = [r.values_mm for r in table.rows]
    if not figures or table.x_mm.size < 2:
        return
    length = float(np.ptp(table.x_mm))
    largest = float(np.nanmax(np.abs(np.concatenate(figures)), initial=0.0))
    place = {"file": table.file, "read": f"unit = {unit}"}
    if not _SHORTEST_MM <= length <= _LONGEST_MM:
        scale = float(MM_PER[unit])
        fits = [
            u for u, s in MM_PER.items()
            if u != unit and _SHORTEST_MM <= length / scale * float(s) <= _LONGEST_MM
        ]  # fmt: skip
        said = f"Her stations span {_long(length, vessel)}."
        if fits and bare:
            said += f" In {' or '.join(fits)} she would be of a vessel's length."
        yield kinds.UNIT_MIXED_UP.found(
            said,
            expected=f"{_long(_SHORTEST_MM, vessel)} to {_long(_LONGEST_MM, vessel)}",
            **place,
        )
    elif bare and not 0.03 * length <= largest <= 1.2 * length:
        said = (
            f"Her largest figure is {_long(largest, vessel)}, and her stations span "
            f"{_long(length, vessel)}; one of them is in another unit."
        )
        yield kinds.UNIT_MIXED_UP.found(said, **place)


def _crossed(table: OffsetTable, upper: str, lower: str, vessel: Vessel) -> Iterator[Finding]:
    above, below = table.row("height", upper), table.row("height", lower)
    if above is None or below is None:
        return
    for i in np.flatnonzero(above.values_mm < below.values_mm):
        said = (
            f"At station {table.stations[i]} the {upper} ({above.texts[i]}) lies below the "
            f"{lower} ({below.texts[i]}, line {below.file_line})."
        )
        yield kinds.CROSSED_HEIGHTS.found(
            said,
            file=table.file,
            line=above.file_line,
            column=table.stations[i],
            read=above.texts[i],
            expected=f"more than {show(float(below.values_mm[i]), vessel.show)}",
        )


def _enough(table: OffsetTable) -> Iterator[Finding]:
    shape = [r for r in table.rows if r.what in _SHAPE]
    figures = sum(int(np.isfinite(r.values_mm).sum()) for r in shape)
    if len(table.stations) < _FEWEST_STATIONS or figures < _FEWEST_FIGURES:
        said = (
            f"There are {figures} figures on waterlines, buttocks and diagonals, at "
            f"{len(table.stations)} stations; {_FEWEST_FIGURES} at {_FEWEST_STATIONS} stations are "
            "the least."
        )
        yield kinds.TOO_FEW.found(
            said,
            file=table.file,
            read=f"{figures} figures, {len(table.stations)} stations",
            expected=f"{_FEWEST_FIGURES} figures, {_FEWEST_STATIONS} stations at the least",
        )


def _ends(table: OffsetTable, vessel: Vessel) -> Iterator[Finding]:
    if table.x_mm.size < 2:
        return
    first, last = float(table.x_mm[0]), float(table.x_mm[-1])
    margin = 0.25 * (last - first)
    for name, points in table.ends.items():
        lines = table.end_lines[name]
        far = np.flatnonzero((points[:, 0] < first - margin) | (points[:, 0] > last + margin))
        if far.size:
            worst = int(far[0])
            said = (
                f"The {name} reaches x = {_long(float(points[worst, 0]), vessel)}; the stations "
                f"run from {_long(first, vessel)} to {_long(last, vessel)}."
            )
            yield kinds.ENDS_ELSEWHERE.found(
                said, file=table.ends_file, line=lines[worst], column="x"
            )
        steps = np.diff(points, axis=0)
        turns = np.flatnonzero(
            (np.einsum("ij,ij->i", steps[1:], steps[:-1]) < 0)
            | ~steps[1:].any(axis=1)
        )  # fmt: skip
        if turns.size:
            at = lines[int(turns[0]) + 1]
            said = f"The {name} turns back on itself here."
            yield kinds.ENDS_DISORDER.found(said, file=table.ends_file, line=at)


def stated_findings(vessel: Vessel, file: str = "vessel.toml") -> Iterator[Finding]:
    """Stated sizes that contradict one another."""

    def odd(said: str, key: str, remedy: str | None = None) -> Finding:
        return kinds.ODD_VALUE.found(said, file=file, column=key, remedy=remedy)

    style = vessel.show
    framing, futtocks, timber = vessel.framing, vessel.futtocks, vessel.timber
    if framing is not None:
        for sided in framing.sided:
            if timber.rough_mm is not None and sided.sided_mm > timber.rough_mm:
                yield odd(
                    f"A layer is sided {show(sided.sided_mm, style)}, and the rough stock is only "
                    f"{show(timber.rough_mm, style)}.",
                    "framing.sided",
                )
            if 2 * sided.sided_mm > framing.spacing_mm:
                yield odd(
                    f"Two layers of {show(sided.sided_mm, style)} do not stand in a room and space "
                    f"of {show(framing.spacing_mm, style)}.",
                    "framing.sided",
                )
        starts = [s.from_mm for s in framing.room_and_space[1:]]
        if any(s is None for s in starts) or starts != sorted(s for s in starts if s is not None):
            yield odd(
                "After the first, each change of room and space needs a 'from', growing aft.",
                "framing.room_and_space",
            )
    if futtocks.shortest_mm > futtocks.longest_mm:
        shortest = "shortest_mm" in futtocks.model_fields_set
        yield odd(
            f"The shortest futtock, {show(futtocks.shortest_mm, style)}"
            f"{'' if shortest else ' (taken, for none is stated)'}, is longer than the longest, "
            f"{show(futtocks.longest_mm, style)}.",
            "futtocks.shortest",
            None if shortest else "State the shortest under [futtocks], or a longer longest.",
        )
    if 2 * futtocks.butt_shift_mm > futtocks.longest_mm:
        yield odd(
            f"A butt shift of {show(futtocks.butt_shift_mm, style)} cannot be kept with futtocks "
            f"of {show(futtocks.longest_mm, style)} at most: there is no room for it on both ends.",
            "futtocks.butt_shift",
        )
    for name, plane in vessel.diagonals.items():
        if plane.slope_deg > 0:
            yield odd(
                f"Diagonal {name} rises outboard ({plane.slope_deg:g}°); the trade's diagonals "
                "fall outboard, with a negative slope.",
                f"diagonals.{name}.slope_deg",
            )


def _long(mm: float, vessel: Vessel) -> str:
    return show(mm, vessel.show, nearest=8, places=0)
