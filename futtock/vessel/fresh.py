"""A new vessel folder: every paper with its guide in it, or filled with Marram."""

from __future__ import annotations

import os
from pathlib import Path

from futtock.errors import Misused, Unreadable

_HERE = Path(__file__).parent
_BLANK = _HERE / "blank"
_MARRAM = _HERE.parent / "demo"


def write_new(folder: Path | str, demo: bool = False) -> tuple[Path, ...]:
    """Make a vessel folder; nothing that is there is ever overwritten.

    Parameters
    ----------
    folder
        Where; made with its parents where it is not there.
    demo
        Fill it with Marram, an invented smack, instead of blank papers.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    Misused
        Where one of the files is there already; nothing is written then.
    Unreadable
        Where the folder cannot be written.
    """
    folder = Path(folder)
    source = _MARRAM if demo else _BLANK
    papers = sorted(p for p in source.iterdir() if p.is_file() and p.suffix != ".py")
    there = [p.name for p in papers if os.path.lexists(folder / p.name)]
    if there:
        raise Misused(
            f"'{folder}' holds {', '.join(there)} already, and nothing is overwritten; "
            "name another folder."
        )
    written: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for paper in papers:
            target = folder / paper.name
            with target.open("xb") as file:
                file.write(paper.read_bytes())
            written.append(target)
    except FileExistsError as error:
        raise Misused(f"'{error.filename}' is there already, and nothing is overwritten.") from None
    except OSError as error:
        raise Unreadable(f"'{folder}' cannot be written: {error.strerror}.") from None
    return tuple(written)
