"""``futtock did``, ``futtock when`` and ``futtock journal``: what has been done, and when."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import typer

from futtock.cli.pages import Verbs
from futtock.cli.show import Folder, Json, run
from futtock.errors import Misused

journal = Verbs(help="The journal: carry it over, or prove it whole.", no_args_is_help=True)


def add_to(app: typer.Typer) -> None:
    """Give the app these verbs."""
    app.command()(did)
    app.command()(when)
    app.add_typer(journal, name="journal")


def did(
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="[DIR] MARK STAGE",
            help="A timber's, frame's or slab's mark, and what was done.",
        ),
    ],
    who: Annotated[str, typer.Option("--who", metavar="NAME", help="Who did it.")],
    slab: Annotated[
        str | None, typer.Option("--slab", metavar="NAME", help="The slab, for laid-out.")
    ] = None,
    because: Annotated[
        str | None, typer.Option("--because", metavar="WORDS", help="Why, where a rule is bent.")
    ] = (None),
    note: Annotated[
        str | None, typer.Option("--note", metavar="WORDS", help="Words to keep with it.")
    ] = None,
    hours: Annotated[
        float | None,
        typer.Option("--hours", metavar="HOURS", min=0, help="It took: the forecast learns."),
    ] = None,
    moisture: Annotated[
        float | None,
        typer.Option("--moisture", metavar="PERCENT", min=0, help="For a slab measured."),
    ] = None,
    to: Annotated[
        str | None, typer.Option("--to", metavar="PLACE", help="Where a slab was moved.")
    ] = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="MEASURE", help="What was checked.")
    ] = None,
    found: Annotated[
        str | None, typer.Option("--found", metavar="LENGTH", help="What it measured, as 11-3-7.")
    ] = None,
    file: Annotated[
        str | None, typer.Option("--file", metavar="FILE", help="A photograph's file.")
    ] = None,
    id: Annotated[
        str, typer.Option("--id", metavar="ID", help="The sender's own id; sent twice, kept once.")
    ] = (""),
    json: Json = False,
) -> None:
    """Enter work in the journal, as: futtock did 12-P-f2 bevelled --who NAME.

    To a timber: moulded, laid-out, roughed, rested, flattened, thicknessed, bevelled; at any
    time ends-sealed, rechecked.

    To a frame: dry-fitted, bedded, bored, treenailed, wedged, faired, heel-cut, spalled, standing,
    horned, ribbanded.

    To a slab: measured, moved, consumed. To any: spoiled, checked, note, photograph.

    'futtock did undo --who NAME' undoes that person's last entry by a correcting one.
    """
    from futtock.job import yard

    def work(_: object) -> Any:
        if len(words) in (1, 2) and words[-1] == yard.UNDO:
            folder = words[0] if len(words) == 2 else "."
            return yard.undo(folder, who, id=id, because=because or "")
        if len(words) not in (2, 3):
            raise Misused("Say MARK and STAGE, as: futtock did 12-P-f2 bevelled --who NAME")
        folder = words[0] if len(words) == 3 else "."
        said = {
            "slab": slab,
            "because": because,
            "text": note,
            "hours": hours,
            "moisture_percent": moisture,
            "to": to,
            "name": name,
            "file": file,
        }
        body = {key: value for key, value in said.items() if value is not None}
        return yard.did(folder, words[-2], words[-1], who, body=body, id=id, found=found)

    run(work, json=json)


def when(
    folder: Folder = ".",
    runs: Annotated[
        int, typer.Option(metavar="RUNS", min=20, help="How many runs through the yard.")
    ] = 1000,
    seed: Annotated[
        int, typer.Option(metavar="NUMBER", min=0, help="Start of the random choices.")
    ] = 0,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Draw the burn-up here.")
    ] = None,
    json: Json = False,
) -> None:
    """Forecast when she will be framed, from what the journal shows has been done."""
    from futtock.job import yard

    run(lambda report: yard.when(folder, report, runs=runs, seed=seed, out=out), json=json)


@journal.command("export")
def journal_export(folder: Folder = ".") -> None:
    """Write the whole journal as JSON lines on standard output."""
    from futtock.job import yard
    from futtock.job.answer import Answer

    def work(_: object) -> Answer:
        sys.stdout.writelines(yard.export_lines(folder))
        return Answer({}, "")

    run(work, json=False)


@journal.command("import")
def journal_import(
    words: Annotated[list[str], typer.Argument(metavar="[DIR] FILE", help="The exported lines.")],
    json: Json = False,
) -> None:
    """Add the records of an exported journal; those already there change nothing."""
    from futtock.job import yard

    def work(_: object) -> Any:
        if len(words) not in (1, 2):
            raise Misused("Name the file of exported lines: futtock journal import [DIR] FILE")
        return yard.take_in(words[0] if len(words) == 2 else ".", words[-1])

    run(work, json=json)


@journal.command("verify")
def journal_verify(
    folder: Folder = ".",
    mend: Annotated[
        bool, typer.Option("--mend", help="First put damaged records back from the dated copies.")
    ] = False,
    json: Json = False,
) -> None:
    """Prove that every record stands as it was written."""
    from futtock.job import yard

    run(lambda _: yard.verify(folder, mend=mend), json=json)


@journal.command("trace")
def journal_trace(
    folder: Folder = ".",
    mark: Annotated[
        str | None,
        typer.Option("--mark", metavar="MARK", help="One timber; else every standing one."),
    ] = None,
    json: Json = False,
) -> None:
    """Trace timbers back to their slabs, and who worked them when: the list for a surveyor."""
    from futtock.job import yard

    run(lambda report: yard.trace(folder, report, mark), json=json)
