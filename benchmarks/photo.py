"""Slabs by photograph against the truth of rendered pictures.

    python benchmarks/photo.py [--scenes 50] [--first 0] [--kept DIR] [--pictures DIR]
        [--seconds N] [--results FILE]

Renders so many photographs of twelve megapixels by seed, reads each, and compares outline, grain,
knots and checks with what was painted. Corrections are simulated as a person's touches: at most 25
points on the true edge where the outline found stands off it most, 2 mm beside, then snapped. Rot
is painted on each portrait once it is read, and told apart from the same portrait without it.
``--kept`` keeps the rendered scenes, ``--pictures`` writes each with what was found over it: true
face green, found red, sound blue, flaws proposed magenta, yellow rings where it says it is not sure.
``--results`` keeps a line a scene as it goes: begun again, those that it holds are not read again.
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import sys
import time
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

import cv2
import numpy as np
import shapely
from photo_scene import Hardness, Scene, render

from futtock.errors import Unreadable
from futtock.stock.photo.correction import Touch, corrected
from futtock.stock.photo.photograph import Photographed, PhotoSettings, bare_wood, photographed
from futtock.stock.photo.rot import propose_rot

cv2.setNumThreads(1)
TOUCHES = 25
CONFIDENT = 0.45


def variant(seed: int) -> dict:
    rng = np.random.default_rng(1000 + seed)
    hard = Hardness(
        shadow=rng.choice([0, 0.5, 1]),
        clutter=rng.choice([0, 0.5, 1]),
        bark=rng.choice([0, 0.7, 1]),
        sap=rng.choice([0, 0.6, 1]),
        tilt=rng.uniform(0, 1),
        lens=rng.uniform(0, 1),
        knots=rng.choice([2, 4, 6]),
        floor=str(rng.choice(["concrete", "grass", "boards"])),
        like_wood=bool(rng.random() < 0.3),
    )
    return {
        "hard": hard,
        "length": rng.uniform(2500, 4200),
        "width": rng.uniform(280, 480),
        "cards": int(rng.choice([4, 5, 6, 7])),
    }


def scene_of(seed: int, kept: Path | None) -> Scene:
    if kept is None:
        return render(seed, **variant(seed))
    file = kept / f"{seed}.pkl"
    if not file.exists():
        kept.mkdir(parents=True, exist_ok=True)
        file.write_bytes(pickle.dumps(render(seed, **variant(seed))))
    return pickle.loads(file.read_bytes())


def densely(ring: np.ndarray, every: float = 10.0) -> np.ndarray:
    line = shapely.LinearRing(ring)
    return shapely.get_coordinates(
        shapely.line_interpolate_point(line, np.arange(0, line.length, every))
    )


def stands_off(got: np.ndarray, true: np.ndarray) -> tuple[float, float]:
    """95th percentile and largest distance between two rings, each from the other."""
    one = shapely.distance(shapely.points(densely(got)), shapely.LinearRing(true))
    two = shapely.distance(shapely.points(densely(true)), shapely.LinearRing(got))
    return max(np.percentile(one, 95), np.percentile(two, 95)), max(one.max(), two.max())


def touched(got: Photographed, true: np.ndarray, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    marks = got.marks()
    edge = densely(true, 15.0)
    for _ in range(TOUCHES):
        off = shapely.distance(shapely.points(edge), shapely.LinearRing(marks.whole_mm))
        k = int(off.argmax())
        if off[k] < 3.0:
            break
        point = edge[k] + rng.normal(0, 2.0, 2)
        marks, _ = corrected(marks, [Touch("point", point[None])], got.portrait)
    return marks.whole_mm


def grain_off(got: Photographed, scene: Scene) -> tuple[np.ndarray, float]:
    """Degrees between the grain seen and the truth where it is confident, and the share that is."""
    rows, columns = np.nonzero(np.isfinite(scene.grain_deg))
    at = np.c_[columns, rows] * scene.grain_step + scene.grain_origin
    t = np.radians(scene.grain_deg[rows, columns])
    step = 3 * np.c_[np.cos(t), np.sin(t)]
    a = got.plane.millimetres(scene.pixels(at - step))
    b = got.plane.millimetres(scene.pixels(at + step))
    true = np.degrees(np.arctan2(*(b - a).T[::-1]))
    seen = got.seen
    cell = np.rint(seen.grid.cells((a + b) / 2)).astype(int)
    ok = (cell >= 0).all(1) & (cell[:, 0] < seen.grid.columns) & (cell[:, 1] < seen.grid.rows)
    cell, true = cell[ok], true[ok]
    sure = seen.confidence[cell[:, 1], cell[:, 0]] > CONFIDENT
    off = np.abs((seen.angle_deg[cell[:, 1], cell[:, 0]] - true + 90) % 180 - 90)
    return off[sure], float(sure.mean())


def cards_of(got: Photographed) -> list[np.ndarray]:
    """The cards' paper in the portrait's own axes."""
    seen = [got.adjusted.plane.pixels(c) for c in got.adjusted.corners_mm.values()]
    return [got.plane.millimetres(px) for px in seen]


def checks_met(got: Photographed, scene: Scene) -> tuple[int, int, int]:
    """Checks in view of which half is proposed or more, checks in view, proposals that are none.

    In view: 70 mm or more of it clear of cards. None: less than half of the proposal within 10 mm
    of a painted check.
    """
    found = [shapely.Polygon(p.outline_mm).buffer(0) for p in got.proposed if p.kind == "check"]
    covered = shapely.union_all([p.buffer(10.0) for p in found])
    paper = shapely.union_all([shapely.Polygon(c).buffer(5.0) for c in cards_of(got)])
    painted = [
        shapely.LineString(got.plane.millimetres(scene.pixels(line))).difference(paper)
        for line in scene.checks
    ]
    painted = [line for line in painted if line.length >= 70.0]
    met = sum(line.intersection(covered).length >= 0.5 * line.length for line in painted)
    near = shapely.union_all([line.buffer(10.0) for line in painted])
    false = sum(p.intersection(near).area < 0.5 * p.area for p in found)
    return met, len(painted), false


def rot_met(got: Photographed, seed: int) -> tuple[int, int, int]:
    """Whether a brown patch painted on bare wood is proposed, 1, and proposals that are none.

    The patch is an oval of 120 to 260 by 70 to 140 mm, soft at its rim; it takes away 43 to 62 %
    of the light, most of the blue.
    """
    rng = np.random.default_rng(7000 + seed)
    wood = bare_wood(got.portrait, got.face, cards_of(got))
    knots = [p for p in got.proposed if p.kind == "knot"]
    room = cv2.distanceTransform(wood.astype(np.uint8), cv2.DIST_L2, 5) * got.portrait.mm_per_px
    rows, columns = np.nonzero(room > 45.0)
    false = sum(p.kind == "rot" for p in got.proposed)
    if not len(rows):
        return 0, 0, false
    k = rng.integers(len(rows))
    middle = got.portrait.millimetres(np.array([columns[k], rows[k]]))
    t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    ring = middle + np.c_[rng.uniform(60, 130) * np.cos(t), rng.uniform(35, 70) * np.sin(t)]
    mask = np.zeros(wood.shape, np.float32)
    cv2.fillPoly(mask, [np.int32(got.portrait.pixels(ring))], 1)
    mask = cv2.GaussianBlur(mask, (0, 0), 9.0 / got.portrait.mm_per_px)[..., None]
    left = np.array([0.45, 0.55, 0.72]) ** rng.uniform(0.75, 1.25)
    light = (got.portrait.picture / 255.0) ** 2.2 * (1 - mask + mask * left)
    painted = replace(got.portrait, picture=(light ** (1 / 2.2) * 255).astype(np.uint8))
    patch = shapely.Polygon(ring)
    proposed = [p for p in propose_rot(painted, wood, knots) if p.confidence >= 0.5]
    found = [shapely.Polygon(p.outline_mm).buffer(0) for p in proposed]
    shown = cv2.fillPoly(np.zeros(wood.shape, np.uint8), [np.int32(got.portrait.pixels(ring))], 1)
    share = (shown > 0) & wood
    area = share.sum() * got.portrait.mm_per_px**2
    met = sum(p.intersection(patch).area for p in found) >= 0.5 * area
    return int(met), 1, false


def doubt_told(got: Photographed, true: np.ndarray) -> tuple[float, int]:
    """Share of the outline more than 8 mm off that lies within 200 mm of a place said to be
    doubtful, or of an end that is (nan where none is off), and how many such places there are.
    """
    edge = densely(got.face.whole_mm)
    off = edge[shapely.distance(shapely.points(edge), shapely.LinearRing(true)) > 8.0]
    aside = np.array([[0.0, -150.0], [0.0, 0.0], [0.0, 150.0]])
    ends = [end + aside for end in got.face.ends_doubted_mm]
    places = np.vstack([got.face.doubt_mm, *ends]) if ends else got.face.doubt_mm
    count = len(got.face.doubt_mm) + len(got.face.ends_doubted_mm)
    if not len(off):
        return float("nan"), count
    if not len(places):
        return 0.0, 0
    near = np.hypot(*(off[:, None] - places[None]).T).min(0)
    return float(np.mean(near < 200.0)), count


def knots_met(got: Photographed, scene: Scene) -> tuple[int, int, int]:
    """Knots in view that were proposed, knots in view, proposals that are none."""
    found = [p.outline_mm.mean(0) for p in got.proposed if p.kind == "knot"]
    cards = [shapely.Polygon(c) for c in cards_of(got)]
    met = seen = 0
    used: set[int] = set()
    for x, y, along, _ in scene.knots:
        place = got.plane.millimetres(scene.pixels(np.array([[x, y]])))[0]
        if any(c.distance(shapely.Point(place)) < along for c in cards):
            continue
        seen += 1
        near = [k for k, c in enumerate(found) if np.hypot(*(c - place)) < max(0.8 * along, 10)]
        used.update(near)
        met += bool(near)
    return met, seen, len(found) - len(used)


def overlay(got: Photographed, true: np.ndarray, file: Path) -> None:
    picture = got.portrait.picture.copy()
    for ring, colour, width in (
        (true, (0, 255, 0), 5),
        (got.face.whole_mm, (0, 0, 255), 3),
        (got.face.sound_mm, (255, 0, 0), 2),
    ):
        cv2.polylines(picture, [np.int32(got.portrait.pixels(ring))], True, colour, width)
    for flaw in got.proposed:
        cv2.polylines(
            picture, [np.int32(got.portrait.pixels(flaw.outline_mm))], True, (255, 0, 255), 3
        )
    for place in (*got.face.doubt_mm, *got.face.ends_doubted_mm):
        middle = np.int32(got.portrait.pixels(place))
        cv2.circle(picture, tuple(middle.tolist()), 45, (0, 230, 255), 8)
    scale = 1400 / picture.shape[1]
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(file), small, [cv2.IMWRITE_JPEG_QUALITY, 80])


def read_scene(seed: int, kept: Path | None, pictures: Path | None) -> dict:
    """One scene read and compared, as plain data."""
    scene = scene_of(seed, kept)
    ids = sorted(scene.cards)
    taped = float(np.hypot(*(scene.cards[ids[0]].mean(0) - scene.cards[ids[-1]].mean(0))))
    start = time.process_time()
    settings = PhotoSettings(taped={(ids[0], ids[-1]): round(taped)}, lie="face")
    try:
        got = photographed(scene.image, settings)
    except Unreadable as trouble:
        return {"seed": seed, "refused": str(trouble)}
    seconds = time.process_time() - start
    true = got.plane.millimetres(scene.pixels(scene.face_mm))
    sound = got.plane.millimetres(scene.pixels(scene.sound_mm))
    whole, far = stands_off(got.face.whole_mm, true)
    off, sure = grain_off(got, scene)
    told, places = doubt_told(got, true)
    if pictures:
        pictures.mkdir(parents=True, exist_ok=True)
        overlay(got, true, pictures / f"scene-{seed}.jpg")
    return {
        "seed": seed,
        "whole": whole,
        "far": far,
        "touched": stands_off(touched(got, true, seed), true)[0],
        "sound": stands_off(got.face.sound_mm, sound)[0],
        "grain": np.histogram(off, 900, (0, 90))[0].tolist(),
        "sure": sure,
        "knots": knots_met(got, scene),
        "checks": checks_met(got, scene),
        "rot": rot_met(got, seed),
        "told": told,
        "places": places,
        "seconds": seconds,
    }


def percentile(counts: np.ndarray, share: float) -> float:
    """Of degrees counted by tenths."""
    run = np.cumsum(counts)
    return float(np.searchsorted(run, share * run[-1]) + 0.5) / 10


def row_text(row: dict) -> str:
    seed, hard = row["seed"], variant(row["seed"])["hard"]
    if "refused" in row:
        return f"{seed:4d} not read: {row['refused']}"
    counts = np.array(row["grain"])
    flaws = " ".join(f"{m}/{n}+{f}" for m, n, f in (row["knots"], row["checks"], row["rot"]))
    return (
        f"{seed:4d} {hard.floor:9s} {hard.like_wood!s:5s} {hard.shadow:4.1f} {hard.bark:4.1f} "
        f"{hard.sap:4.1f} {row['whole']:6.1f} {row['far']:5.0f} {row['touched']:6.1f} "
        f"{row['sound']:6.1f} {percentile(counts, 0.5):5.2f} {percentile(counts, 0.95):5.1f} "
        f"{row['sure']:5.2f} {flaws} {row['told']:4.2f}/{row['places']} {row['seconds']:6.1f}"
    )


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("--scenes", type=int, default=50)
    words.add_argument("--first", type=int, default=0)
    words.add_argument("--kept", type=Path)
    words.add_argument("--pictures", type=Path)
    words.add_argument("--seconds", type=float, default=float("inf"), help="no scene after")
    words.add_argument("--results", type=Path, help="a line a scene, kept as it goes")
    asked = words.parse_args()
    print(
        "seed floor     like shade bark  sap  whole  max touched sound grain  p95  sure "
        "knots checks rot doubt told/places cpu s"
    )
    begun = time.monotonic()
    held = {}
    if asked.results and asked.results.exists():
        held = {r["seed"]: r for r in map(json.loads, asked.results.read_text().splitlines())}
    rows = []
    for seed in range(asked.first, asked.first + asked.scenes):
        if seed not in held:
            if time.monotonic() - begun > asked.seconds:
                break
            held[seed] = read_scene(seed, asked.kept, asked.pictures)
            if asked.results:
                with asked.results.open("a") as file:
                    file.write(json.dumps(held[seed]) + "\n")
        rows.append(held[seed])
        print(row_text(held[seed]), flush=True)
    summed(rows)


def summed(rows: list[dict]) -> None:
    read = [r for r in rows if "refused" not in r]
    lost = [float("inf")] * (len(rows) - len(read))
    if not read:
        return

    def column(name: str) -> np.ndarray:
        return np.array([r[name] for r in read] + lost)

    print(f"\n{len(rows)} photographs of 12 megapixels, seeds {rows[0]['seed']} on")
    whole, after, inner = column("whole"), column("touched"), column("sound")
    print(f"outline, 95th percentile, median of pictures: {np.median(whole):.1f} mm unaided")
    print(f"  after at most {TOUCHES} touches: {np.median(after):.1f} mm")
    print(f"  within 8 mm unaided: {(whole <= 8).sum()}; touched within 4: {(after <= 4).sum()}")
    print(f"sound outline, the same: {np.median(inner):.1f} mm; within 8: {(inner <= 8).sum()}")
    counts = np.sum([r["grain"] for r in read], axis=0)
    print(
        f"grain where confident: median {percentile(counts, 0.5):.2f}, "
        f"95th {percentile(counts, 0.95):.1f} degrees"
    )
    for name in ("knots", "checks", "rot"):
        met, seen, false = np.sum([r[name] for r in read], axis=0)
        print(
            f"{name}: recall {met / max(seen, 1):.2f}, precision "
            f"{met / max(met + false, 1):.2f} of {seen} ({met} met, {false} false)"
        )
    far = [r for r in read if r["whole"] > 8.0]
    told = ", ".join(f"seed {r['seed']} {r['told']:.0%}" for r in far) or "none"
    print(f"of the edge more than 8 mm off, told as doubtful: {told}")
    calm = [r["places"] for r in read if r["whole"] <= 8.0]
    print(
        f"doubtful places in the {len(calm)} others: {np.mean(calm):.2f} a picture, none in "
        f"{sum(n == 0 for n in calm)}"
    )
    seconds = np.array([r["seconds"] for r in read])
    print(f"seconds of one core: median {np.median(seconds):.1f}, most {seconds.max():.1f}")
    worst = sorted(read, key=lambda r: -r["whole"])[:5]
    print("worst outlines:", ", ".join(f"seed {r['seed']} ({r['whole']:.0f} mm)" for r in worst))


if __name__ == "__main__":
    main()
