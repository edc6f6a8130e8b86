"""What a picture file says of itself before it is decoded: kind, size, colours, turn, wholeness."""

from __future__ import annotations

import struct
from dataclasses import dataclass

_HEIC = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"avif")
_TURNS = {1: 0, 3: 180, 6: 90, 8: 270}


@dataclass(frozen=True, slots=True)
class Header:
    """A picture's header.

    Attributes
    ----------
    kind
        ``jpeg``, ``png``, ``heic``, or "" for anything else.
    width, height
        In pixels as stored, before any turn; 0 where unknown.
    channels
        1, 3 or 4; 4 in a JPEG means printing colours.
    orientation
        The EXIF mark, 1 to 8.
    whole
        False where the file stops before its end mark.
    """

    kind: str
    width: int = 0
    height: int = 0
    channels: int = 3
    orientation: int = 1
    whole: bool = True

    @property
    def pixels(self) -> int:
        """Width times height."""
        return self.width * self.height


def read_header(content: bytes) -> Header:
    """The header of a picture; never raises, whatever the bytes are."""
    try:
        if content.startswith(b"\xff\xd8"):
            return _jpeg(content)
        if content.startswith(b"\x89PNG\r\n\x1a\n"):
            return _png(content)
    except (struct.error, IndexError, ValueError):
        return Header("jpeg" if content.startswith(b"\xff\xd8") else "png", whole=False)
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC:
        return Header("heic")
    return Header("")


def _jpeg(content: bytes) -> Header:
    at, orientation = 2, 1
    width = height = 0
    channels = 3
    while at + 4 <= len(content):
        if content[at] != 0xFF:
            break
        mark = content[at + 1]
        if mark == 0xFF or 0xD0 <= mark <= 0xD8 or mark == 0x01:
            at += 1 if mark == 0xFF else 2
            continue
        if mark == 0xD9:
            break
        (size,) = struct.unpack(">H", content[at + 2 : at + 4])
        body = content[at + 4 : at + 2 + size]
        if 0xC0 <= mark <= 0xCF and mark not in (0xC4, 0xC8, 0xCC):
            _, height, width, channels = struct.unpack(">BHHB", body[:6])
        elif mark == 0xE1 and body.startswith(b"Exif\0\0"):
            orientation = _exif(body[6:])
        elif mark == 0xDA:
            break
        at += 2 + max(size, 2)
    # bytes after the end mark are common (thumbnails, motion); none before it is a cut file
    whole = content.rfind(b"\xff\xd9") > at
    return Header("jpeg", width, height, channels, orientation, whole and width > 0)


def _exif(body: bytes) -> int:
    """The orientation of an EXIF block, 1 where it says none."""
    order = {b"II": "<", b"MM": ">"}.get(body[:2])
    if order is None:
        return 1
    (start,) = struct.unpack(order + "I", body[4:8])
    (count,) = struct.unpack(order + "H", body[start : start + 2])
    for k in range(min(count, 500)):
        entry = body[start + 2 + 12 * k : start + 14 + 12 * k]
        if len(entry) < 12:
            return 1
        tag, _, _, value = struct.unpack(order + "HHIH", entry[:10])
        if tag == 0x0112:
            return int(value) if 1 <= value <= 8 else 1
    return 1


def _png(content: bytes) -> Header:
    width, height, _, colour = struct.unpack(">IIBB", content[16:26])
    channels = {0: 1, 2: 3, 3: 3, 4: 2, 6: 4}.get(colour, 3)
    whole = b"IEND" in content[-16:]
    return Header("png", width, height, 3 if channels == 4 else channels, 1, whole)


def turn_deg(orientation: int) -> int:
    """Degrees clockwise by which an EXIF mark turns the picture, mirroring apart."""
    return _TURNS.get(orientation, {2: 0, 4: 180, 5: 90, 7: 270}.get(orientation, 0))
