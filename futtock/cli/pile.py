"""``futtock lay``: where each timber lies in the slabs."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Folder, Json, run


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(lay)


def lay(
    folder: Folder = ".",
    seconds: Annotated[
        float | None,
        typer.Option(metavar="SECONDS", min=0, help="Search about this long (default 20)."),
    ] = None,
    rounds: Annotated[
        int | None,
        typer.Option(metavar="ROUNDS", min=0, help="Search this many rounds: the same every time."),
    ] = None,
    seed: Annotated[
        int | None, typer.Option(metavar="NUMBER", min=0, help="Start of the random choices.")
    ] = None,
    slabs: Annotated[
        str | None, typer.Option(metavar="FILE", help="Use this rack, not the folder's.")
    ] = None,
    slab: Annotated[
        str | None, typer.Option(metavar="NAME", help="What is best cut from this one slab now.")
    ] = None,
    timber: Annotated[
        str | None, typer.Option(metavar="MARK", help="The ten best places for this one timber.")
    ] = None,
    measured: Annotated[
        bool, typer.Option("--measured", help="Use only the slabs that are measured.")
    ] = False,
    heal: Annotated[
        bool, typer.Option("--heal", help="Mend the accepted layout; only what must move moves.")
    ] = False,
    spoiled: Annotated[
        list[str] | None, typer.Option(metavar="MARK", help="With --heal: a timber spoiled.")
    ] = None,
    lost: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="With --heal: a slab found unfit.")
    ] = None,
    accept: Annotated[
        bool, typer.Option("--accept", help="Write layout.json; its locks hold from then on.")
    ] = False,
    prove: Annotated[
        bool, typer.Option("--prove", help="Prove more of what no layout can beat; minutes.")
    ] = False,
    seeds: Annotated[
        int | None, typer.Option(min=1, metavar="N", help="The best of so many seeds.")
    ] = None,
    limit: Annotated[
        list[float] | None,
        typer.Option(min=1, metavar="N", help="Try grain as steep as 1 in N; may be repeated."),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Seeds and limits on a Dask scheduler's workers."),
    ] = None,
    divide: Annotated[
        bool, typer.Option("--divide", help="Choose the butts too; writes futtocks.csv; minutes.")
    ] = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Draw every slab begun here.")
    ] = None,
    json: Json = False,
) -> None:
    """Find the best whole layout of the timbers on the slabs, and prove how good it is."""
    from futtock.job import verbs

    if slab is not None:
        run(lambda report: verbs.lay_slab(folder, report, slab=slab, slabs=slabs), json=json)
    elif timber is not None:
        run(lambda report: verbs.lay_timber(folder, report, timber=timber, slabs=slabs), json=json)
    elif heal:
        gone = (tuple(spoiled or ()), tuple(lost or ()))
        run(
            lambda report: verbs.lay_heal(
                folder, report, spoiled=gone[0], lost=gone[1], accept=accept
            ),
            json=json,
        )
    elif seeds is not None or limit or cluster is not None:
        from futtock.job.several import lay_several

        run(
            lambda report: lay_several(
                folder,
                report,
                seeds=seeds or 1,
                limits=limit or (),
                rounds=rounds,
                seed=seed,
                slabs=slabs,
                measured=measured,
                accept=accept,
                out=out,
                cluster=cluster,
            ),
            json=json,
        )
    elif divide:
        from futtock.job.dividing import lay_divided

        run(
            lambda report: lay_divided(
                folder,
                report,
                seconds=seconds,
                rounds=rounds,
                seed=seed,
                slabs=slabs,
                measured=measured,
                accept=accept,
                out=out,
            ),
            json=json,
        )
    else:
        run(
            lambda report: verbs.lay(
                folder,
                report,
                seconds=seconds,
                rounds=rounds,
                seed=seed,
                slabs=slabs,
                measured=measured,
                accept=accept,
                prove=prove,
                out=out,
            ),
            json=json,
        )
