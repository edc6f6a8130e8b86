"""The sheet as SVG: a file in true millimetres, or a picture for a page.

SVG has y down; ``page_origin_mm`` in the metadata is where the drawing's own (0, 0) lies, from the
paper's upper left corner: a point (x, y) of the drawing stands at (ox + x, oy - y) of the page.
"""

from __future__ import annotations

import base64
import json
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from futtock.sheet.items import Arc, Face, Group, Item, Path, Picture, Text
from futtock.sheet.sheet import Sheet
from futtock.sheet.style import PRINT, SCREEN, STROKES, Stroke, Tone

Variant = Literal["print", "page", "picture"]

_FAMILY = {
    Face.FIGURES: "'Atkinson Hyperlegible Next','DejaVu Sans',Verdana,sans-serif",
    Face.WORDS: "'Source Serif 4',Palatino,'DejaVu Serif',Georgia,serif",
}
_CSS_TEXT = {
    Face.FIGURES: "fg",
    Face.FIGURES_BOLD: "fg mk",
    Face.WORDS: "wd",
    Face.WORDS_BOLD: "wd mk",
}


def svg(sheet: Sheet, variant: Variant = "print") -> str:
    """The sheet as text.

    Parameters
    ----------
    variant
        ``"print"``: a file whose every figure is a millimetre of paper. ``"page"``: a piece to set
        into a page, drawn by the page's own style sheet, strokes that do not grow with it.
        ``"picture"``: the same with its style inside, to stand alone on a screen.
    """
    writer = _Writer(sheet, variant)
    return writer.document()


