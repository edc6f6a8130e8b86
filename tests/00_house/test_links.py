"""What the written pages point to is there, and the commands they name exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted(
    [*ROOT.glob("*.md"), *(p for p in ROOT.glob("docs/**/*.md") if "_" not in p.parts[-2])]
)


@pytest.mark.parametrize("page", PAGES, ids=[str(p.relative_to(ROOT)) for p in PAGES])
def test_links_lead_somewhere(page: Path) -> None:
    """Each link and picture of a page that names a file names one that is there."""
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    targets = re.findall(r"\]\(([^)\s#]+)", text) + re.findall(r'src="([^"]+)"', text)
    files = [t for t in targets if "://" not in t and not t.startswith("mailto:")]
    made = {"findings.md", "glossary.md", "figures.md", "licences.md"}
    bad = [
        t
        for t in files
        if not (page.parent / t).exists() and not ("_made/" in t and Path(t).name in made)
    ]
    assert bad == []


def test_the_readme_names_the_two_commands() -> None:
    """A newcomer is told how to run the whole job and how to test it."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "make demo" in text
    assert "make test" in text


def test_every_make_word_in_the_pages_exists() -> None:
    """No page tells the reader to make what the Makefile does not know."""
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    known = set(re.findall(r"^([a-z]+):", makefile, re.MULTILINE))
    told = {
        word
        for page in PAGES
        for word in re.findall(
            r"(?:^|`)(?:[A-Z]+=\S+ )?make ([a-z]+)", page.read_text("utf-8"), re.MULTILINE
        )
    }
    assert "demo" in told
    assert told <= known


def test_every_command_in_the_pages_exists() -> None:
    """No page tells the reader to use a verb that the command line does not have."""
    import typer

    from futtock.cli.app import app

    command = typer.main.get_command(app)
    known = set(command.commands)  # type: ignore[attr-defined]
    told = {
        word
        for page in PAGES
        for word in re.findall(r"(?:^|[`$/ ])futtock ([a-z]+)\b", page.read_text("utf-8"))
        if f"`futtock {word}" in (text := page.read_text("utf-8"))
        or re.search(rf"^(?:\$ |\.venv/bin/)?futtock {word}", text, re.MULTILINE)
    }
    assert "lay" in told
    assert told <= known
