"""Letters: the faces that come with us, what they can write, and how wide it is.

Our faces write Latin (figures and words), Greek and Cyrillic (words). A sign that the wanted face
lacks is taken from the next face of the chain: faces the user added, the other face of ours, then
whatever the machine has. :func:`lacking` says what none of them can write.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path as File
from typing import TYPE_CHECKING, Any

from futtock.errors import Unreadable
from futtock.sheet.items import Face

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont

_OURS = {
    Face.FIGURES: "AtkinsonHyperlegibleNext-Regular.ttf",
    Face.FIGURES_BOLD: "AtkinsonHyperlegibleNext-Bold.ttf",
    Face.WORDS: "SourceSerif4-Regular.ttf",
    Face.WORDS_BOLD: "SourceSerif4-Semibold.ttf",
}
_MACHINE = {
    Face.FIGURES: ("DejaVuSans.ttf", "LiberationSans-Regular.ttf"),
    Face.FIGURES_BOLD: ("DejaVuSans-Bold.ttf", "LiberationSans-Bold.ttf"),
    Face.WORDS: ("DejaVuSerif.ttf", "LiberationSerif-Regular.ttf"),
    Face.WORDS_BOLD: ("DejaVuSerif-Bold.ttf", "LiberationSerif-Bold.ttf"),
}
_LAST = {
    Face.FIGURES: "Vera.ttf",
    Face.FIGURES_BOLD: "VeraBd.ttf",
    Face.WORDS: "Vera.ttf",
    Face.WORDS_BOLD: "VeraBd.ttf",
}
_OTHER = {
    Face.FIGURES: Face.WORDS,
    Face.FIGURES_BOLD: Face.WORDS_BOLD,
    Face.WORDS: Face.FIGURES,
    Face.WORDS_BOLD: Face.FIGURES_BOLD,
}
_FOLDERS = ("/usr/share/fonts/truetype/dejavu", "/usr/share/fonts/truetype/liberation")

_added: list[str] = []


def add_font(file: str | File) -> None:
    """Let a TrueType font write what our own faces cannot.

    Raises
    ------
    Unreadable
        where the file is no TrueType font.
    """
    path = str(file)
    _load(path)
    if path not in _added:
        _added.insert(0, path)
        _chain.cache_clear()
        runs.cache_clear()
        width_mm.cache_clear()


@lru_cache(maxsize=64)
def _load(path: str) -> TTFont:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFError, TTFont

    try:
        font = TTFont("F-" + File(path).stem, path)
    except (TTFError, OSError) as error:
        raise Unreadable(f"{path}: expected a TrueType font (.ttf): {error}") from error
    pdfmetrics.registerFont(font)
    _keep_subsets(font.face)
    return font


def _keep_subsets(face: Any) -> None:
    """Let a face keep the subsets of itself that documents carry: many need the very same one."""
    make = face.makeSubset

    @lru_cache(maxsize=64)
    def kept(signs: tuple[int, ...]) -> bytes:
        made: bytes = make(list(signs))
        return made

    face.makeSubset = lambda signs: kept(tuple(signs))


USUAL_SIGNS = "°½¼¾⅛⅜⅝⅞′″–⁄⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉"
"""What drawings letter beside ASCII: told to each document first, so that its subset is usual."""


@lru_cache(maxsize=8)
def _chain(face: Face) -> tuple[TTFont, ...]:
    import reportlab

    ours = File(__file__).parent / "fonts"
    last = File(reportlab.__file__).parent / "fonts"
    files = [ours / _OURS[face]]
    files += [File(a) for a in _added]
    files += [ours / _OURS[_OTHER[face]]]
    files += [File(d) / name for name in _MACHINE[face] for d in _FOLDERS]
    files += [last / _LAST[face]]
    return tuple(_load(str(f)) for f in files if f.is_file())


@lru_cache(maxsize=8192)
def runs(text: str, face: Face) -> tuple[tuple[TTFont, str], ...]:
    """The text cut into pieces, each with the font that can write it."""
    out: list[tuple[TTFont, str]] = []
    for sign in text:
        font = next((f for f in _chain(face) if _writes(f, sign)), _chain(face)[0])
        if out and out[-1][0] is font:
            out[-1] = (font, out[-1][1] + sign)
        else:
            out.append((font, sign))
    return tuple(out)


def _writes(font: Any, sign: str) -> bool:
    return ord(sign) in font.face.charToGlyph


def lacking(text: str, face: Face = Face.FIGURES) -> tuple[str, ...]:
    """The signs of the text that no font at hand can write, in order, once each."""
    signs = dict.fromkeys(text)
    return tuple(s for s in signs if not any(_writes(f, s) for f in _chain(face)))


@lru_cache(maxsize=16384)
def width_mm(text: str, size_mm: float, face: Face = Face.FIGURES) -> float:
    """Width of the text in mm when its body is ``size_mm`` high; 0 for no text."""
    return float(sum(font.stringWidth(t, size_mm) for font, t in runs(text, face)))


def wrapped(text: str, size_mm: float, face: Face, width: float) -> list[str]:
    """The text broken at blanks into lines no wider than ``width`` mm.

    A word wider than the line stands alone, broken between letters where it must be.
    """
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            trial = f"{line} {word}" if line else word
            if width_mm(trial, size_mm, face) <= width:
                line = trial
                continue
            if line:
                lines.append(line)
            while width_mm(word, size_mm, face) > width and len(word) > 1:
                n = len(word)
                while n > 1 and width_mm(word[:n], size_mm, face) > width:
                    n -= 1
                lines.append(word[:n])
                word = word[n:]
            line = word
        lines.append(line)
    return lines


def shortened(text: str, size_mm: float, face: Face, width: float) -> str:
    """The text, or as much of it as fits in ``width`` mm followed by an ellipsis."""
    if width_mm(text, size_mm, face) <= width:
        return text
    n = len(text)
    while n > 0 and width_mm(text[:n].rstrip() + "…", size_mm, face) > width:
        n -= 1
    return text[:n].rstrip() + "…"
