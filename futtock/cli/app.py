"""The verbs of the command line; each asks the job for one answer."""

from __future__ import annotations

import typer

from futtock.cli import enough, lines, pile, rack, scarf, serve, timbers, vessel, whole, yard

app = typer.Typer(
    name="futtock",
    help="From a vessel's lines to the last timber of her sawn double frames, "
    "and where each lies in the pile.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

for room in (vessel, lines, timbers, rack, pile, enough, scarf, yard, whole, serve):
    room.add_to(app)
