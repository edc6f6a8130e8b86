"""``futtock serve``: the web app on this machine."""

from __future__ import annotations

from typing import Annotated

import typer

from futtock.cli.show import Folder


def add_to(app: typer.Typer) -> None:
    """Give the app this verb."""
    app.command()(serve)


def serve(
    folder: Folder = ".",
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes any that is free.")] = 8035,
) -> None:
    """Show the whole job in a browser on this machine; no other machine can reach it."""
    from futtock.web.serve import serve as run

    run(folder, port, say=print)
