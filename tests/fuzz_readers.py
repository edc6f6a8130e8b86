"""Every reader met with arbitrary bytes: it answers with findings, never with a traceback.

As a script it is one fuzzing run of one reader, guided by coverage::

    python tests/fuzz_readers.py offsets CORPUS -runs=1000000

The options are libFuzzer's. A reader that lets anything but our own errors out ends the run, and
the bytes that did it are left in a ``crash-`` file.
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import sys
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from futtock.errors import FuttockError

CORPUS = Path(__file__).parent / "data" / "fuzz"


def _papers(name: str, content: bytes):
    """A folder of one file that is never on a disk."""
    from futtock.vessel.papers import Papers

    class InMemory(Papers):
        def has(self, asked: str) -> bool:
            return asked == name

        def bytes_of(self, asked: str) -> bytes | None:
            return content if asked == name else None

    return InMemory(Path("nowhere"))


def offsets(content: bytes) -> None:
    """A table of offsets as text, in feet-inches-eighths and in millimetres."""
    from futtock.vessel.offsets import read_offsets

    for unit in ("fie", "mm"):
        read_offsets(_papers("offsets.csv", content), "offsets.csv", unit, {})


def papers(content: bytes) -> None:
    """The lesser papers: mends and ends against a table, the division of frames, as-built."""
    from futtock.vessel.smaller import read_divisions, read_ends

    read_divisions(_papers("futtocks.csv", content), "futtocks.csv", "mm")
    read_ends(_papers("ends.csv", content), "ends.csv", "mm")


def workbook(content: bytes) -> None:
    """A table in a workbook: the bytes as the file itself, or as the first sheet's XML in it."""
    from futtock.vessel.grid import read_grid

    if content[:1] != b"<":
        read_grid(_papers("offsets.xlsx", content), "offsets.xlsx")
        return
    read_grid(_papers("offsets.xlsx", in_workbook(content)), "offsets.xlsx")


def in_workbook(sheet_xml: bytes) -> bytes:
    """A workbook whose one sheet is these bytes."""
    global _BLANK
    if not _BLANK:
        from openpyxl import Workbook

        made = io.BytesIO()
        Workbook().save(made)
        with zipfile.ZipFile(made) as archive:
            _BLANK = {n: archive.read(n) for n in archive.namelist()}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, part in _BLANK.items():
            archive.writestr(name, sheet_xml if name == "xl/worksheets/sheet1.xml" else part)
    return packed.getvalue()


_BLANK: dict[str, bytes] = {}


def vessel(content: bytes) -> None:
    """``vessel.toml``."""
    from futtock.vessel.stating import read_vessel

    read_vessel(content.decode("utf-8", "replace"))


def slabs(content: bytes) -> None:
    """The rack as JSON."""
    from futtock.stock.rack import rack_from_text

    rack_from_text(content.decode("utf-8", "replace"))


def tape(content: bytes) -> None:
    """Slabs measured by tape, up to whole slabs."""
    from futtock.stock.tape import read_tape

    read_tape(_papers("tape.csv", content), "tape.csv")


def corrections(content: bytes) -> None:
    """Corrections to a photograph, up to the slab's marks as they leave them."""
    import numpy as np

    from futtock.stock.photo.by_hand import by_hand_from_text
    from futtock.stock.photo.correction import Marks, corrected, named_corners
    from futtock.stock.slab import Flaw

    ring = np.array([[0, 0], [1000, 30], [2000, 0], [2000, 300], [0, 280]], float)
    knot = Flaw("knot", np.array([[900, 100], [940, 100], [920, 140]], float), "top")
    hand = by_hand_from_text(content.decode("utf-8", "replace"))
    for touches in (hand.top, hand.bottom):
        corrected(Marks(ring, ring, (), (knot,), ()), touches)
        named_corners(touches)


