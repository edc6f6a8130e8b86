"""What a person set by hand on the photographs of one slab, as one file.

The same file serves the command line, the tests and the pages: corrections of both faces in the
millimetres of each face's portrait, and corners of cards in pixels of the picture.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused, Unreadable
from futtock.stock import kinds
from futtock.stock.photo.correction import Touch, read_touches

Array = NDArray[np.float64]

_KEYS = ("top", "bottom", "cards")
_MOST = 4_000  # corrections of a face; a person makes some tens


@dataclass(frozen=True, slots=True)
class ByHand:
    """Corrections of both faces, and corners (4, 2) of the first picture's cards by number."""

    top: tuple[Touch, ...] = ()
    bottom: tuple[Touch, ...] = ()
    cards: Mapping[int, Array] = field(default_factory=dict)


def by_hand_from_text(text: str, file: str = "corrections") -> ByHand:
    """Read a file of corrections: JSON, a list for the first face or an object for both.

    Raises
    ------
    Unreadable
        With one finding, at its line where it is no JSON, by its number where a correction is none.
    """
    try:
        data = json.loads(text)
    except json.JSONDecodeError as trouble:
        said = f"{trouble.msg.lower()}."
        found = kinds.CORRECTIONS_FILE.found(
            said, file=file, line=trouble.lineno, column=trouble.colno, expected="JSON"
        )
        raise Unreadable(f"'{file}' is no JSON: {said}", [found]) from None
    except RecursionError:
        raise _refused("brackets are nested without end", file) from None
    if isinstance(data, list):
        data = {"top": data}
    if not isinstance(data, dict):
        raise _refused("it holds neither a list nor an object", file)
    for key in data:
        if key not in _KEYS:
            raise _refused(f"'{key[:40]}' is not known", file)
    faces = {face: _face(data.get(face, []), face, file) for face in ("top", "bottom")}
    return ByHand(faces["top"], faces["bottom"], _cards(data.get("cards", {}), file))


def by_hand_text(
    top: Iterable[Mapping[str, Any]],
    bottom: Iterable[Mapping[str, Any]] = (),
    cards: Mapping[str, Any] | None = None,
) -> str:
    """The file, from corrections in their plain form; what there is none of is left out."""
    given = {"top": list(top), "bottom": list(bottom), "cards": dict(cards or {})}
    return json.dumps({k: v for k, v in given.items() if v or k == "top"}, indent=1) + "\n"


def _face(given: Any, face: str, file: str) -> tuple[Touch, ...]:
    if not isinstance(given, list) or not all(isinstance(one, dict) for one in given):
        raise _refused(f"{face} is no list of corrections", file)
    if len(given) > _MOST:
        raise _refused(f"{face} holds {len(given)} corrections, more than {_MOST}", file)
    try:
        return read_touches(given)
    except Misused as trouble:
        raise _refused(f"{face}, {trouble}", file) from None


def _cards(given: Any, file: str) -> dict[int, Array]:
    out = {}
    for number, corners in given.items() if isinstance(given, dict) else [("", given)]:
        try:
            points = np.array(corners, dtype=float)
        except (TypeError, ValueError):
            points = np.zeros(0)
        if not str(number).isdecimal() or points.shape != (4, 2) or not np.isfinite(points).all():
            raise _refused(f"card '{str(number)[:20]}': expected a number and four [x, y]", file)
        out[int(number)] = points
    return out


def _refused(said: str, file: str) -> Unreadable:
    found = kinds.CORRECTIONS_FILE.found(f"{said}.", file=file)
    return Unreadable(f"'{file}' cannot be read: {said}.", [found])
