"""``futtock fair``: from the table of offsets to a fair hull."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Folder, Json, run


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(fair)


def fair(
    folder: Folder = ".",
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="DIR", help="Write lines plan and faired table here."),
    ] = None,
    json: Json = False,
) -> None:
    """Fair the lines, name every doubtful figure, give the hydrostatics."""
    from futtock.job import verbs

    run(lambda report: verbs.fair(folder, report, out=out), json=json)
