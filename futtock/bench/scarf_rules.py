"""Published ratios of scarfs, met or missed, and what is known of their strength."""

from __future__ import annotations

from dataclasses import dataclass

from futtock import reference
from futtock.bench.cautions import NOT_A_DESIGN
from futtock.bench.scarf_settings import ScarfSettings
from futtock.errors import Misused


@dataclass(frozen=True)
class RuleCheck:
    """A published ratio beside the scarf's own, with where it speaks of and how it was got."""

    code: str
    says: str
    least: float
    meets: bool
    scope: str
    source: str
    how: str


OF_MEMBER: dict[str, tuple[str, ...]] = {
    "plank": ("H13",),
    "keel": ("H14",),
    "stem": ("H14",),
    "shelf": ("H14",),
}


def checks(
    settings: ScarfSettings, ratio: float, key_ratio: float | None, bolted: bool
) -> tuple[RuleCheck, ...]:
    """Every published ratio, met or missed; those of other members are there to compare.

    ``key_ratio`` is the shear length of a key to its indent, None without one.
    """
    code = "H17" if settings.wood == "hardwood" else "H18"
    beams = [float(v) for v in _row(code)["value"].split("/")]
    beam = beams[0] if not bolted else beams[2] if key_ratio is not None else beams[1]
    made = [
        _check("H13", 4.0, ratio),
        _check("H14", 6.0, ratio),
        _check("H15", 12.0, ratio),
        _check(code, beam, ratio),
    ]
    if settings.glued:
        rise = settings.depth_mm - 2.0 * settings.nib_deep_mm
        made.append(_check("H20", 15.0, settings.long_mm / rise))
    if key_ratio is not None:
        made.append(_check("H19", 8.0, key_ratio))
    return tuple(made)


def _row(code: str) -> dict[str, str]:
    """A row of the table, its "as H13" filled from the row it points to."""
    by_id = {r["id"]: r for r in reference.rows("hull_rules")}
    row = dict(by_id[code])
    for column, starts in (("source", "as "), ("scope", "as "), ("how", "read: same as ")):
        if row[column].startswith(starts):
            other = by_id.get(row[column].removeprefix(starts))
            row[column] = other[column] if other else row[column]
    return row


def _check(code: str, least: float, value: float) -> RuleCheck:
    row = _row(code)
    printed = row["value"].replace("/", " ").split()
    if f"{least:g}" not in printed:
        raise Misused(f"{code} prints {row['value']}, not {least:g}")
    return RuleCheck(
        code, row["rule"], least, value >= least - 1e-9, row["scope"], row["source"], row["how"]
    )


def verdict(ratio: float) -> str:
    """How a ratio stands between the published ones, in a sentence (H13, H14, H15)."""
    marks = [(4.0, "the 4 to 1 of planks"), (6.0, "the 6 to 1 given for keels")]
    marks.append((12.0, "the 12 to 1 of spars"))
    own = f"{ratio:.3g} to 1"
    equal = [text for value, text in marks if abs(ratio - value) < 1e-6]
    if equal:
        return f"{own}: {equal[0]}."
    below = [text for value, text in marks if ratio > value]
    above = [text for value, text in marks if ratio < value]
    if not below:
        return f"{own}: short of {above[0]}."
    if not above:
        return f"{own}: longer than {below[-1]}."
    return f"{own}: longer than {below[-1]} and short of {above[0]}."


def grain(settings: ScarfSettings, rise: float) -> str:
    """How the grain must run (H22)."""
    slope = settings.long_mm / rise if rise > 0 else float("inf")
    return (
        f"Cut so that the grain's own slope runs with the scarf's (1 in {slope:.3g}), never across"
        " it: a lip cut across the grain breaks off (H22, aircraft beams)."
    )


def strength(settings: ScarfSettings, slope: float) -> tuple[str, ...]:
    """What is published of its strength, labelled for what it is; never a design."""
    said = []
    if settings.glued:
        rows = [(12.0, "H23a"), (10.0, "H23b"), (8.0, "H23c"), (5.0, "H23d")]
        code = next((c for s, c in rows if slope >= s), None)
        if code is None:
            said.append("Glued, steeper than 1 in 5: no published factor was found.")
        else:
            row = _row(code)
            said.append(
                f"Glued, plain, {row['rule']}: {row['value']} {row['unit']} ({row['source']};"
                f" {row['how']}). Not proven for this joint."
            )
    if settings.form == "keyed" and not settings.glued:
        row = _row("H24a")
        said.append(
            f"Unglued and keyed, {row['rule']}: {row['value']} {row['unit']} ({row['scope']};"
            f" {row['how']}). Another wood and section than yours."
        )
    if not said:
        said.append("No published strength of such a scarf was found.")
    said.append(NOT_A_DESIGN)
    return tuple(said)
