"""Drawings set into a page: no inline style, so that the page may forbid it, and short figures."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

if TYPE_CHECKING:
    from futtock.sheet.sheet import Sheet

_STYLE = re.compile(r' style="([^"]*)"')
_LINK = re.compile(r'(<a href="[^"]*")>(?=<g data-name="([^"]*)" data-kind="([^"]*)")()')
_LONG = re.compile(r"(?<=[ ,\"ML])(-?\d+\.\d\d)\d+")


def inline(sheet: Sheet) -> str:
    """The sheet as an SVG element for a page whose style sheet has :func:`style_sheet` in it."""
    from futtock.sheet.svg import svg

    text = svg(sheet, "page").replace('class="dr"', 'class="drawn"', 1)
    text = re.sub(r"<metadata>.*?</metadata>\n?", "", text, flags=re.DOTALL)
    if "<a href" in text:
        # what holds links is no one picture to who cannot see it; each link says where it leads
        named = f'role="group" aria-label={quoteattr(sheet.title or sheet.name)}'
        text = _LINK.sub(r'\1 aria-label="\3 \2">\4', text.replace('role="img"', named, 1))
    return _LONG.sub(r"\1", _STYLE.sub(_attributes, text))


WIDTHS_MM = (205.0, 122.0, 64.0)
"""How wide a picture is drawn for a desk, a tablet and a phone, so that its words can be read."""

Pictures = tuple[str, ...]


def pictures(draw: Callable[[float], Sheet]) -> Pictures:
    """A picture as wide as each of :data:`WIDTHS_MM`; a page shows the one that fits."""
    return tuple(inline(draw(width)) for width in WIDTHS_MM)


def _attributes(found: re.Match[str]) -> str:
    """``style="a:b;c:d"`` as attributes of their own."""
    parts = (p.partition(":") for p in found[1].split(";") if p)
    return "".join(
        f' {name.strip()}="{value.strip().removesuffix("px")}"' for name, _, value in parts
    )


@cache
def style_sheet() -> str:
    """The look, and the rules that drawings in a page need."""
    from futtock.sheet.svg import page_css

    look = files("futtock.drawing") / "look" / "look.css"
    drawn = ".drawn{display:block;width:100%;height:auto}\n" + page_css().replace(".dr ", ".drawn ")
    return look.read_text(encoding="utf-8") + "\n" + drawn
