"""Findings: what the tool noticed, as data with a code, a place and a remedy.

A :class:`Kind` is declared once by the room that can notice it (``futtock/<room>/kinds.py``) and
makes :class:`Finding` values. Severities: ``fault`` stops the step (exit 1), ``misfit`` is done but
something does not fit (exit 3), ``doubt`` is a question for the builder, ``note`` is information.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any


class Severity(StrEnum):
    """How much a finding matters, greatest first."""

    FAULT = "fault"
    MISFIT = "misfit"
    DOUBT = "doubt"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed.

    Attributes
    ----------
    code
        Stable code: the room's letter and three digits, as ``L104``.
    severity
        See :class:`Severity`.
    message
        One sentence a shipwright can act on, with its figures and their units.
    file, line, column
        Where in the shipwright's own paper; ``line`` is a line number or the name of a row,
        ``column`` a column number, a station or a key. ``None`` where there is no such place.
    read, expected
        What was found there and what was looked for, as text.
    remedy
        What to do about it.
    """

    code: str
    severity: Severity
    message: str
    file: str | None = None
    line: str | int | None = None
    column: str | int | None = None
    read: str | None = None
    expected: str | None = None
    remedy: str | None = None

    def as_json(self) -> dict[str, Any]:
        """The finding as the ``--json`` documents carry it."""
        return {key: str(v) if isinstance(v, StrEnum) else v for key, v in asdict(self).items()}

    @property
    def place(self) -> str:
        """Where it is, in words; empty where there is no place."""
        return ", ".join(str(p) for p in (self.file, self.line, self.column) if p is not None)

    def __str__(self) -> str:
        text = f"{self.code} {self.severity}: {self.placed}"
        return f"{text} {self.remedy}" if self.remedy else text

    @property
    def placed(self) -> str:
        """The message behind its place, where it does not begin with that itself."""
        place, rest = self.place, self.message.removeprefix(self.place)
        if not place or (rest != self.message and not rest[:1].isalnum()):
            return self.message
        return f"{place}: {self.message}"


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of finding: its code, how much it matters, what it means and what to do about it."""

    code: str
    severity: Severity
    title: str
    remedy: str | None = None

    def found(
        self,
        message: str,
        *,
        file: str | None = None,
        line: str | int | None = None,
        column: str | int | None = None,
        read: str | None = None,
        expected: str | None = None,
        remedy: str | None = None,
    ) -> Finding:
        """A finding of this kind."""
        return Finding(
            self.code,
            self.severity,
            message,
            file,
            line,
            column,
            read,
            expected,
            remedy or self.remedy,
        )


def worst(findings: Iterable[Finding]) -> Severity | None:
    """The greatest severity among findings, or None where there are none."""
    order = list(Severity)
    found = {f.severity for f in findings}
    return next((s for s in order if s in found), None)


_TOGETHER = 3
_NAMED = 60
_CROWD = 12


def told(findings: Iterable[Finding]) -> list[str]:
    """Findings in words, greatest first; more than three of one kind are told in one line.

    That line names the place of each, and gives the one that is farthest out in full. More than
    a dozen of one code are told so too, whatever their remedies and even where they have no
    places, unless they are faults; what is told twice is told once.
    """
    order = list(Severity)
    found = tuple(dict.fromkeys(findings))
    crowds = {
        code
        for code, n in Counter(f.code for f in found if f.severity != Severity.FAULT).items()
        if n > _CROWD
    }
    kinds: dict[tuple[Severity, str, str | None, str | None], list[Finding]] = {}
    for f in found:
        remedy = None if f.code in crowds else f.remedy
        kinds.setdefault((f.severity, f.code, f.file, remedy), []).append(f)
    lines: list[str] = []
    for (severity, code, _, _), alike in sorted(
        kinds.items(), key=lambda item: order.index(item[0][0])
    ):
        places = list(dict.fromkeys(f.place for f in alike if f.place))
        crowd = len(alike) > _CROWD and severity != Severity.FAULT
        if len(alike) <= _TOGETHER or (len(places) <= _TOGETHER and not crowd):
            lines += [str(f) for f in alike]
            continue
        named = "; ".join(places[:_NAMED])
        if len(places) > _NAMED:
            named += f" and {len(places) - _NAMED} more"
        text = f"{code} {severity}, {len(alike)} alike{': ' if named else ''}{named}."
        far = max(alike, key=_out)
        text += f" {'The farthest out' if _out(far) else 'The first'}: {far.placed}"
        lines.append(f"{text} {far.remedy}" if far.remedy else text)
    return lines


def _out(finding: Finding) -> float:
    """How far a finding is out: its figure over the one looked for, or under it; else nothing."""
    figures = [_figure(finding.read), _figure(finding.expected)]
    if any(f is None or f <= 0 for f in figures):
        return 0.0
    ratio = (figures[0] or 1.0) / (figures[1] or 1.0)
    return max(ratio, 1.0 / ratio)


def _figure(text: str | None) -> float | None:
    """The first number in a text."""
    for word in (text or "").split():
        try:
            return float(word)
        except ValueError:
            continue
    return None