class _Writer:
    def __init__(self, sheet: Sheet, variant: Variant) -> None:
        self.sheet = sheet
        self.variant = variant
        self.ox = sheet.origin_mm[0]
        self.oy = sheet.size_mm[1] - sheet.origin_mm[1]
        self.clips = 0

    def document(self) -> str:
        sheet, (w, h) = self.sheet, self.sheet.size_mm
        origin = {"page_origin_mm": [round(self.ox, 4), round(self.oy, 4)], "y": "down"}
        head = ['<svg xmlns="http://www.w3.org/2000/svg"']
        if self.variant == "print":
            head.append(f'width="{_n(w)}mm" height="{_n(h)}mm"')
        else:
            head.append('class="dr" role="img"')
        head.append(f'viewBox="0 0 {_n(w)} {_n(h)}"')
        head.append(f'data-page_origin_mm="{_n(self.ox)} {_n(self.oy)}">')
        out = [" ".join(head)]
        title = sheet.title or sheet.name
        out.append(f"<title>{escape(title)}</title>")
        if sheet.about:
            out.append(f"<desc>{escape(sheet.about)}</desc>")
        out.append(f"<metadata>{escape(json.dumps(origin))}</metadata>")
        if self.variant == "picture":
            out.append(f"<style>{_style()}</style>")
            out.append(f'<rect width="{_n(w)}" height="{_n(h)}" fill="{SCREEN[Tone.WHITE]}"/>')
        out += [self.item(i) for i in sheet.items]
        out.append("</svg>")
        return "\n".join(out) + "\n"

    def item(self, item: Item) -> str:
        if isinstance(item, Path):
            return self.path(item)
        if isinstance(item, Arc):
            return self.arc(item)
        if isinstance(item, Text):
            return self.text(item)
        if isinstance(item, Picture):
            return self.picture(item)
        return self.group(item)

    def xy(self, x: float, y: float) -> str:
        return f"{_n(self.ox + x)},{_n(self.oy - y)}"

    def paint(self, stroke: Stroke | None, fill: Tone | None, layer: str) -> str:
        named = f' data-layer="{escape(layer)}"' if layer else ""
        if self.variant == "print":
            parts = [f'fill="{PRINT[fill] if fill else "none"}"']
            if fill:
                parts.append('fill-rule="evenodd"')
            if stroke:
                parts.append(f'stroke="{PRINT[stroke.tone]}" stroke-width="{stroke.weight_mm}"')
                parts.append('stroke-linejoin="round"')
                if stroke.pattern_mm:
                    dashes = " ".join(_n(d) for d in stroke.pattern_mm)
                    parts.append(f'stroke-dasharray="{dashes}"')
                if stroke.round_ends:
                    parts.append('stroke-linecap="round"')
            return " ".join(parts) + named
        css = stroke.css if stroke else "l-none"
        if fill:
            css += f" f-{fill}"
        return f'class="{css}" vector-effect="non-scaling-stroke"{named}'

    def path(self, item: Path) -> str:
        if len(item.points_mm) < 2:
            return ""
        rings = [self.ring(item.points_mm, item.closed)]
        rings += [self.ring(h, True) for h in item.holes_mm]
        paint = self.paint(item.stroke, item.fill, item.layer or _layer(item.stroke))
        return f'<path d="{" ".join(rings)}" {paint}/>'

    def ring(self, points: object, closed: bool) -> str:
        pts = [self.xy(float(x), float(y)) for x, y in points]  # type: ignore[attr-defined]
        return "M" + " L".join(pts) + (" Z" if closed else "")

    def arc(self, item: Arc) -> str:
        paint = self.paint(item.stroke, item.fill, item.layer or _layer(item.stroke))
        x, y = item.centre_mm
        if item.whole:
            cx, cy = self.xy(x, y).split(",")
            return f'<circle cx="{cx}" cy="{cy}" r="{_n(item.radius_mm)}" {paint}/>'
        pts = item.points_mm()
        big = int(item.to_deg - item.from_deg > 180)
        a, b = self.xy(*map(float, pts[0])), self.xy(*map(float, pts[-1]))
        r = _n(item.radius_mm)
        return f'<path d="M{a} A{r},{r} 0 {big} 0 {b}" {paint}/>'

    def text(self, item: Text) -> str:
        x, y = self.xy(*item.baseline_mm()).split(",")
        turn = ""
        if item.angle_deg % 360:
            turn = f' transform="rotate({_n(-item.angle_deg)} {x} {y})"'
        words = escape(item.text)
        if self.variant == "print":
            bold = ' font-weight="600"' if item.face in (Face.FIGURES_BOLD, Face.WORDS_BOLD) else ""
            family = _FAMILY[_plain(item.face)]
            halo = ""
            if item.halo:
                halo = (
                    f' paint-order="stroke" stroke="{PRINT[item.halo]}" '
                    f'stroke-width="{_n(0.32 * item.size_mm)}" stroke-linejoin="round"'
                )
            return (
                f'<text x="{x}" y="{y}" font-family="{family}" font-size="{_n(item.size_mm)}"'
                f' text-anchor="{item.anchor}" fill="{PRINT[item.tone]}"{bold}{halo}{turn}>'
                f"{words}</text>"
            )
        css = _CSS_TEXT[item.face]
        style = f"font-size:{_n(item.size_mm)}px;fill:{_var(item.tone)}"
        if item.halo:
            style += (
                f";paint-order:stroke;stroke:{_var(item.halo)};stroke-linejoin:round;"
                f"stroke-width:{_n(0.32 * item.size_mm)}px"
            )
        return (
            f'<text x="{x}" y="{y}" class="{css}" text-anchor="{item.anchor}" style="{style}"'
            f"{turn}>{words}</text>"
        )

    def picture(self, item: Picture) -> str:
        x, y = self.xy(item.at_mm[0], item.at_mm[1] + item.size_mm[1]).split(",")
        data = base64.b64encode(item.data).decode("ascii")
        return (
            f'<image x="{x}" y="{y}" width="{_n(item.size_mm[0])}" height="{_n(item.size_mm[1])}"'
            f' preserveAspectRatio="none" aria-label={quoteattr(item.about)}'
            f' href="data:image/{item.kind};base64,{data}"/>'
        )

    def group(self, item: Group) -> str:
        attrs, before = "", ""
        if item.name:
            attrs += f" data-name={quoteattr(item.name)}"
        if item.kind:
            attrs += f" data-kind={quoteattr(item.kind)}"
        if item.clip_mm is not None:
            self.clips += 1
            ref = f"clip-{self.sheet.name}-{self.clips}".replace(" ", "-")
            x0, y0, x1, y1 = item.clip_mm
            x, y = self.xy(x0, y1).split(",")
            before = (
                f'<clipPath id={quoteattr(ref)}><rect x="{x}" y="{y}" '
                f'width="{_n(x1 - x0)}" height="{_n(y1 - y0)}"/></clipPath>\n'
            )
            attrs += f" clip-path={quoteattr(f'url(#{ref})')}"
        inner = "\n".join(self.item(i) for i in item.items)
        body = f"{before}<g{attrs}>\n{inner}\n</g>"
        if item.href and self.variant != "print":
            return f"<a href={quoteattr(item.href)}>{body}</a>"
        return body


def _n(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _plain(face: Face) -> Face:
    return Face.FIGURES if face in (Face.FIGURES, Face.FIGURES_BOLD) else Face.WORDS


def _layer(stroke: Stroke | None) -> str:
    return stroke.layer if stroke else ""


def _var(tone: Tone) -> str:
    name = "sheet" if tone is Tone.WHITE else tone.value
    return f"var(--{name},{SCREEN[tone]})"


def page_css() -> str:
    """The rules that a page needs to show ``"page"`` drawings, for its own style sheet."""
    rules = [
        ".dr path,.dr circle{fill:none;stroke-linejoin:round;vector-effect:non-scaling-stroke}",
        ".dr .l-none{stroke:none}",
        f".dr .fg{{font-family:var(--figures,{_FAMILY[Face.FIGURES]})}}",
        f".dr .wd{{font-family:var(--words,{_FAMILY[Face.WORDS]})}}",
        ".dr .mk{font-weight:600}",
    ]
    for s in STROKES:
        rule = f"stroke:{_var(s.tone)};stroke-width:{_n(s.screen_px)}px"
        if s.pattern_px:
            rule += ";stroke-dasharray:" + " ".join(_n(d) for d in s.pattern_px)
        if s.round_ends:
            rule += ";stroke-linecap:round"
        rules.append(f".dr .{s.css}{{{rule}}}")
    rules += [f".dr .f-{t}{{fill:{_var(t)};fill-rule:evenodd}}" for t in Tone]
    return "\n".join(rules)


def _style() -> str:
    return escape(page_css())
