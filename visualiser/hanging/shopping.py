"""What to buy before the day: fixings by class, what hangs on them, tape and paper."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from visualiser.hanging.cutting import Cuts
from visualiser.hanging.fixing_classes import BATTEN, STRIPS
from visualiser.hanging.loads import GRAVITY
from visualiser.hanging.measures import TapeBorder
from visualiser.hanging.piece_plan import BATTEN_PAST_STUD_MM, PiecePlan
from visualiser.hanging.withheld import WITHHELD
from visualiser.units import format_both

_MM_PER_M = 1000.0
_FEET_PER_M = _MM_PER_M / 304.8
_LB_PER_KG = 1 / 0.45359237


@dataclass(frozen=True, slots=True)
class Purchase:
    """One line of the list: how much, of what, and why so much; for which pieces."""

    amount: str
    what: str
    note: str = ""
    piece_ids: tuple[str, ...] = ()


def shopping_list(
    pieces: Sequence[PiecePlan], border: TapeBorder, cuts: Cuts, safety_factor: float
) -> tuple[Purchase, ...]:
    """List what the plan needs, with what is used up rounded up."""
    return (
        *_fixings(pieces),
        *_hanger_parts(pieces, safety_factor),
        *_for_earthquakes(pieces),
        Purchase(_metres(border.tape_mm), "low-tack tape", "border of the group, a tenth to spare"),
        Purchase(
            _metres(cuts.length_mm),
            "kraft paper",
            f"roll {format_both(cuts.roll_width_mm)} wide, {100 * cuts.waste:.0f} % waste",
        ),
    )


def _fixings(pieces: Sequence[PiecePlan]) -> list[Purchase]:
    groups: dict[str, list[PiecePlan]] = defaultdict(list)
    for plan in pieces:
        if plan.fixing.fixing is not None:
            groups[plan.fixing.name].append(plan)
    items = []
    for name, group in sorted(groups.items()):
        strips = group[0].fixing.fixing is STRIPS
        count = sum(plan.fixing.count for plan in group)
        heaviest = max(plan.fixing.load_kg for plan in group)
        items.append(
            Purchase(
                f"{count} {'pairs' if strips else '×'}",
                "adhesive strips" if strips else name,
                f"each to carry {_mass(heaviest)}",
                _ids(group),
            )
        )
    for plan in pieces:
        if plan.fixing.fixing is BATTEN and plan.batten_mm:
            left, right = plan.batten_mm
            long_mm = right - left + 2 * BATTEN_PAST_STUD_MM
            items.append(Purchase("1 ×", "batten", f"{format_both(long_mm)} long", _ids([plan])))
    without = [plan for plan in pieces if plan.fixing.fixing is None]
    for short in dict.fromkeys(WITHHELD[plan.fixing.reasons[0]].short for plan in without):
        group = [p for p in without if WITHHELD[p.fixing.reasons[0]].short == short]
        amount = f"{len(group)} piece{'s' if len(group) > 1 else ''}"
        items.append(Purchase(amount, "no fixing named", short, _ids(group)))
    return items


def _hanger_parts(pieces: Sequence[PiecePlan], safety_factor: float) -> list[Purchase]:
    """List what hangs on the hooks, with the rating that each part needs."""
    groups: dict[str, list[PiecePlan]] = defaultdict(list)
    for plan in pieces:
        if plan.hooks_mm:
            groups[plan.piece.hanger.of.part].append(plan)
    items = []
    for part, group in groups.items():
        # One wire hangs on one hook or two; every other part has a hook of its own.
        count = sum(1 if p.piece.hanger.of.bears == "wire" else len(p.hooks_mm) for p in group)
        need = max(_part_load_kg(plan) for plan in group) * safety_factor
        items.append(
            Purchase(
                "check",
                f"{part} on the frame ({count})",
                f"rated {math.ceil(need):.0f} kg ({math.ceil(need * _LB_PER_KG):.0f} lb) or more "
                f"each, {safety_factor:g} times its load, or replaced",
                _ids(group),
            )
        )
    return items


def _part_load_kg(plan: PiecePlan) -> float:
    """Work out what one part of a hanger carries at the upper end of the weight's ±."""
    load = plan.load
    share = load.weight.heavy_kg / load.weight.kg
    return load.part_n * share / GRAVITY


def _for_earthquakes(pieces: Sequence[PiecePlan]) -> list[Purchase]:
    shaken = [p for p in pieces if any(place == "earthquake" for place, _ in p.places)]
    if not shaken:
        return []
    note = "to hold the lower corners to the wall (FEMA 528, 2014)"
    return [Purchase(f"{2 * len(shaken)} ×", "corner fastener or putty", note, _ids(shaken))]


def _ids(pieces: Sequence[PiecePlan]) -> tuple[str, ...]:
    return tuple(plan.piece.id for plan in pieces)


def _mass(kg: float) -> str:
    return f"{kg:.1f} kg ({kg * _LB_PER_KG:.1f} lb)"


def _metres(length_mm: float) -> str:
    metres = math.ceil(length_mm / _MM_PER_M * 10) / 10
    return f"{metres:.1f} m ({math.ceil(metres * _FEET_PER_M)} ft)"
