"""The burn-up picture shows what the forecast says, and nothing runs into anything else."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from futtock.drawing.burn_up import burn_up_picture, burn_up_sheet
from futtock.drawing.heading import Heading
from futtock.sheet.extent import box_of
from futtock.sheet.items import Path, Text, flat
from futtock.sheet.style import BUTT
from futtock.yard import Entry, YardPlan, forecast
from futtock.yard.event import made
from futtock.yard.stages import FRAME_STAGES

NOW = datetime(2031, 5, 5, 8, 0, tzinfo=UTC)


def _forecast(frames: int, done: int, **plan):
    timbers = {n: [f"{n}-P-f{i}" for i in range(1, 7)] for n in range(1, frames + 1)}
    events, previous = [], "0" * 64
    for n in range(1, done + 1):
        entry = Entry(str(n), FRAME_STAGES[-1], "Ann")
        event = made(entry, NOW - timedelta(days=2 * (done + 1 - n)))
        events.append(event.sealed(n, previous))
        previous = events[-1].hash
    return forecast(events, timbers, YardPlan(**plan), NOW, runs=40, gains=False)


@pytest.fixture(scope="module", params=[(27, 6, {}), (27, 0, {"pace": "by hand"}), (2, 1, {})])
def found(request):
    """Forecasts of a yard at work, of one that begins by hand, and of a very small one."""
    frames, done, plan = request.param
    return _forecast(frames, done, **plan)


def test_dates_and_counts_are_those_of_the_forecast(found):
    """The three days are written out, and the axes reach from none to all of the frames."""
    words = [i.text for i in flat(burn_up_picture(found).items) if isinstance(i, Text)]
    for share, day in (("10 %", found.p10), ("50 %", found.p50), ("90 %", found.p90)):
        assert f"{share}  {day.day} {day:%b} {day.year}" in words
    assert "0" in words
    assert str(found.frames) in words


def test_done_frames_rise_to_their_count(found):
    """The heavy line ends at as many frames as are done, in the scale of the axis."""
    items = list(flat(burn_up_picture(found).items))
    heavy = [i for i in items if isinstance(i, Path) and i.stroke == BUTT and len(i.points_mm) > 2]
    done = len(found.burn_up.past)
    assert len(heavy) == (1 if done else 0)
    if done:
        height = 120.0
        assert heavy[0].points_mm[-1, 1] == pytest.approx(done / found.frames * height)
        assert (np.diff(heavy[0].points_mm, axis=0) >= -1e-9).all()


def test_words_do_not_collide(found):
    """No two words lie over each other, and all lie on the paper."""
    sheet = burn_up_sheet(found, Heading("Marram", "5 May 2031", "k3"))
    boxes = [box_of([i]) for i in flat(sheet.items) if isinstance(i, Text)]
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (a, b)
    x0, y0, x1, y1 = sheet.window_mm
    assert all(x0 < b[0] and b[2] < x1 and y0 < b[1] and b[3] < y1 for b in boxes)


def test_framed_already():
    """A vessel that is framed has a picture of what was done, without dates to come."""
    picture = burn_up_picture(_forecast(4, 4))
    words = [i.text for i in flat(picture.items) if isinstance(i, Text)]
    assert not [w for w in words if "%" in w]
    assert picture.about == "All 4 frames are done."


def test_days_beyond_the_ninth_run_are_left_out(found):
    """The picture ends soon after the 90 % day, whatever the slowest run took."""
    days = found.burn_up.days
    width = max(
        p[0] for i in flat(burn_up_picture(found).items) if isinstance(i, Path) for p in i.points_mm
    )
    assert width <= 240.0 + 1e-6
    assert days[0] <= date(2031, 5, 5)
