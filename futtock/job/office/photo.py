"""A slab by photograph: taken in, read in a process of its own, corrected, put on the rack."""

from __future__ import annotations

import hashlib
import json
import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Severity
from futtock.job.office.face import (
    OtherFace,
    named_corners,
    other_face,
    second_by_tape,
    second_of,
)
from futtock.job.office.face import kept as face_kept
from futtock.job.written import KEPT, Written

if TYPE_CHECKING:
    from futtock.job.office.office import Office, Sitting
    from futtock.job.office.tasks import Outcome, Running
    from futtock.job.whole import Job
    from futtock.stock.photo.correction import Marks
    from futtock.stock.photo.portrait import Portrait
    from futtock.stock.slab import Flaw

Array = NDArray[np.float64]

LARGEST = 20 * 1024 * 1024
_KEPT_AT_MOST = 12
_ID = re.compile(r"[0-9a-f]{24}")
_WIDEST_PX = 1600
_DOUBTED, _PUT_RIGHT_MM = 12, 150.0
_lock = threading.Lock()
FLAW_KINDS = ("knot", "check", "shake", "split", "rot", "sapwood", "bark", "pith", "hole", "insect")


@dataclass(frozen=True)
class PhotoView:
    """A photograph as it was read and corrected; polylines are SVG points over the portrait."""

    id: str
    running: Running | None
    failed: Outcome | None
    wide: int
    high: int
    scale: float
    face: str
    sound: str
    flaws: tuple[tuple[str, str], ...]
    proposed: tuple[tuple[str, str], ...]
    grain: tuple[str, ...]
    touches: str
    findings: tuple[Finding, ...]
    species: str
    corners: tuple[str, ...] = ()
    first: str = ""
    other: OtherFace | None = None
    cards: bool = False
    doubted: tuple[str, ...] = ()


def take_in(office: Office, content: bytes, said: Mapping[str, str]) -> str:
    """Keep an uploaded photograph and begin to read it; its id.

    Raises
    ------
    Misused
        Where nothing was sent, or too much, or another is being read.
    Unreadable
        Where a length typed beside it is none.
    """
    if not content:
        raise Misused("No photograph was sent.")
    if len(content) > LARGEST:
        raise Misused(f"A photograph of more than {LARGEST // 2**20} MB.")
    job = office.sitting().need("papers")
    args: dict[str, Any] = {
        "lie": said.get("lie") if said.get("lie") in ("face", "floor") else None
    }
    args["thickness_mm"] = _length(job, said.get("thickness", "")) or 0.0
    distance = _length(job, said.get("taped", ""))
    if distance:
        cards = [int(n) for n in re.findall(r"\d+", said.get("cards", ""))][:2]
        if len(cards) != 2:
            raise Misused("Say between which two cards the tape lay, as: 0 and 3.")
        args["taped"] = [*cards, distance]
    name = hashlib.sha256(content).hexdigest()[:24]
    args["id"] = name
    place = _place(office.folder, name)
    Written(place).put("photo", content)
    for old in ("read.json", "touches.json", "cards.json", "second.json"):
        (place / old).unlink(missing_ok=True)
    first = said.get("first", "")
    if first:
        args["first"] = _place(office.folder, first).name
    Written(place).put("said.json", json.dumps(args))
    office.tasks.forget("photo")
    office.tasks.begin("photo", **args)
    _tidy(place.parent)
    return name


