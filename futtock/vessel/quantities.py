"""The kinds of value that a key of ``vessel.toml`` may hold."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo
from pydantic_core import PydanticCustomError

from futtock.errors import Unreadable
from futtock.measure import read_angle, read_length


class Section(BaseModel):
    """A table of ``vessel.toml``: frozen, and no key beyond those named."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


def _unit(info: ValidationInfo) -> str:
    return str((info.context or {}).get("unit", "mm"))


def _refusal(kind: Literal["length", "angle"], error: Unreadable) -> PydanticCustomError:
    finding = error.findings[0]
    return PydanticCustomError(
        kind,
        "{said}",
        {"said": finding.message, "code": finding.code, "expected": finding.expected},
    )


def _length(value: Any, info: ValidationInfo) -> float:
    try:
        return float(read_length(value, _unit(info)))
    except Unreadable as error:
        raise _refusal("length", error) from None


def _angle(value: Any) -> float:
    try:
        return float(read_angle(value))
    except Unreadable as error:
        raise _refusal("angle", error) from None


def _length_or_diameters(value: Any, info: ValidationInfo) -> float | str:
    """Millimetres, or text ``"2.5 d"``: so many diameters of the fastening."""
    text = str(value).strip().lower()
    for word in ("diameters", "diameter", "d"):
        if text.endswith(word):
            try:
                return f"{float(Fraction(text.removesuffix(word).strip())):g} d"
            except (ValueError, ZeroDivisionError):
                break
    return _length(value, info)


def in_mm(measure: float | str | None, diameter_mm: float) -> float | None:
    """Millimetres of a value that may be stated in diameters (``"2.5 d"``).

    >>> in_mm("2.5 d", 20.0), in_mm(40.0, 20.0), in_mm(None, 20.0)
    (50.0, 40.0, None)
    """
    if isinstance(measure, str):
        return float(measure.removesuffix(" d")) * diameter_mm
    return measure


def _height_or_name(value: Any, info: ValidationInfo) -> float | str:
    """Millimetres where it reads as a length, else the name of a line."""
    if isinstance(value, str) and not any(c.isdigit() for c in value):
        return value.strip().lower()
    return _length(value, info)


Length = Annotated[float, BeforeValidator(_length)]
Positive = Annotated[float, BeforeValidator(_length), Field(gt=0)]
NotNegative = Annotated[float, BeforeValidator(_length), Field(ge=0)]
Angle = Annotated[float, BeforeValidator(_angle), Field(ge=-90, le=90)]
Diameters = Annotated[float | str, BeforeValidator(_length_or_diameters)]
HeightOrName = Annotated[float | str, BeforeValidator(_height_or_name)]
Stretch = Annotated[float, Field(gt=0.9, lt=1.1)]
Percent = Annotated[float, Field(ge=0, le=100)]


def one_as_list(key: str) -> BeforeValidator:
    """Lets a plain value stand for a list of one table that holds it under ``key``."""

    def wrap(value: Any) -> Any:
        return value if isinstance(value, (list, tuple)) else [{key: value}]

    return BeforeValidator(wrap)
