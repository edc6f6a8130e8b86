"""The vessel folder: what the builder states, read with every fault at once.

Names are brought in when they are first asked for, so that the command line starts quickly.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from futtock.vessel.folder import Stated, read_folder
    from futtock.vessel.fresh import write_new
    from futtock.vessel.model import Vessel
    from futtock.vessel.smaller import AsBuilt, Division, Mend
    from futtock.vessel.stating import known_keys, read_vessel
    from futtock.vessel.table import Diagonal, OffsetTable, Row

__all__ = [
    "AsBuilt",
    "Diagonal",
    "Division",
    "Mend",
    "OffsetTable",
    "Row",
    "Stated",
    "Vessel",
    "known_keys",
    "read_folder",
    "read_vessel",
    "write_new",
]

_HOMES = {
    "AsBuilt": "smaller",
    "Diagonal": "table",
    "Division": "smaller",
    "Mend": "smaller",
    "OffsetTable": "table",
    "Row": "table",
    "Stated": "folder",
    "Vessel": "model",
    "known_keys": "stating",
    "read_folder": "folder",
    "read_vessel": "stating",
    "write_new": "fresh",
}


def __getattr__(name: str) -> Any:
    """Bring in one of the public names."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(f"futtock.vessel.{home}"), name)
    globals()[name] = value
    return value
