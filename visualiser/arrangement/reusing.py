"""A shared plan hung again: on another wall, with other pieces, at that job's own gap."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.judging import judge
from visualiser.arrangement.plans import Plan, resized
from visualiser.arrangement.setting import describe_hung
from visualiser.arrangement.suggestions import next_size
from visualiser.errors import ArrangementError
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey


def one_size_up(plan: Plan, gap_mm: float | None = None) -> Plan:
    """Give every slot the next usual size.

    Raises
    ------
    ArrangementError
        If slots that lie diagonally would overlap.
    """
    sizes = {s.id: next_size((s.width_mm, s.height_mm)) for s in plan.slots}
    return resized(plan, sizes, plan.gap_mm if gap_mm is None else gap_mm)


def matched(plan: Plan, pieces: Sequence[Piece]) -> dict[int, int]:
    """Give each slot a piece, those that fit best first; the slot's number by the piece's.

    Raises
    ------
    ArrangementError
        If there are fewer pieces than slots.
    """
    if len(pieces) < len(plan.slots):
        raise ArrangementError(
            f"The plan has {len(plan.slots)} slots for {len(pieces)} pieces.",
            hint="Add pieces, or choose a smaller plan.",
        )
    pairs = sorted(
        (
            (abs(p.width_mm - s.width_mm) + abs(p.height_mm - s.height_mm), k, n)
            for k, s in enumerate(plan.slots)
            for n, p in enumerate(pieces)
        ),
    )
    slot_of: dict[int, int] = {}
    for _, slot, number in pairs:
        if number not in slot_of and slot not in slot_of.values():
            slot_of[number] = slot
    return slot_of


def hang_plan(
    plan: Plan, pieces: Sequence[Piece], x_mm: float, y_mm: float | None = None
) -> Arrangement:
    """Hang pieces in a plan, best-fitting sizes first, with its middle at a place on the wall.

    Raises
    ------
    ArrangementError
        If there are fewer pieces than slots.
    """
    slot_of = matched(plan, pieces)
    height = plan.centre_height_mm if y_mm is None else y_mm
    placements = tuple(
        Placement(pieces[number].id, x_mm + plan.slots[slot].x_mm, height + plan.slots[slot].y_mm)
        for number, slot in sorted(slot_of.items())
    )
    return Arrangement(tuple(pieces), placements, family=plan.family, name=plan.name)


def reused(
    plan: Plan, pieces: Sequence[Piece], survey: Survey, guidelines: Guidelines
) -> Arrangement:
    """Hang pieces by a plan where the group rests best on a wall.

    Each slot takes the piece that fits it best and its size, and the group closes up to the gap of
    the guidelines. Pieces beyond the number of slots are left out.

    Returns
    -------
    The arrangement, scored, with its findings.

    Raises
    ------
    ArrangementError
        If there are too few pieces, they differ too much from the slots, or there is no room.
    """
    slot_of = matched(plan, pieces)
    sizes = {plan.slots[slot].id: (pieces[n].width_mm, pieces[n].height_mm)
             for n, slot in slot_of.items()}  # fmt: skip
    fitted = resized(plan, sizes, guidelines.gap_mm)
    size = fitted.bounds
    used = [pieces[n] for n in sorted(slot_of)]
    setting = describe_hung(used, survey, guidelines)
    boxes = np.array(
        [[s.rect.left_mm, s.rect.bottom_mm, s.rect.right_mm, s.rect.top_mm] for s in fitted.slots]
    )
    rest = setting.space.axis_mm, setting.rest_height(size.height_mm)
    place = setting.space.settle(boxes, *rest)
    if place is None:
        free = setting.space.bounds
        raise ArrangementError(
            f"With these pieces the plan takes {size.width_mm:.0f} x {size.height_mm:.0f} mm, for "
            f"which the free wall of {free.width_mm:.0f} x {free.height_mm:.0f} mm has no place.",
            hint="Choose smaller pieces, a plan with fewer slots, or less to keep clear of.",
        )
    return judge(hang_plan(fitted, pieces, *place), survey, guidelines)
