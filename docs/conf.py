"""The documentation: sphinx, furo, MyST; nothing is fetched when it is read."""

from __future__ import annotations

import sys
from importlib.metadata import version as installed
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "_ext"))

import made  # noqa: E402

made.write()

project = "Futtock"
author = "the Futtock contributors"
copyright = "the Futtock contributors, Apache-2.0"
release = installed("futtock")
version = ".".join(release.split(".")[:2])

extensions = [
    "myst_parser",
    "sphinx.ext.autodoc",
    "sphinx.ext.napoleon",
    "sphinx.ext.doctest",
    "mathml",
]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build", "_ext"]
nitpicky = False
html_math_renderer = "mathml"
myst_enable_extensions = ["colon_fence", "deflist", "dollarmath", "attrs_inline"]
myst_heading_anchors = 3
myst_links_external_new_tab = False

autodoc_typehints = "signature"
autodoc_member_order = "bysource"
autodoc_preserve_defaults = True
napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_use_ivar = True
doctest_test_doctest_blocks = ""  # examples in docstrings are run by the test suite
suppress_warnings = ["ref.python"]  # two rooms may each have a Framing
trim_doctest_flags = True

html_theme = "furo"
html_title = "Futtock"
html_static_path = ["_static", "../futtock/web/static/vendor/fonts"]
html_css_files = ["docs.css"]
html_extra_path = ["schemas", "_made/published"]
html_show_sphinx = False
html_copy_source = False
html_theme_options = {
    "light_css_variables": {
        "font-stack": '"Source Serif 4", Georgia, serif',
        "font-stack--monospace": "ui-monospace, monospace",
        "color-background-primary": "#f5f8f5",
        "color-background-secondary": "#e3eae6",
        "color-foreground-primary": "#14212b",
        "color-foreground-secondary": "#485762",
        "color-brand-primary": "#14212b",
        "color-brand-content": "#a4122f",
        "color-brand-visited": "#485762",
    },
}
pygments_style = "friendly"


def _bars(app, what, name, obj, options, lines):
    """Let |x| mean the size of x in docstrings, not a substitution."""
    for at, line in enumerate(lines):
        parts = line.split("``")
        parts[::2] = [part.replace("|", r"\|") for part in parts[::2]]
        lines[at] = "``".join(parts)


def setup(app):
    app.connect("autodoc-process-docstring", _bars)
