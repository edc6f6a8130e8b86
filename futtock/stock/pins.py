"""Stock for treenails and wedges: squares of straight-grained wood, in lengths, as its own kind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, cast

from futtock.errors import Unreadable
from futtock.findings import Finding
from futtock.measure import read_length
from futtock.stock import kinds
from futtock.stock.species import species as wood_of
from futtock.vessel.grid import read_grid, shown
from futtock.vessel.papers import Papers

Use = Literal["treenail", "wedge"]

HEADING = ("name", "use", "species", "square", "length", "count", "moisture_percent", "stack")
_NEEDED = ("name", "use", "species", "square", "length", "count")
_USUAL = {
    "treenail": ("locust-black", "osage-orange", "oak-white-live", "oak-white-white"),
    "wedge": ("locust-black", "osage-orange", "oak-white-live", "oak-white-white", "ash-white"),
}


@dataclass(frozen=True, slots=True)
class Squares:
    """A bundle of squares: all of one side and length, for treenails or for wedges."""

    name: str
    use: Use
    species: str
    square_mm: float
    length_mm: float
    count: int
    moisture_percent: float | None = None
    stack: str = ""

    @property
    def volume_m3(self) -> float:
        """Volume of the bundle."""
        return self.square_mm**2 * self.length_mm * self.count / 1e9


@dataclass(frozen=True, slots=True)
class Cutting:
    """How lengths come out of squares.

    Attributes
    ----------
    got
        How many pieces come out.
    squares_used
        How many squares are cut, by bundle.
    short
        Pieces that do not come out, by length in mm.
    left_mm
        Total length of what remains of the squares that were cut, kerfs taken off.
    """

    got: int
    squares_used: Mapping[str, int]
    short: Mapping[float, int]
    left_mm: float
    findings: tuple[Finding, ...] = ()


def read_squares(
    papers: Papers, name: str = "pins.csv", unit: str = "mm"
) -> tuple[tuple[Squares, ...], tuple[Finding, ...]]:
    """Pin stock from a CSV or XLSX file with :data:`HEADING`; a row amiss is a finding.

    Lengths are in any of the trade's notations, bare numbers in ``unit``.
    """
    before = len(papers.findings)
    rows = read_grid(papers, name) or ()
    findings = list(papers.findings[before:])
    if not rows:
        return (), tuple(findings)
    heading = [shown(cell).strip().lower() for cell in rows[0].cells]
    missing = [key for key in _NEEDED if key not in heading]
    if missing:
        said = f"the heading lacks {', '.join(missing)}."
        read, expected = ",".join(heading), ",".join(HEADING)
        lacking = kinds.STOCK_ROW.found(
            said, file=name, line=rows[0].line, read=read, expected=expected
        )
        return (), (*findings, lacking)
    bundles: list[Squares] = []
    for row in rows[1:]:
        cells = dict(zip(heading, map(shown, row.cells), strict=False))
        bundle, found = _bundle(cells, name, row.line, unit)
        findings += found
        if bundle is not None:
            bundles.append(bundle)
    return tuple(bundles), tuple(findings)


def _bundle(
    cells: Mapping[str, str], file: str, number: int, unit: str
) -> tuple[Squares | None, list[Finding]]:
    findings: list[Finding] = []

    def wrong(key: str, expected: str) -> None:
        read = cells.get(key, "")
        said = f"{key} {read!r} cannot be read."
        findings.append(
            kinds.STOCK_ROW.found(
                said, file=file, line=number, column=key, read=read, expected=expected
            )
        )

    def length(key: str) -> float:
        try:
            value = float(read_length(cells.get(key, ""), unit))
        except Unreadable:
            value = 0.0
        if value <= 0:
            wrong(key, "a length above 0")
        return value

    use = cells.get("use", "").strip().lower()
    if use not in ("treenail", "wedge"):
        wrong("use", "treenail or wedge")
    square, long = length("square"), length("length")
    count = cells.get("count", "").strip()
    if not count.isdecimal():
        wrong("count", "a whole number")
    wet = cells.get("moisture_percent", "").strip()
    moisture: float | None = None
    if wet:
        try:
            moisture = float(wet)
        except ValueError:
            wrong("moisture_percent", "a number")
    if findings:
        return None, findings
    name = cells.get("name", "").strip() or f"row {number}"
    wood = cells.get("species", "").strip()
    known = wood_of(wood)
    if known is None or known.key not in _USUAL[use]:
        said = f"{name}: {wood or 'no wood named'} is seldom used for a {use}."
        findings.append(
            kinds.STOCK_SPECIES.found(said, file=file, line=number, column="species", read=wood)
        )
    stack = cells.get("stack", "").strip()
    use = cast(Use, use)
    return Squares(name, use, wood, square, long, int(count), moisture, stack), findings


def cut_lengths(
    stock: Sequence[Squares],
    lengths_mm: Iterable[float],
    square_mm: float,
    kerf_mm: float = 3.0,
    use: Use = "treenail",
) -> Cutting:
    """How many of the lengths wanted come out of the squares in stock.

    Longest first, each into the open square that it fills best, else into the shortest new one
    that holds it: not always the fewest squares, but near it, and as a person would go about it.
    Squares of a side under ``square_mm``, or of another use, are left alone.
    """
    wanted = sorted(lengths_mm, reverse=True)
    closed: list[tuple[float, str]] = sorted(
        (s.length_mm, s.name)
        for s in stock
        if s.use == use and s.square_mm >= square_mm - 1e-9
        for _ in range(s.count)
    )
    rest: list[tuple[float, str]] = []
    used: dict[str, int] = {}
    short: dict[float, int] = {}
    got = 0
    for long in wanted:
        at = min(
            (k for k, (left, _) in enumerate(rest) if left >= long - 1e-9),
            key=lambda k: rest[k][0],
            default=None,
        )
        if at is None:
            new = next((k for k, (left, _) in enumerate(closed) if left >= long - 1e-9), None)
            if new is None:
                short[long] = short.get(long, 0) + 1
                continue
            whole = closed.pop(new)
            used[whole[1]] = used.get(whole[1], 0) + 1
            rest.append(whole)
            at = len(rest) - 1
        left, name = rest[at]
        rest[at] = (max(0.0, left - long - kerf_mm), name)
        got += 1
    findings: tuple[Finding, ...] = ()
    if short:
        lacking = ", ".join(f"{n} of {long:.0f} mm" for long, n in sorted(short.items()))
        said = f"{sum(short.values())} {use}s do not come out of the squares in stock: {lacking}."
        findings = (kinds.STOCK_SHORT.found(said, read=f"{got} got", expected=f"{len(wanted)}"),)
    return Cutting(got, used, short, sum(left for left, _ in rest), findings)
