"""Portraits of slabs: the rectified photographs kept beside the rack, as the ground of drawings."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.job.written import file_name

if TYPE_CHECKING:
    from futtock.stock.slab import Slab

PHOTOS = "photos"
_MOST_PX = 2400


def portrait_path(folder: Path, slab: Slab) -> Path | None:
    """Where a slab's portrait is; None where it has none, or its file is gone."""
    if not slab.portrait:
        return None
    # by its bare name: a rack file cannot lead out of the folder
    path = folder / PHOTOS / f"{file_name(Path(slab.portrait).stem)}.jpg"
    return path if path.is_file() else None


def ground(folder: Path, slab: Slab, most_px: int = _MOST_PX) -> tuple[Slab, bytes | None]:
    """The slab, and its portrait no wider than so many pixels, fit to draw over.

    A portrait that is made smaller lies otherwise, and so the slab comes back with it. None where
    there is no portrait, or what is there cannot be read: the slab is then drawn plain.
    """
    path = portrait_path(folder, slab)
    if path is None or slab.portrait_at is None:
        return slab, None
    import cv2

    from futtock.errors import Unreadable
    from futtock.stock.photo.decode import open_picture

    try:
        opened = open_picture(path.read_bytes(), path.name)
    except (OSError, Unreadable):
        return slab, None
    times = -(-max(opened.picture.shape[:2]) // most_px)
    high, wide = (times * -(-n // times) for n in opened.picture.shape[:2])
    grow = (high - opened.picture.shape[0], 0, 0, wide - opened.picture.shape[1])
    # filled up above and to the right to whole pixels of the smaller one: the lower left stays
    whole = cv2.copyMakeBorder(opened.picture, *grow, cv2.BORDER_REPLICATE)
    small = cv2.resize(whole, (wide // times, high // times), interpolation=cv2.INTER_AREA)
    done, packed = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 85])
    if not done:
        return slab, None
    x, y, mm_per_px = slab.portrait_at
    coarse = mm_per_px * times * opened.header.width / opened.picture.shape[1]
    # the outer edge of the lower left pixel stays where it is
    half = (coarse - mm_per_px) / 2.0
    return replace(slab, portrait_at=(x + half, y + half, coarse)), packed.tobytes()
