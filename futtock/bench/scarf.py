"""Scarfs: plain, nibbed and keyed, for keel, stem, shelf and plank.

The joint is drawn with x along the member from the old piece towards the new and y up from its
underside. It rises from the underside at x = 0 to the top at the scarf's end, so that the old
piece lies over the new one's lip; one figure serves for all members, and which way it faces in the
vessel is the builder's to settle.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, ceil, degrees, hypot

import numpy as np
from numpy.typing import NDArray

from futtock.bench import kinds
from futtock.bench.scarf_rules import OF_MEMBER, RuleCheck, checks, grain, strength, verdict
from futtock.bench.scarf_settings import Form, Member, ScarfSettings
from futtock.errors import Misused
from futtock.findings import Finding

__all__ = ["Bolt", "Form", "Key", "Member", "Scarf", "ScarfSettings", "scarf", "scarf_json"]

Array = NDArray[np.float64]


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
    water = _stopwaters(settings, joint)
    bolts, findings = _bolts(settings, key, rise, [x for x, _ in water])
    key_ratio = None if key is None else key.shear_mm / (key.side_mm / 2.0)
    found = checks(settings, ratio, key_ratio, bool(bolts))
    short = [c for c in found if not c.meets and c.code in OF_MEMBER.get(settings.member, ())]
    findings += [
        kinds.SCARF_SHORT.found(
            f"{ratio:.2g} to 1 is short of the {c.least:g} to 1 of {c.code} ({c.says}; {c.source})."
        )
        for c in short
    ]
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
        found,
        verdict(ratio),
        grain(settings, rise),
        strength(settings, long / rise if rise > 0 else float("inf")),
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
    settings: ScarfSettings, key: Key | None, rise: float, water: Sequence[float] = ()
) -> tuple[tuple[Bolt, ...], list[Finding]]:
    """Bolts even along the scarf, staggered about its middle where the width allows.

    As many stand on either side of a key; one that would meet a stopwater stands a bolt's diameter
    beside it.
    """
    d, long = settings.bolt_diameter_mm, settings.long_mm
    count = settings.bolts
    if count is None:
        if settings.member == "plank" or settings.glued:
            return (), []
        count = max(2, ceil(long / (1.5 * settings.depth_mm)))
        count += count % 2 if key is not None else 0
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
    beside = 1.5 * d + settings.stopwater_mm / 2.0
    for at in water:
        for k, x in enumerate(made):
            if abs(x - at) >= beside:
                continue
            low = made[k - 1] + least if k else first
            high = made[k + 1] - least if k + 1 < len(made) else last
            ways = [way for way in (at - beside, at + beside) if low <= way <= high]
            if not ways:
                return (), [_no_bolts(settings, count)]
            made[k] = min(ways, key=lambda way: abs(way - x))
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
