"""``futtock frames``, ``futtock moulds`` and ``futtock sheets``: from the hull to the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from futtock.cli.show import Folder, Json, run

if TYPE_CHECKING:
    from futtock.job.answer import Answer
    from futtock.progress import Report

Font = Annotated[
    str | None,
    typer.Option("--font", metavar="FILE", help="A TrueType font for signs that ours lack."),
]
Out = Annotated[str | None, typer.Option("--out", metavar="DIR", help="Write the drawings here.")]


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(frames)
    app.command()(moulds)
    app.command()(sheets)


def frames(
    folder: Folder = ".",
    out: Out = None,
    as_built: Annotated[
        bool,
        typer.Option(
            "--as-built",
            help="Say what measured standing frames mean; with --out write amended moulds.",
        ),
    ] = False,
    json: Json = False,
) -> None:
    """Frame the hull: faces, bevels, heels, and every timber of both layers.

    With --out: drawings of the frames, a workbook, and the framed hull in three dimensions.
    """
    from futtock.job import verbs
    from futtock.job.as_built import as_built as learned

    if as_built:
        run(lambda report: learned(folder, report, out=out), json=json)
    run(lambda report: verbs.frames(folder, report, out=out), json=json)


def moulds(
    folder: Folder = ".",
    out: Out = None,
    stale: Annotated[
        bool, typer.Option("--stale", help="List the prints that are now wrong, and by how much.")
    ] = False,
    code: Annotated[
        str | None,
        typer.Option(
            "--code", metavar="CODE", help="Look up the code of a print: does it still hold?"
        ),
    ] = None,
    stretch: Annotated[
        str | None,
        typer.Option(
            "--stretch",
            metavar="ACROSS,UP",
            help="What a printed check line measures over its true length: 0.997,1.002.",
        ),
    ] = None,
    font: Font = None,
    json: Json = False,
) -> None:
    """Lay every timber flat; with --out write full-size PDF, DXF and SVG of each."""
    from futtock.job import prints, verbs

    def write(report: Report) -> Answer:
        made_good = None if stretch is None else prints.stretch(stretch)
        return verbs.moulds(folder, report, out=out, stretch=made_good, font=font)

    if stale:
        run(lambda report: prints.stale(folder, report), json=json)
    if code is not None:
        run(lambda report: prints.look_up(folder, report, code), json=json)
    run(write, json=json)


def sheets(folder: Folder = ".", out: Out = None, font: Font = None, json: Json = False) -> None:
    """Make the working sheets: sawing, thicknessing, fastening, weights.

    With --out: travellers, saw sheets and strips, floor drawings, hole templates, the shop book.
    """
    from futtock.job import verbs

    run(lambda report: verbs.sheets(folder, report, out=out, font=font), json=json)