def read_photo(job: Job, args: dict[str, Any]) -> dict[str, Any]:
    """Read a photograph that was taken in; the worker's part."""
    import cv2

    from futtock.job.office.cards import by_hand, note_cards
    from futtock.job.rack import kept_lens
    from futtock.stock.photo.decode import open_picture
    from futtock.stock.photo.photograph import PhotoSettings, photographed

    place = _place(job.folder, args["id"])
    taped = args.get("taped")
    hand = by_hand(args)
    settings = PhotoSettings(
        taped={(taped[0], taped[1]): taped[2]} if taped else None,
        lie=args.get("lie"),
        thickness_mm=float(args.get("thickness_mm") or 0.0),
        by_hand=hand,
        lens=kept_lens(job.folder),
    )
    opened = open_picture((place / "photo").read_bytes(), "photograph")
    note_cards(place, opened.picture, hand)
    got = photographed(opened.picture, settings, "photograph", job.report)
    portrait = got.portrait
    shrink = max(1.0, portrait.picture.shape[1] / _WIDEST_PX)
    small = cv2.resize(
        portrait.picture, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA
    )
    good, jpeg = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 86])
    if not good:
        raise Unreadable("The portrait cannot be written.")
    written = Written(place)
    written.put("portrait.jpg", jpeg.tobytes())
    np.savez(place / "portrait.npz", picture=portrait.picture, seen=portrait.seen)
    marks, ends, edges = got.marks(), got.face.ends_doubted_mm, got.face.doubt_mm
    read = {
        "origin_mm": list(portrait.origin_mm),
        "mm_per_px": portrait.mm_per_px,
        "shape": list(portrait.picture.shape[:2]),
        "shrink": shrink,
        "small": [small.shape[1], small.shape[0]],
        "whole_mm": marks.whole_mm.round(2).tolist(),
        "sound_mm": marks.sound_mm.round(2).tolist(),
        "proposed": [[f.kind, f.outline_mm.round(2).tolist()] for f in marks.proposed],
        "grain_mm": [line.round(2).tolist() for line in marks.grain_mm],
        "doubted_mm": [*ends.round(2).tolist(), *edges[:_DOUBTED].round(2).tolist()],
        "cards_mm": {n: at.round(2).tolist() for n, at in got.cards_mm.items()},
        "findings": [{**f.as_json(), "file": None} for f in (*opened.findings, *got.findings)],
    }
    written.put("read.json", json.dumps(read))
    return {"id": args["id"]}


def photo_view(office: Office, name: str) -> PhotoView:
    """A photograph as it stands; running or failed where it is not read."""
    job = office.sitting().need("papers")
    place = _place(office.folder, name)
    if not (place / "photo").is_file():
        raise Misused("There is no such photograph; send it again.")
    running = office.tasks.running("photo")
    species = job.stated.vessel.timber.species
    if running is not None or not (place / "read.json").is_file():
        failed = office.tasks.outcome("photo") if running is None else None
        seen = (place / "cards.json").is_file()
        return PhotoView(
            name, running, failed, 0, 0, 1.0, "", "", (), (), (), "[]", (), species, cards=seen
        )
    read, touches = _read(place), _touches(place)
    marks, found = _marks(place, read, touches)
    second = second_of(place)
    told = tuple(Finding(**{**f, "severity": Severity(f["severity"])}) for f in read["findings"])

    def line(points: Array) -> str:
        x0, y0 = read["origin_mm"]
        step = read["mm_per_px"] * read["shrink"]
        high = (read["shape"][0] - 1) * read["mm_per_px"]
        px = np.column_stack([points[:, 0] - x0, high - (points[:, 1] - y0)]) / step
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in px)

    return PhotoView(
        name,
        None,
        None,
        read["small"][0],
        read["small"][1],
        read["mm_per_px"] * read["shrink"],
        line(marks.whole_mm),
        line(marks.sound_mm),
        tuple((f.kind, line(f.outline_mm)) for f in marks.flaws),
        tuple((f.kind, line(f.outline_mm)) for f in marks.proposed),
        tuple(line(g) for g in marks.grain_mm),
        json.dumps(touches),
        (*told, *found),
        species,
        tuple(line(p[None]) for p in named_corners(touches)),
        str(_said(place).get("first", "")),
        None
        if second is None
        else other_face(place, _place(office.folder, second), marks, touches, line),
        True,
        tuple(line(p[None]) for p in _still_doubted(read, touches)),
    )


def touch(office: Office, name: str, what: str, points_px: str, kind: str) -> None:
    """Add one correction, in pixels of the portrait as it is shown; ``undo`` takes the last away.

    Raises
    ------
    Misused
        Where it is no correction.
    """
    from futtock.stock.photo.correction import read_touches

    place = _place(office.folder, name)
    with _lock:
        read, many = _read(place), _touches(place)
        if what == "undo":
            many = many[:-1]
        else:
            try:
                px = np.array([float(v) for v in points_px.replace(",", " ").split()])
                px = px.reshape(-1, 2)
            except ValueError:
                raise Misused("That is no line of points.") from None
            if len(px) > 2000 or len(many) >= 400:
                raise Misused("That is more than a photograph needs.")
            x0, y0 = read["origin_mm"]
            step = read["mm_per_px"] * read["shrink"]
            high = (read["shape"][0] - 1) * read["mm_per_px"]
            points = np.column_stack([px[:, 0] * step + x0, high - px[:, 1] * step + y0])
            one = {"what": what, "points": points.round(2).tolist(), "kind": kind}
            if what == "corner":
                one["points"] = one["points"][:1]
            if what in ("point", "stroke"):
                one["outline"] = "top" if kind == "sound" else "face_top"
            read_touches([one])
            many = [*many, one]
        Written(place).put("touches.json", json.dumps(many))


