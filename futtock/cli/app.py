"""The verbs of the command line; each asks the job for one answer."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli import enough, lines, pile, rack, scarf, serve, timbers, vessel, whole, yard
from futtock.cli.pages import Verbs

app = Verbs(
    name="futtock",
    help="From a vessel's lines to the last timber of her sawn double frames, "
    "and where each lies in the pile.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        typer.echo(f"futtock {version('futtock')}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", help="Say which Futtock this is.", callback=_version, is_eager=True
        ),
    ] = False,
) -> None:
    """See the verbs below."""


for room in (vessel, lines, timbers, rack, pile, enough, scarf, yard, whole, serve):
    room.add_to(app)
