"""Who is let in and what may be asked: hosts, sizes, origins, tokens, roles, what may be loaded."""

from __future__ import annotations

import asyncio
import hmac
from collections.abc import Collection
from typing import Any, Literal
from urllib.parse import quote

from fastapi import HTTPException, Request
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from futtock.web.door import Door
from futtock.web.visit import Role, Visit, cookie_of, new_visit, token_of, visit_in

FIELD = "token"
HEADER = "X-Futtock-Token"
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
LARGEST_BODY = 24 * 1024 * 1024
"""Bytes: a photograph of a large phone, and room to spare."""
PATIENCE_S = 60.0
"""Seconds that a body which is coming in may stand still."""

OPEN = ("/join", "/style.css", "/worker.js")
"""What anyone may ask for; ``/static/`` too."""
BUILDERS_ALONE = ("/door", "/openapi.json")
"""What the bench may not even see."""
BENCH_MAY = ("/floor/", "/traveller/", "/leave", "/rack/slab/moisture")
"""Where the bench may send to: the work, and a slab's meter reading. All else is the vessel."""

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=(), usb=()",
}
_SEALED_ONLY = {"Strict-Transport-Security": "max-age=86400"}
_ONWARD = ("forwarded", "x-forwarded-for", "x-real-ip", "via")


