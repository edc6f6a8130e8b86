"""A worn hull restored: hog, bend and twist taken out by declared choices, each with its effect.

Hog comes from the keel, whose original line the builder states (the points cannot tell it); bend
and twist from what port and starboard disagree in, fitted together with the fair surface by
Gauss-Newton steps. Where the neutral axis lay and which side to trust are stated too; what was not
stated is assumed, shown, and found fault with.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from futtock.findings import Finding
from futtock.lines import kinds
from futtock.lines.batten import lay_batten
from futtock.lines.cloud import CloudFit, distances, fit_cloud
from futtock.lines.fitting import Side
from futtock.lines.survey import Survey
from futtock.lines.wear import Sway, Wear
from futtock.measure import Style, offset, show
from futtock.progress import Progress, Report, quiet

Array = NDArray[np.float64]
Trust = Literal["both", "port", "starboard"]
_BEND, _TWIST, _HOG = 6, 5, 8
_ROUNDS = 8
_MOST = 30_000  # points that the bend and twist are sought with


@dataclass(frozen=True)
class RestoreSettings:
    """What the builder states about a worn hull.

    Attributes
    ----------
    hog, bend, twist
        Whether each is to be taken out.
    keel
        Original line of the keel's underside, (x, z) points in mm; empty: straight between the ends
        of the keel as measured.
    neutral_axis_mm
        Height of the neutral axis; None: half way between keel and sheer.
    trust
        Side that kept its shape, or both.
    blend_mm
        Length over which restored and as-found lines run into each other.
    show
        How lengths are written in what is told.
    """

    hog: bool = True
    bend: bool = True
    twist: bool = True
    keel: tuple[tuple[float, float], ...] = ()
    neutral_axis_mm: float | None = None
    trust: Trust = "both"
    blend_mm: float = 600.0
    show: Style = "metric"


@dataclass(frozen=True, slots=True)
class Effect:
    """A choice and what it does to the hull.

    ``moves_mm`` is the greatest distance that it moves a point of the side.
    """

    choice: str
    value: str
    stated: bool
    moves_mm: float


@dataclass(frozen=True)
class Restoration:
    """A survey with the wear taken out.

    Attributes
    ----------
    points, lines
        The survey's points and lines where they stood before she wore, both sides.
    wear
        What was taken out.
    effects
        Each choice with its effect.
    cloud
        The fair surface of the restored points, starboard.
    side_off_mm
        Median distance of port and starboard points from it: which side has bulged.
    findings
        What was noticed.
    """

    points: Array
    lines: dict[str, Array]
    wear: Wear
    effects: tuple[Effect, ...]
    cloud: CloudFit
    side_off_mm: tuple[float, float]
    findings: tuple[Finding, ...]


def mirrored(points: Array) -> Array:
    """Points with the port side folded onto starboard."""
    out = np.array(points, float)
    out[:, 1] = np.abs(out[:, 1])
    return out


def restore(
    survey: Survey,
    sigma_mm: float,
    settings: RestoreSettings,
    *,
    seed: int = 0,
    report: Report = quiet,
) -> Restoration:
    """Take hog, bend and twist out of a survey and fair what is left.

    Parameters
    ----------
    survey
        As read; axes are the vessel's.
    sigma_mm
        Standard error of one point.
    settings
        What the builder states.
    seed
        Of the choice of points that are looked at.
    """
    notes: list[Finding] = []
    points = survey.points
    low, high = (float(v) for v in np.percentile(points[:, 0], [0.2, 99.8]))
    neutral = settings.neutral_axis_mm
    if neutral is None:
        neutral = float(np.mean(np.percentile(points[:, 2], [1, 99])))
    wear = Wear(
        Sway.still(low, high, _HOG),
        Sway.still(low, high, _BEND),
        Sway.still(low, high, _TWIST),
        neutral,
    )
    keel = survey.lines.get("keel")
    if settings.hog:
        if keel is None or len(keel) < 4:
            notes.append(kinds.NO_KEEL.found("There are no points of the keel to tell hog by."))
        else:
            wear = Wear(_hog(keel, settings, wear.hog), wear.bend, wear.twist, neutral)
            if not settings.keel:
                said = "The keel is taken to have been straight between its ends."
                notes.append(kinds.ASSUMED.found(said, column="restore.keel"))
    sideways = settings.bend or settings.twist
    if sideways and not survey.both_sides:
        notes.append(kinds.ONE_SIDED.found("The points are of one side only."))
        sideways = False
    if sideways:
        wear = _sideways(survey, wear, settings, sigma_mm, seed, report)
    if settings.neutral_axis_mm is None and (settings.hog or sideways):
        said = f"The neutral axis is taken at {offset(neutral, settings.show)} above base."
        notes.append(kinds.ASSUMED.found(said, column="restore.neutral_axis"))
    sound = wear.take_out(points)
    lines = {name: wear.take_out(p) for name, p in survey.lines.items()}
    trusted = _trusted(points, settings.trust)
    anchors = [mirrored(p) for name, p in lines.items() if name != "keel"]
    cloud = fit_cloud(
        mirrored(sound[trusted]),
        sigma_mm,
        anchors=np.vstack(anchors) if anchors else None,
        seed=seed,
        report=report,
    )
    lost = int((~cloud.kept).sum())
    if lost:
        said = f"{lost:,} of {len(cloud.kept):,} points lie off the hull and were left out."
        notes.append(kinds.OUTLIERS.found(said, file=survey.file))
    off, _ = distances(cloud.side, mirrored(sound))
    near = np.abs(off) < 60.0
    port = points[:, 1] < 0
    sides = tuple(float(np.median(off[m])) if m.any() else 0.0 for m in (port & near, ~port & near))
    effects = _effects(sound, wear, settings, neutral)
    return Restoration(sound, lines, wear, effects, cloud, (sides[0], sides[1]), tuple(notes))


def _trusted(points: Array, trust: Trust) -> NDArray[np.bool_]:
    port = points[:, 1] < 0
    if trust == "both" or not port.any() or port.all():
        return np.ones(len(points), bool)
    return port if trust == "port" else ~port


def _hog(keel: Array, settings: RestoreSettings, hog: Sway) -> Sway:
    """Rise of the keel over its original line, held level in slope beyond its ends."""
    order = np.argsort(keel[:, 0])
    x, z = keel[order, 0], keel[order, 2]
    line = lay_batten(x, z, np.full(len(x), 3.0))
    ends = np.array([x[0], x[-1]])
    if settings.keel:
        was = np.array(sorted(settings.keel), float)
        straight = np.interp(x, was[:, 0], was[:, 1])
        if len(was) > 1:  # carried on in its own run
            a, b = np.polyfit(was[[0, -1], 0], was[[0, -1], 1], 1)
            out = (x < was[0, 0]) | (x > was[-1, 0])
            straight = np.where(out, a * x + b, straight)
    else:
        straight = np.interp(x, ends, line(ends))
    rise = line(x) - straight
    basis = hog.rows(x)
    curb = np.diff(np.eye(len(hog.coef)), 3, axis=0)
    # beyond the keel nothing holds the spline but its own third differences
    a = np.vstack([basis, 0.3 * curb])
    b = np.r_[rise, np.zeros(len(curb))]
    coef = np.linalg.lstsq(a, b, rcond=None)[0]
    return Sway(hog.low, hog.high, np.asarray(coef))


def _sideways(
    survey: Survey,
    wear: Wear,
    settings: RestoreSettings,
    sigma: float,
    seed: int,
    report: Report,
) -> Wear:
    """Bend and twist by Gauss-Newton on what the two sides disagree in."""
    rng = np.random.default_rng(seed)
    points = survey.points
    if len(points) > _MOST:
        points = points[rng.choice(len(points), _MOST, replace=False)]
    side = np.where(points[:, 1] < 0, -1.0, 1.0)
    keel = survey.lines.get("keel", np.zeros((0, 3)))
    for turn in range(_ROUNDS):
        report(Progress("restore", turn, _ROUNDS, "weighing port against starboard"))
        sound = wear.take_out(points)
        folded = np.column_stack([sound[:, 0], sound[:, 1] * side, sound[:, 2]])
        fitted = fit_cloud(folded, sigma, cells=(28, 14), quick=True, seed=seed).side
        step, size = _step(fitted, sound, folded, side, wear, settings, keel, sigma)
        wear = step
        if size < 0.15:
            break
    return wear


def _step(
    fitted: Side,
    sound: Array,
    folded: Array,
    side: Array,
    wear: Wear,
    settings: RestoreSettings,
    keel: Array,
    sigma: float,
) -> tuple[Wear, float]:
    field = fitted.field
    e, gradient, _ = field.offs(folded)
    steep = np.linalg.norm(gradient, axis=1)
    d, normal = e / steep, gradient / steep[:, None]
    scale = max(1.4826 * float(np.median(np.abs(d))), 0.5 * sigma)
    w = np.where(np.abs(d) < 4.5 * scale, (1 - (d / (4.5 * scale)) ** 2) ** 2, 0.0)
    x, y, z = sound.T
    up = z - wear.neutral_mm
    # taking out more bend moves a point by -db in y; on the folded side by -side * db
    by_bend = (-side * normal[:, 1])[:, None] * wear.bend.rows(x)
    by_bend = by_bend + (normal[:, 0] * y)[:, None] * wear.bend.rows(x, 1)
    by_twist = (side * up * normal[:, 1] - y * normal[:, 2])[:, None] * wear.twist.rows(x)
    rows, rhs = [], []
    use = []
    if settings.bend:
        use.append(by_bend)
    if settings.twist:
        use.append(by_twist / 1000.0)  # milliradians, so that both are of one size
    jacobian = np.hstack(use)
    rows.append(jacobian * np.sqrt(w)[:, None])
    rhs.append(-d * np.sqrt(w))
    if len(keel):
        # the keel was on the centreline: its own y says where the beam's line went
        s = wear.take_out(keel)
        part = []
        if settings.bend:
            part.append(-wear.bend.rows(s[:, 0]))
        if settings.twist:
            part.append((s[:, 2] - wear.neutral_mm)[:, None] * wear.twist.rows(s[:, 0]) / 1000.0)
        heavy = np.sqrt(w.sum() / max(len(keel), 1) / 40.0)
        rows.append(np.hstack(part) * heavy)
        rhs.append(-s[:, 1] * heavy)
    size = jacobian.shape[1]
    rows.append(np.eye(size) * np.sqrt(1e-4 * w.sum()))
    rhs.append(np.zeros(size))
    step = np.linalg.lstsq(np.vstack(rows), np.concatenate(rhs), rcond=None)[0]
    bend, twist = wear.bend, wear.twist
    k = 0
    if settings.bend:
        k = len(bend.coef)
        bend = Sway(bend.low, bend.high, bend.coef + step[:k])
    if settings.twist:
        twist = Sway(twist.low, twist.high, twist.coef + step[k:] / 1000.0)
    moved = float(np.abs(jacobian @ step).max(initial=0))
    return Wear(wear.hog, bend, twist, wear.neutral_mm), moved


def _effects(
    sound: Array, wear: Wear, settings: RestoreSettings, neutral: float
) -> tuple[Effect, ...]:
    look = sound[:: max(len(sound) // 4000, 1)]

    def moves(part: Wear) -> float:
        return float(np.linalg.norm(part.put_in(look) - look, axis=1).max())

    still = Sway.still(wear.hog.low, wear.hog.high, _HOG)
    x = np.linspace(wear.hog.low, wear.hog.high, 200)
    hog = Wear(wear.hog, still, still, neutral)
    bend = Wear(still, wear.bend, still, neutral)
    twist = Wear(still, still, wear.twist, neutral)
    shifted = Wear(wear.hog, wear.bend, wear.twist, neutral + 300.0)
    lift = float(np.linalg.norm(shifted.put_in(look) - wear.put_in(look), axis=1).max())
    rise = float(np.abs(wear.hog(x)).max())
    aside = float(np.abs(wear.bend(x)).max())
    turn = float(np.degrees(np.abs(wear.twist(x)).max()))
    return (
        Effect("hog", show(rise, settings.show, places=0), settings.hog, moves(hog)),
        Effect("bend", show(aside, settings.show, places=0), settings.bend, moves(bend)),
        Effect("twist", f"{turn:.2f} degrees", settings.twist, moves(twist)),
        Effect(
            "keel's original line",
            "as stated" if settings.keel else "straight between its ends",
            bool(settings.keel),
            moves(hog),
        ),
        Effect(
            f"neutral axis, were it {show(300.0, settings.show)} higher",
            f"{offset(neutral, settings.show)} above base",
            settings.neutral_axis_mm is not None,
            lift,
        ),
        Effect("side to trust", settings.trust, settings.trust != "both", 0.0),
    )
