"""Scarfs: plain, nibbed and keyed, for keel, stem, shelf and plank.

The joint is drawn with x along the member from the old piece towards the new and y up from its
underside. It rises from the underside at x = 0 to the top at the scarf's end, so that the old
piece lies over the new one's lip; one figure serves for all members, and which way it faces in the
vessel is the builder's to settle.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import atan2, ceil, degrees, hypot
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock import reference
from futtock.bench import kinds
from futtock.bench.cautions import NOT_A_DESIGN
from futtock.errors import Misused
from futtock.findings import Finding

Array = NDArray[np.float64]
Member = Literal["keel", "stem", "shelf", "plank"]
Form = Literal["plain", "nibbed", "keyed"]


@dataclass(frozen=True)
class ScarfSettings:
    """What is asked for.

    Attributes
    ----------
    member, form
        Which member, and how the scarf is made.
    depth_mm, width_mm
        Section: depth in the plane of the scarf's slope, and across it.
    length_mm, ratio
        Length of the scarf, or its ratio to the depth; one of them.
    adds_mm
        What the new piece adds to the member's length.
    nib_mm
        Depth of each nib, square across the end of a lip; None: an eighth of the depth (common
        practice, no source), none for a plain scarf.
    key_mm
        Side of the key along the joint; its depth is the same, half in each piece. None: a quarter
        of the depth (common practice, no source).
    bolts, bolt_mm
        How many, and their diameter; None: as many as stand some six depths of lip apart, two at
        least (common practice, no source); diameter 1/16 of the depth, 10 mm at least.
    edge_diameters, end_diameters
        Least distance of a bolt from the sides and from a nib or the key, in its diameters.
    glued, metal
        Whether the scarf is glued; whether bolts pass through it.
    rabbet_mm
        Height of the rabbet's middle line above the underside; None where it does not cross.
    stopwater_mm
        Diameter of a stopwater.
    wood
        ``"hardwood"`` or ``"softwood"``, for the building rules.
    """

    member: Member
    form: Form
    depth_mm: float
    width_mm: float
    length_mm: float | None = None
    ratio: float | None = None
    adds_mm: float = 0.0
    nib_mm: float | None = None
    key_mm: float | None = None
    bolts: int | None = None
    bolt_mm: float | None = None
    edge_diameters: float = 3.0
    end_diameters: float = 4.0
    glued: bool = False
    rabbet_mm: float | None = None
    stopwater_mm: float = 12.7
    wood: Literal["hardwood", "softwood"] = "hardwood"

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn, naming it."""
        if min(self.depth_mm, self.width_mm) <= 0:
            raise Misused("A scarf's section has a depth and a width greater than nothing.")
        if (self.length_mm is None) == (self.ratio is None):
            raise Misused("Give the scarf's length or its ratio to the depth, one of them.")
        if (self.length_mm or 0.0) < 0 or (self.ratio or 0.0) < 0 or self.long_mm <= 0:
            raise Misused("A scarf's length must be more than nothing.")
        if self.adds_mm < 0:
            raise Misused("A new piece adds nothing or more to the length.")
        if not 0 <= self.nib_deep_mm < self.depth_mm / 2:
            raise Misused("A nib is less than half the depth.")
        if self.bolts is not None and self.bolts < 0:
            raise Misused("The number of bolts is not negative.")
        if self.rabbet_mm is not None and not 0 <= self.rabbet_mm <= self.depth_mm:
            raise Misused("The rabbet's height lies between the underside and the top.")

    @property
    def long_mm(self) -> float:
        """Length of the scarf along the member."""
        if self.length_mm is not None:
            return self.length_mm
        return (self.ratio or 0.0) * self.depth_mm

    @property
    def nib_deep_mm(self) -> float:
        """Depth of the nibs."""
        if self.form == "plain":
            return 0.0
        return self.depth_mm / 8.0 if self.nib_mm is None else self.nib_mm

    @property
    def bolt_diameter_mm(self) -> float:
        """Diameter of the bolts."""
        return max(self.depth_mm / 16.0, 10.0) if self.bolt_mm is None else self.bolt_mm


@dataclass(frozen=True)
class Key:
    """The key: a square of ``side_mm`` along the joint at its middle, half in each piece.

    ``at_mm`` (x, y) is its centre, ``turn_deg`` the joint's slope; ``shear_mm`` the length of wood
    from it to the nib that resists its push.
    """

    at_mm: tuple[float, float]
    side_mm: float
    turn_deg: float
    shear_mm: float


@dataclass(frozen=True)
class Bolt:
    """A bolt square through: x along the scarf, across from the middle, and its grip (depth)."""

    x_mm: float
    across_mm: float
    grip_mm: float


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


