"""Write formulas as MathML, which browsers draw themselves: no script, nothing fetched."""

from __future__ import annotations

from typing import Any

from docutils import nodes
from docutils.utils.math import wrap_math_code
from docutils.utils.math.latex2mathml import tex2mathml
from sphinx.application import Sphinx


def _inline(self: Any, node: nodes.math) -> None:
    self.body.append(tex2mathml(node.astext(), as_block=False))
    raise nodes.SkipNode


def _block(self: Any, node: nodes.math_block) -> None:
    code = wrap_math_code(node.astext(), as_block=True)
    self.body.append(self.starttag(node, "div", CLASS="formula"))
    self.body.append(tex2mathml(code, as_block=True))
    self.body.append("</div>\n")
    raise nodes.SkipNode


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
