"""What to buy before the day: fixings by class, strips, tape and paper."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from visualiser.hanging.cutting import Cuts
from visualiser.hanging.fixings import STRIPS
from visualiser.hanging.measures import TapeBorder
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.units import format_both

_MM_PER_M = 1000.0
_FEET_PER_M = _MM_PER_M / 304.8


@dataclass(frozen=True, slots=True)
class Purchase:
    """One line of the list: how much, of what, and why so much."""

    amount: str
    what: str
    note: str = ""


def shopping_list(
    pieces: Sequence[PiecePlan], border: TapeBorder, cuts: Cuts
) -> tuple[Purchase, ...]:
    """List what the plan needs, with what is used up rounded up."""
    counts: Counter[str] = Counter()
    heaviest: dict[str, float] = {}
    asked = 0
    for plan in pieces:
        if plan.fixing.fixing is None:
            asked += 1
            continue
        name = plan.fixing.fixing.name
        counts[name] += plan.fixing.count
        heaviest[name] = max(heaviest.get(name, 0.0), plan.fixing.load_kg)
    items = [
        Purchase(
            f"{count} {'pairs' if name == STRIPS.name else '×'}",
            name.removesuffix(" pair") + ("s" if name == STRIPS.name else ""),
            f"each to carry {heaviest[name]:.1f} kg ({heaviest[name] / 0.45359237:.1f} lb)",
        )
        for name, count in sorted(counts.items())
    ]
    if asked:
        items.append(Purchase(f"{asked} pieces", "fixings", "to be chosen by a licensed person"))
    items += [
        Purchase(_metres(border.tape_mm), "low-tack tape", "border of the group, a tenth to spare"),
        Purchase(
            _metres(cuts.length_mm),
            "kraft paper",
            f"roll {format_both(cuts.roll_width_mm)} wide, {100 * cuts.waste:.0f} % waste",
        ),
    ]
    return tuple(items)


def _metres(length_mm: float) -> str:
    metres = math.ceil(length_mm / _MM_PER_M * 10) / 10
    return f"{metres:.1f} m ({math.ceil(metres * _FEET_PER_M)} ft)"
