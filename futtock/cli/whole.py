"""``futtock demo``: the whole job on Marram."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Json, run


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(demo)


def demo(
    out: Annotated[
        str, typer.Option("--out", metavar="DIR", help="Write the folder of sheets here.")
    ] = "marram",
    seconds: Annotated[
        float, typer.Option(metavar="SECONDS", min=1, help="How long to search for a layout.")
    ] = 20.0,
    json: Json = False,
) -> None:
    """Do the whole job on Marram, an invented smack, with pictures."""
    from futtock.job import verbs

    run(lambda report: verbs.demo(out, report, seconds=seconds), json=json)
