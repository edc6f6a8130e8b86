"""``futtock serve``: the web app on this machine, and to the yard's network where asked."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from futtock.cli.show import Folder
from futtock.errors import Misused


def add_to(app: typer.Typer) -> None:
    """Give the app this verb."""
    app.command()(serve)


def serve(
    folder: Folder = ".",
    port: Annotated[
        int, typer.Option(metavar="NUMBER", min=0, max=65535, help="0 takes any that is free.")
    ] = 8035,
    lan: Annotated[
        bool, typer.Option("--lan", help="Serve the yard's network too; tablets join by a code.")
    ] = False,
    address: Annotated[
        str,
        typer.Option(
            metavar="NAME", help="This machine's address or name on that network, with --lan."
        ),
    ] = "",
    cert: Annotated[
        str,
        typer.Option(metavar="FILE", help="A certificate (PEM), so that the connection is sealed."),
    ] = "",
    key: Annotated[str, typer.Option(metavar="FILE", help="The certificate's key (PEM).")] = "",
) -> None:
    """Show the whole job in a browser on this machine; with --lan on the yard's tablets too."""
    from futtock.web.serve import Network
    from futtock.web.serve import serve as run

    if not Path(folder).is_dir():
        there = Path(folder).exists()
        said = "is a file; a vessel is a folder" if there else "is not there"
        print(
            f"'{folder}' {said}. Make one with 'futtock new', or serve an empty folder: "
            "its pages begin her.",
            file=sys.stderr,
        )
        raise typer.Exit(3)
    try:
        if not lan and (address or cert or key):
            raise Misused("--address, --cert and --key are for --lan.")
        run(folder, port, say=print, network=Network(address, cert, key) if lan else None)
    except Misused as error:
        print(error, file=sys.stderr)
        raise typer.Exit(2) from None
