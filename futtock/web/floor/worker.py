"""The floor's worker: with it pages that were opened open again while there is no network."""

from __future__ import annotations

from importlib.resources import files

from fastapi import APIRouter
from starlette.responses import Response

router = APIRouter()


@router.get("/worker.js", include_in_schema=False)
def worker() -> Response:
    """The script; it stands at the root, since it serves three places, and in each is its own."""
    script = files("futtock.web") / "static" / "worker.js"
    return Response(
        script.read_bytes(), media_type="text/javascript", headers={"Cache-Control": "no-cache"}
    )