def put_on_rack(sitting: Sitting, name: str, said: Mapping[str, str]) -> str:
    """Put the photographed slab on the rack; its name.

    Raises
    ------
    Misused
        Where its name or thickness is wanting.
    Unreadable
        Where its name is taken, or it cannot be put there as it is drawn.
    """
    from futtock.job.rack import PHOTOS, keep
    from futtock.job.written import file_name
    from futtock.stock.photo.photograph import photo_slab
    from futtock.stock.rack import added

    job = sitting.need("papers")
    place = _place(job.folder, name)
    called, thick = said.get("slab", "").strip(), _length(job, said.get("thickness", ""))
    if not called or not thick:
        raise Misused("A photograph shows neither name nor thickness: give both.")
    marks, _ = _marks(place, _read(place), _touches(place))
    wet = said.get("moisture", "").strip().removesuffix("%").strip()
    try:
        moisture = float(wet) if wet else None
    except ValueError:
        raise Misused(f"Moisture '{wet[:20]}' is no number.") from None
    portrait = f"{PHOTOS}/{file_name(called)}.jpg"
    read, shrink = _read(place), _read(place)["shrink"]
    second = second_of(place)
    more: dict[str, Any] = {}
    if second is not None:
        more = face_kept(place, _place(job.folder, second), marks, _touches(place))
    else:
        more = second_by_tape(job, said, called, marks) or {}
    aside = (shrink - 1) / 2 * read["mm_per_px"]
    slab = photo_slab(
        called,
        said.get("species", "").strip() or job.stated.vessel.timber.species,
        thick,
        marks,
        moisture_percent=moisture,
        stack=said.get("stack", "").strip(),
        portrait=portrait,
        portrait_at=(
            round(read["origin_mm"][0] + aside, 2),
            round(read["origin_mm"][1] + aside, 2),
            round(read["mm_per_px"] * shrink, 5),
        ),
        **more,
    )
    with _lock:
        rack = added(job.rack, slab)
        Written(job.folder).put(portrait, (place / "portrait.jpg").read_bytes())
        keep(job.folder, rack, 1)
    return called


def corrections(office: Office, name: str) -> str:
    """What was touched on a photograph, and on that of its other face where one is tied, as a file.

    The command line takes it: the same picture with it gives the same slab.
    """
    from futtock.stock.photo.by_hand import by_hand_text

    place = place_of(office.folder, name)
    second = second_of(place)
    below = [] if second is None else _touches(_place(office.folder, second))
    return by_hand_text(_touches(place), below, _said(place).get("corners"))


def portrait(office: Office, name: str) -> bytes:
    """The portrait to show; Misused where there is none."""
    try:
        return (_place(office.folder, name) / "portrait.jpg").read_bytes()
    except OSError:
        raise Misused("There is no such portrait.") from None


def slab_portrait(job: Job, name: str) -> bytes | None:
    """The portrait of a slab on the rack; None where it has none."""
    from futtock.job.rack import PHOTOS
    from futtock.job.written import file_name

    slab = job.rack[name]
    if not slab.portrait:
        return None
    path = job.folder / PHOTOS / f"{file_name(Path(slab.portrait).stem)}.jpg"
    return path.read_bytes() if path.is_file() else None


def marks_of(place: Path) -> tuple[Marks, list[dict[str, Any]]]:
    """A photograph's marks as corrected, and what was touched."""
    touches = _touches(place)
    return _marks(place, _read(place), touches)[0], touches


def cards_of(place: Path) -> dict[int, Array]:
    """Middles (2,) of a photograph's cards by number, in its portrait's axes."""
    return {int(n): np.asarray(at, float) for n, at in _read(place).get("cards_mm", {}).items()}


