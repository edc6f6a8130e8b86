"""``futtock enough``: whether the pile gives every timber still wanted."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Folder, Json, run


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(enough)


def enough(
    folder: Folder = ".",
    stack: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=HOLDS", help="What a stack holds in all: A=40 or A=2.5m3."),
    ] = None,
    slabs: Annotated[
        str | None, typer.Option(metavar="FILE", help="Use this rack, not the folder's.")
    ] = None,
    replicates: Annotated[
        int | None,
        typer.Option(metavar="PILES", min=1, help="How many piles are drawn (default 200)."),
    ] = None,
    seed: Annotated[
        int, typer.Option(metavar="NUMBER", min=0, help="Start of the random choices.")
    ] = 0,
    buy: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="List the slabs to get for this chance."),
    ] = None,
    now: Annotated[
        bool, typer.Option("--now", help="Tell what may be cut from measured slabs now; minutes.")
    ] = False,
    cut: Annotated[
        str | None, typer.Option(metavar="MARK", help="The price of cutting this timber now.")
    ] = None,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="DIR", help="Draw the answer and the buying list here."),
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Work on this Dask scheduler's workers.")
    ] = None,
    json: Json = False,
) -> None:
    """Tell the chance that the pile is enough, what will be missing, and what to measure next."""
    from futtock.job import enough as room

    run(
        lambda report: room.enough(
            folder,
            report,
            stacks=stack or (),
            slabs=slabs,
            seed=seed,
            replicates=replicates,
            buy=buy,
            now=now,
            cut=cut,
            out=out,
            cluster=cluster,
        ),
        json=json,
    )
