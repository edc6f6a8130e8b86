"""A worn hull restored, choice by choice: what each moves, what is asked, where to measure more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.findings import Finding
from futtock.job.accounts import counted, offset
from futtock.job.office.picture import Pictures, pictures
from futtock.job.office.said import show
from futtock.job.office.stating import Setting, Shown, shown, state_many, table_of

if TYPE_CHECKING:
    from pathlib import Path

    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.lines.as_found import Step
    from futtock.lines.standing import StandingHull
    from futtock.measure import Style
    from futtock.sheet.sheet import Sheet

Array = NDArray[np.float64]
Side = Literal["start", "middle", "end"]

CHOICES = (
    Setting("restore.hog", "Hog", "Told by the keel's points.", ("take it out", "leave it")),
    Setting("restore.bend", "Sideways bend", "Told by both sides.", ("take it out", "leave it")),
    Setting("restore.twist", "Twist", "Told by both sides.", ("take it out", "leave it")),
    Setting("restore.neutral_axis", "Neutral axis", "Height above base that neither stretched."),
    Setting("restore.trust", "Side to trust", "", ("both", "port", "starboard")),
    Setting("restore.blend", "Blend", "Length over which restored and found meet."),
    Setting("lines.tolerance", "Standard error of a point"),
)
"""What the points cannot tell, or what may be left as it is."""

_KEEL = Setting(
    "restore.keel", "The keel's first line", "A point on each row: how far aft, how high."
)
_ZONES = Setting(
    "restore.as_found",
    "Kept as found",
    "A zone on each row: name, from, to, lowest, highest; port or starboard if only one stays.",
)
_YES = {"take it out": True, "leave it": False}


@dataclass(frozen=True)
class Choice:
    """A choice with what it does: what was taken, whether it was stated, the most it moves her."""

    name: str
    value: str
    stated: bool
    moves: str


@dataclass(frozen=True)
class SurveyView:
    """The page."""

    says: str
    lead: str
    choices: tuple[Choice, ...]
    sides: tuple[str, str]
    zones: tuple[tuple[str, str, str, str], ...]
    picture: Pictures
    figures: tuple[tuple[str, str, str], ...]
    unsure: tuple[tuple[str, str, str, str, str], ...]
    findings: tuple[Finding, ...]


def surveyed(job: Job) -> bool:
    """Whether she comes from points taken off a standing hull."""
    return job.stated.vessel.lines.points is not None


def survey_view(sitting: Sitting) -> SurveyView:
    """The restoration as it stands.

    Raises
    ------
    Misused
        Where she comes from a table.
    """
    job = sitting.need("papers", "lines", "hull")
    if not surveyed(job):
        raise Misused("She comes from a table of offsets: there is nothing to restore.")
    return sitting.drawn("survey", lambda: _made(job))


def _made(job: Job) -> SurveyView:
    standing = job.standing
    assert standing is not None
    style = job.stated.vessel.show
    done = standing.restoration
    count = len(done.points)
    lead = (
        "What the points cannot tell is asked below, and shown with the most that it moves a point "
        "of her side. Change a choice and she is faired again."
    )
    guessed = sum(not e.stated for e in done.effects)
    says = f"Restored from {counted(count, 'point')}."
    if guessed:
        says += f" {counted(guessed, 'choice')} {'is' if guessed == 1 else 'are'} taken unstated."
    return SurveyView(
        says,
        lead,
        tuple(Choice(e.choice, e.value, e.stated, f"{e.moves_mm:.0f} mm") for e in done.effects),
        (_off(done.side_off_mm[0]), _off(done.side_off_mm[1])),
        tuple(
            (_place(s), f"{s.least_mm:+.0f} mm", f"{s.most_mm:+.0f} mm", f"{s.rms_mm:.0f} mm")
            for s in standing.steps
        ),
        pictures(lambda wide: _worn(standing, style, wide)),
        (
            (f"{count:,}", "", "points"),
            (f"{done.cloud.sigma_mm:.1f}", "mm", "they scatter about her fair side"),
        ),
        where_unsure(job),
        standing.findings,
    )


def _off(mm: float) -> str:
    way = "outside" if mm > 0 else "inside"
    return f"{abs(mm):.1f} mm {way} it" if abs(mm) >= 0.05 else "on it"


def where_unsure(job: Job) -> tuple[tuple[str, str, str, str, str], ...]:
    """Places that are known least: aft, out, up, known to, bevel known to."""
    from futtock.lines.fairness import where_to_measure

    style = job.stated.vessel.show
    return tuple(
        (
            *(place(float(v), style) for v in p.at_mm),
            show(2 * p.spread_mm, style) if p.spread_mm > 0.2 else f"{2 * p.spread_mm:.1f} mm",
            f"{2 * p.lean_deg:.2f}°",
        )  # type: ignore[misc]
        for p in where_to_measure(job.fairing.hull, most=5, times=1.0)
    )


def place(mm: float, style: Style) -> str:
    """Where something is: an offset of the trade, or whole millimetres."""
    return offset(mm, style) if style == "imperial" else show(mm, style)


def _worn(standing: StandingHull, style: Style, wide: float) -> Sheet:
    """Hog, bend and twist along her length, each to its own scale: what was taken out."""
    from futtock.drawing.heading import bare
    from futtock.sheet.items import Face, Item, Text, path
    from futtock.sheet.style import CENTRE, RULE, SEEN, Tone

    wear = standing.restoration.wear
    x = np.linspace(wear.hog.low, wear.hog.high, 161)
    high = 16.0
    along = (x - x[0]) / max(float(np.ptp(x)), 1.0) * wide
    out: list[Item] = []
    rows: tuple[tuple[str, Array, str], ...] = (
        ("Hog, up", wear.hog(x), "mm"),
        ("Bend, to starboard", wear.bend(x), "mm"),
        ("Twist, starboard up", np.degrees(wear.twist(x)), "°"),
    )
    for k, (name, values, unit) in enumerate(rows):
        low = -k * 44.0
        most = float(np.abs(values).max())
        scale = high / most if most > 1e-3 else 0.0
        curve = np.column_stack([along, low + values * scale])
        out += [path([(0.0, low), (wide, low)], CENTRE), path(curve, SEEN)]
        at = int(np.abs(values).argmax())
        top = (float(along[at]), float(low + values[at] * scale))
        far = 4.4 if values[at] >= 0 else -7.4
        digits = 0 if unit == "mm" else 2
        most_says = f"{values[at]:+.{digits}f}{' mm' if unit == 'mm' else unit}"
        side: Side = "end" if at > 120 else "start" if at < 40 else "middle"
        out.append(
            Text(most_says, (top[0], top[1] + far), 4.2, Face.FIGURES_BOLD, side,
                 halo=Tone.WHITE)
        )  # fmt: skip
        out.append(Text(name, (0.0, low + high + 7.0), 4.2))
    low = -2 * 44.0 - high - 8.0
    out.append(path([(0.0, low), (wide, low)], RULE))
    for share in (0.0, 0.25, 0.5, 0.75, 1.0) if wide > 100.0 else (0.0, 0.5, 1.0):
        here = share * wide
        out.append(path([(here, low), (here, low - 2.0)], RULE))
        words = place(float(x[0] + share * (x[-1] - x[0])), style)
        side = "start" if share == 0 else "end" if share == 1 else "middle"
        out.append(Text(words, (here, low - 6.5), 3.8, anchor=side, tone=Tone.PENCIL))
    about = "Hog, sideways bend and twist over her length, each to its own scale, as taken out."
    return bare("worn", out, "What was taken out", about)


def choices_shown(
    folder: Path,
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
) -> tuple[tuple[Shown, ...], tuple[Shown, ...]]:
    """The choices to show, and those that are typed as rows."""
    plain = []
    for s in shown(folder, CHOICES, typed, wrong):
        value = s.value
        if "take it out" in s.setting.choices and value.lower() not in _YES:
            value = "leave it" if value.lower() == "false" else "take it out"
        elif s.setting.key == "restore.trust" and not value:
            value = "both"
        plain.append(Shown(s.setting, value, s.wrong))
    table = table_of(folder, "restore")
    rows = []
    for setting, text in (
        (_KEEL, "\n".join(", ".join(map(str, p)) for p in table.get("keel", ()))),
        (_ZONES, "\n".join(_zone_row(z) for z in table.get("as_found", ()))),
    ):
        said = (typed or {}).get(setting.key, text)
        rows.append(Shown(setting, said, (wrong or {}).get(setting.key, "")))
    return tuple(plain), tuple(rows)


def _place(step: Step) -> str:
    return step.zone if step.side == "both" else f"{step.zone}, {step.side}"


def _zone_row(zone: Mapping[str, Any]) -> str:
    parts = [str(zone.get(k, "")) for k in ("name", "from", "to", "low", "high", "side")]
    return ", ".join(parts).rstrip(", ")


def choose(folder: Path, typed: Mapping[str, str]) -> dict[str, str]:
    """Write the choices into ``vessel.toml``; what is wrong with each, by key, and then none is."""
    values: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for s in CHOICES:
        if s.key not in typed:
            continue
        said = typed[s.key].strip()
        if "take it out" in s.choices:
            values[s.key] = None if _YES.get(said, True) else False
        elif s.key == "restore.trust":
            values[s.key] = None if said in ("", "both") else said
        else:
            values[s.key] = said or None
    keel = [_parts(row) for row in typed.get(_KEEL.key, "").splitlines() if row.strip()]
    if any(len(p) != 2 for p in keel) or len(keel) == 1:
        wrong[_KEEL.key] = "Two points or more, each: how far aft, how high."
    zones = []
    for row in typed.get(_ZONES.key, "").splitlines():
        parts = _parts(row)
        if not any(parts):
            continue
        side = parts.pop() if parts[-1] in ("port", "starboard") else ""
        if not 3 <= len(parts) <= 5:
            wrong[_ZONES.key] = "Each: name, from, to, and lowest and highest where it has them."
            continue
        names = ("name", "from", "to", "low", "high", "side")
        parts += [""] * (5 - len(parts)) + [side]
        zones.append({n: p for n, p in zip(names, parts, strict=False) if p})
    if wrong:
        return wrong
    if _KEEL.key in typed:
        values[_KEEL.key] = keel or None
    if _ZONES.key in typed:
        values[_ZONES.key] = zones or None
    return state_many(folder, values)


def _parts(row: str) -> list[str]:
    return [p.strip() for p in row.split(",")]
