"""``scarf``: one scarf set out, from figures in the trade's own notation."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, cast

from futtock.errors import Misused
from futtock.job.answer import Answer
from futtock.measure import read_length, show

if TYPE_CHECKING:
    from futtock.bench.scarf import Form, Member, Scarf, ScarfSettings

MEMBERS = ("keel", "stem", "shelf", "plank")
FORMS = ("plain", "nibbed", "keyed")


def scarf(
    *,
    member: str,
    form: str,
    depth: str,
    width: str,
    length: str | None,
    ratio: float | None,
    adds: str | None,
    rabbet: str | None,
    glued: bool,
    out: str | None,
) -> Answer:
    """Set out a scarf; with ``out`` draw it there."""
    from futtock.bench.scarf import ScarfSettings, scarf_json
    from futtock.bench.scarf import scarf as set_out

    if member not in MEMBERS:
        raise Misused(f"member is '{member}'; expected {', '.join(MEMBERS)}.")
    if form not in FORMS:
        raise Misused(f"form is '{form}'; expected {', '.join(FORMS)}.")
    asked = ScarfSettings(
        cast("Member", member),
        cast("Form", form),
        _mm(depth),
        _mm(width),
        length_mm=None if length is None else _mm(length),
        ratio=ratio,
        adds_mm=0.0 if adds is None else _mm(adds),
        rabbet_mm=None if rabbet is None else _mm(rabbet),
        glued=glued,
    )
    made = set_out(asked)
    lines = [
        f"A {form} scarf of {show(asked.long_mm)} in a {member} {show(asked.depth_mm)} deep: "
        f"{made.says}",
        f"The new piece is {show(made.new_piece_mm)} long and adds {show(asked.adds_mm)}.",
        (f"{len(made.bolts)} bolts of {show(asked.bolt_diameter_mm)}" if made.bolts else "No bolts")
        + (f"; nibs {show(asked.nib_deep_mm)} deep" if asked.nib_deep_mm else "")
        + (f"; key {show(made.key.side_mm)} square" if made.key else "")
        + ".",
        made.grain,
        *(
            f"  {c.code}: {c.says}: asks {c.least:g}, {'met' if c.meets else 'missed'} ({c.source})"
            for c in made.checks
        ),
        *made.strength,
    ]
    document = scarf_json(made)
    if out is not None:
        document["files"] = _draw(asked, made, Path(out))
        lines.append(f"Drawn in {out}.")
    return Answer(document, "\n".join(lines), made.findings)


def _draw(asked: ScarfSettings, made: Scarf, out: Path) -> list[str]:
    from futtock.drawing.heading import Heading
    from futtock.drawing.scarf import scarf_drawing
    from futtock.job.written import Written, write_sheet

    written = Written(out)
    write_sheet(written, f"scarf-{asked.member}", [scarf_drawing(made, Heading(""))])
    return written.files


def _mm(text: str) -> float:
    """A length in the trade's notation; a bare number is in millimetres."""
    return float(read_length(text, "mm"))
