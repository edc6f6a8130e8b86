from __future__ import annotations

import contextlib
import struct
import time
import zlib

import cv2
import numpy as np
import pytest
from photo_cases import codes, encoded, off, taped

from futtock.errors import Unreadable
from futtock.stock.photo import decode
from futtock.stock.photo.cards import (
    find_cards,
)
from futtock.stock.photo.decode import open_picture
from futtock.stock.photo.header import read_header, turn_deg
from futtock.stock.photo.photograph import (
    PhotoSettings,
    photograph,
    photographed,
)

PROGRESSIVE = cv2.IMWRITE_JPEG_PROGRESSIVE


def exif(orientation: int) -> bytes:
    body = (
        b"MM\0*\0\0\0\x08\0\x01" + struct.pack(">HHIHH", 0x0112, 3, 1, orientation, 0) + b"\0\0\0\0"
    )
    return b"\xff\xe1" + struct.pack(">H", len(body) + 8) + b"Exif\0\0" + body


def png_claiming(width: int, height: int) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    data = zlib.compress(b"\0" * 100)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def cmyk_jpeg() -> bytes:
    """A JPEG of four channels, by its header: enough to be refused before it is decoded."""
    frame = b"\xff\xc0" + struct.pack(">HBHHB", 20, 8, 900, 1200, 4) + b"\x01\x11\x00" * 4
    return b"\xff\xd8" + frame + b"\xff\xda" + b"\0" * 4000 + b"\xff\xd9"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "S701"),
        (b"not a picture at all", "S702"),
        (b"\0\0\0\x18ftypheic" + b"\0" * 64, "S702"),
        (png_claiming(60_000, 60_000), "S703"),
        (png_claiming(9_000, 9_000), "S703"),
        (cmyk_jpeg(), "S705"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "S704"),
        (b"\xff\xd8\xff\xd9", "S704"),
        (b"\x89PNG\r\n\x1a\n", "S704"),
    ],
)
def test_what_is_no_photograph_is_refused_with_what_to_do(content, code):
    """Empty, HEIC, printing colours, cut short, huge in a tiny file: a finding and no traceback."""
    with pytest.raises(Unreadable) as caught:
        photograph(content)
    assert codes(caught) == [code]
    assert caught.value.findings[0].remedy


