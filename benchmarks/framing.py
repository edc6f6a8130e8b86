"""Lines to timbers: 45 double frames of Marram, warm, by parts.

Run ``python -m benchmarks.framing``; times are the best and the median of many, on one thread.
"""

from __future__ import annotations

import json
import time
from dataclasses import replace
from pathlib import Path
from statistics import median

from threadpoolctl import threadpool_limits

from futtock.framing.build import frame_hull
from futtock.framing.divide import divide
from futtock.framing.faces import cut
from futtock.framing.outline import outlines
from futtock.framing.plan import frame_planes
from futtock.framing.settings import FramingSettings
from futtock.framing.solver import face_planes
from futtock.framing.stand import limits_of, stand_frames
from futtock.framing.timbers import cut_timbers
from futtock.lines.fair import fair
from futtock.lines.settings import FairSettings
from futtock.vessel.folder import read_folder

FT = 304.8
DEMO = Path(__file__).resolve().parent.parent / "futtock" / "demo"
SETTINGS = FramingSettings(
    first_mm=2.75 * FT,
    room_and_space_mm=1.25 * FT * 26 / 44,
    count=45,
    sided_mm=1.875 * 25.4,
    moulded_mm=((0.0, 127.0), (1.0, 82.55)),
    planking_mm=1.25 * 25.4,
    longest_mm=4.5 * FT,
    butt_shift_mm=14 * 25.4,
    diagonals=(("A", 6.5 * FT, -35.0), ("B", 4.75 * FT, -35.0)),
    levels_mm=(5 * FT,),
)


def timed(work, rounds=20):
    """Best and median seconds by the wall, and the best of the processor's own."""
    work()
    wall, processor = [], []
    for _ in range(rounds):
        began, used = time.perf_counter(), time.process_time()
        work()
        wall.append(time.perf_counter() - began)
        processor.append(time.process_time() - used)
    return {
        "best_s": round(min(wall), 5),
        "median_s": round(median(wall), 5),
        "processor_s": round(min(processor), 5),
    }


def main():
    """Every part's time, as a mapping that the table of results is made from."""
    table = read_folder(DEMO).table
    stated = FairSettings(25.4 / 16)
    with threadpool_limits(1):
        hull = fair(table, stated).hull
        planes = frame_planes(hull, SETTINGS)
        limits = limits_of(hull, SETTINGS)
        cut_at = face_planes(planes)
        frames = stand_frames(hull, planes, SETTINGS).frames
        divisions = divide(frames, SETTINGS)
        whole = frame_hull(hull, SETTINGS)
        found = {
            "fair the table": timed(lambda: fair(table, stated), 5),
            "cut 135 faces": timed(
                lambda: cut(hull, cut_at, SETTINGS.planking_mm, limits, SETTINGS.points)
            ),
            "stand 45 frames (faces, matching, inner edges, marks)": timed(
                lambda: stand_frames(hull, planes, SETTINGS)
            ),
            "divide": timed(lambda: divide(frames, SETTINGS)),
            "cut timbers": timed(lambda: cut_timbers(frames, divisions, SETTINGS)),
            "frame the hull, checks and all": timed(lambda: frame_hull(hull, SETTINGS)),
            "the same, with cants proposed": timed(
                lambda: frame_hull(hull, replace(SETTINGS, cants="propose"))
            ),
            "outlines of all timbers": timed(lambda: outlines(whole.frames)),
        }
    return {"frames": len(whole.frames), "timbers": len(whole.timbers), "parts": found}


if __name__ == "__main__":
    print(json.dumps(main(), indent=1))
