"""``futtock scarf``: set out one scarf."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Json, run


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(scarf)


def scarf(
    depth: Annotated[str, typer.Option("--depth", metavar="LENGTH", help="Depth of the section.")],
    width: Annotated[str, typer.Option("--width", metavar="LENGTH", help="Width of the section.")],
    member: Annotated[
        str, typer.Option("--member", metavar="MEMBER", help="keel, stem, shelf or plank.")
    ] = "keel",
    form: Annotated[
        str, typer.Option("--form", metavar="FORM", help="plain, nibbed or keyed.")
    ] = "nibbed",
    length: Annotated[
        str | None, typer.Option("--length", metavar="LENGTH", help="Length of the scarf.")
    ] = None,
    ratio: Annotated[
        float | None,
        typer.Option("--ratio", metavar="RATIO", help="Length over depth, instead of --length."),
    ] = None,
    adds: Annotated[
        str | None, typer.Option("--adds", metavar="LENGTH", help="What the new piece adds.")
    ] = None,
    rabbet: Annotated[
        str | None,
        typer.Option(
            "--rabbet", metavar="LENGTH", help="Height of the rabbet above the underside."
        ),
    ] = None,
    glued: Annotated[bool, typer.Option("--glued", help="The joint is glued.")] = False,
    out: Annotated[str | None, typer.Option("--out", metavar="DIR", help="Draw it here.")] = None,
    json: Json = False,
) -> None:
    """Set out a scarf: nibs, key, bolts, stopwaters, and the published ratios it meets or misses.

    Lengths as the trade writes them: 1-4-0, "16 in", "406 mm". The figures are for discussion
    with a surveyor, class society or naval architect; not a design.
    """
    from futtock.job.scarf import scarf as set_out

    run(
        lambda _: set_out(
            member=member,
            form=form,
            depth=depth,
            width=width,
            length=length,
            ratio=ratio,
            adds=adds,
            rabbet=rabbet,
            glued=glued,
            out=out,
        ),
        json=json,
    )