@dataclass(frozen=True)
class Scarf:
    """A scarf, ready to be drawn and cut.

    ``joint_mm`` (k, 2) is the line of the joint; ``old_mm``, ``new_mm`` (n, 2) the outlines of the
    two pieces near it. ``slope`` is 1 in so many along the sloping part; ``new_piece_mm`` the whole
    length of the new piece. ``stopwaters_mm`` are (x, y) where the joint crosses the rabbet's
    middle. ``says`` is the verdict on its ratio in a sentence; ``strength`` what is known of its
    strength, labelled for what it is.
    """

    settings: ScarfSettings
    ratio: float
    slope: float
    joint_mm: Array
    old_mm: Array
    new_mm: Array
    key: Key | None
    bolts: tuple[Bolt, ...]
    new_piece_mm: float
    stopwaters_mm: tuple[tuple[float, float], ...]
    checks: tuple[RuleCheck, ...]
    says: str
    grain: str
    strength: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


def scarf(settings: ScarfSettings) -> Scarf:
    """Set out a scarf."""
    depth, long, nib = settings.depth_mm, settings.long_mm, settings.nib_deep_mm
    ratio = long / depth
    rise = depth - 2.0 * nib
    joint = np.array([[0.0, 0.0], [0.0, nib], [long, depth - nib], [long, depth]])
    if nib == 0.0:
        joint = joint[1:3]
    reach = 0.5 * depth
    old = np.concatenate([joint[::-1], [[-reach, 0.0], [-reach, depth]]])
    new = np.concatenate([joint, [[long + reach, depth], [long + reach, 0.0]]])
    key = _key(settings, rise)
    bolts, findings = _bolts(settings, key, rise)
    checks = _checks(settings, ratio, key, bool(bolts))
    short = [c for c in checks if not c.meets and c.code in _OF_MEMBER.get(settings.member, ())]
    findings += [
        kinds.SCARF_SHORT.found(
            f"{ratio:.2g} to 1 is short of the {c.least:g} to 1 of {c.code} ({c.says}; {c.source})."
        )
        for c in short
    ]
    water = _stopwaters(settings, joint)
    if water:
        findings.append(
            kinds.STOPWATER.found(
                f"The joint crosses the rabbet {water[0][0]:.0f} mm from the scarf's start;"
                f" a {settings.stopwater_mm:.1f} mm stopwater goes there."
            )
        )
    return Scarf(
        settings,
        ratio,
        long / rise if rise > 0 else float("inf"),
        joint,
        old,
        new,
        key,
        bolts,
        long + settings.adds_mm,
        water,
        checks,
        verdict(ratio),
        _grain(settings, rise),
        _strength(settings, long / rise if rise > 0 else float("inf")),
        tuple(findings),
    )


def _key(settings: ScarfSettings, rise: float) -> Key | None:
    if settings.form != "keyed":
        return None
    side = settings.depth_mm / 4.0 if settings.key_mm is None else settings.key_mm
    long = settings.long_mm
    slope = hypot(long, rise)
    if side <= 0 or side > slope / 4.0 or side > settings.depth_mm / 2.0:
        raise Misused("A key is more than nothing, a quarter of the joint and half the depth long.")
    at = (long / 2.0, settings.depth_mm / 2.0)
    return Key(at, side, degrees(atan2(rise, long)), (slope - side) / 2.0)


