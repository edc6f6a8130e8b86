"""A camera's lens from several photographs of cards that lie flat: kept, and used afterwards.

One photograph of a slab shows its lens only as far as its cards reach. Several that show cards all
over the picture show it far better, and it stays what it is while the camera does not zoom.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray

from futtock.errors import Misused
from futtock.stock.photo.cards import card_edges, find_cards, linear_light
from futtock.stock.photo.plane import adjust

Picture = NDArray[np.uint8]

_LEAST_SHOTS = 3
_LEAST_CARDS = 4
_LEAST_SPREAD = 0.002  # no calibration of flat cards is surer
_ASPECT_OFF = 0.01


@dataclass(frozen=True, slots=True)
class Lens:
    """What bends a camera's straight lines.

    ``coefficient`` is k in d (1 + k |d|^2), d in units of the picture's longer side from its
    middle; ``spread`` its standard deviation; ``aspect`` the longer side over the shorter, by
    which another camera's or a cropped picture is told; ``shots`` how many photographs gave it.
    """

    coefficient: float
    spread: float
    aspect: float
    shots: int

    def fits(self, size_px: tuple[int, int]) -> bool:
        """Whether a picture of this width and height may be this camera's, whole."""
        return abs(max(size_px) / min(size_px) / self.aspect - 1.0) < _ASPECT_OFF


def lens_of_shots(pictures: Sequence[Picture]) -> Lens:
    """The lens from three photographs or more (h, w, 3), BGR, each of four flat cards or more.

    The median of what each gives, and how far they stand from each other (median deviation,
    scaled to a standard deviation, over the root of their number).

    Raises
    ------
    Misused
        Too few photographs, too few cards in one, or pictures of unlike shape.
    """
    if len(pictures) < _LEAST_SHOTS:
        raise Misused(f"{len(pictures)} photographs for a lens: give {_LEAST_SHOTS} or more")
    found, shapes = [], []
    for number, picture in enumerate(pictures, 1):
        light = linear_light(picture)
        pairs = [(card, card_edges(light, card)) for card in find_cards(picture)]
        good = [(card, edges) for card, edges in pairs if edges is not None]
        if len(good) < _LEAST_CARDS:
            raise Misused(
                f"photograph {number} shows {len(good)} cards: lay {_LEAST_CARDS} or more, all over"
            )
        size = (picture.shape[1], picture.shape[0])
        fit = adjust([card for card, _ in good], [edges for _, edges in good], size)
        found.append(fit.plane.lens)
        shapes.append(max(size) / min(size))
    if max(shapes) / min(shapes) - 1.0 > _ASPECT_OFF:
        raise Misused("the photographs are of unlike shape: take all with one camera, none cropped")
    middle = float(np.median(found))
    apart = 1.4826 * float(np.median(np.abs(np.array(found) - middle)))
    spread = max(apart / np.sqrt(len(found)), _LEAST_SPREAD)
    return Lens(middle, float(spread), float(np.median(shapes)), len(found))


def lens_text(lens: Lens) -> str:
    """The lens as JSON text, to be kept in the vessel folder."""
    return json.dumps(asdict(lens), indent=2) + "\n"


def lens_from_text(text: str) -> Lens:
    """The lens back from its text; :class:`Misused` where it is none."""
    try:
        given = json.loads(text)
        lens = Lens(
            float(given["coefficient"]),
            float(given["spread"]),
            float(given["aspect"]),
            int(given["shots"]),
        )
    except (ValueError, KeyError, TypeError):
        raise Misused("that is no lens: measure it again") from None
    numbers = (lens.coefficient, lens.spread, lens.aspect)
    if not np.isfinite(numbers).all() or lens.spread <= 0 or abs(lens.coefficient) > 0.5:
        raise Misused("that is no lens: measure it again")
    return lens
