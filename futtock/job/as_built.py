"""She learns as built: what was measured of standing frames, what it means, and moulds amended.

Measurements come from ``as_built.csv`` and from the journal: breadths and cross spalls checked on
frames that stand. Frames that stand are never altered; of those not yet sawn amended moulds are
offered, and of those sawn but not yet standing it is told in words how the ribbands will lie.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.findings import Finding
from futtock.job.answer import Answer

if TYPE_CHECKING:
    from futtock.framing.asbuilt import Advice, Ribbands
    from futtock.framing.frame import Frame
    from futtock.job.whole import Job
    from futtock.measure import Style
    from futtock.moulds.mould import Mould
    from futtock.progress import Report
    from futtock.vessel.smaller import AsBuilt
    from futtock.yard import YardState

_SAWN = "bevelled"
_FOOT_MM = 304.8


@dataclass(frozen=True)
class Learned:
    """What standing frames teach.

    Attributes
    ----------
    points
        Every point measured, of the file and of the journal.
    standing
        Numbers of frames that stand: those measured, and those the journal says stand.
    ribbands, advice
        The battens run again through them, and what to do about each that is out.
    amended
        Frames not yet sawn as they had better be, with their timbers; offered, not made.
    sawn
        Frames that had better be otherwise too, but are sawn in part or in whole.
    words
        The whole in sentences, in the vessel's own units.
    findings
        Points of which no use could be made.
    """

    points: tuple[AsBuilt, ...]
    standing: tuple[int, ...]
    ribbands: Ribbands
    advice: tuple[Advice, ...]
    amended: tuple[Frame, ...]
    sawn: tuple[Frame, ...]
    words: tuple[str, ...]
    findings: tuple[Finding, ...]


def learned(job: Job) -> Learned | None:
    """What the measurements of standing frames mean; None where nothing is measured."""
    from futtock.framing.asbuilt import advice, amended, astray, run_ribbands
    from futtock.job.office.works import yard_state

    frames = job.framing.frames
    if not frames:
        return None
    state = yard_state(job.folder)
    points = (*job.stated.as_built, *_checked(job, state))
    if not points:
        return None
    asked, style = job.framing_settings, job.stated.vessel.show
    within = asked.stands_within_mm
    stands = {p.frame for p in points} | {
        f.number for f in frames if state.has(str(f.number), "standing")
    }
    ribbands = run_ribbands(frames, points, within)
    said = advice(ribbands, within, style)
    moved = amended(frames, ribbands, stands, within, asked)
    sawn = tuple(f for f in moved if _is_sawn(f, state))
    offered = tuple(f for f in moved if not _is_sawn(f, state))
    standing = tuple(f.number for f in frames if f.number in stands)
    words = _words(ribbands, said, standing, offered, sawn, within, style)
    found = astray(frames, points, style)
    return Learned(points, standing, ribbands, said, offered, sawn, words, found)


def amended_moulds(job: Job) -> tuple[Mould, ...]:
    """Moulds of frames not yet sawn, amended to the ribbands as they run; none where none is."""
    from futtock.job import settings
    from futtock.moulds.flat import moulds

    known = learned(job)
    if known is None or not known.amended:
        return ()
    return moulds(known.amended, settings.mould_settings(job.sound.vessel), job.report)


def as_built(folder: str, report: Report, *, out: str | None = None) -> Answer:
    """What was measured of standing frames means; with ``out`` moulds of frames not yet sawn."""
    from futtock.drawing.mould_papers import every_mould
    from futtock.job.title import heading
    from futtock.job.whole import Job
    from futtock.job.written import Written, file_name
    from futtock.moulds.document import moulds_json

    job = Job(folder, report)
    known = learned(job)
    if known is None:
        account = (
            "Nothing is measured yet. Write points of standing frames to as_built.csv"
            " (frame,side,height,spread), or enter breadths checked on them in the journal."
        )
        return Answer({"as_built": None, "moulds": []}, account, job.stated_findings)
    made = amended_moulds(job)
    document = {"as_built": learned_document(known), **moulds_json(made)}
    account = "\n".join(known.words)
    if out is not None:
        written = Written(Path(out))
        for paper in every_mould(made, heading(job)):
            name = file_name(paper.mark)
            for ending, content in (("dxf", paper.dxf), ("svg", paper.svg), ("pdf", paper.pdf)):
                written.put(f"{name}.{ending}", content)
        document["files"] = written.files
        account += f"\n{written.account}"
    return Answer(document, account, (*job.stated_findings, *known.findings))


def learned_document(known: Learned | None) -> dict[str, Any] | None:
    """What was learned, as the document of ``frames`` carries it."""
    from futtock.framing.sheets_json import as_built_json

    if known is None:
        return None
    return {
        **as_built_json(known.ribbands, known.advice),
        "points": len(known.points),
        "standing": list(known.standing),
        "amended": [f.number for f in known.amended],
        "sawn": [f.number for f in known.sawn],
        "words": list(known.words),
    }


def _checked(job: Job, state: YardState) -> tuple[AsBuilt, ...]:
    """Breadths and cross spalls checked on frames that stand, as a point of each side."""
    from futtock.bench.traveller import frame_checks
    from futtock.vessel.smaller import AsBuilt
    from futtock.yard.stages import frame_of

    last = {(frame_of(e.mark), str(e.body.get("name"))): e for e in state.checks}
    stated = job.stated.vessel.framing
    points: list[AsBuilt] = []
    for frame in job.framing.frames:
        if not state.has(str(frame.number), "standing"):
            continue
        # the cross spall of the traveller: a foot below the head where none is stated
        at_head = stated is None or stated.cross_spall_mm is None
        spall = float(frame.joint.edge_mm[-1, 1]) - _FOOT_MM if at_head else None
        _, _, up = frame.plane.axes()
        for check in frame_checks(frame, cross_spall_mm=spall):
            event = last.get((frame.number, check.name))
            if check.kind not in ("breadth", "cross-spall") or event is None:
                continue
            found = event.body.get("found_mm")
            if found is None:
                continue
            height = float((frame.plane.origin(0.0) + check.b_mm[1] * up)[2])
            half = float(found) / 2
            points += [
                AsBuilt(frame.number, "P", height, half, 0),
                AsBuilt(frame.number, "S", height, half, 0),
            ]
    return tuple(points)


def _is_sawn(frame: Frame, state: YardState) -> bool:
    return any(state.has(t.mark, _SAWN) for t in frame.timbers)


def _words(
    ribbands: Ribbands,
    said: Sequence[Advice],
    standing: Sequence[int],
    offered: Sequence[Frame],
    sawn: Sequence[Frame],
    within_mm: float,
    style: Style,
) -> tuple[str, ...]:
    """The answer in sentences: each frame that is out, then those that had better follow."""
    from futtock.measure import show

    words = [a.words[0].upper() + a.words[1:] + "." for a in said]
    if not words:
        words.append(
            f"{_named(standing)} within {show(within_mm, style)} of a fair ribband: nothing to do."
        )
    if offered:
        words.append(
            f"The ribbands run up to {_most(ribbands, offered, style)} off the drawing by"
            f" {_named([f.number for f in offered], stand=False)}, not yet sawn: saw by the amended"
            " moulds (futtock frames --as-built --out DIR)."
        )
    words += [
        f"Frame {f.number} is sawn already, and the ribbands run up to"
        f" {_most(ribbands, [f], style)} off her drawing: pack or dub her when she stands."
        for f in sawn
    ]
    return tuple(words)


def _most(ribbands: Ribbands, frames: Sequence[Frame], style: Style) -> str:
    from futtock.measure import show

    columns = [ribbands.numbers.index(f.number) for f in frames]
    return show(float(abs(ribbands.batten_mm[:, columns]).max()), style)


def _named(numbers: Sequence[int], *, stand: bool = True) -> str:
    """``Frame 3 stands``, ``frames 3 to 8``: runs of numbers written short."""
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    names = [str(r[0]) if len(r) == 1 else f"{r[0]} to {r[-1]}" for r in runs]
    whole = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    one = len(numbers) == 1
    if stand:
        return f"Frame {whole} stands" if one else f"Frames {whole} stand"
    return f"frame {whole}" if one else f"frames {whole}"
