"""``python -m futtock.job.office.worker FOLDER KIND``: one long piece of work in its own process.

It writes progress to standard output, a JSON document a line, and is asked to stop by a line on
standard input: it then gives the best so far. What it gives is kept in the folder's ``.futtock/``.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from futtock.errors import FuttockError, Unreadable
from futtock.findings import Finding
from futtock.job.answer import Answer
from futtock.job.whole import Job
from futtock.job.written import KEPT, Written
from futtock.progress import Progress

TASKS = "tasks"
MADE = "made"
_EVERY_SECONDS = 0.2


def kept_at(folder: Path, kind: str) -> Path:
    """Where the outcome of a kind of work is kept."""
    return folder / KEPT / TASKS / f"{kind}.json"


def _layout(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.accounts import laid
    from futtock.job.pile import Pile

    pile = Pile(job)
    seconds = args.get("seconds")
    layout = pile.lay(seconds=None if seconds is None else float(seconds))
    said = laid(layout, len(job.moulds), len(pile.slabs), job.stated.vessel.show)
    return Answer(pile.document(layout), said, layout.findings)


def _heal(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.accounts import healed
    from futtock.job.pile import Pile

    pile = Pile(job)
    healing = pile.heal(list(args.get("spoiled", ())), list(args.get("lost", ())))
    return Answer(pile.healed_document(healing), healed(healing), healing.layout.findings)


def _enough(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.enough import enough

    return enough(str(job.folder), job.report)


def _patterns(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.papers import write_moulds

    return _zipped(job, "patterns", lambda out: write_moulds(job, out))


def _sheets(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.papers import write_sheets

    return _zipped(job, "sheets", lambda out: write_sheets(job, out))


def _slabs(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.papers import write_slabs
    from futtock.job.pile import Pile
    from futtock.layout.placement import Bound, Layout

    pile = Pile(job)
    laid = pile.hers
    used = {p.slab for p in laid}
    layout = Layout(laid, (), len(used), 0.0, Bound("", 0.0, 0.0), 0.0)
    slabs = [s for s in pile.slabs if s.name in used] or list(pile.slabs)
    return _zipped(job, "slabs", lambda out: write_slabs(job, out, slabs, layout if laid else None))


def _photo(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.office.photo import read_photo

    return Answer(read_photo(job, args), "The photograph is read.")


def _gives(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.office.giving import work_out

    return work_out(job)


def _book(job: Job, args: dict[str, Any]) -> Answer:
    from futtock.job.office.book import made_book

    content = made_book(job)
    Written(job.folder / KEPT / MADE).put("shop-book.pdf", content)
    return Answer({"file": "shop-book.pdf", "bytes": len(content)}, "The shop book is made.")


def _zipped(job: Job, name: str, write: Callable[[Path], Written]) -> Answer:
    """Papers written beside, then one archive of them; the loose papers go again."""
    import shutil
    import tempfile

    made = job.folder / KEPT / MADE
    made.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=made) as beside:
        written = write(Path(beside))
        part = Path(beside) / "archive.part"
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in written.files:
                archive.write(Path(beside) / file, file)
        target = made / f"{name}.zip"
        shutil.move(part, target)
    document = {"file": target.name, "files": len(written.files), "bytes": target.stat().st_size}
    return Answer(document, f"{len(written.files)} files are in {target.name}.")


WORKS: dict[str, Callable[[Job, dict[str, Any]], Answer]] = {
    "layout": _layout,
    "heal": _heal,
    "enough": _enough,
    "patterns": _patterns,
    "sheets": _sheets,
    "slabs": _slabs,
    "book": _book,
    "gives": _gives,
    "photo": _photo,
}


def main(words: list[str]) -> int:
    """Do one piece of work; 0 where it was done."""
    folder, kind, args = Path(words[0]), words[1], json.loads(words[2])
    report = _Told()
    threading.Thread(target=report.listen, daemon=True).start()
    began = time.monotonic()
    try:
        job = Job(folder, report)
        answer = WORKS[kind](job, args)
    except FuttockError as error:
        found = error.findings if isinstance(error, Unreadable) else ()
        _say({"failed": str(error), "findings": _listed(found)})
        return 1
    outcome = {
        "kind": kind,
        "args": args,
        "revision": job.revision,
        "document": answer.document,
        "account": answer.account,
        "findings": _listed(answer.findings),
        "seconds": round(time.monotonic() - began, 1),
        "stopped": report.stopped,
    }
    place = kept_at(folder, kind)
    Written(place.parent).put(place.name, json.dumps(outcome, ensure_ascii=False))
    _say({"done": True})
    return 0


def _listed(findings: tuple[Finding, ...]) -> list[dict[str, Any]]:
    return [f.as_json() for f in findings]


class _Told:
    """Writes progress, not more often than can be read; answers whether to go on."""

    def __init__(self) -> None:
        self.stopped = False
        self._last = 0.0

    def __call__(self, progress: Progress) -> bool:
        now = time.monotonic()
        if now - self._last >= _EVERY_SECONDS:
            self._last = now
            p = progress
            _say({"task": p.task, "done_of": [float(p.done), float(p.of)], "says": p.says})
        return not self.stopped

    def listen(self) -> None:
        """A line asks to stop; the end of the line means that nobody waits any more."""
        line = sys.stdin.readline()
        self.stopped = True
        if not line:
            os._exit(3)


def _say(document: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(document) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
