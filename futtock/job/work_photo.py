"""Photographs of work: decoded apart, kept small and without what a camera adds."""

from __future__ import annotations

import hashlib
import re
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Misused, Unreadable, Unwritable

if TYPE_CHECKING:
    from futtock.job.floor import Kept, Sent
    from futtock.job.office.office import Sitting

LARGEST = 16 * 1024 * 1024
"""Bytes of one photograph as it is sent."""
MOST_PIXELS = 60_000_000
MOST_KEPT = 4_000
"""Photographs that one vessel keeps: some 1.5 GB."""
_WIDEST_PX = 1600
_QUALITY = 85
_AT_ONCE = 2
_WAIT_S = 40.0

_FOLDER = Path("photos") / "work"
_NAME = re.compile(r"[0-9a-f]{24}\.jpg")
_decoding = threading.BoundedSemaphore(_AT_ONCE)


def enter_photograph(sitting: Sitting, sent: Sent, content: bytes) -> Kept:
    """Keep a photograph, then its entry in the journal; sending it again changes nothing.

    Raises
    ------
    Misused
        Where it is no photograph that can be kept, or the entry cannot be meant.
    Unwritable, Unreadable
        Where it cannot be kept now; it may be sent again.
    """
    from dataclasses import replace

    from futtock.job.floor import enter, mark_asked

    mark_asked(sitting.need("papers", "frames", "moulds"), sent.mark)
    if not content:
        raise Misused("No photograph was sent.")
    if len(content) > LARGEST:
        raise Misused(f"A photograph has at most {LARGEST // 2**20} MB.")
    name = f"{hashlib.sha256(content).hexdigest()[:24]}.jpg"
    folder = sitting.job.folder
    if not (folder / _FOLDER / name).is_file():
        _keep(folder, name, _small(content))
    return enter(sitting, replace(sent, stage="photograph", file=name))


def work_photograph(folder: Path, name: str) -> bytes | None:
    """A photograph by the name that its entry has; None where there is none."""
    if not _NAME.fullmatch(name):
        return None
    try:
        return (folder / _FOLDER / name).read_bytes()
    except OSError:
        return None


def _small(content: bytes) -> bytes:
    """The picture anew, no wider than a screen: so nothing of the file that was sent is kept."""
    import cv2

    from futtock.stock.photo.decode import open_picture
    from futtock.stock.photo.header import read_header

    pixels = read_header(content).pixels
    if pixels > MOST_PIXELS:
        raise Misused(f"A photograph has at most {MOST_PIXELS // 1_000_000} megapixels.")
    if not _decoding.acquire(timeout=_WAIT_S):
        raise Unwritable("Other photographs are being taken in; it is sent again by itself.")
    try:
        picture = open_picture(content, "photograph").picture
    except Unreadable as error:
        raise Misused(f"The photograph cannot be kept: {error}") from None
    finally:
        _decoding.release()
    shrink = max(picture.shape[:2]) / _WIDEST_PX
    if shrink > 1:
        picture = cv2.resize(
            picture, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA
        ).astype(picture.dtype, copy=False)
    good, jpeg = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    if not good:
        raise Unwritable("The photograph cannot be written.")
    return bytes(jpeg.tobytes())


def _keep(folder: Path, name: str, jpeg: bytes) -> None:
    from futtock.job.written import Written

    place = folder / _FOLDER
    if place.is_dir() and sum(1 for _ in place.iterdir()) >= MOST_KEPT:
        raise Misused(f"{MOST_KEPT} photographs are kept; move some out of {_FOLDER} first.")
    Written(place).put(name, jpeg)
