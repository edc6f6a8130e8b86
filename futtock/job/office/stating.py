"""Settings of ``vessel.toml`` changed from a form: the file keeps its comments and its order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from futtock.errors import Unreadable
from futtock.findings import Finding, Severity
from futtock.job.pen import pen
from futtock.job.written import Written

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

STATEMENT = "vessel.toml"


@dataclass(frozen=True)
class Setting:
    """One setting of a form: its key, what it is called, its choices or its kind, a hint."""

    key: str
    label: str
    hint: str = ""
    choices: tuple[str, ...] = ()
    number: bool = False


@dataclass(frozen=True)
class Shown:
    """A setting with the value to show and what is wrong with it."""

    setting: Setting
    value: str
    wrong: str = ""


FRAMES = (
    Setting("framing.room_and_space", "Room and space", "Joint face to joint face."),
    Setting("framing.first", "First frame", "From the forward perpendicular aft."),
    Setting("framing.count", "How many frames", "", (), True),
    Setting("framing.sided", "Sided, one layer"),
    Setting("framing.moulded.heel", "Moulded at the heel"),
    Setting("framing.moulded.head", "Moulded at the head"),
    Setting("framing.heads", "Heads stand at", "sheer, or a height."),
    Setting("framing.cants", "Cants", "", ("propose", "none")),
    Setting("framing.floors", "Floors", "", ("separate", "in frame")),
    Setting("framing.largest_bevel_deg", "Largest bevel, degrees", "", (), True),
    Setting("futtocks.longest", "Longest futtock"),
    Setting("futtocks.butt_shift", "Shift of butts", "Least between layers."),
    Setting("planking.thickness", "Planking"),
)
"""What rebuilds the frames at once."""

LAYOUT = (
    Setting("layout.seconds", "Seconds to search", "", (), True),
    Setting("timber.grain_slope", "Steepest grain, 1 in", "10 is common practice.", (), True),
    Setting("timber.kerf", "Kerf"),
    Setting("timber.rough_allowance", "Left on each side"),
    Setting("layout.weights.little_timber", "Use little timber, 0 to 3", "", (), True),
    Setting("layout.weights.straight_grain", "Straight grain, 0 to 3", "", (), True),
    Setting("layout.weights.save_crooks", "Save crooks, 0 to 3", "", (), True),
    Setting("layout.weights.few_slabs", "Begin few slabs, 0 to 3", "", (), True),
)
"""What the next layout goes by."""


def shown(
    folder: Path,
    settings: tuple[Setting, ...],
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
) -> tuple[Shown, ...]:
    """The settings as the file states them, or as they were typed."""
    stated = _read(folder)
    return tuple(
        Shown(
            s,
            (typed or {}).get(s.key, _value(stated, s.key)),
            (wrong or {}).get(s.key, ""),
        )
        for s in settings
    )


def state(folder: Path, settings: tuple[Setting, ...], typed: Mapping[str, str]) -> dict[str, str]:
    """Write the settings that were changed; what is wrong with each, by key, and then none is.

    A setting left empty is taken out of the file, so that its usual value holds.

    Raises
    ------
    Unreadable
        Where the file is not there, is no TOML, or cannot be written.
    """
    import tomlkit

    from futtock.vessel.stating import read_vessel

    with pen(folder):
        document = _read(folder)
        before = tomlkit.dumps(document)
        known = _faults(read_vessel(before)[1])
        changed = False
        for s in settings:
            if s.key in typed and typed[s.key].strip() != _value(document, s.key):
                _put(document, s, typed[s.key].strip())
                changed = True
        if not changed:
            return {}
        text = tomlkit.dumps(document)
        found = [f for f in read_vessel(text)[1] if _key(f) not in known]
        wrong = {
            s.key: f"{f.message} {f.remedy or ''}".strip()
            for s in settings
            for f in found
            if f.severity is Severity.FAULT and (_key(f) or "").startswith(s.key)
        }
        rest = [f for f in found if f.severity is Severity.FAULT]
        if wrong:
            return wrong
        if rest:
            return {settings[0].key: rest[0].message}
        Written(folder).put(STATEMENT, text)
        return {}


def _faults(findings: tuple[Finding, ...]) -> set[str | None]:
    return {_key(f) for f in findings}


def _key(f: Finding) -> str | None:
    return None if f.column is None else str(f.column)


def _read(folder: Path) -> TOMLDocument:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse((folder / STATEMENT).read_text("utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        raise Unreadable(f"{STATEMENT} cannot be read: {error}.") from None
    except TOMLKitError as error:
        raise Unreadable(f"{STATEMENT} is no TOML: {error}.") from None


def _value(document: Mapping[str, Any], key: str) -> str:
    at: Any = document
    for part in key.split("."):
        if isinstance(at, Mapping) and part in at:
            at = at[part]
        elif key.startswith("framing.moulded.") and not isinstance(at, Mapping):
            return str(at)
        else:
            return ""
    return "" if isinstance(at, (list, Mapping)) else str(at)


def _put(document: TOMLDocument, setting: Setting, typed: str) -> None:
    import tomlkit

    *tables, name = setting.key.split(".")
    at: Any = document
    for part in tables:
        if part not in at:
            at[part] = tomlkit.table()
        elif not isinstance(at[part], Mapping):
            both = tomlkit.inline_table()
            both.update({"heel": at[part], "head": at[part]})
            at[part] = both
        at = at[part]
    if not typed:
        if name in at:
            del at[name]
        return
    value: Any = typed
    if setting.number:
        try:
            value = int(typed) if typed.lstrip("-").isdigit() else float(typed)
        except ValueError:
            value = typed
    at[name] = value


def state_value(folder: Path, key: str, value: Any) -> None:
    """Write one value as it is; None or an empty list is taken out of the file."""
    with pen(folder):
        document = _read(folder)
        _set(document, key, value)
        _write(folder, document)


def state_list(folder: Path, key: str, change: Callable[[list[Any]], list[Any]]) -> None:
    """Write a list changed from what it is in the file now."""
    with pen(folder):
        document = _read(folder)
        table, _, name = key.partition(".")
        at = document.get(table, {}).get(name, [])
        _set(document, key, change(list(at.unwrap() if hasattr(at, "unwrap") else at)))
        _write(folder, document)


def state_many(folder: Path, values: Mapping[str, Any]) -> dict[str, str]:
    """Write several values as they are; what is wrong with each, by key, and then none is."""
    import tomlkit

    from futtock.vessel.stating import read_vessel

    with pen(folder):
        document = _read(folder)
        before = tomlkit.dumps(document)
        known = _faults(read_vessel(before)[1])
        for key, value in values.items():
            _set(document, key, value)
        found = read_vessel(tomlkit.dumps(document))[1]
        faults = [f for f in found if f.severity is Severity.FAULT and _key(f) not in known]
        wrong = {
            key: f"{f.message} {f.remedy or ''}".strip()
            for key in values
            for f in faults
            if (_key(f) or "").startswith(key)
        }
        if faults and not wrong:
            wrong[next(iter(values))] = faults[0].message
        if not wrong and tomlkit.dumps(document) != before:
            _write(folder, document)
        return wrong


def table_of(folder: Path, name: str) -> Mapping[str, Any]:
    """One table of the file as it is written; empty where there is none."""
    found = _read(folder).get(name)
    return found.unwrap() if isinstance(found, Mapping) and hasattr(found, "unwrap") else {}


def _set(document: TOMLDocument, key: str, value: Any) -> None:
    import tomlkit

    table, _, name = key.partition(".")
    if value is None or value == []:
        if table in document and name in document[table]:
            del document[table][name]
        return
    if table not in document:
        document[table] = tomlkit.table()
    at: Any = document[table]
    if name not in at or at[name] != value:
        at[name] = value


def _write(folder: Path, document: TOMLDocument) -> None:
    import tomlkit

    Written(folder).put(STATEMENT, tomlkit.dumps(document))
