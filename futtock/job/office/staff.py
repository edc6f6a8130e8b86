"""The staff of pages with what stands on each, and what is said while waiting or where refused."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from futtock.errors import FuttockError, Misused, Unreadable
from futtock.findings import Finding
from futtock.job.accounts import counted
from futtock.job.office.folder import PAPERS

if TYPE_CHECKING:
    from futtock.job.office.office import NotYet, Office


@dataclass(frozen=True)
class Peg:
    """One page on the staff: its step, address, name, and a word on what stands there."""

    step: str
    href: str
    name: str
    says: str = ""


@dataclass(frozen=True)
class Wait:
    """What is being worked out, how far it is, and of how much."""

    words: str
    says: str
    percent: float | None


@dataclass(frozen=True)
class Told:
    """What cannot be done, and each finding behind it."""

    words: str
    findings: tuple[Finding, ...]
    asked_wrongly: bool
    papers: tuple[str, ...]


_PAGES = (
    ("vessel", "/", "Vessel"),
    ("lines", "/lines", "Lines"),
    ("frames", "/frames", "Frames"),
    ("moulds", "/moulds", "Moulds"),
    ("rack", "/rack", "Rack"),
    ("layout", "/layout", "Layout"),
    ("enough", "/enough", "Enough"),
    ("yard", "/yard", "Yard"),
    ("book", "/book", "Book"),
)


def staff(office: Office) -> tuple[Peg, ...]:
    """Every page, with the word that is known of it now."""
    says = _says(office)
    return tuple(Peg(step, href, name, says.get(step, "")) for step, href, name in _PAGES)


def vessel_name(office: Office) -> str:
    """Her name; the folder's where she has none yet."""
    sitting = office.sitting()
    if sitting.has("papers") or "stated" in sitting.job.__dict__:
        return sitting.job.stated.vessel.name or office.folder.resolve().name
    return office.folder.resolve().name


def wait(error: NotYet) -> Wait:
    """A step that is being worked out, in words."""
    at = error.progress
    if at is None:
        return Wait(f"The {error.step} is being worked out.", "", None)
    percent = round(100 * at.done / at.of, 1) if at.of else None
    return Wait(f"The {error.step} is being worked out.", at.says or at.task, percent)


def refused(error: FuttockError) -> Told:
    """A refusal, in words."""
    findings = error.findings if isinstance(error, Unreadable) else ()
    words = " ".join(f"{f.file} {f.remedy}" for f in findings)
    named = tuple(name for name, _, _ in PAPERS if name in words)
    return Told(str(error), findings, isinstance(error, Misused), named)


def _says(office: Office) -> dict[str, str]:
    from futtock.job.office.lines import lines_view
    from futtock.job.office.works import laid_here, laid_on, yard_state

    sitting = office.sitting()
    job = sitting.job
    out: dict[str, str] = {}
    if sitting.has("papers"):
        out["rack"] = counted(len(job.rack.slabs), "slab")
    if sitting.has("lines"):
        view = sitting.drawn("lines", lambda: lines_view(job))
        doubts = len(view.doubts)
        out["lines"] = "restored" if view.survey else f"{doubts} to settle" if doubts else "settled"
    if sitting.has("frames"):
        out["frames"] = f"{len(job.framing.frames)} drawn"
    if sitting.has("moulds"):
        out["moulds"] = str(len(job.moulds))
    if sitting.has("papers"):
        laid = len(laid_here(job) if sitting.has("frames") else laid_on(job))
        out["layout"] = f"{laid} placed" if laid else ""
        frames = yard_state(office.folder).frames.values()
        standing = sum(f.has("standing") for f in frames)
        out["yard"] = f"{standing} standing" if frames else ""
    return out
