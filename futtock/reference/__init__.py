"""Published figures that ship with Futtock: woods, grain, treenails, hull rules, saws, safety.

Each file sits beside this module. A CSV's lines that begin with ``#`` say where its figures come
from; every row carries its own source. Values stay text, as printed: the reader decides which
cells are numbers.
"""

from __future__ import annotations

import csv
import tomllib
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused

if TYPE_CHECKING:
    from collections.abc import Mapping
    from importlib.resources.abc import Traversable

__all__ = ["block", "names", "notes", "rows"]


def names() -> tuple[str, ...]:
    """Names of the files, without their endings, sorted."""
    found = (entry.name for entry in files(__name__).iterdir())
    return tuple(sorted(n.rsplit(".", 1)[0] for n in found if n.endswith((".csv", ".toml"))))


@cache
def rows(name: str) -> tuple[Mapping[str, str], ...]:
    """The rows of a table, each a read-only mapping from column to cell.

    Parameters
    ----------
    name
        File name without its ending, such as ``"treenail_rules"``.

    Returns
    -------
    tuple of mappings, in the order of the file. A cell that is not there is an empty string.

    Raises
    ------
    Misused
        There is no such table.

    Examples
    --------
    >>> from futtock import reference
    >>> reference.rows("bandsaw")[0]["blade_width_in"]
    '0.125'
    """
    lines = [line for line in _text(name, ".csv").splitlines() if not line.startswith("#")]
    read = csv.DictReader(lines, restval="")
    return tuple(MappingProxyType(dict(row)) for row in read)


@cache
def notes(name: str) -> tuple[str, ...]:
    """The comment lines at the head of a table, which name its sources; ``#`` taken off.

    Raises
    ------
    Misused
        There is no such table.
    """
    lines = _text(name, ".csv").splitlines()
    return tuple(line.lstrip("# ").rstrip() for line in lines if line.startswith("#"))


@cache
def block(name: str) -> Mapping[str, Any]:
    """The tables of a TOML file, read-only at the top.

    Raises
    ------
    Misused
        There is no such file.
    """
    return MappingProxyType(tomllib.loads(_text(name, ".toml")))


def _text(name: str, ending: str) -> str:
    place: Traversable = files(__name__) / f"{name}{ending}"
    if name not in names() or not place.is_file():
        raise Misused(f"expected one of {', '.join(names())} ({ending}), got {name!r}")
    return place.read_text(encoding="utf-8")