def _bolts(
    settings: ScarfSettings, key: Key | None, rise: float
) -> tuple[tuple[Bolt, ...], list[Finding]]:
    """Bolts even along the scarf, staggered about its middle where the width allows."""
    d, long = settings.bolt_diameter_mm, settings.long_mm
    count = settings.bolts
    if count is None:
        if settings.member == "plank" or settings.glued:
            return (), []
        count = max(2, ceil(long / (1.5 * settings.depth_mm)))
    if count == 0:
        return (), []
    clear = settings.end_diameters * d
    # Lips thinner than two diameters hold no bolt: how far along the joint that reaches.
    thin = max(2.0 * d - settings.nib_deep_mm, 0.0) / rise * long if rise > 0 else 0.0
    first, last = max(clear, thin), long - max(clear, thin)
    spans = [(first, last)]
    if key is not None:
        half = key.side_mm / 2.0 + clear
        spans = [(first, long / 2.0 - half), (long / 2.0 + half, last)]
    spread = settings.width_mm / 2.0 - settings.edge_diameters * d
    least = 4.0 * d
    shares = [count] if len(spans) == 1 else [ceil(count / 2), count // 2]
    made: list[float] = []
    for (a, b), share in zip(spans, shares, strict=True):
        if share == 0:
            continue
        if b < a or (share > 1 and (b - a) / (share - 1) < least):
            return (), [_no_bolts(settings, count)]
        made += [0.5 * (a + b)] if share == 1 else np.linspace(a, b, share).tolist()
    if spread < 0:
        return (), [_no_bolts(settings, count)]
    aside = min(spread, settings.width_mm / 4.0) if spread >= d else 0.0
    bolts = tuple(
        Bolt(x, aside * (1.0 if k % 2 else -1.0), settings.depth_mm) for k, x in enumerate(made)
    )
    return bolts, []


def _no_bolts(settings: ScarfSettings, count: int) -> Finding:
    d = settings.bolt_diameter_mm
    return kinds.SCARF_BOLTS.found(
        f"{count} bolts of {d:.0f} mm, {settings.edge_diameters:g} diameters from the sides and"
        f" {settings.end_diameters:g} from nibs and key, four apart, do not go into a scarf"
        f" {settings.long_mm:.0f} mm long and {settings.width_mm:.0f} mm wide."
    )


def _stopwaters(settings: ScarfSettings, joint: Array) -> tuple[tuple[float, float], ...]:
    """Where the joint's slope crosses the rabbet's middle line."""
    if settings.rabbet_mm is None:
        return ()
    height = settings.rabbet_mm
    found = []
    for a, b in itertools.pairwise(joint):
        if a[1] <= height <= b[1] and b[1] > a[1]:
            found.append((float(a[0] + (height - a[1]) / (b[1] - a[1]) * (b[0] - a[0])), height))
    return tuple(dict.fromkeys(found))


_OF_MEMBER: dict[str, tuple[str, ...]] = {
    "plank": ("H13",),
    "keel": ("H14",),
    "stem": ("H14",),
    "shelf": ("H14",),
}


def _checks(
    settings: ScarfSettings, ratio: float, key: Key | None, bolted: bool
) -> tuple[RuleCheck, ...]:
    """Every published ratio, met or missed; those of other members are there to compare."""
    code = "H17" if settings.wood == "hardwood" else "H18"
    beams = [float(v) for v in _row(code)["value"].split("/")]
    beam = beams[0] if not bolted else beams[2] if key is not None else beams[1]
    made = [
        _check("H13", 4.0, ratio),
        _check("H14", 6.0, ratio),
        _check("H15", 12.0, ratio),
        _check(code, beam, ratio),
    ]
    if settings.glued:
        rise = settings.depth_mm - 2.0 * settings.nib_deep_mm
        made.append(_check("H20", 15.0, settings.long_mm / rise))
    if key is not None:
        made.append(_check("H19", 8.0, key.shear_mm / (key.side_mm / 2.0)))
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


def _grain(settings: ScarfSettings, rise: float) -> str:
    slope = settings.long_mm / rise if rise > 0 else float("inf")
    return (
        f"Cut so that the grain's own slope runs with the scarf's (1 in {slope:.3g}), never across"
        " it: a lip cut across the grain breaks off (H22, aircraft beams)."
    )


def _strength(settings: ScarfSettings, slope: float) -> tuple[str, ...]:
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


def scarf_json(made: Scarf) -> dict[str, object]:
    """The document of ``scarf``."""
    s = made.settings
    return {
        "member": s.member,
        "form": s.form,
        "depth_mm": s.depth_mm,
        "width_mm": s.width_mm,
        "length_mm": round(s.long_mm, 3),
        "ratio": round(made.ratio, 4),
        "slope": round(made.slope, 4),
        "nib_mm": round(s.nib_deep_mm, 3),
        "new_piece_mm": round(made.new_piece_mm, 3),
        "adds_mm": s.adds_mm,
        "joint_mm": np.round(made.joint_mm, 3).tolist(),
        "key": None
        if made.key is None
        else {
            "at_mm": [round(v, 3) for v in made.key.at_mm],
            "side_mm": round(made.key.side_mm, 3),
            "turn_deg": round(made.key.turn_deg, 4),
            "shear_mm": round(made.key.shear_mm, 3),
        },
        "bolts": [
            {
                "x_mm": round(b.x_mm, 2),
                "across_mm": round(b.across_mm, 2),
                "grip_mm": b.grip_mm,
                "diameter_mm": round(s.bolt_diameter_mm, 3),
            }
            for b in made.bolts
        ],
        "stopwaters_mm": [[round(v, 2) for v in p] for p in made.stopwaters_mm],
        "checks": [
            {
                "code": c.code,
                "says": c.says,
                "least": c.least,
                "meets": c.meets,
                "scope": c.scope,
                "source": c.source,
                "how": c.how,
            }
            for c in made.checks
        ],
        "says": made.says,
        "grain": made.grain,
        "strength": list(made.strength),
    }
