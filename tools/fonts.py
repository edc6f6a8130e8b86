"""Make the PDF's figure font: tabular figures by default, and the scripts the family lacks.

A PDF writer that lays out glyph by glyph cannot ask a font for its tabular figures, so they are
made the default here. The words font is used as published.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from fontTools.merge import Merger
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

SIGNS = "′″⅛⅜⅝⅞µ←↑→↓↔↕≈≤≥√∠⌀□■△▲▽▼◇◆○●∅"
"""Signs a drawing may use, added where the family has none."""
GREEK = range(0x0370, 0x0400)
CYRILLIC = range(0x0400, 0x0530)


def tabular(font: TTFont) -> None:
    """Make the figures that the ``tnum`` feature gives the plain ones."""
    gsub = font["GSUB"].table
    lookups = {
        index
        for record in gsub.FeatureList.FeatureRecord
        if record.FeatureTag == "tnum"
        for index in record.Feature.LookupListIndex
    }
    swap: dict[str, str] = {}
    for index in lookups:
        for sub in gsub.LookupList.Lookup[index].SubTable:
            swap.update(getattr(sub, "ExtSubTable", sub).mapping)
    for table in font["cmap"].tables:
        for code, glyph in table.cmap.items():
            if chr(code).isdecimal():
                table.cmap[code] = swap.get(glyph, glyph)
    widths = {font["hmtx"][font.getBestCmap()[ord(d)]][0] for d in "0123456789"}
    if len(widths) != 1:
        raise SystemExit(f"figures are still of several widths: {sorted(widths)}")


def keep(font: TTFont, codes: set[int]) -> None:
    """Leave nothing but these characters, and no layout tables."""
    options = Options()
    options.layout_features = []
    options.drop_tables += ["GSUB", "GPOS", "GDEF", "DSIG", "MATH", "STAT", "BASE", "JSTF", "meta"]
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.hinting = False
    options.glyph_names = True
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=codes)
    subsetter.subset(font)


def figures(base: Path, more: Path, signs: Path, out: Path) -> None:
    """Write the figure font: ``base``, and from ``more`` and ``signs`` what it lacks."""
    first = TTFont(base, recalcTimestamp=False)
    metrics = {t: dict(vars(first[t])) for t in ("hhea", "OS/2", "head")}
    tabular(first)
    has = set(first.getBestCmap())
    wanted = {*GREEK, *CYRILLIC, *map(ord, SIGNS)} - has
    keep(first, has)
    parts = [first]
    for path in (more, signs):
        font = TTFont(path, recalcTimestamp=False)
        codes = wanted & set(font.getBestCmap())
        wanted -= codes
        keep(font, codes)
        parts.append(font)
    missing = [s for s in SIGNS if ord(s) in wanted]
    if missing:
        raise SystemExit(f"no font has {' '.join(missing)}")
    with tempfile.TemporaryDirectory() as box:
        names = []
        for number, font in enumerate(parts):
            names.append(str(Path(box) / f"{number}.ttf"))
            font.save(names[-1])
        merged = Merger().merge(names)
    for tag, keys in {
        "hhea": ("ascent", "descent", "lineGap"),
        "OS/2": (
            "sTypoAscender",
            "sTypoDescender",
            "sTypoLineGap",
            "usWinAscent",
            "usWinDescent",
            "sxHeight",
            "sCapHeight",
            "usWeightClass",
            "fsSelection",
            "achVendID",
        ),
        "head": ("created", "modified", "fontRevision", "macStyle"),
    }.items():
        for key in keys:
            setattr(merged[tag], key, metrics[tag][key])
    for record in merged["name"].names:
        if record.nameID == 5:
            record.string = str(record) + "; tabular figures, Greek, Cyrillic and signs added"
    merged.recalcTimestamp = False
    merged.save(out)