class Guard:
    """Stands before the app: refuses what is not for it, and sets the headers of every answer.

    Parameters
    ----------
    app
        What it guards.
    hosts
        Names (without a port) by which this server may be called.
    key
        Signs the visit's cookie and its token.
    largest_body
        Bytes that a request may bring.
    door
        Who comes from the network must have come in by it; None: nobody does, and whoever
        reaches the server is the builder.
    """

    def __init__(
        self,
        app: ASGIApp,
        hosts: Collection[str],
        key: bytes,
        largest_body: int = LARGEST_BODY,
        door: Door | None = None,
    ) -> None:
        self.app = app
        self.hosts = frozenset(h.lower() for h in hosts)
        self.key = key
        self.largest_body = largest_body
        self.door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request in, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        sealed = scope.get("scheme") == "https"
        refused = self._refused(scope, headers)
        visit = visit_in(headers.get("cookie", ""), self.key, sealed=sealed)
        fresh = visit is None
        if visit is None:
            visit = new_visit()
        role = self._role(scope, headers, visit)
        if refused is None:
            refused = self._barred(scope, headers, role)
        scope.setdefault("state", {})
        scope["state"] |= {
            "token": token_of(self.key, visit.id),
            "known": not fresh,
            "visit": visit,
            "role": role,
            "door": self.door,
        }

        async def answered(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in (HEADERS | (_SEALED_ONLY if sealed else {})).items():
                    out.setdefault(name, value)
                out.setdefault("Cache-Control", "no-store")
                # one that comes in at the door, or goes out by it, has another visit by now
                become = scope["state"]["visit"]
                if become is not visit or (fresh and self._begins(scope, refused)):
                    out.append("Set-Cookie", cookie_of(become, self.key, sealed=sealed))
            await send(message)

        if refused is not None:
            if self.door is not None and refused.status_code >= 400 and refused.status_code != 401:
                told = scope["method"], scope["path"][:80], refused.status_code
                client = (scope.get("client") or ("", 0))[0]
                self.door.log.warning("refused %s: %s %r, %s", client, *told)
            await refused(scope, receive, answered)
            return
        await self.app(scope, _bounded(receive, self.largest_body), answered)

    def _role(self, scope: Scope, headers: Headers, visit: Visit) -> Role | Literal[""]:
        """As what a request is let in."""
        client = (scope.get("client") or ("", 0))[0]
        if self.door is None or self._at_the_desk(client, headers):
            return "builder"
        if not self.door.knows(visit):
            return ""
        self.door.noticed(visit, client)
        return visit.role

    def _at_the_desk(self, client: str, headers: Headers) -> bool:
        """Whether it comes from this machine itself, and was not handed on from elsewhere."""
        here = client == "::1" or client.startswith("127.")
        called = _name(headers.get("host", ""))
        return here and called in LOOPBACK and not any(h in headers for h in _ONWARD)

    def _begins(self, scope: Scope, refused: Response | None) -> bool:
        """Whether a visit begins: not with a refusal, nor with what no form comes from."""
        redirected = isinstance(refused, RedirectResponse)
        return (refused is None or redirected) and not scope["path"].startswith("/static/")

    def _refused(self, scope: Scope, headers: Headers) -> Response | None:
        """The refusal of what no browser of ours asks."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or _name(hosts[0]) not in self.hosts:
            return PlainTextResponse("This server is not called by that name.", 400)
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdigit()):
            return PlainTextResponse("The length of what was sent is no number.", 400)
        if int(length) > self.largest_body:
            most = self.largest_body // 2**20
            return PlainTextResponse(f"More than {most} MB were sent at once.", 413)
        if scope["method"] not in SAFE:
            origin = headers.get("origin")
            elsewhere = origin is not None and (
                origin.partition("://")[2].lower() != hosts[0].lower()
            )
            site = headers.get("sec-fetch-site", "same-origin")
            if elsewhere or site not in ("same-origin", "none"):
                return PlainTextResponse("This form belongs to another site.", 403)
        return None

    def _barred(self, scope: Scope, headers: Headers, role: Role | Literal[""]) -> Response | None:
        """The refusal of what this role may not do."""
        if self.door is None or role == "builder":
            return None
        path, method = scope["path"], scope["method"]
        address = (scope.get("client") or ("", 0))[0]
        if method not in SAFE and not self.door.may_send(address):
            return PlainTextResponse("Too much was sent in too short a time.", 429)
        if path in OPEN or path.startswith("/static/"):
            return None
        if not role:
            asked = path + ("?" + scope["query_string"].decode("latin-1")).rstrip("?")
            if method in SAFE and "text/html" in headers.get("accept", ""):
                return RedirectResponse("/join?to=" + quote(asked[:400], safe=""), 303)
            return JSONResponse({"join": "This browser must be let in first."}, 401)
        alone = any(path == p or path.startswith(p + "/") for p in BUILDERS_ALONE)
        if alone or (method not in SAFE and not path.startswith(BENCH_MAY)):
            words = "This browser is let in for the bench: it may mark work, not change the vessel."
            return PlainTextResponse(words, 403)
        return None


async def own_form(request: Request) -> None:
    """Refuse a change that does not carry its visit's token.

    Raises
    ------
    HTTPException
        403, for a token that is missing or is another visit's.
    """
    if request.method in SAFE:
        return
    given = request.headers.get(HEADER)
    if given is None:
        kind = request.headers.get("content-type", "").partition(";")[0].strip()
        if kind in ("application/x-www-form-urlencoded", "multipart/form-data"):
            form = await request.form(max_files=4, max_fields=600)
            value = form.get(FIELD)
            given = value if isinstance(value, str) else None
    state: Any = request.state
    if not state.known or not hmac.compare_digest((given or "").encode(), state.token.encode()):
        if state.door is not None:
            client = request.client.host if request.client else ""
            state.door.log.warning("no token from %s for %r", client, request.url.path[:80])
        raise HTTPException(403, "This page is out of date. Open it again, and do it once more.")


def _name(host: str) -> str:
    """A Host header without its port."""
    host = host.strip().lower()
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


def _bounded(receive: Receive, largest: int) -> Receive:
    """``receive``, that ends the request where more comes than was let in, or comes too slowly."""
    come, whole = 0, False

    async def bounded() -> Message:
        nonlocal come, whole
        if whole:
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), PATIENCE_S)
        except TimeoutError:
            raise HTTPException(408, "What was sent stopped coming.") from None
        if message["type"] == "http.request":
            come += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if come > largest:
                raise HTTPException(413, "Too much was sent at once.")
        return message

    return bounded
