"""The yard's verbs: work entered in the journal, the journal carried over, and when she is framed.

Entering work reads no table and computes no hull, so that it is quick.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused, Unreadable
from futtock.findings import Finding
from futtock.job.answer import Answer
from futtock.progress import Report

if TYPE_CHECKING:
    from futtock.yard import Forecast, Journal
    from futtock.yard.event import Event
    from futtock.yard.journal import Entered
    from futtock.yard.outlook import Gain

UNDO = "undo"


def did(
    folder: str,
    mark: str,
    stage: str,
    who: str,
    *,
    body: dict[str, Any] | None = None,
    id: str = "",
    found: str | None = None,
) -> Answer:
    """Enter work done in the journal; answered only once the entry is durable.

    ``found`` is what a check measured, in any of the trade's notations, a bare number in mm; a
    photograph's ``file`` must be there. A timber laid out lies on the slab of the accepted layout
    where none is named; timbers that this layout puts on one slab do not dispute it.
    """
    from futtock.job.marks import known, lies_on
    from futtock.yard import Entry

    body = dict(body or {})
    if found is not None:
        body["found_mm"] = _measured(found)
    file = body.get("file")
    if file is not None and not ((Path(folder) / file).is_file() or Path(file).is_file()):
        raise Misused(f"There is no photograph '{file}'.")
    if stage == "laid-out":
        placed = lies_on(Path(folder), mark)
        if placed is not None and body.setdefault("slab", placed) == placed:
            body["layout"] = "accepted"
    with _journal(folder) as journal:
        entry = Entry(mark, stage, who, body, id=id, sender="command line")
        entered = journal.enter(entry, _now(), known_marks=known(Path(folder)))
        return _told(entered, (*journal.findings, *_slab_unknown(Path(folder), entered.event)))


def _slab_unknown(folder: Path, event: Event) -> Iterator[Finding]:
    """A doubt where a slab's entry names none of the rack, and there is a rack to go by."""
    from futtock.stock.rack import read_rack
    from futtock.yard.kinds import UNKNOWN_MARK
    from futtock.yard.stages import SLAB_EVENTS

    if event.stage not in SLAB_EVENTS:
        return
    names = {entry.name for entry in read_rack(folder).entries}
    if names and event.mark not in names:
        said = f"No slab of the rack is called {event.mark}."
        remedy = "Look at what is chalked on the slab; undo the entry if it is wrong."
        yield UNKNOWN_MARK.found(said, column="mark", read=event.mark, remedy=remedy)


def undo(folder: str, who: str, *, id: str = "", because: str = "") -> Answer:
    """Undo an entry by a correcting one: the last that ``who`` made, or that of an id."""
    with _journal(folder) as journal:
        entered = journal.undo(who, _now(), id=id, because=because)
        return _told(entered, journal.findings)


def export_lines(folder: str) -> Iterator[str]:
    """The whole journal as JSON lines, each with its newline."""
    with _journal(folder, create=False) as journal:
        yield from journal.lines()


def take_in(folder: str, file: str) -> Answer:
    """Add the records of an exported file; those already there change nothing."""
    try:
        lines = Path(file).read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise Unreadable(f"'{file}' cannot be read: {error}.") from None
    with _journal(folder) as journal:
        done = journal.take_in(lines, Path(file).name)
    account = f"{done.added} records added; {done.known} were there already."
    return Answer({"added": done.added, "known": done.known}, account, done.findings)


def verify(folder: str, *, mend: bool = False) -> Answer:
    """Whether every record stands as written; ``mend`` first puts it back from the copies."""
    with _journal(folder, create=False) as journal:
        put_back = journal.make_good() if mend else ()
    with _journal(folder, create=False) as journal:
        found = (*put_back, *journal.findings, *journal.verify())
        last = journal.last()
    whole = not [f for f in found if f.severity in ("fault", "misfit")]
    account = f"{last} records, " + ("whole." if whole else "not whole.")
    return Answer({"records": last, "whole": whole}, account, found)


def trace(folder: str, report: Report, mark: str | None) -> Answer:
    """A timber back to its slab and who worked it; None: every standing timber, for a surveyor."""
    from futtock.job.accepted import read_accepted
    from futtock.yard import standing_timbers
    from futtock.yard import trace as one

    accepted = read_accepted(Path(folder)).placements
    places = {
        p.mark: (
            p.slab,
            {"turn_deg": p.turn_deg, "shift_mm": list(p.shift_mm), "mirrored": p.mirrored},
        )
        for p in accepted
    }
    with _journal(folder, create=False) as journal:
        state = journal.state()
    found = standing_timbers(state, places) if mark is None else (one(state, mark, places),)
    document = {
        "timbers": [
            {
                "mark": t.mark,
                "frame": t.frame,
                "slab": t.slab,
                "slabs": list(t.slabs),
                "place": dict(t.place) if t.place else None,
                "moisture_percent": t.moisture_percent,
                "moisture_at": t.moisture_at,
                "steps": [{"stage": e.stage, "who": e.who, "when": e.at} for e in t.steps],
                "lost": t.lost,
            }
            for t in found
        ]
    }
    lines = []
    for t in found:
        wet = f", {t.moisture_percent:.0f} % moist" if t.moisture_percent is not None else ""
        lines.append(f"{t.mark}: from {t.slab or 'no slab entered'}{wet}")
        lines += [f"  {e.stage}, {e.who}, {e.at[:10]}" for e in t.steps]
    return Answer(document, "\n".join(lines) or "No frame stands yet.")


