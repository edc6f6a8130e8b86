"""Burn-up: frames standing day by day, what was and what will likely be, until she is framed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from futtock.drawing.heading import Heading, Scale, bare, titled
from futtock.sheet.hatch import hatched
from futtock.sheet.items import Anchor, Face, Item, Point, Text, path
from futtock.sheet.letters import width_mm
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import BUTT, EDGE, FREE, LEVEL, RULE, SEEN, Tone
from futtock.yard.outlook import Forecast

_WIDE, _HIGH = 240.0, 120.0
_STEPS = (1, 2, 5, 10, 20, 50, 100)
_DATE_MM = 34.0  # a share with its date
_DAY_MM = 19.0  # room for a date below its mark


def burn_up_picture(forecast: Forecast, width_mm: float = _WIDE, height_mm: float = _HIGH) -> Sheet:
    """The picture without border, for a page."""
    items = burn_up_items(forecast, width_mm, height_mm)
    return bare("burn-up", items, "Frames done, day by day", _about(forecast))


def burn_up_sheet(forecast: Forecast, heading: Heading, paper: str = "A4") -> Sheet:
    """The picture on a titled sheet."""
    return titled(
        "burn-up",
        burn_up_items(forecast, _WIDE, _HIGH),
        heading,
        "When she will be framed",
        Scale(1, "not to scale"),
        paper=paper,
        about=_about(forecast),
    )


def burn_up_items(forecast: Forecast, wide_mm: float, high_mm: float) -> list[Item]:
    """Axes, what is done (heavy), the middle course (dashed), and the band of four runs in five."""
    burn = forecast.burn_up
    first = min([burn.days[0], *(d for d, _ in burn.past)])
    # As far as nine runs of ten go, with room for the last date beside its line.
    end = max(forecast.p90, first + timedelta(days=1))
    last = end + timedelta(days=max(1, round(0.2 * (end - first).days)))
    span = (last - first).days
    shown = [i for i, day in enumerate(burn.days) if day <= last]

    def place(day: date, frames: float) -> Point:
        return ((day - first).days / span * wide_mm, frames / max(burn.frames, 1) * high_mm)

    leftward = _leftward(place, forecast, wide_mm)
    items: list[Item] = [
        *_frames_axis(burn.frames, wide_mm, high_mm, 3 if leftward else 0),
        *_days_axis(first, last, wide_mm, high_mm),
    ]
    low, middle, high = (
        [place(burn.days[i], course[i]) for i in shown] for course in (burn.p10, burn.p50, burn.p90)
    )
    if len(low) > 1:
        ring = [*_steps(high), *reversed(_steps(low))]
        items += hatched(np.array(ring), "slants")
        items += [path(_steps(low), EDGE), path(_steps(high), EDGE)]
        items.append(path(_steps(middle), FREE))
    done = [place(d, n) for d, n in burn.past]
    if done:
        start = (done[0][0], 0.0)
        now = (place(burn.days[0], 0)[0], done[-1][1])
        items.append(path(_steps([start, *done, now]), BUTT))
    items += _ends(forecast, place, leftward, high_mm)
    items += _key(wide_mm, bool(done))
    return items


def _steps(points: list[Point]) -> list[Point]:
    """A stair through the points: frames are done one at a time."""
    stair = points[:1]
    for (x0, y0), (x1, y1) in pairwise(points):
        stair += [(x1, y0), (x1, y1)] if y1 != y0 and x1 != x0 else [(x1, y1)]
    return stair


def _frames_axis(frames: int, wide: float, high: float, rows: int) -> list[Item]:
    step = next((s for s in _STEPS if frames / s <= 10), _STEPS[-1])
    items: list[Item] = [path([(0, 0), (wide, 0)], SEEN), path([(0, 0), (0, high)], SEEN)]
    marks = [n for n in range(0, frames, step) if frames - n >= step / 2]
    for n in [*marks, frames]:
        y = n / max(frames, 1) * high
        if n:
            items.append(path([(0, y), (wide, y)], LEVEL if n == frames else RULE))
        items.append(Text(str(n), (-2.0, y), 3.2, anchor="end", rise="middle"))
    items.append(
        Text("frames done", (0.0, high + 3.5 + 4.6 * rows), 3.2, Face.WORDS, tone=Tone.PENCIL)
    )
    return items


def _days_axis(first: date, last: date, wide: float, high: float) -> list[Item]:
    span = (last - first).days
    months = span > 120
    items: list[Item] = []
    most = max(2, int(wide / 26.0))
    every = max(1, -(-span // most))
    every = every if months else next((s for s in (1, 2, 7, 14, 28) if s >= every), every)
    day = first
    x_last = -1e9
    while day <= last:
        x = (day - first).days / span * wide
        if x - x_last > _DAY_MM:
            items.append(path([(x, 0), (x, -1.6)], SEEN))
            if day != first:
                items.append(path([(x, 0), (x, high)], RULE))
            words = f"{day.day} {day:%b}" + (f" {day.year}" if day in (first,) or months else "")
            items.append(Text(words, (x, -6.0), 3.0, anchor="middle"))
            x_last = x
        day = _next_month(day) if months else day + timedelta(days=every)
    return items


def _next_month(day: date) -> date:
    return date(day.year + day.month // 12, day.month % 12 + 1, 1)


def _leftward(place: Callable[[date, float], Point], forecast: Forecast, wide: float) -> bool:
    """Whether the last date has no room right of its line."""
    return bool(forecast.left) and place(forecast.p90, 0)[0] + _DATE_MM > wide + 10.0


def _ends(
    forecast: Forecast, place: Callable[[date, float], Point], leftward: bool, high: float
) -> list[Item]:
    """Where the last frame is done: 10, 50 and 90 %, with their dates, above the picture."""
    if not forecast.left:
        return []
    items: list[Item] = []
    # Each date stands right of its own line and above the lines that are further right; where
    # there is no room to the right, left of its line and above those further left.
    rows = [("90 %", forecast.p90), ("50 %", forecast.p50), ("10 %", forecast.p10)]
    if leftward:
        rows.reverse()
    for row, (share, day) in enumerate(rows):
        x, top = place(day, 0)[0], high + 3.0 + 4.6 * row
        items.append(path([(x, high - 2.0), (x, top + 2.2)], EDGE))
        words = f"{share}  {day.day} {day:%b} {day.year}"
        spot = (x - 1.5 if leftward else x + 1.5, top)
        anchor: Anchor = "end" if leftward else "start"
        items.append(Text(words, spot, 3.0, Face.FIGURES_BOLD, anchor))
    return items


def _key(wide: float, past: bool) -> list[Item]:
    """What the lines mean, below the days."""
    words = [(FREE, "middle course"), (EDGE, "four runs in five lie between")]
    if past:
        words.insert(0, (BUTT, "done"))
    items: list[Item] = []
    x, y = 0.0, -13.0
    for stroke, text in words:
        long = 12.5 + width_mm(text, 3.2, Face.WORDS)
        if x > 0.0 and x + long > wide:
            x, y = 0.0, y - 5.0
        items.append(path([(x, y), (x + 10.0, y)], stroke))
        items.append(Text(text, (x + 12.5, y), 3.2, Face.WORDS, rise="middle"))
        x += long + 10.0
    return items


def _about(forecast: Forecast) -> str:
    if not forecast.left:
        return f"All {forecast.frames} frames are done."
    return (
        f"{forecast.frames - forecast.left} of {forecast.frames} frames are done. The last is "
        f"done by {forecast.p50:%d %B %Y} in half of the runs, by {forecast.p90:%d %B %Y} in nine "
        "of ten."
    )
