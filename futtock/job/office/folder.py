"""Her papers in the browser: begun, read with their findings beside them, and written."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding, Severity
from futtock.job.pen import pen
from futtock.job.written import KEPT, Written

if TYPE_CHECKING:
    from futtock.job.office.office import Sitting

PAPERS = (
    ("vessel.toml", "Her statement", "Every setting, each explained where a fresh folder is made."),
    ("offsets.csv", "Table of offsets", "line,at, then the stations; feet-inches-eighths or mm."),
    ("ends.csv", "Ends", "line,x,y,z: rabbet of stem and post, the sheer's ends, the transom."),
    (
        "mends.csv",
        "Mends",
        "line,station,value,why: figures put right.",
    ),
    ("futtocks.csv", "Futtocks", "frame,layer,side,butt: where timbers are butted by hand."),
    ("as_built.csv", "As built", "Points measured on standing frames."),
)
LARGEST = 1_000_000
_BEFORE = "before"


@dataclass(frozen=True)
class PaperView:
    """One paper, to be read and written."""

    name: str
    title: str
    about: str
    text: str
    there: bool
    binary: bool
    findings: tuple[Finding, ...]
    earlier: bool
    seen: str


@dataclass(frozen=True)
class PaperRow:
    """One paper in the list: how many lines, how many questions."""

    name: str
    title: str
    about: str
    lines: int
    asked: int


class Crossed(Misused):
    """A paper was changed by another since it was opened."""


def begun(folder: Path) -> bool:
    """Whether there is a vessel here."""
    return (folder / "vessel.toml").is_file()


def begin(folder: Path, demo: bool) -> str:
    """Make the folder's papers; in words.

    Raises
    ------
    Misused
        Where there is one of them already.
    """
    from futtock.vessel import write_new

    written = write_new(folder, demo=demo)
    return f"Made {', '.join(p.name for p in written)}."


@dataclass(frozen=True)
class Sent:
    """A file that was sent: what it is to be, its own name (its ending is all that is used)."""

    kind: str
    name: str
    content: bytes


SENT = {
    "offsets": (".csv", ".xlsx"),
    "ends": (".csv",),
    "survey": (".csv", ".xyz", ".ply", ".las", ".dxf"),
    "mends": (".csv",),
    "futtocks": (".csv",),
    "as_built": (".csv",),
    "slabs": (".json",),
}
"""What may be sent, and in which forms."""
LARGEST_SENT = 20 * 1024 * 1024


def begin_named(folder: Path, name: str, sent: Sequence[Sent]) -> str:
    """Make the papers of a vessel of this name with the files that were sent; in words.

    Nothing is written where one of them cannot be taken.
    """
    from futtock.job.office.stating import state_value

    for one in sent:
        _ending(one)
    begin(folder, demo=False)
    if name.strip():
        state_value(folder, "vessel.name", name.strip())
    said = [take(folder, one) for one in sent]
    return " ".join([f"{name.strip() or 'Her folder'} is begun.", *said])


def take(folder: Path, sent: Sent) -> str:
    """Put a file that was sent among her papers, keeping the one before; in words.

    Raises
    ------
    Misused
        Where it is empty, too large, or of no form that can be read.
    """
    from futtock.job.office.stating import state_value

    ending = _ending(sent)
    name = f"{sent.kind}{ending}"
    path = folder / name
    with pen(folder):
        content = _joined(path, sent) if sent.kind == "slabs" else sent.content
        if path.is_file():
            Written(folder / KEPT / _BEFORE).put(name, path.read_bytes())
        Written(folder).put(name, content)
    if sent.kind == "offsets":
        state_value(folder, "lines.points", None)
        state_value(folder, "lines.offsets", name)
    elif sent.kind == "survey":
        state_value(folder, "lines.offsets", None)
        state_value(folder, "lines.points", name)
    elif sent.kind == "ends":
        state_value(folder, "lines.ends", name)
    return f"{name} is taken in."


def _joined(path: Path, sent: Sent) -> bytes:
    """The slabs that are there and those that were sent, as one file."""
    try:
        new = json.loads(sent.content)
        old = json.loads(path.read_text("utf-8-sig")) if path.is_file() else []
    except (OSError, UnicodeDecodeError, ValueError) as error:
        raise Misused(f"'{sent.name[-40:]}' cannot be read as slabs: {error}.") from None
    if not isinstance(new, list) or not isinstance(old, list):
        raise Misused(f"'{sent.name[-40:]}' is no list of slabs.")
    there = {str(s.get("name")) for s in old if isinstance(s, dict)}
    both = [n for n in (str(s.get("name")) for s in new if isinstance(s, dict)) if n in there]
    if both:
        raise Misused(f"{', '.join(both[:6])} {'is' if len(both) == 1 else 'are'} on the rack.")
    return (json.dumps([*old, *new], ensure_ascii=False, indent=1) + "\n").encode()


def _ending(sent: Sent) -> str:
    """The ending of a file that may be taken."""
    forms = SENT.get(sent.kind)
    if forms is None:
        raise Misused("That is no paper of hers.")
    ending = Path(sent.name).suffix.lower()
    if ending not in forms:
        raise Misused(f"'{sent.name[-40:]}' ends in none of {', '.join(forms)}.")
    if not sent.content.strip():
        raise Misused(f"'{sent.name[-40:]}' is empty.")
    if len(sent.content) > LARGEST_SENT:
        raise Misused(f"'{sent.name[-40:]}' has more than {LARGEST_SENT // 2**20} MB.")
    return ending


def papers_list(sitting: Sitting) -> tuple[PaperRow, ...]:
    """Every paper that may be written here."""
    found = _findings(sitting)
    rows = []
    for name, title, about in PAPERS:
        path = sitting.job.folder / name
        lines = 0
        if path.is_file():
            try:
                lines = len(path.read_text("utf-8-sig").splitlines())
            except (OSError, UnicodeDecodeError):
                lines = 0
        rows.append(PaperRow(name, title, about, lines, sum(f.file == name for f in found)))
    return tuple(rows)


def paper_view(sitting: Sitting, name: str, typed: str | None = None) -> PaperView:
    """One paper as it stands, or as it was typed with what is found in that."""
    title, about = _known(name)
    folder = sitting.job.folder
    path = folder / name
    text, seen, binary = "", "", False
    if path.is_file():
        try:
            now = path.read_bytes()
            text, seen = now.decode("utf-8-sig"), _digest(now)
        except (OSError, UnicodeDecodeError):
            binary = True
    if typed is None:
        found = tuple(f for f in _findings(sitting) if f.file == name)
    else:
        text, found = typed, tried(folder, name, typed)
    earlier = (folder / KEPT / _BEFORE / name).is_file()
    return PaperView(name, title, about, text, path.is_file(), binary, found, earlier, seen)


def write(sitting: Sitting, name: str, text: str, seen: str = "") -> str:
    """Write a paper, keeping the one before; in words.

    Raises
    ------
    Crossed
        Where it is no longer the one that was ``seen`` when it was opened.
    Misused
        Where it is too large.
    """
    _known(name)
    folder = sitting.job.folder
    text = text.replace("\r\n", "\n")
    if len(text.encode()) > LARGEST:
        raise Misused(f"{name} has more than {LARGEST // 1_000_000} MB.")
    path = folder / name
    with pen(folder):
        now = path.read_bytes() if path.is_file() else b""
        if seen and seen != _digest(now):
            raise Crossed(
                f"{name} has changed since you opened it, in another tab or outside the pages. "
                "Nothing is written yet; what you typed stands here. Write it again to put it in "
                "place of the other, which is kept as the one before."
            )
        if path.is_file():
            Written(folder / KEPT / _BEFORE).put(name, now)
        Written(folder).put(name, text if text.endswith("\n") or not text else text + "\n")
    faults = sum(f.severity is Severity.FAULT for f in tried(folder, name, text))
    if faults:
        return f"{name} is written; {faults} of its lines cannot be read yet."
    return f"{name} is written."


def put_back(sitting: Sitting, name: str) -> str:
    """Put back the paper as it was before it was last written; in words."""
    _known(name)
    folder = sitting.job.folder
    with pen(folder):
        try:
            before = (folder / KEPT / _BEFORE / name).read_bytes()
            now = (folder / name).read_bytes()
        except OSError:
            raise Misused(f"There is no earlier {name}.") from None
        Written(folder / KEPT / _BEFORE).put(name, now)
        Written(folder).put(name, before)
    return f"{name} is as it was before."


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:16]


def tried(folder: Path, name: str, text: str) -> tuple[Finding, ...]:
    """What would be found if a paper read so, the others as they are."""
    from futtock.vessel import read_folder

    with tempfile.TemporaryDirectory() as beside:
        for other, _, _ in PAPERS:
            path = folder / other
            if other != name and path.is_file():
                (Path(beside) / other).write_bytes(path.read_bytes())
        (Path(beside) / name).write_text(text, encoding="utf-8")
        found = read_folder(Path(beside)).findings
    return tuple(f for f in found if f.file == name)


def _findings(sitting: Sitting) -> tuple[Finding, ...]:
    if not begun(sitting.job.folder):
        return ()
    try:
        return sitting.need("papers").stated_findings
    except Unreadable as error:
        return error.findings


def _known(name: str) -> tuple[str, str]:
    for known, title, about in PAPERS:
        if known == name:
            return title, about
    raise Misused("There is no such paper.")