def when(folder: str, report: Report, *, runs: int, seed: int, out: str | None = None) -> Answer:
    """When she will be framed."""
    from futtock.job.accounts import counted
    from futtock.job.drying import drying
    from futtock.job.whole import Job
    from futtock.yard import YardPlan, fold, forecast

    job = Job(folder, report)
    timbers = {f.number: [t.mark for t in f.timbers] for f in job.framing.frames}
    with _journal(folder) as journal:
        events = journal.events()
    plan = YardPlan.stated(job.sound.vessel.yard)
    now = _now()
    wet = drying(job, fold(events), now.date())
    answer = forecast(events, timbers, plan, now, dry=wet.dry, runs=runs, seed=seed, report=report)
    document = forecast_document(answer)
    document["drying"] = [
        {"frame": w.frame, "slab": w.slab, "dry_on": w.dry_on.isoformat()} for w in wet.waits
    ]
    account = _forecast_account(answer, len(events))
    if wet.waits:
        latest = max(wet.waits, key=lambda w: w.dry_on)
        account += (
            f"\n{counted(len(wet.waits), 'frame waits', 'frames wait')} for slabs to dry; the "
            f"last, frame {latest.frame}, for slab {latest.slab} until {latest.dry_on:%-d %B %Y}."
        )
    if out is not None:
        from futtock.drawing.burn_up import burn_up_sheet
        from futtock.job.title import heading
        from futtock.job.written import Written, write_sheet

        written = Written(Path(out))
        write_sheet(written, "forecast", [burn_up_sheet(answer, heading(job))])
        document["files"] = written.files
        account += f"\n{written.account}"
    return Answer(document, account, wet.findings)


def forecast_document(answer: Forecast) -> dict[str, Any]:
    """The document of ``when``."""
    burn = answer.burn_up
    return {
        "p10": answer.p10.isoformat(),
        "p50": answer.p50.isoformat(),
        "p90": answer.p90.isoformat(),
        "working_days": [round(d, 2) for d in answer.working_days],
        "frames": answer.frames,
        "left": answer.left,
        "order": list(answer.order),
        "holdups": [
            {"what": h.what, "waited_hours": round(h.waited_hours, 2), "use": round(h.use, 4)}
            for h in answer.holdups
        ],
        "gains": [{"what": g.what, "days": round(g.days, 2)} for g in answer.gains],
        "burn_up": {
            "past": [[day.isoformat(), done] for day, done in burn.past],
            "days": [day.isoformat() for day in burn.days],
            "p10": list(burn.p10),
            "p50": list(burn.p50),
            "p90": list(burn.p90),
        },
        "runs": answer.runs,
    }


def _forecast_account(answer: Forecast, events: int) -> str:
    if not answer.left:
        return f"All {answer.frames} frames are done."
    lines = [
        f"She will likely be framed by {answer.p50:%-d %B %Y}: one in ten says before "
        f"{answer.p10:%-d %B %Y}, one in ten after {answer.p90:%-d %B %Y}.",
        f"{answer.left} of {answer.frames} frames are still to do, "
        f"{answer.working_days[1]:.0f} working days in the middle of {answer.runs} runs; "
        f"{events} entries of the journal are behind it.",
        "Build order: " + ", ".join(str(n) for n in answer.order[:12]) + ".",
    ]
    held = [h for h in answer.holdups if h.waited_hours >= 1.0][:3]
    if held:
        said = ", ".join(f"{h.what} {h.waited_hours:.0f}" for h in held)
        lines.append(f"What holds the yard up, hours that work begun waits in all: {said}.")
    lines += [
        f"{one_more(g)} would gain some {g.days:.0f} days."
        for g in answer.gains[:3]
        if g.days >= 0.5
    ]
    return "\n".join(lines)


def _measured(text: str) -> float:
    from futtock.measure import read_length

    try:
        return round(float(read_length(text, "mm")), 3)
    except ValueError as error:
        raise Misused(f"--found: {error}") from None


def one_more(gain: Gain) -> str:
    """What one more of it is called."""
    return "One more hand" if gain.what == "people" else f"One more {gain.what}"


def _told(entered: Entered, before: Sequence[Finding]) -> Answer:
    event = entered.event
    document = {
        "id": event.id,
        "when": event.at,
        "mark": event.mark,
        "stage": event.stage,
        "who": event.who,
        "known": entered.known,
    }
    again = " (known already; nothing changed)" if entered.known else ""
    account = f"{event.mark} {event.stage}, {event.who}, {event.at[:16].replace('T', ' ')}{again}."
    return Answer(document, account, (*before, *entered.findings))


def _journal(folder: str, create: bool = True) -> Journal:
    from futtock.yard import Journal, place_of

    where = Path(folder)
    if not where.is_dir():
        raise Unreadable(f"'{folder}' is not a folder.")
    if create and not (where / "vessel.toml").is_file():
        raise Misused(f"'{folder}' is no vessel folder: there is no vessel.toml in it.")
    return Journal(place_of(where), create=create)


def _now() -> datetime:
    return datetime.now(UTC)
