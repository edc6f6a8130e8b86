"""The door to the yard's network: the codes that let a browser in, and who was put out."""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from futtock.job.door import door_log, keep_out, kept_out
from futtock.web.visit import LASTS_S, ROLES, Role, Visit, new_visit

LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""No two of them are taken for each other."""

CODE_LENGTH = 8
CODE_LASTS_S = 12 * 3600
TRIES, TRIES_S = 5, 600
"""So many wrong codes from one address in so many seconds; then it must wait."""
ALL_TRIES, ALL_TRIES_S = 60, 3600
"""The same for all addresses together."""
CHANGES, CHANGES_A_SECOND = 600, 10.0
"""What one address may send at once, and how quickly it may send more."""
_MOST = 512


class TooOften(Exception):
    """Too many wrong codes; ``wait_s`` until another is heard."""

    def __init__(self, wait_s: float) -> None:
        super().__init__("Too many wrong codes.")
        self.wait_s = max(1, int(wait_s) + 1)


@dataclass(frozen=True, slots=True)
class Seen:
    """A browser that was let in: its visit, whence it came, and when it was seen last."""

    visit: Visit
    address: str
    last: float


class Door:
    """Lets browsers in by a code.

    Parameters
    ----------
    folder
        The vessel folder; it keeps who was put out, so that a new start does not let them in.
    address
        Where the pages are opened from the network, as ``https://192.168.1.20:8035``.
    clock
        Seconds of the epoch.
    """

    def __init__(
        self, folder: Path, address: str, *, clock: Callable[[], float] = time.time
    ) -> None:
        self.folder = folder
        self.address = address
        self.clock = clock
        self.log = door_log(folder)
        self._lock = threading.Lock()
        self._out = kept_out(folder, clock())
        self._seen: OrderedDict[str, Seen] = OrderedDict()
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()
        self._all_wrong: deque[float] = deque()
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._codes: dict[Role, str] = {}
        self._since = 0.0
        self.new_codes()

    def codes(self) -> dict[Role, str]:
        """The code of each role; new ones where these are a working day old."""
        if self.clock() - self._since > CODE_LASTS_S:
            self.new_codes()
        return dict(self._codes)

    def new_codes(self) -> None:
        """Make new codes; who is in stays in."""
        with self._lock:
            self._codes = {role: _code() for role in ROLES}
            self._since = self.clock()

    def link(self, role: Role) -> str:
        """What the code to scan says. What follows # is never sent over the network."""
        return f"{self.address}/join#{self.codes()[role]}"

    def let_in(self, code: str, address: str, called: str = "") -> Visit | None:
        """A visit for the right code; None for a wrong one.

        Raises
        ------
        TooOften
            Where too many wrong ones came before.
        """
        now = self.clock()
        given = "".join(c for c in code.upper() if c.isalnum()).encode()
        codes = self.codes()
        with self._lock:
            self._wait(address, now)
            right = [r for r in ROLES if hmac.compare_digest(given, codes[r].encode())]
            if not right:
                self._wrong.setdefault(address, deque()).append(now)
                self._all_wrong.append(now)
                while len(self._wrong) > _MOST:
                    self._wrong.popitem(last=False)
                self.log.warning("wrong code from %s", address)
                return None
            self._wrong.pop(address, None)
        visit = new_visit(right[0], now, called.strip()[:40])
        self.log.info("let in %s as %s, %r, from %s", visit.id[:8], visit.role, called, address)
        self.noticed(visit, address)
        return visit

    def _wait(self, address: str, now: float) -> None:
        for times, most, within in (
            (self._wrong.get(address), TRIES, TRIES_S),
            (self._all_wrong, ALL_TRIES, ALL_TRIES_S),
        ):
            while times and now - times[0] > within:
                times.popleft()
            if times and len(times) >= most:
                self.log.warning("too many wrong codes; %s must wait", address)
                raise TooOften(times[0] + within - now)

    def knows(self, visit: Visit) -> bool:
        """Whether a visit that was let in still is."""
        return bool(visit.role) and visit.id not in self._out and not visit.over(self.clock())

    def noticed(self, visit: Visit, address: str) -> None:
        """A visit has asked for something."""
        with self._lock:
            self._seen[visit.id] = Seen(visit, address, self.clock())
            self._seen.move_to_end(visit.id)
            while len(self._seen) > _MOST:
                self._seen.popitem(last=False)

    def inside(self) -> tuple[Seen, ...]:
        """Who is in and was seen since the server began, the latest first."""
        with self._lock:
            seen = tuple(reversed(self._seen.values()))
        return tuple(s for s in seen if self.knows(s.visit))

    def put_out(self, visit: str) -> None:
        """Let a visit in no more; it must join again."""
        now = self.clock()
        with self._lock:
            self._out = {v: until for v, until in self._out.items() if until > now}
            self._out[visit] = now + LASTS_S
            self._seen.pop(visit, None)
            keep_out(self.folder, self._out)
        self.log.info("put out %s", visit[:8])

    def may_send(self, address: str) -> bool:
        """Whether an address has not sent too many changes in too short a time."""
        now = self.clock()
        with self._lock:
            left, at = self._buckets.pop(address, (float(CHANGES), now))
            left = min(float(CHANGES), left + (now - at) * CHANGES_A_SECOND)
            self._buckets[address] = (max(0.0, left - 1.0), now)
            while len(self._buckets) > _MOST:
                self._buckets.popitem(last=False)
        return left >= 1.0

    def called(self, visit: Visit) -> str:
        """What a visit is called on the list."""
        return visit.called or f"tablet {visit.id[:4]}"


def shown_code(code: str) -> str:
    """A code in two halves, easier to read out."""
    half = len(code) // 2
    return f"{code[:half]} {code[half:]}"


def _code() -> str:
    return "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
