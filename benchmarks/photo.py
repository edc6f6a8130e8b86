"""Slabs by photograph against the truth of rendered pictures.

    python benchmarks/photo.py [--scenes 50] [--first 0] [--kept DIR] [--pictures DIR]
        [--seconds N]

Renders so many photographs of twelve megapixels by seed, reads each, and compares outline, grain
and knots with what was painted. Corrections are simulated as a person's touches: at most 25 points
on the true edge where the outline found stands off it most, 2 mm beside, then snapped.
``--kept`` keeps the rendered scenes, ``--pictures`` writes the worst with what was found over them.
"""

from __future__ import annotations

import argparse
import os
import pickle
import sys
import time
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

import cv2
import numpy as np
import shapely
from photo_scene import Hardness, Scene, render

from futtock.errors import Unreadable
from futtock.stock.photo.correction import Touch, corrected
from futtock.stock.photo.photograph import Photographed, PhotoSettings, photographed

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


def knots_met(got: Photographed, scene: Scene) -> tuple[int, int, int]:
    """Knots in view that were proposed, knots in view, proposals that are none."""
    found = [p.outline_mm.mean(0) for p in got.proposed if p.kind == "knot"]
    seen_px = [got.adjusted.plane.pixels(c) for c in got.adjusted.corners_mm.values()]
    cards = [shapely.Polygon(got.plane.millimetres(p)) for p in seen_px]
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
    scale = 1400 / picture.shape[1]
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(file), small, [cv2.IMWRITE_JPEG_QUALITY, 80])


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("--scenes", type=int, default=50)
    words.add_argument("--first", type=int, default=0)
    words.add_argument("--kept", type=Path)
    words.add_argument("--pictures", type=Path)
    words.add_argument("--seconds", type=float, default=float("inf"), help="no scene after")
    asked = words.parse_args()
    rows, grain, knots, worst = [], [], np.zeros(3, int), []
    print(
        "seed floor     like shade bark  sap  whole  max touched sound grain  p95  sure "
        "knots  cpu s"
    )
    begun = time.monotonic()
    for seed in range(asked.first, asked.first + asked.scenes):
        if time.monotonic() - begun > asked.seconds:
            break
        scene, hard = scene_of(seed, asked.kept), variant(seed)["hard"]
        ids = sorted(scene.cards)
        taped = float(np.hypot(*(scene.cards[ids[0]].mean(0) - scene.cards[ids[-1]].mean(0))))
        start = time.process_time()
        try:
            got = photographed(
                scene.image, PhotoSettings(taped={(ids[0], ids[-1]): round(taped)}, lie="face")
            )
        except Unreadable as trouble:
            print(f"{seed:4d} not read: {trouble}")
            rows.append((np.inf, np.inf, np.inf, 0.0))
            continue
        seconds = time.process_time() - start
        true = got.plane.millimetres(scene.pixels(scene.face_mm))
        sound = got.plane.millimetres(scene.pixels(scene.sound_mm))
        whole, far = stands_off(got.face.whole_mm, true)
        inner, _ = stands_off(got.face.sound_mm, sound)
        after, _ = stands_off(touched(got, true, seed), true)
        off, sure = grain_off(got, scene)
        met = knots_met(got, scene)
        grain.append(off)
        knots += met
        rows.append((whole, after, inner, seconds))
        worst.append((whole, seed))
        if asked.pictures:
            asked.pictures.mkdir(parents=True, exist_ok=True)
            overlay(got, true, asked.pictures / f"scene-{seed}.jpg")
        print(
            f"{seed:4d} {hard.floor:9s} {hard.like_wood!s:5s} {hard.shadow:4.1f} {hard.bark:4.1f} "
            f"{hard.sap:4.1f} {whole:6.1f} {far:5.0f} {after:6.1f} {inner:6.1f} "
            f"{np.median(off):5.2f} {np.percentile(off, 95):5.1f} {sure:5.2f} "
            f"{met[0]}/{met[1]}+{met[2]} {seconds:6.1f}",
            flush=True,
        )
    table = np.array(rows)
    every = np.concatenate(grain)
    print(f"\n{len(table)} photographs of 12 megapixels, seeds {asked.first} on")
    print(f"outline, 95th percentile, median of pictures: {np.median(table[:, 0]):.1f} mm unaided")
    print(f"  after at most {TOUCHES} touches: {np.median(table[:, 1]):.1f} mm")
    print(
        f"  pictures within 8 mm unaided: {np.mean(table[:, 0] <= 8):.0%}; touched within 4 mm: "
        f"{np.mean(table[:, 1] <= 4):.0%}"
    )
    print(
        f"sound outline, the same: {np.median(table[:, 2]):.1f} mm; within 8 mm: "
        f"{np.mean(table[:, 2] <= 8):.0%}"
    )
    middle, far = np.median(every), np.percentile(every, 95)
    print(f"grain where confident: median {middle:.2f}, 95th {far:.1f} degrees")
    print(
        f"knots: recall {knots[0] / max(knots[1], 1):.2f}, precision "
        f"{knots[0] / max(knots[0] + knots[2], 1):.2f} of {knots[1]}"
    )
    print(f"seconds of one core: median {np.median(table[:, 3]):.1f}, most {table[:, 3].max():.1f}")
    print(
        "worst outlines:", ", ".join(f"seed {s} ({w:.0f} mm)" for w, s in sorted(worst)[::-1][:5])
    )


if __name__ == "__main__":
    main()