def test_a_picture_cut_short_is_refused(scene):
    """Half of a good file is told to be half of one."""
    content = encoded(scene.image)
    with pytest.raises(Unreadable) as caught:
        photograph(content[: len(content) // 2])
    assert codes(caught) == ["S704"]


def test_noise_in_the_middle_of_a_file_breaks_nothing(scene):
    """Bytes overwritten at random: read or refused, never a crash of this process."""
    content = bytearray(encoded(cv2.resize(scene.image, (1200, 900))))
    rng = np.random.default_rng(5)
    for at in rng.integers(400, len(content) - 10, 40):
        content[at] = rng.integers(256)
    with contextlib.suppress(Unreadable):
        assert photograph(bytes(content), PhotoSettings(portrait_mm=3.0)).portrait.picture.size


def test_no_card_and_one_card_are_refused(scene, got):
    """Without cards there is no scale; with one there is none along the slab."""
    blank = scene.image.copy()
    for number, corners in scene.cards.items():
        wide = corners.mean(0) + (corners - corners.mean(0)) * 1.3
        cv2.fillPoly(blank, [np.int32(scene.pixels(wide))], (90, 130, 170))
        if number == 3:
            with pytest.raises(Unreadable) as caught:
                photographed(blank)
            assert codes(caught)[-1] == "S721"
    with pytest.raises(Unreadable) as caught:
        photographed(blank)
    assert codes(caught) == ["S720"]


def test_a_card_that_lies_askew_is_passed_over(scene):
    """One card lifted at an edge disagrees with the rest: it is named and left out."""
    image = scene.image.copy()
    corners = scene.pixels(scene.cards[2]).astype(np.float32)
    low, high = np.floor(corners.min(0)).astype(int) - 25, np.ceil(corners.max(0)).astype(int) + 25
    part = image[low[1] : high[1], low[0] : high[0]]
    size = part.shape[1], part.shape[0]
    inner = corners - low
    bent = inner.copy()
    bent[:2] += (inner[2:][::-1] - inner[:2]) * 0.16
    form = cv2.getPerspectiveTransform(inner.astype(np.float32), bent.astype(np.float32))
    image[low[1] : high[1], low[0] : high[0]] = cv2.warpPerspective(
        part, form, size, borderMode=cv2.BORDER_REPLICATE
    )
    fit = photographed(image, PhotoSettings(lie="face", portrait_mm=3.0))
    said = [f for f in fit.findings if f.code == "S723"]
    assert [f.read for f in said] == ["card 2"]
    assert 2 not in fit.adjusted.centres_mm


def test_a_card_twice_is_passed_over(scene):
    """Two cards of one number: neither is used, and it is said."""
    image = scene.image.copy()
    part = cv2.aruco.generateImageMarker(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), 1, 90
    )
    image[20:150, 20:150] = 235
    image[40:130, 40:130] = part[..., None]
    fit = photographed(image, PhotoSettings(lie="face", portrait_mm=3.0))
    assert [f.read for f in fit.findings if f.code == "S724"] == ["1"]


def test_a_blurred_picture_is_doubted(scene):
    """Moved while taken: read as far as may be, with the doubt."""
    fit = photographed(
        cv2.GaussianBlur(scene.image, (0, 0), 4.5), PhotoSettings(lie="face", portrait_mm=3.0)
    )
    assert "S709" in [f.code for f in fit.findings]


def test_a_slab_that_runs_out_of_the_picture_is_said(scene, got):
    """The picture cut through the slab's head: the end found is not taken for its end."""
    cut = scene.image[:, : int(scene.pixels(scene.face_mm)[:, 0].max() - 120)]
    fit = photographed(cut, PhotoSettings(lie="face", portrait_mm=3.0))
    assert "S732" in [f.code for f in fit.findings]


def test_the_cameras_mark_turns_the_picture(scene):
    """An EXIF mark of a quarter turn is followed, and gives the slab as if taken upright."""
    turned = cv2.rotate(scene.image, cv2.ROTATE_90_COUNTERCLOCKWISE)
    content = encoded(turned)
    content = content[:2] + exif(6) + content[2:]
    assert (read_header(content).orientation, turn_deg(6)) == (6, 90)
    fit = photograph(content, PhotoSettings(taped={(0, 4): taped(scene, 0, 4)}, lie="face"))
    assert "S708" in [f.code for f in fit.findings]
    true = fit.plane.millimetres(scene.pixels(scene.face_mm))
    assert off(fit.face.whole_mm, true) < 8


@pytest.fixture(scope="module")
def honest_png() -> bytes:
    """A PNG of 81 megapixels that is what it says, some 300 kB: 243 MB once it is opened."""
    picture = np.zeros((9000, 9000, 3), np.uint8)
    picture[:, ::50] = 90
    fast = [cv2.IMWRITE_PNG_COMPRESSION, 1]
    return cv2.imencode(".png", picture, fast)[1].tobytes()


@pytest.mark.parametrize(
    ("limit", "value", "code", "said"),
    [
        ("_MEMORY_MB", 700, "S703", "more than the 700 MB of memory"),
        ("_MOST_PIXELS", 80_000_000, "S703", "81 megapixels"),
        ("_MOST_BYTES", 100_000, "S703", "MB; at most 0 are read"),
    ],
)
def test_each_limit_on_opening_bites(honest_png, monkeypatch, limit, value, code, said):
    """A picture beyond one limit alone (memory, pixels, bytes) is refused for that, with what to
    do; the worker is stopped and this process goes on."""
    monkeypatch.setattr(decode, "_READ_PIXELS", 10**9)  # opened whole, not at a part
    monkeypatch.setattr(decode, limit, value)
    with pytest.raises(Unreadable, match=said) as caught:
        open_picture(honest_png)
    assert codes(caught) == [code]
    assert caught.value.findings[0].remedy


def test_a_picture_that_takes_for_ever_is_stopped(monkeypatch):
    """A JPEG of 16 megapixels whose last scan stands in it 400 times: stopped at the limit of
    seconds, here one of processor, and said so."""
    fine = cv2.imencode(".jpg", np.full((4000, 4000, 3), 90, np.uint8), [PROGRESSIVE, 1])[1]
    content = fine.tobytes()
    last = content.rindex(b"\xff\xda")
    content = content[:last] + content[last:-2] * 400 + content[-2:]
    monkeypatch.setattr(decode, "_SECONDS", 1)
    start = time.monotonic()
    with pytest.raises(Unreadable) as caught:
        open_picture(content)
    assert codes(caught) == ["S710"]
    assert time.monotonic() - start < 12.0


def test_within_its_limits_the_same_picture_opens(honest_png):
    """What the limits as they stand allow, is opened: the limit alone refused it."""
    opened = open_picture(honest_png)
    assert opened.picture.shape == (4500, 4500, 3)


@pytest.mark.slow
def test_a_picture_of_a_hundred_megapixels_is_read_at_a_part_of_its_size(scene):
    """Large but honest: decoded at a quarter, said, and the cards still found."""
    big = cv2.resize(scene.image, (11_600, 8_700), interpolation=cv2.INTER_LINEAR)
    opened = open_picture(encoded(big))
    assert opened.reduction == 2
    assert [f.code for f in opened.findings] == ["S707"]
    assert len(find_cards(opened.picture)) == 5
