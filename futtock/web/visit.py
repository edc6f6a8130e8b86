"""A visit: whose browser it is and as what it was let in, in a cookie that only we can sign."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import secrets
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Literal

Role = Literal["builder", "bench"]
ROLES: tuple[Role, ...] = ("bench", "builder")

COOKIE = "futtock-visit"
SAFE_COOKIE = "__Host-futtock-visit"
"""Its name where the connection is sealed: a browser then takes it from no other host or path."""

LASTS_S = 12 * 3600
"""Seconds for which a browser stays let in: a working day."""

_LONGEST = 600


@dataclass(frozen=True, slots=True)
class Visit:
    """A browser's visit.

    Attributes
    ----------
    id
        Random; what its forms' token is made from.
    role
        As what it was let in; empty where it was not.
    since
        When, in seconds of the epoch.
    called
        What whoever let it in called it.
    """

    id: str
    role: Role | Literal[""] = ""
    since: int = 0
    called: str = ""

    def over(self, now: float) -> bool:
        """Whether it was let in so long ago that it must be let in again."""
        return not 0 <= now - self.since <= LASTS_S


def new_visit(role: Role | Literal[""] = "", now: float = 0.0, called: str = "") -> Visit:
    """A visit with an id of its own."""
    return Visit(secrets.token_urlsafe(18), role, int(now), called)


def cookie_of(visit: Visit, key: bytes, *, sealed: bool) -> str:
    """The Set-Cookie header; ``sealed`` where the connection is TLS."""
    said = json.dumps([visit.id, visit.role, visit.since, visit.called], separators=(",", ":"))
    text = base64.urlsafe_b64encode(said.encode()).decode().rstrip("=")
    name = SAFE_COOKIE if sealed else COOKIE
    age = f"; Max-Age={LASTS_S}" if visit.role else ""
    more = "; Secure" if sealed else ""
    return f"{name}={text}.{sign(key, 'visit', text)}; Path=/; HttpOnly; SameSite=Strict{age}{more}"


def visit_in(cookies: str, key: bytes, *, sealed: bool) -> Visit | None:
    """The visit that a cookie of ours names; None where there is none or it is forged."""
    try:
        found = SimpleCookie(cookies).get(SAFE_COOKIE if sealed else COOKIE)
    except CookieError:
        return None
    if found is None or len(found.value) > _LONGEST:
        return None
    text, _, signed = found.value.rpartition(".")
    if not text or not hmac.compare_digest(signed.encode(), sign(key, "visit", text).encode()):
        return None
    try:
        said = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
        visit = Visit(str(said[0]), said[1], int(said[2]), str(said[3]))
    except (ValueError, TypeError, IndexError, KeyError):
        return None
    return visit if visit.role in ("", *ROLES) else None


def token_of(key: bytes, visit: str) -> str:
    """The token that forms of a visit carry."""
    return sign(key, "token", visit)


def sign(key: bytes, what: str, text: str) -> str:
    """HMAC-SHA256 of a text; ``what`` keeps one use's signs from another's."""
    return hmac.new(key, f"{what} {text}".encode(), hashlib.sha256).hexdigest()
