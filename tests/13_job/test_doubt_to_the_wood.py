"""The spread of the fair surface goes on to the edges and bevels of the timbers."""

from __future__ import annotations

import numpy as np
from whole_marram import marram


def test_every_timber_knows_its_doubt_in_millimetres_and_degrees() -> None:
    """Each mould's doubt is the surface's spread along its own edge, over the lean's cosine."""
    job = marram()
    frames = {f.number: f for f in job.framing.frames}
    shown = 0
    for mould in job.moulds[:: max(len(job.moulds) // 12, 1)]:
        frame = frames[mould.frame]
        low, high = next(t.girth_mm for t in frame.timbers if t.mark == mould.mark)
        a, out, up = frame.plane.axes()
        girth, edge = frame.joint.girth_mm, frame.joint.edge_mm
        mine = (girth >= max(low, 0.0)) & (girth <= high)
        points = frame.plane.origin(0.0) + edge[mine, :1] * out + edge[mine, 1:] * up
        normal, lean = job.fairing.side.spread(points, a)
        worst = float((normal / np.cos(np.radians(frame.joint.lean_deg[mine]))).max())
        # asked at every eighth place and read between: never more than the worst by a hair
        assert 0.6 * worst < mould.doubt_mm < 1.1 * worst + 0.1
        assert 0.5 * float(lean.max()) < mould.doubt_deg < 1.1 * float(lean.max()) + 0.02
        assert len(mould.doubts) == 4
        outer = max(d.mm.max() for d in mould.doubts if d.edge == "outer")
        assert 0.5 * worst < outer < 1.6 * worst + 0.1  # marks stand apart, and the far face too
        for d in mould.doubts:
            assert len(d.at_mm) == len(mould.marks)
            assert (d.mm > 0).all()
            assert (d.deg > 0).all()
        shown += 1
    assert shown >= 10
