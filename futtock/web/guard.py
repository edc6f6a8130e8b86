"""Who is let in and what may be asked: hosts, sizes, origins, tokens, and what pages may load."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Collection
from http.cookies import CookieError, SimpleCookie
from typing import Any

from fastapi import HTTPException, Request
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "futtock-visit"
FIELD = "token"
HEADER = "X-Futtock-Token"
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
LARGEST_BODY = 24 * 1024 * 1024
"""Bytes: a photograph of a large phone, and room to spare."""

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
_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=(), usb=()",
}


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
    """

    def __init__(
        self,
        app: ASGIApp,
        hosts: Collection[str],
        key: bytes,
        largest_body: int = LARGEST_BODY,
    ) -> None:
        self.app = app
        self.hosts = frozenset(h.lower() for h in hosts)
        self.key = key
        self.largest_body = largest_body

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request in, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = self._refused(scope, headers)
        visit = _visit(headers.get("cookie", ""), self.key)
        fresh = visit is None
        if visit is None:
            visit = secrets.token_urlsafe(18)
        scope.setdefault("state", {})
        scope["state"]["token"] = token_of(self.key, visit)
        scope["state"]["known"] = not fresh

        async def answered(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    out.setdefault(name, value)
                out.setdefault("Cache-Control", "no-store")
                if fresh and refused is None:
                    signed = f"{visit}.{_sign(self.key, 'visit', visit)}"
                    out.append(
                        "Set-Cookie", f"{COOKIE}={signed}; Path=/; HttpOnly; SameSite=Strict"
                    )
            await send(message)

        if refused is not None:
            await PlainTextResponse(refused[1], refused[0])(scope, receive, answered)
            return
        await self.app(scope, _bounded(receive, self.largest_body), answered)

    def _refused(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """The status and the words of a refusal, or None."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or _name(hosts[0]) not in self.hosts:
            return 400, "This server is not called by that name."
        length = headers.get("content-length", "0")
        if not length.isdigit():
            return 400, "The length of what was sent is no number."
        if int(length) > self.largest_body:
            return 413, f"More than {self.largest_body // 2**20} MB were sent at once."
        if scope["method"] not in SAFE:
            origin = headers.get("origin")
            if origin is not None and origin.partition("://")[2].lower() != hosts[0].lower():
                return 403, "This form belongs to another site."
            if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
                return 403, "This form belongs to another site."
        return None


def token_of(key: bytes, visit: str) -> str:
    """The token that forms of a visit carry."""
    return _sign(key, "token", visit)


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
        raise HTTPException(403, "This page is out of date. Open it again, and do it once more.")


def _sign(key: bytes, what: str, text: str) -> str:
    return hmac.new(key, f"{what} {text}".encode(), hashlib.sha256).hexdigest()


def _visit(cookies: str, key: bytes) -> str | None:
    """The visit that a cookie of ours names; None where there is none or it is forged."""
    try:
        found = SimpleCookie(cookies).get(COOKIE)
    except CookieError:
        return None
    if found is None:
        return None
    visit, _, signed = found.value.rpartition(".")
    good = hmac.compare_digest(signed.encode(), _sign(key, "visit", visit).encode())
    return visit if visit and good else None


def _name(host: str) -> str:
    """A Host header without its port."""
    host = host.strip().lower()
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


def _bounded(receive: Receive, largest: int) -> Receive:
    """``receive``, that ends the request where more comes than was let in."""
    come = 0

    async def bounded() -> Message:
        nonlocal come
        message = await receive()
        if message["type"] == "http.request":
            come += len(message.get("body", b""))
            if come > largest:
                raise HTTPException(413, "Too much was sent at once.")
        return message

    return bounded
