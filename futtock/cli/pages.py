"""How the help pages are set: no word of a programmer's, and nothing broken off."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperCommand, TyperGroup

if TYPE_CHECKING:
    from collections.abc import Callable

_AT_LEAST = re.compile(r"\bx>=([\d.]+)")
_BETWEEN = re.compile(r"\b([\d.]+)<=x<=([\d.]+)")


def _row(param: Any, ctx: Any) -> tuple[str, str] | None:
    """The name of an argument or option, and what it is for, with its bounds in words."""
    record: tuple[str, str] | None = param.get_help_record(ctx)
    if record is None:
        return None
    name, said = record
    if param.param_type_name == "argument":
        name = param.display_name_raw
        said = said.replace("  [required]", "")  # its name stands in the usage without brackets
        said = said.replace("(here)", "here")
    said = _BETWEEN.sub(r"\1 to \2", said)
    return name, _AT_LEAST.sub(r"\1 or more", said)


class _Verb(TyperCommand):
    """A verb whose page is in the words of the trade."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """Arguments as we write them: those that may be left out in square brackets."""
        params: list[Any] = self.get_params(ctx)
        names = [p.display_name_raw for p in params if p.param_type_name == "argument"]
        return ["[OPTIONS]", *names]

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the arguments, then the options."""
        for kind, title in (("argument", "Arguments"), ("option", "Options")):
            params = [p for p in self.get_params(ctx) if p.param_type_name == kind]
            rows = [row for p in params if (row := _row(p, ctx)) is not None]
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)


class _Rooms(TyperGroup):
    """A page of verbs, each with the whole of its first sentence."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write each verb and what it does."""
        rows = []
        for name in self.list_commands(ctx):
            verb = self.get_command(ctx, name)
            if verb is not None and not verb.hidden:
                rows.append((name, " ".join((verb.help or "").split("\n\n")[0].split())))
        with formatter.section("Verbs"):
            formatter.write_dl(rows)


class Verbs(typer.Typer):
    """Verbs of one room, or all of them, with our help pages."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(cls=_Rooms, subcommand_metavar="VERB ...", **settings)

    def command(self, name: str | None = None, **settings: Any) -> Callable[[Any], Any]:
        """Take a function as a verb."""
        return super().command(name, cls=_Verb, **settings)
