"""``futtock rack``: the slabs; list them, add to them by tape or photograph, draw them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from futtock.cli.pages import Verbs
from futtock.cli.show import Folder, Json, run
from futtock.errors import Misused

if TYPE_CHECKING:
    from futtock.job.answer import Answer
    from futtock.progress import Report

rack = Verbs(help="The slabs: list them, add to them, draw them.", no_args_is_help=True)

Out = Annotated[str, typer.Option("--out", metavar="DIR", help="Write the sheets here.")]
Name = Annotated[str | None, typer.Option("--name", metavar="NAME", help="As chalked on it.")]
Species = Annotated[
    str | None,
    typer.Option("--species", metavar="WOOD", help="Its wood (default: the vessel's timber)."),
]
Stack = Annotated[str | None, typer.Option("--stack", metavar="NAME", help="The stack it lies in.")]


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.add_typer(rack, name="rack")


@rack.command("list")
def rack_list(folder: Folder = ".", json: Json = False) -> None:
    """List the slabs, and count the pile: stacks, volume, value, moisture."""
    from futtock.job import rack as room

    run(lambda report: room.count(folder, report), json=json)


@rack.command("add")
def rack_add(
    folder: Folder = ".",
    tape: Annotated[
        str | None, typer.Option("--tape", metavar="FILE", help="A tape record, CSV or XLSX.")
    ] = None,
    photo: Annotated[
        str | None, typer.Option("--photo", metavar="FILE", help="A photograph with cards on it.")
    ] = None,
    below: Annotated[
        str | None,
        typer.Option("--below", metavar="FILE", help="With --photo: one of its other face."),
    ] = None,
    wane: Annotated[
        str | None,
        typer.Option(
            "--wane", metavar="FILE", help="With --photo: its other face by tape, as wane widths."
        ),
    ] = None,
    butt: Annotated[
        int | None,
        typer.Option("--butt", metavar="CARD", help="With --wane: the card nearest its butt."),
    ] = None,
    corrections: Annotated[
        str | None,
        typer.Option("--corrections", metavar="FILE", help="With --photo: corrections, JSON."),
    ] = None,
    name: Name = None,
    thickness: Annotated[
        str | None, typer.Option("--thickness", metavar="LENGTH", help="With --photo: as 2-3/4 in.")
    ] = None,
    taped: Annotated[
        str | None,
        typer.Option(
            "--taped", metavar="CARD-CARD=LENGTH", help="With --photo: tape between two cards."
        ),
    ] = None,
    cards_on: Annotated[
        str | None, typer.Option("--cards-on", metavar="WHERE", help="With --photo: face or floor.")
    ] = None,
    accept: Annotated[
        bool, typer.Option("--accept", help="With --photo: take the flaws proposed as decided.")
    ] = False,
    species: Species = None,
    moisture: Annotated[
        float | None, typer.Option("--moisture", metavar="PERCENT", min=0, help="As metered.")
    ] = None,
    stack: Stack = None,
    price: Annotated[
        float | None, typer.Option("--price", metavar="MONEY", min=0, help="Of the slab.")
    ] = None,
    json: Json = False,
) -> None:
    """Put slabs on the rack: by tape (--tape FILE) or by photograph (--photo FILE).

    A record with a fault in it puts nothing on the rack; every fault is named at once.
    """
    from futtock.job import rack as room

    said = room.Said(name, species, thickness, moisture, stack, price)

    def work(report: Report) -> Answer:
        if tape is not None and photo is None:
            given = (taped, thickness, cards_on, below, wane, corrections)
            if any(v is not None for v in given) or butt is not None or accept:
                raise Misused(
                    "--below, --wane, --butt, --corrections, --thickness, --taped, --cards-on and "
                    "--accept go with --photo."
                )
            return room.add_tape(folder, report, file=tape, said=said)
        if photo is not None and tape is None:
            return room.add_photo(
                folder, report, file=photo, said=said, taped=taped, lie=cards_on, accept=accept,
                below=below, wane=wane, butt=butt, corrections=corrections,
            )  # fmt: skip
        raise Misused("Say one of --tape FILE and --photo FILE.")

    run(work, json=json)


@rack.command("offcuts")
def rack_offcuts(
    slab: Annotated[str, typer.Option("--slab", metavar="NAME", help="The slab sawn.")],
    folder: Folder = ".",
    json: Json = False,
) -> None:
    """Put what is left of a sawn slab back on the rack, with its true outlines."""
    from futtock.job import rack as room

    run(lambda report: room.offcuts(folder, report, slab=slab), json=json)


@rack.command("form")
def rack_form(
    folder: Folder = ".",
    out: Out = ".",
    name: Name = None,
    species: Species = None,
    stack: Stack = None,
    length: Annotated[
        str | None, typer.Option("--length", metavar="LENGTH", help="Of the slab (default 13 ft).")
    ] = None,
    json: Json = False,
) -> None:
    """Print the form on which a slab is measured by tape, and the same as a file to type into."""
    from futtock.job import rack as room

    said = room.Said(name, species, stack=stack)
    run(lambda report: room.form(folder, report, out=out, said=said, length=length), json=json)


@rack.command("cards")
def rack_cards(
    folder: Folder = ".",
    out: Out = ".",
    count: Annotated[
        int,
        typer.Option("--count", metavar="CARDS", min=1, max=50, help="How many, numbered from 0."),
    ] = 8,
    json: Json = False,
) -> None:
    """Print the marker cards that lie on a slab while it is photographed, full size."""
    from futtock.job import rack as room

    run(lambda report: room.cards(folder, report, out=out, count=count), json=json)


@rack.command("lens")
def rack_lens(
    photo: Annotated[
        list[str],
        typer.Option("--photo", metavar="FILE", help="Three or more, cards all over each."),
    ],
    folder: Folder = ".",
    json: Json = False,
) -> None:
    """Measure a camera's lens from photographs of cards lying flat; slabs are read with it then."""
    from futtock.job import rack as room

    run(lambda report: room.lens(folder, report, files=photo), json=json)


@rack.command("draw")
def rack_draw(
    folder: Folder = ".",
    out: Out = ".",
    slab: Annotated[
        list[str] | None, typer.Option("--slab", metavar="NAME", help="Only these.")
    ] = None,
    json: Json = False,
) -> None:
    """Draw every slab with its offsets, and the way its grain runs."""
    from futtock.job import rack as room

    run(lambda report: room.draw(folder, report, out=out, names=slab or ()), json=json)