def wane(content: bytes) -> None:
    """Wane widths beside a photograph, up to the bottom's outline."""
    import numpy as np

    from futtock.job.by_hand import wane_from
    from futtock.stock.wane import below_by_wane

    ring = np.array([[0, 0], [1000, 30], [2000, 0], [1980, 300], [10, 280]], float)
    for unit in ("in", "mm"):
        read, _ = wane_from(_papers("wane.csv", content), "wane.csv", "A-1", unit)
        for turned in (False, True):
            below_by_wane((ring,), read, ring, turned, "A-1")


def photograph(content: bytes) -> None:
    """The header of a picture file, by which it is judged before anything decodes it."""
    from futtock.stock.photo.decode import _look_over
    from futtock.stock.photo.header import read_header

    header = read_header(content)
    _look_over(header, len(content), "photo")


def points(content: bytes) -> None:
    """Survey points: the first byte says which kind of file the rest is."""
    from futtock.lines.survey import read_survey

    kinds = (".csv", ".xyz", ".ply", ".ply", ".ply", ".las", ".las", ".csv")
    suffix = kinds[content[0] % 8] if content else ".csv"
    read_survey(_on_disk(suffix, content[1:]), "mm", most=20_000)


def drawing(content: bytes) -> None:
    """Survey points out of a DXF drawing."""
    from futtock.lines.survey import read_survey

    read_survey(_on_disk(".dxf", content), "mm", most=20_000)


def patterns(content: bytes) -> None:
    """Patterns already made: tape offsets, SVG and DXF."""
    from futtock.moulds.pattern import read_patterns

    kinds = (".csv", ".svg", ".svg", ".dxf")
    suffix = kinds[content[0] % 4] if content else ".csv"
    from futtock.moulds.settings import MouldSettings

    read_patterns({f"1-S-f1{suffix}": content[1:]}, 50.0, MouldSettings())


def journal(content: bytes) -> None:
    """JSON lines of a journal that is taken in."""
    from futtock.yard.carrying import read_lines

    for _ in read_lines(content.decode("utf-8", "replace").splitlines(), "journal.jsonl"):
        pass


def _on_disk(suffix: str, content: bytes) -> Path:
    """The bytes as a file, in memory where there is such a folder."""
    place = Path("/dev/shm") if Path("/dev/shm").is_dir() else Path(tempfile.gettempdir())
    path = place / f"futtock-fuzz-{os.getpid()}{suffix}"
    path.write_bytes(content)
    return path


READERS: dict[str, Callable[[bytes], None]] = {
    "corrections": corrections,
    "drawing": drawing,
    "journal": journal,
    "offsets": offsets,
    "papers": papers,
    "patterns": patterns,
    "photograph": photograph,
    "points": points,
    "slabs": slabs,
    "tape": tape,
    "vessel": vessel,
    "wane": wane,
    "workbook": workbook,
}


def meet(reader: str, content: bytes) -> None:
    """Hand the bytes to the reader; our own errors are an answer, anything else is let out."""
    with contextlib.suppress(FuttockError):
        READERS[reader](content)


def main() -> None:
    """Fuzz one reader, named by the first argument; the second is a corpus that may grow."""
    import atheris

    reader, corpus, *options = sys.argv[1:]
    with atheris.instrument_imports(include=["futtock"], enable_loader_override=False):
        for path in sorted((CORPUS / reader).iterdir()):
            meet(reader, path.read_bytes())  # imports what it reads with
    grown = Path(corpus)
    grown.mkdir(parents=True, exist_ok=True)
    for path in sorted((CORPUS / reader).iterdir()):
        shutil.copy(path, grown / path.name)
    words = CORPUS / f"{reader}.dict"
    told = [f"-dict={words}"] if words.exists() else []
    usual = ["-timeout=10", "-rss_limit_mb=3000", "-max_len=4096"]
    atheris.Setup([sys.argv[0], *usual, *told, *options, str(grown)], lambda b: meet(reader, b))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
