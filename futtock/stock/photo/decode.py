"""A picture file opened safely: looked at first, then decoded in a process with limits."""

from __future__ import annotations

import struct
import subprocess
import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Unreadable
from futtock.findings import Finding, Kind
from futtock.stock import kinds
from futtock.stock.photo.header import Header, read_header, turn_deg
from futtock.stock.photo.worker import NO_ROOM

Picture = NDArray[np.uint8]

_MOST_BYTES = 120_000_000
_MOST_PIXELS = 220_000_000
_READ_PIXELS = 26_000_000
_LEAST_SIDE = 500
_MOST_RATIO = 4_000.0  # pixels a byte: a photograph holds some two, a bomb thousands
_MEMORY_MB = 2_500
_SECONDS = 30


@dataclass(frozen=True, slots=True)
class Opened:
    """A picture (h, w, 3) in BGR, upright, and by how much it was reduced on reading."""

    picture: Picture
    reduction: int
    header: Header
    findings: tuple[Finding, ...]


def open_picture(content: bytes, file: str = "photo") -> Opened:
    """Decode a picture file.

    Raises
    ------
    Unreadable
        With one finding: not a picture, HEIC, CMYK, cut short, too large, too slow.
    """
    if not content:
        raise _refused(kinds.PHOTO_FILE, "the file is empty.", file)
    if len(content) > _MOST_BYTES:
        said = (
            f"the file has {len(content) / 1e6:.0f} MB; at most {_MOST_BYTES / 1e6:.0f} are read."
        )
        raise _refused(kinds.PHOTO_SIZE, said, file)
    header = read_header(content)
    _look_over(header, len(content), file)
    reduction = 1
    while header.pixels / reduction**2 > _READ_PIXELS and reduction < 8:
        reduction *= 2
    picture = _decoded(content, reduction, file)
    if min(picture.shape[:2]) < _LEAST_SIDE / reduction and min(picture.shape[:2]) < 40:
        raise _refused(kinds.PHOTO_SMALL, "there is next to nothing in it.", file)
    return Opened(picture, reduction, header, tuple(_notes(header, picture, reduction, file)))


def _look_over(header: Header, size: int, file: str) -> None:
    """Refuse what should not be decoded at all."""
    if header.kind == "heic":
        said = "this is a HEIC picture, which is not read here."
        raise _refused(kinds.PHOTO_FORM, said, file, "HEIC", "JPEG or PNG")
    if not header.kind:
        raise _refused(
            kinds.PHOTO_FORM, "this is no JPEG or PNG picture.", file, None, "JPEG or PNG"
        )
    if header.width and header.pixels > _MOST_PIXELS:
        text = f"{header.width} x {header.height}"
        said = f"the picture has {header.pixels / 1e6:.0f} megapixels ({text})."
        raise _refused(kinds.PHOTO_SIZE, said, file, text, f"{_MOST_PIXELS / 1e6:.0f} megapixels")
    if header.pixels > _MOST_RATIO * size:
        text = f"{header.width} x {header.height} in {size} bytes"
        said = f"the file says it is far larger than its content can be ({text})."
        raise _refused(kinds.PHOTO_SIZE, said, file, text, "a photograph")
    if header.kind == "jpeg" and header.channels == 4:
        said = "the picture is in printing colours."
        raise _refused(kinds.PHOTO_COLOURS, said, file, "CMYK", "RGB")
    if not header.whole:
        said = "the file ends before the picture does."
        raise _refused(kinds.PHOTO_CUT, said, file)


def _decoded(content: bytes, reduction: int, file: str) -> Picture:
    command = [sys.executable, "-m", "futtock.stock.photo.worker"]
    command += [str(_MEMORY_MB), str(_SECONDS), str(reduction)]
    try:
        done = subprocess.run(
            command, input=content, capture_output=True, timeout=_SECONDS + 10, check=False
        )
    except subprocess.TimeoutExpired:
        said = f"it could not be opened in {_SECONDS} s."
        raise _refused(kinds.PHOTO_SLOW, said, file) from None
    if done.returncode == NO_ROOM:
        said = f"opening it takes more than the {_MEMORY_MB} MB of memory that a picture may have."
        raise _refused(kinds.PHOTO_SIZE, said, file)
    if done.returncode != 0 or len(done.stdout) < 8:
        kind = kinds.PHOTO_SLOW if done.returncode in (-9, -24) else kinds.PHOTO_FILE
        raise _refused(kind, "the picture cannot be decoded.", file)
    height, width = struct.unpack("<II", done.stdout[:8])
    pixels = np.frombuffer(done.stdout, np.uint8, offset=8)
    if pixels.size != height * width * 3:
        raise _refused(kinds.PHOTO_FILE, "the picture cannot be decoded.", file)
    return pixels.reshape(height, width, 3)


def _notes(header: Header, picture: Picture, reduction: int, file: str) -> list[Finding]:
    notes = []
    if header.orientation != 1:
        said = f"the camera's mark turns the picture by {turn_deg(header.orientation)} degrees."
        notes.append(kinds.PHOTO_TURNED.found(said, file=file, read=str(header.orientation)))
    if reduction > 1:
        height, width = picture.shape[:2]
        said = f"of {header.pixels / 1e6:.0f} megapixels every {reduction}th is read."
        notes.append(kinds.PHOTO_REDUCED.found(said, file=file, read=f"{width} x {height}"))
    if min(picture.shape[:2]) < _LEAST_SIDE:
        height, width = picture.shape[:2]
        said = f"the picture has {width} x {height} pixels."
        expected = f"{_LEAST_SIDE} or more either way"
        notes.append(
            kinds.PHOTO_SMALL.found(said, file=file, read=f"{width} x {height}", expected=expected)
        )
    return notes


def _refused(
    kind: Kind, said: str, file: str, read: str | None = None, expected: str | None = None
) -> Unreadable:
    finding = kind.found(said, file=file, read=read, expected=expected)
    return Unreadable(said, [finding])
