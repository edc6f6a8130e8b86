"""The yard: a journal of what has been done, the state folded from it, and when she will be framed.

Names are brought in when they are first asked for: entering work needs neither numpy nor
SQLAlchemy, and has to be quick.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from futtock.yard.event import Entry, Event, read_code
    from futtock.yard.journal import Entered, Journal, place_of
    from futtock.yard.lineage import Lineage, standing_timbers, trace
    from futtock.yard.outlook import Forecast, forecast
    from futtock.yard.plan import YardPlan, build_order, work_left
    from futtock.yard.state import YardState, fold

__all__ = [
    "Entered",
    "Entry",
    "Event",
    "Forecast",
    "Journal",
    "Lineage",
    "YardPlan",
    "YardState",
    "build_order",
    "fold",
    "forecast",
    "place_of",
    "read_code",
    "standing_timbers",
    "trace",
    "work_left",
]

_HOMES = {
    "event": ("Entry", "Event", "read_code"),
    "outlook": ("Forecast", "forecast"),
    "journal": ("Entered", "Journal", "place_of"),
    "plan": ("YardPlan", "build_order", "work_left"),
    "state": ("YardState", "fold"),
    "lineage": ("Lineage", "standing_timbers", "trace"),
}


def __getattr__(name: str) -> Any:
    """Bring in one of the public names."""
    for home, names in _HOMES.items():
        if name in names:
            from importlib import import_module

            return getattr(import_module(f"futtock.yard.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
