"""Write formulas as MathML, which browsers draw themselves: no script, nothing fetched."""

from __future__ import annotations

import re
from typing import Any

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml
from sphinx.application import Sphinx

_NAMES = r"\\(?:arcsin|arctan|sin|cos|tan|log|det)(?![a-z])"


def _spaced(tex: str) -> str:
    """A thin space before and after the name of a function, which the converter does not give."""
    tex = re.sub(rf"(?<=[\w)}}])\s*({_NAMES})", r"\\,\1", tex)
    return re.sub(rf"({_NAMES})\s*(?=\\[a-z]|[A-Za-z])", r"\1\\,", tex)


def _inline(self: Any, node: nodes.math) -> None:
    self.body.append(tex2mathml(_spaced(node.astext()), as_block=False))
    raise nodes.SkipNode


def _block(self: Any, node: nodes.math_block) -> None:
    self.body.append(self.starttag(node, "div", CLASS="formula"))
    self.body.append(tex2mathml(_spaced(node.astext()), as_block=True))
    self.body.append("</div>\n")
    raise nodes.SkipNode


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
