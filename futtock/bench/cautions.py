"""Cautions, by the sheet they belong to, with published figures beside their source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from futtock import reference
from futtock.errors import Misused

Sheet = Literal[
    "sawing", "thicknessing", "fastening", "bedding", "lifting", "scarf", "rebuilding", "saw test"
]
LOCAL = "Local rules and a competent person come first."
NOT_A_DESIGN = "For discussion with a surveyor, class society or naval architect; not a design."


@dataclass(frozen=True)
class Caution:
    """One caution: a sentence, and the rows of ``safety_limits.csv`` its figures come from."""

    text: str
    rows: tuple[str, ...] = ()

    @property
    def sources(self) -> tuple[str, ...]:
        """The sources of its figures, as printed in the table, with how each was got; each once."""
        by_id = {r["id"]: r for r in reference.rows("safety_limits")}

        def given(row: str, what: str) -> str:
            text = by_id[row][what]
            other = text.removeprefix("read: ").removeprefix("as ")
            return given(other, what) if other in by_id and other != row else text

        found = {f"{given(k, 'source')} ({given(k, 'how')})": k for k in reversed(self.rows)}
        return tuple(f"{k}: {source}" for source, k in reversed(found.items()))


def _value(row: str) -> str:
    return next(r["value"] for r in reference.rows("safety_limits") if r["id"] == row)


def _all() -> dict[str, tuple[Caution, ...]]:
    saw = (
        Caution(
            "Tilting-head saw: two people who know it, one to feed and one to crank, with words"
            " agreed beforehand. Stop the blade to change the strip, the blade or the guides."
        ),
        Caution(
            f"Set the guard no more than {_value('L28')} in above the work, and the guides close;"
            " hands beside the cut, never in line with it.",
            ("L28",),
        ),
        Caution("Paste the strip; no pins or staples near the cut. Look for old iron in the wood."),
        Caution(
            f"Hearing: {_value('L22')} dBA over eight hours is the lower advice; saws and planers"
            " are louder.",
            ("L22",),
        ),
    )
    dust = Caution(
        f"Dust of oak and other hardwoods harms lungs and nose: limits run from {_value('L15')} to"
        f" {_value('L17')} mg/m3 of air. Draw it off at the machine and wear a mask.",
        ("L15", "L17", "L20"),
    )
    lift = Caution(
        f"At best one person lifts {_value('L01')} kg (NIOSH); past an index of {_value('L07')} use"
        " more people or tackle. Keep clear of the load and of where it would fall.",
        ("L01", "L07"),
    )
    return {
        "sawing": (*saw, dust),
        "saw test": saw,
        "thicknessing": (
            Caution("Shim the piece on its sled so that it cannot rock; feed against the cutters."),
            Caution(
                "Light passes near knots and crossed grain; stand beside the piece, not behind."
            ),
            dust,
        ),
        "fastening": (
            Caution("Clamp both layers before boring; the far side is where the auger comes out."),
            Caution(f"Strength figures: {NOT_A_DESIGN}"),
        ),
        "bedding": (
            Caution(
                "Old bedding and paint of vessels may hold lead (red lead was common): test before"
                f" scraping or sanding; in air the limit is {_value('L25')} microgram/m3 over eight"
                " hours.",
                ("L25", "L27"),
            ),
            Caution("Read the compound's own sheet; rags with drying oils can take fire."),
        ),
        "rebuilding": (
            Caution(
                "Take old paint and bedding as leaded until tested; wet methods, no dry sanding.",
                ("L27", "L25"),
            ),
        ),
        "lifting": (lift,),
        "scarf": (Caution(f"Scarfs and scantlings: {NOT_A_DESIGN}"),),
    }


def cautions(sheet: Sheet) -> tuple[Caution, ...]:
    """The cautions that belong on a sheet, the general one last.

    Raises
    ------
    Misused
        For a sheet that has none.
    """
    found = _all().get(sheet)
    if found is None:
        raise Misused(f"expected one of {', '.join(_all())}, got {sheet!r}")
    return (*found, Caution(LOCAL))
