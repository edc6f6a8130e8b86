"""Setting a floor page: its own frame of a page, its script and its style."""

from __future__ import annotations

import hashlib
import secrets
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi import Request
from starlette.responses import Response

from futtock.job.floor import vessel_code
from futtock.web.pages import office_of, page

STEP = "yard"


@cache
def version() -> str:
    """A short code of the floor's style and scripts, by which a browser knows new ones."""
    digest = hashlib.sha256()
    for name in ("floor.js", "saw.js", "join.js", "left.js", "pictures.js", "floor.css"):
        digest.update((files("futtock.web") / "static" / name).read_bytes())
    return digest.hexdigest()[:10]


def floor_page(request: Request, template: str, *, status: int = 200, **given: Any) -> Response:
    """A floor page; ``fresh`` begins the id of what its forms send without a script."""
    code = vessel_code(office_of(request).folder)
    fresh = secrets.token_hex(8)
    given.setdefault("bare", False)
    keeps = request.url.path.startswith(("/saw", "/traveller", "/bench"))
    return page(
        request,
        f"floor/{template}",
        STEP,
        status=status,
        floor_version=version(),
        vessel_code=code,
        fresh=fresh,
        keeps=keeps,
        role=request.state.role,
        joined=bool(request.state.visit.role),
        doored=request.state.door is not None,
        **given,
    )
