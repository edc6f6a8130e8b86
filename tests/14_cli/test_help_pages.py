"""Every help page is in the trade's words, whole, and true of the verb."""

from __future__ import annotations

import re

import pytest
import typer
from typer.testing import CliRunner

from futtock.cli.app import app


def _pages() -> dict[tuple[str, ...], str]:
    """The help page of every verb, by the words that call it."""
    run = CliRunner()
    group = typer.main.get_command(app)
    words: list[tuple[str, ...]] = [()]
    for name, verb in group.commands.items():  # type: ignore[attr-defined]
        words += [(name,), *((name, under) for under in getattr(verb, "commands", ()))]
    return {w: run.invoke(app, [*w, "--help"]).output for w in words}


@pytest.fixture(scope="module")
def pages() -> dict[tuple[str, ...], str]:
    return _pages()


def test_no_page_speaks_a_programmers_language(pages) -> None:
    """No type, comparison or broken-off sentence stands on any page."""
    assert len(pages) > 24
    for words, page in pages.items():
        bad = re.search(r"<\w|\w>|[<>]=|\w\.\.\.$|\brange\b|\[\[|[{}]", page, re.MULTILINE)
        assert bad is None, (words, bad)
        assert "  --help" in page, words


def test_a_value_has_the_name_of_what_it_is(pages) -> None:
    """An option that takes a value shows what kind in capitals; a switch shows nothing."""
    lay, did = pages["lay",], pages["did",]
    for line in ("--seconds SECONDS ", "--timber MARK ", "--slab NAME ", "--measured  "):
        assert line in lay
    for line in ("--hours HOURS ", "--found LENGTH ", "[OPTIONS] [DIR] MARK STAGE\n"):
        assert line in did


def test_every_word_of_the_journal_is_on_its_page(pages) -> None:
    """The page of ``did`` names each thing that may be entered, and no other."""
    from futtock.yard.stages import WORDS

    page = " ".join(pages["did",].split())
    told = re.findall(r"To (?:a timber|a frame|a slab|any): ([^.]+)\.", page)
    assert len(told) == 4
    words = re.split(r"[,;] (?:at any time )?", ", ".join(told))
    assert sorted(words) == sorted(WORDS)


def test_every_verb_is_listed_with_its_whole_first_sentence(pages) -> None:
    """The list of verbs gives each one's sentence to its end, bounds in words."""
    top = " ".join(pages[()].split())
    assert "and what to measure next." in top
    assert "[default: 1000; 20 or more]" in pages["when",]
    assert "[default: 8; 1 to 50]" in pages["rack", "cards"]
