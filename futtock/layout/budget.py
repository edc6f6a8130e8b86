"""How long a search goes on: by rounds, the same every time, or by the clock."""

from __future__ import annotations

from collections.abc import Callable

Clock = Callable[[], float]

FILLS_A_ROUND = 5  # fillings of a slab tried in one round, all islands together


class Budget:
    """What is left of a search.

    Parameters
    ----------
    rounds, seconds
        One of them; ``seconds`` needs ``clock``.
    """

    def __init__(self, rounds: int | None, seconds: float | None, clock: Clock | None) -> None:
        self.rounds, self.seconds = rounds, seconds
        self._clock = clock
        self._start = clock() if clock else 0.0
        self.made = 0.0

    @property
    def done(self) -> float:
        """Share of the whole that is spent, 0 to 1."""
        if self.rounds is not None:
            return min(1.0, self.made / self.rounds) if self.rounds else 1.0
        assert self._clock is not None
        assert self.seconds is not None
        return min(1.0, (self._clock() - self._start) / self.seconds) if self.seconds else 1.0

    def spend(self, rounds: float) -> None:
        """Count rounds made."""
        self.made += rounds

    def now(self) -> float:
        """The clock; nought where there is none."""
        return self._clock() if self._clock else 0.0

    def told(self) -> tuple[float, float]:
        """Spent and whole, in the unit asked for."""
        if self.rounds is not None:
            return min(self.made, float(self.rounds)), float(self.rounds)
        whole = self.seconds or 0.0
        return self.done * whole, whole
