"""``futtock frames``, ``futtock moulds`` and ``futtock sheets``: from the hull to the bench."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Folder, Json, run

Out = Annotated[str | None, typer.Option("--out", metavar="DIR", help="Write the drawings here.")]


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(frames)
    app.command()(moulds)
    app.command()(sheets)


def frames(folder: Folder = ".", json: Json = False) -> None:
    """Frame the hull: faces, bevels, heels, and every timber of both layers."""
    from futtock.job import verbs

    run(lambda report: verbs.frames(folder, report), json=json)


def moulds(folder: Folder = ".", out: Out = None, json: Json = False) -> None:
    """Lay every timber flat; with --out write full-size PDF, DXF and SVG of each."""
    from futtock.job import verbs

    run(lambda report: verbs.moulds(folder, report, out=out), json=json)


def sheets(folder: Folder = ".", out: Out = None, json: Json = False) -> None:
    """Make the working sheets: sawing, thicknessing, fastening, weights."""
    from futtock.job import verbs

    run(lambda report: verbs.sheets(folder, report, out=out), json=json)
