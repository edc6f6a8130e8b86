"""Lines: a table of offsets or a cloud of points to a fair hull, every doubtful figure named.

Names are loaded when first asked for, so that asking for help costs no numerical library; the
entry point is :func:`futtock.lines.fair.fair`.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_WHERE = {
    "FairPoint": "fair",
    "FairSettings": "settings",
    "Fairing": "fair",
    "HeightField": "heightfield",
    "Hull": "surface",
    "Hydrostatics": "hydrostatics",
    "Surface": "surface",
    "Trim": "surface",
    "Turn": "heightfield",
    "RestoreSettings": "restoring",
    "Survey": "survey",
    "Zone": "as_found",
    "bends": "fairness",
    "buttock": "curves_on_hull",
    "diagonal": "curves_on_hull",
    "fair_survey": "standing",
    "parameter_grid": "curves_on_hull",
    "plane_cut": "curves_on_hull",
    "read_survey": "survey",
    "sample_table": "sampled",
    "section": "curves_on_hull",
    "warm": "warming",
    "waterline": "curves_on_hull",
    "where_to_measure": "fairness",
    "write_ends": "sampled",
    "write_table": "sampled",
}

__all__ = sorted(_WHERE)


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(f"futtock.lines.{_WHERE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
