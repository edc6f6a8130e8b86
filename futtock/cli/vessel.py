"""``futtock new`` and ``futtock check``: the vessel folder."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Folder, Json, run


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(new)
    app.command()(check)


def new(
    folder: Annotated[str, typer.Argument(metavar="DIR", help="The folder to make.")],
    demo: Annotated[bool, typer.Option("--demo", help="Fill it with Marram, the demo.")] = False,
    json: Json = False,
) -> None:
    """Make a vessel folder with every setting explained in it."""
    from futtock.job import verbs

    run(lambda _: verbs.new(folder, demo=demo), json=json)


def check(folder: Folder = ".", json: Json = False) -> None:
    """Read everything that is stated and tell every fault at once."""
    from futtock.job import verbs

    run(lambda report: verbs.check(folder, report), json=json)