def place_of(folder: Path, name: str) -> Path:
    """Where a photograph is kept; Misused for what is no id of one."""
    place = _place(folder, name)
    if not (place / "photo").is_file():
        raise Misused("There is no such photograph; send it again.")
    return place


def _marks(
    place: Path, read: dict[str, Any], touches: list[dict[str, Any]]
) -> tuple[Marks, tuple[Finding, ...]]:
    from futtock.stock.photo.correction import Marks, corrected, read_touches
    from futtock.stock.slab import Flaw

    def ring(points: Any) -> Array:
        return np.asarray(points, float).reshape(-1, 2)

    proposed: tuple[Flaw, ...] = tuple(Flaw(k, ring(p), "top") for k, p in read["proposed"])
    grain = tuple(ring(g) for g in read["grain_mm"])
    marks = Marks(ring(read["whole_mm"]), ring(read["sound_mm"]), (), proposed, grain)
    if not touches:
        return marks, ()
    return corrected(marks, read_touches(touches), _portrait(place, read))


def _still_doubted(read: dict[str, Any], touches: list[dict[str, Any]]) -> Array:
    """Places of the edge said to be unsure (n, 2), but for those that were put right since."""
    places = np.asarray(read.get("doubted_mm", ()), float).reshape(-1, 2)
    edge = [t["points"] for t in touches if t["what"] in ("point", "stroke")]
    if edge and len(places):
        put = np.vstack([np.asarray(points, float) for points in edge])
        places = places[np.hypot(*(places[:, None] - put).T).min(0) > _PUT_RIGHT_MM]
    return places


def _portrait(place: Path, read: dict[str, Any]) -> Portrait:
    from futtock.stock.photo.portrait import Portrait

    with np.load(place / "portrait.npz", allow_pickle=False) as kept:
        return Portrait(
            kept["picture"],
            (read["origin_mm"][0], read["origin_mm"][1]),
            read["mm_per_px"],
            kept["seen"],
        )


def _read(place: Path) -> dict[str, Any]:
    try:
        found = json.loads((place / "read.json").read_text("utf-8"))
    except (OSError, ValueError):
        raise Misused("That photograph is not read yet.") from None
    return dict(found)


def _said(place: Path) -> dict[str, Any]:
    """What was said when the photograph was sent."""
    try:
        return dict(json.loads((place / "said.json").read_text("utf-8")))
    except (OSError, ValueError):
        return {}


def read_again(office: Office, name: str, corners: Mapping[int, list[list[float]]]) -> None:
    """Read a photograph again with cards set by hand, pixels of the picture by number."""
    place = _place(office.folder, name)
    args = {**_said(place), "id": name, "corners": {str(n): c for n, c in corners.items()}}
    Written(place).put("said.json", json.dumps(args))
    (place / "read.json").unlink(missing_ok=True)
    office.tasks.forget("photo")
    office.tasks.begin("photo", **args)


def tie(office: Office, name: str) -> str:
    """Tie a photograph to that of the slab's first face, which it was sent with; its id.

    Raises
    ------
    Misused
        Where it was sent with none.
    """
    first = _said(_place(office.folder, name)).get("first", "")
    place = _place(office.folder, str(first))
    _read(place)
    Written(place).put("second.json", json.dumps({"id": name}))
    return str(first)


def untie(office: Office, name: str) -> None:
    """Leave the other face out again."""
    (_place(office.folder, name) / "second.json").unlink(missing_ok=True)


def _touches(place: Path) -> list[dict[str, Any]]:
    try:
        found = json.loads((place / "touches.json").read_text("utf-8"))
    except (OSError, ValueError):
        return []
    return list(found)


def _place(folder: Path, name: str) -> Path:
    if not _ID.fullmatch(name):
        raise Misused("There is no such photograph.")
    return folder / KEPT / "photos" / name


def _length(job: Job, text: str) -> float | None:
    from futtock.measure import read_length

    if not text.strip():
        return None
    unit = "in" if job.stated.vessel.show == "imperial" else "mm"
    return float(read_length(text.strip(), unit))


def _tidy(photos: Path) -> None:
    """Throw away the photographs taken in longest ago."""
    import shutil

    kept = sorted((p for p in photos.iterdir() if p.is_dir()), key=lambda p: p.stat().st_mtime)
    for path in kept[:-_KEPT_AT_MOST]:
        shutil.rmtree(path, ignore_errors=True)
