"""The command line: ``futtock VERB [DIR] ...``. It asks :mod:`futtock.job` and shows the answer."""

from __future__ import annotations


def main() -> None:
    """Run the command line; the process ends with the exit code of the verb."""
    from futtock.cli.app import app

    app(prog_name="futtock")
