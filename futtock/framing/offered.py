"""Published rules on framing, offered beside the builder's settings; none is enforced as law."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from futtock.framing.frame import Frame
from futtock.framing.settings import FramingSettings
from futtock.reference import rows


@dataclass(frozen=True, slots=True)
class Offer:
    """A rule beside a setting.

    ``offered_mm`` is what the rule would make of this vessel (None where it gives no length),
    ``stated_mm`` what is stated; ``read`` says how the source was read ("from memory" included).
    """

    rule: str
    setting: str
    says: str
    offered_mm: float | None
    stated_mm: float | None
    source: str
    read: str


def offers(frames: Sequence[Frame], settings: FramingSettings) -> tuple[Offer, ...]:
    """Rules that bear on framing, with what each would mean for these frames."""
    by_id = {row["id"]: row for row in rows("hull_rules")}
    breadth = 2 * max(float(f.joint.edge_mm[:, 0].max()) for f in frames)
    shift = float(by_id["H26"]["value"]) * breadth
    wanted: tuple[tuple[str, str, float | None, float | None], ...] = (
        ("H26", "butt_shift", shift, settings.butt_shift_mm),
        ("H27", "butt_aim", None, None),
        ("H25a", "longest", None, settings.longest_mm),
        ("H25b", "butt_shift", None, settings.butt_shift_mm),
        ("H30", "room_and_space", None, settings.room_and_space_mm),
    )
    out = []
    for name, setting, offered, stated in wanted:
        row = by_id[name]
        says = f"{row['rule']} {row['value']} {row['unit']}".strip()
        out.append(Offer(name, setting, says, offered, stated, row["source"], row["how"]))
    return tuple(out)
