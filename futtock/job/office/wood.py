"""The wood that each timber comes out of, for the view in space: its slab's portrait, laid on it.

A slab that was photographed has its portrait; any other is drawn from its outlines, its grain and
its flaws, so that a knot or a run of grain is seen where it will lie in the frame.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused

if TYPE_CHECKING:
    from futtock.job.office.office import Sitting
    from futtock.job.whole import Job
    from futtock.stock.slab import Slab

Array = NDArray[np.float64]

STEP_MM = 3.0
_RUN = 14  # steps along the grain over which the drawn figure is drawn out
_LIGHT, _DARK = (195, 223, 236), (118, 166, 191)  # the oak washes, blue green red
_FLAW = (60, 84, 104)


@dataclass(frozen=True)
class Face:
    """Where a picture of a slab lies: x and y of its lower left corner, width and height, in mm."""

    x_mm: float
    y_mm: float
    wide_mm: float
    high_mm: float


def picture_of(sitting: Sitting, name: str) -> bytes:
    """A slab's portrait, or its drawing where it has none, as JPEG.

    Raises
    ------
    Misused
        Where there is no such slab.
    """
    from futtock.job.office.photo import slab_portrait

    job = sitting.need("papers")
    found = slab_portrait(job, name)
    if found is not None and job.rack[name].portrait_at is not None:
        return found
    return sitting.drawn(("wood", name), lambda: drawn(job.rack[name]))


def face_of(job: Job, slab: Slab) -> Face:
    """Where the picture of :func:`picture_of` lies on the slab."""
    import cv2

    from futtock.job.office.photo import slab_portrait
    from futtock.stock.grid import slab_grid

    found = slab_portrait(job, slab.name)
    if found is not None and slab.portrait_at is not None:
        image = cv2.imdecode(np.frombuffer(found, np.uint8), cv2.IMREAD_COLOR)
        if image is None:
            raise Misused(f"The portrait of {slab.name} cannot be opened.")
        x, y, step = slab.portrait_at
        high, wide = image.shape[:2]
        return Face(x - step / 2, y - step / 2, wide * step, high * step)
    grid = slab_grid(slab, STEP_MM, 12.0)
    nodes = grid.nodes_mm().reshape(-1, 2)
    low = nodes.min(axis=0) - STEP_MM / 2
    rows, columns = grid.shape
    return Face(float(low[0]), float(low[1]), columns * STEP_MM, rows * STEP_MM)


def drawn(slab: Slab) -> bytes:
    """A slab drawn as wood, upper edge first: noise drawn out along its grain, flaws dark."""
    import cv2

    from futtock.stock.grain import grain_raster
    from futtock.stock.grid import slab_grid

    grid = slab_grid(slab, STEP_MM, 12.0)
    seen = grain_raster(slab, grid)
    rows, columns = grid.shape
    noise = np.random.default_rng(7).random((rows, columns)).astype(np.float32)
    turn = np.radians(seen.angle_deg)
    dx, dy = np.cos(turn).astype(np.float32), np.sin(turn).astype(np.float32)
    y, x = np.mgrid[:rows, :columns].astype(np.float32)
    total = noise.copy()
    for way in (1.0, -1.0):
        at_x, at_y = x.copy(), y.copy()
        for _ in range(_RUN):
            step_x = cv2.remap(dx, at_x, at_y, cv2.INTER_NEAREST)
            step_y = cv2.remap(dy, at_x, at_y, cv2.INTER_NEAREST)
            at_x, at_y = at_x + way * step_x, at_y + way * step_y
            total += cv2.remap(noise, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    total -= total.min()
    share = (total / max(float(total.max()), 1e-6))[..., None]
    picture = (np.array(_LIGHT) * share + np.array(_DARK) * (1 - share)).astype(np.uint8)
    low = grid.nodes_mm().reshape(-1, 2).min(axis=0)
    for flaw in slab.flaws:
        ring = np.rint((flaw.outline_mm - low) / STEP_MM).astype(np.int32)
        cv2.fillPoly(picture, [ring], _FLAW)
    good, jpeg = cv2.imencode(".jpg", picture[::-1], [cv2.IMWRITE_JPEG_QUALITY, 82])
    if not good:
        raise Misused(f"{slab.name} cannot be drawn.")
    return jpeg.tobytes()


def wood_of(job: Job) -> dict[str, tuple[str, Array]]:
    """For each timber laid out the address of its slab's picture, and where its corners lie on it.

    Corners are in the order of :func:`futtock.export.solids.mesh`; (m, 2) shares of the picture's
    width and height, from its lower left.
    """
    from futtock.export.solids import flat
    from futtock.job.office.rack import accepted

    faces: dict[str, Face] = {}
    moulds = {m.mark: m for m in job.moulds}
    out = {}
    for p in accepted(job):
        mould = moulds.get(p.mark)
        if mould is None or mould.place is None:
            continue
        if p.slab not in faces:
            try:
                faces[p.slab] = face_of(job, job.rack[p.slab])
            except Misused:
                continue
        face = faces[p.slab]
        at = p.lay(flat(mould)) - (face.x_mm, face.y_mm)
        out[p.mark] = (
            f"slab.jpg?name={quote(p.slab)}",
            np.asarray(at / (face.wide_mm, face.high_mm)),
        )
    return out
