"""What every later room may ask of a hull's surface, fitted or exact."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Surface(Protocol):
    """A smooth surface of the starboard side, laid out by two parameters (u, v).

    ``v`` grows from the keel to the sheer; ``u`` grows aft. A fitted hull uses u = x and
    v = t, the height along the diagonal (see :mod:`futtock.lines.heightfield`); an exact
    sphere or cone in a test may use what it likes. ``Su x Sv`` points INTO the vessel or out of
    it; ``outward`` says which, as +1 (Su x Sv points outboard) or -1.
    """

    @property
    def outward(self) -> int:
        """+1 where Su x Sv points outboard, -1 where it points inboard."""
        ...

    def derivatives(self, u: Array, v: Array) -> Array:
        """Points and derivatives.

        Parameters
        ----------
        u, v
            Parameters, any one shape (...).

        Returns
        -------
        (..., 6, 3) : S, Su, Sv, Suu, Suv, Svv in millimetres per unit of parameter.
        """
        ...


class Trim(Protocol):
    """The curves that bound the surface: parameter v as a function of u."""

    def low(self, u: Array) -> Array:
        """Parameter v at the rabbet (outer edge), same shape as u."""
        ...

    def high(self, u: Array) -> Array:
        """Parameter v at the sheer, same shape as u."""
        ...


class Profile(Protocol):
    """A line in the centreline plane, z as a function of x (keel, keel top, sheer height)."""

    def __call__(self, x: Array) -> Array:
        """Height z at x; nan where the line does not reach."""
        ...


class Doubt(Protocol):
    """How well a fitted surface is known at its parameters."""

    def __call__(self, u: Array, v: Array, across: Array | None = None) -> tuple[Array, Array]:
        """Standard deviations of the place along the normal (mm) and of the lean (degrees).

        ``across`` (3,) is the unit normal of the planes in which leans are measured; x if None.
        """
        ...


@dataclass(frozen=True)
class Hull:
    """A fair hull: the surface that was measured, trimmed, with her profile lines.

    Attributes
    ----------
    surface, trim
        The measured surface and its bounds (see :class:`Surface`, :class:`Trim`).
    inside
        True where the surface is the inside of planking, False where it is the outside.
    u_range
        (forward, aft) parameters between which the surface may be cut.
    profiles
        By name, those that the table gives: ``"sheer"``, ``"rabbet"``, ``"keel"``, ``"keel top"``
        (heights), ``"sheer breadth"``, ``"rabbet breadth"`` (half-breadths).
    spread
        How well the surface is known; None where it is exact or nothing is known of that.
    """

    surface: Surface
    trim: Trim
    inside: bool
    u_range: tuple[float, float]
    profiles: dict[str, Profile]
    spread: Doubt | None = None
