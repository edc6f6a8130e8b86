"""From the text of ``vessel.toml`` to the model, with every fault of the file in one pass."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from futtock.errors import Misused
from futtock.findings import Finding
from futtock.measure import unit_name
from futtock.vessel import kinds
from futtock.vessel.keylines import KeyLines
from futtock.vessel.model import Vessel
from futtock.vessel.papers import did_you_mean

_Path = tuple[str | int, ...]
_MOST_BROKEN_LINES = 30
_LIMITS = {
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than": "less than {lt:g}",
    "less_than_equal": "at most {le:g}",
}
_FEW_KEYS = 5  # that are worth naming where a table was looked for
_KINDS_OF_VALUE = {
    "string": "text between quotes",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "date": "a date such as 2031-05-04",
    "tuple": "a list",
    "list": "a list",
    "dict": "a table",
    "model": "a table",
    "finite": "a number",
}


def read_vessel(text: str, file: str = "vessel.toml") -> tuple[Vessel, tuple[Finding, ...]]:
    """The model and what was found.

    What cannot be used is left out, with a finding that names its line and key, and the rest is
    read; a section that lacks what it needs is None in the model.
    """
    where = KeyLines(text)
    stated, told, findings = _parsed(text.removeprefix("\ufeff"), where, file)
    unit = _unit(stated)
    data = copy.deepcopy(stated)
    vessel: Vessel | None = None
    while vessel is None:
        try:
            vessel = Vessel.model_validate(data, context={"unit": unit})
        except ValidationError as failed:
            placed = [(e, _path(data, e["loc"], e["type"])) for e in _distinct(failed)]
            gone: list[_Path] = []
            for error, path in placed:
                if path not in told:
                    told.add(path)
                    findings.append(_finding(error, path, where, file, stated))
                target = path[:-1] if error["type"] == "missing" else path
                # what lay in an item that is out already went with it
                if not any(target[: len(g)] == g for g in gone if isinstance(g[-1], int)):
                    _leave_out(data, target, told)
                    gone += [target] if target else []
    findings.sort(key=lambda f: f.line if isinstance(f.line, int) else 0)
    return vessel, tuple(findings)


def _parsed(
    text: str, where: KeyLines, file: str
) -> tuple[dict[str, Any], set[_Path], list[Finding]]:
    """The tables of the text; a line that breaks it is told of, blanked, and the rest is read.

    Also the keys that stood on such lines, so that they are not missed a second time.
    """
    lines = text.splitlines()
    findings: list[Finding] = []
    told: set[_Path] = set()
    while True:
        try:
            return tomllib.loads("\n".join(lines)), told, findings
        except tomllib.TOMLDecodeError as error:
            finding = _broken(error, file, lines)
        except (RecursionError, ValueError):
            said = "It holds what TOML cannot mean (too deep a nesting, too long a number)."
            return {}, told, [*findings, kinds.NOT_TOML.found(said, file=file)]
        findings.append(finding)
        if not isinstance(finding.line, int) or len(findings) > _MOST_BROKEN_LINES:
            return {}, told, findings
        first, last, path = where.span(finding.line)
        if path:
            told.add(path)
        if not any(lines[first - 1 : last]):
            return {}, told, findings
        lines[first - 1 : last] = [""] * (last - first + 1)


def known_keys(path: Sequence[str | int] = ()) -> tuple[str, ...]:
    """Keys that may stand in a table: ``("framing", "moulded")`` gives heel, head, points."""
    model: type[BaseModel] | None = Vessel
    for part in path:
        if isinstance(part, int) or model is None:
            continue
        field = next((f for n, f in model.model_fields.items() if (f.alias or n) == part), None)
        if field is None:
            # A name of the builder's own, as a diagonal's: its value is still of `model`.
            continue
        model = next(iter(_models(field.annotation)), None)
    if model is None:
        return ()
    return tuple(f.alias or n for n, f in model.model_fields.items())


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _models(part)


def _unit(stated: dict[str, Any]) -> str:
    lines = stated.get("lines")
    named = lines.get("unit") if isinstance(lines, dict) else None
    try:
        return unit_name(named) if isinstance(named, str) else "mm"
    except Misused:
        return "mm"


def _broken(error: tomllib.TOMLDecodeError, file: str, lines: list[str]) -> Finding:
    said = str(error)
    place = re.search(r"\(at line (\d+), column (\d+)\)", said)
    number = int(place[1]) if place else len(lines) or None
    said = re.sub(r"\s*\(at .*\)$", "", said)
    read = lines[number - 1].strip() if number and number <= len(lines) else None
    return kinds.NOT_TOML.found(
        f"This cannot be read as TOML: {said[:1].lower()}{said[1:]}.",
        file=file,
        line=number,
        column=int(place[2]) if place else None,
        read=read,
        expected='a line such as: thickness = "1-1/4 in"',
    )


def _distinct(failed: ValidationError) -> Iterator[dict[str, Any]]:
    """Errors, deepest first, so that leaving one out does not move the place of another."""
    told: list[dict[str, Any]] = [dict(e) for e in failed.errors(include_url=False)]
    # A list that is too short because its items are wrong is no fault of its own.
    errors = [
        e
        for e in told
        if e["type"] != "too_short"
        or not any(o is not e and o["loc"][: len(e["loc"])] == e["loc"] for o in told)
    ]

    def order(error: dict[str, Any]) -> list[tuple[bool, int]]:
        return [(isinstance(p, int), -p if isinstance(p, int) else 0) for p in error["loc"]]

    yield from sorted(errors, key=lambda e: (order(e), -len(e["loc"])))


def _path(data: Any, loc: Sequence[str | int], kind: str) -> _Path:
    """The place in the file: without the parts that only the model knows (tags of choices)."""
    path: list[str | int] = []
    here = data
    for i, part in enumerate(loc):
        last = i == len(loc) - 1
        in_list = isinstance(here, list) and isinstance(part, int) and part < len(here)
        if in_list or (isinstance(here, dict) and part in here):
            here = here[part]
            path.append(part)
        elif last and kind == "missing":
            path.append(part)
    return tuple(path)


def _finding(
    error: dict[str, Any], path: _Path, where: KeyLines, file: str, stated: dict[str, Any]
) -> Finding:
    line, key, owner = where.line(path), dotted(path), dotted(path[:-1]) or "the file"
    kind, context = error["type"], error.get("ctx") or {}
    if kind == "missing":
        return kinds.MISSING_KEY.found(
            f"[{owner}] lacks '{path[-1]}'.", file=file, line=line, column=key, expected=key
        )
    if kind == "extra_forbidden":
        return _unknown(path, line, file, stated)
    read = error.get("input")
    shown = f"'{read}'" if isinstance(read, str) else repr(read)
    if kind in ("length", "angle"):
        said, expected = f"{key}: {context['said']}", context["expected"]
    else:
        expected = _expected(kind, context)
        keys = known_keys(path)
        if expected == _KINDS_OF_VALUE["model"] and 0 < len(keys) <= _FEW_KEYS:
            expected += f" such as {{ {', '.join(f'{k} = …' for k in keys)} }}"
        said = f"{key} is {shown[:60]}; expected {expected}."
    return kinds.WRONG_VALUE.found(
        said, file=file, line=line, column=key, read=str(read)[:200], expected=expected
    )


def _expected(kind: str, context: dict[str, Any]) -> str:
    if kind in _LIMITS:
        return _LIMITS[kind].format(**context)
    if kind == "literal_error":
        return str(context["expected"])
    if kind == "too_short":
        return f"at least {context['min_length']} of them"
    if kind == "string_too_long":
        return f"at most {context['max_length']} letters"
    first = kind.split("_")[0]
    return _KINDS_OF_VALUE.get(first, "another kind of value")


def _unknown(path: _Path, line: int | None, file: str, stated: dict[str, Any]) -> Finding:
    key = str(path[-1])
    known = known_keys(path[:-1])
    hint = did_you_mean(key, known)
    if not hint and len(path) > 1:
        homes = [s for s in known_keys() if key in known_keys((s,))]
        if homes:
            hint = f"; it belongs under [{homes[0]}]"
    owner = f"[{dotted(path[:-1])}]" if len(path) > 1 else "vessel.toml"
    return kinds.UNKNOWN_KEY.found(
        f"{owner} knows no key '{key}'{hint}.",
        file=file,
        line=line,
        column=dotted(path),
        read=key,
        expected=", ".join(known) or None,
    )


def _leave_out(data: Any, target: _Path, told: set[_Path]) -> None:
    """Take the wrong value, or the table that lacks a key it needs, out of the data."""
    if not target:  # a fault of the whole: nothing smaller can be left out
        data.clear()
        return
    told.add(target)
    here = data
    for part in target[:-1]:
        here = here[part] if not isinstance(here, dict) or part in here else None
        if here is None:
            return
    if isinstance(here, dict):
        here.pop(target[-1], None)
        # A table that has lost a key it needs is not told of a second time.
        told.add((*target[:-1], target[-1]))
    elif isinstance(here, list) and isinstance(target[-1], int) and target[-1] < len(here):
        del here[target[-1]]


def dotted(path: Sequence[str | int]) -> str:
    """``framing.moulded.heel``; items of lists are counted from 1 in brackets."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text
