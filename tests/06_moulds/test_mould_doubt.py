"""Moulds where the lines are in doubt say how much wood to leave."""

import numpy as np
import pytest
from exact_frames import cone_frame

from futtock.moulds.doubt import with_doubt
from futtock.moulds.flat import moulds
from futtock.moulds.settings import MouldSettings


def test_doubt_is_the_spread_over_the_leans_cosine():
    """An error that grows upwards shows at each timber's upper end; large ones are findings."""
    frame = cone_frame(12.0, angles_deg=(15, 115))
    made = moulds([frame], MouldSettings())
    asked = []

    def spread(points):
        asked.append(points)
        return 0.5 + np.maximum(points[:, 2] + 850.0, 0) / 500.0

    r = 4000 * np.tan(np.radians(12.0))
    got = {m.mark: m for m in with_doubt(made, [frame], spread, MouldSettings(doubt_shown_mm=1.5))}
    # the points asked for lie on the joint's circle, in its plane
    points = np.concatenate(asked)
    assert points[:, 0] == pytest.approx(4000.0)
    assert np.hypot(points[:, 1], points[:, 2]) == pytest.approx(r)
    for mark, angle in (("1-S-f1", 65.0), ("1-P-f2", 115.0), ("1-S-a1", 40.0)):
        want = (0.5 + (850.0 - r * np.cos(np.radians(angle))) / 500.0) / np.cos(np.radians(12.0))
        assert got[mark].doubt_mm == pytest.approx(want, abs=0.03)
        assert bool(got[mark].findings) == (want > 1.5)
    assert got["1-P-f2"].findings[0].code == "D004"
    assert f"leave {2 * got['1-P-f2'].doubt_mm:.0f} mm" in got["1-P-f2"].findings[0].message
    assert with_doubt(made, [], spread, MouldSettings()) == made
