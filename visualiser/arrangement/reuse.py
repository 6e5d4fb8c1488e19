"""Other pieces hung by a plan: which takes which place, and where the group rests on a wall."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.contexts import evaluate
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.proposing import propose
from visualiser.arrangement.setting import describe_hung
from visualiser.arrangement.slots import Plan, resized
from visualiser.errors import ArrangementError
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey


def matched(plan: Plan, pieces: Sequence[Piece]) -> dict[int, int]:
    """Give each slot a piece so that sizes fit best over all; the slot's number by the piece's.

    Of more pieces than slots the smallest are left out.

    Raises
    ------
    ArrangementError
        If there are fewer pieces than slots.
    """
    # Loaded where slots are matched: it takes longer to load than a plan to be shared.
    from scipy.optimize import linear_sum_assignment

    if len(pieces) < len(plan.slots):
        raise ArrangementError(
            f"The plan has {len(plan.slots)} slots for {len(pieces)} pieces.",
            hint="Add pieces, or choose a smaller plan.",
        )
    by_area = sorted(
        range(len(pieces)), key=lambda n: (-pieces[n].width_mm * pieces[n].height_mm, n)
    )
    used = sorted(by_area[: len(plan.slots)])
    cost = [
        [abs(pieces[n].width_mm - s.width_mm) + abs(pieces[n].height_mm - s.height_mm)
         for s in plan.slots]
        for n in used
    ]  # fmt: skip
    rows, columns = linear_sum_assignment(np.array(cost))
    return {used[row]: int(column) for row, column in zip(rows, columns, strict=True)}


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
    the guidelines. Pieces beyond the number of slots are left out, the smallest first. With fewer
    pieces than slots, or sizes that would leave the plan ragged, the pieces are proposed anew in
    the plan's way of hanging, or in the one nearest to it.

    Returns
    -------
    The arrangement, scored, with its findings.

    Raises
    ------
    ArrangementError
        If there are too few pieces, they differ too much from the slots, or there is no room.
    """
    if len(pieces) < len(plan.slots) or _ragged(plan, pieces):
        return _in_its_manner(plan, pieces, survey, guidelines)
    slot_of = matched(plan, pieces)
    sizes = {plan.slots[slot].id: (pieces[n].width_mm, pieces[n].height_mm)
             for n, slot in slot_of.items()}  # fmt: skip
    fitted = resized(plan, sizes, guidelines.gap_mm)
    used = [pieces[n] for n in sorted(slot_of)]
    place = describe_hung(used, survey, guidelines).settled(
        [slot.rect for slot in fitted.slots],
        "With these pieces the plan",
        "Choose smaller pieces, a plan with fewer slots, or less to keep clear of.",
    )
    return evaluate(hang_plan(fitted, pieces, *place), survey, guidelines)


RAGGED_MM = 5.0
"""Differences of size that show in a plan of equal slots."""


def _ragged(plan: Plan, pieces: Sequence[Piece]) -> bool:
    """Whether slots of one size would take pieces of several."""
    slots = np.array([(s.width_mm, s.height_mm) for s in plan.slots])
    used = [pieces[n] for n in matched(plan, pieces)]
    sizes = np.array([(p.width_mm, p.height_mm) for p in used])
    return bool(
        len(slots) > 2
        and np.ptp(slots, axis=0).max() <= RAGGED_MM
        and np.ptp(sizes, axis=0).max() > RAGGED_MM
    )


def _in_its_manner(
    plan: Plan, pieces: Sequence[Piece], survey: Survey, guidelines: Guidelines
) -> Arrangement:
    """Propose pieces in the plan's way of hanging, else in any."""
    for families in ([plan.family], None):
        try:
            return propose(pieces, survey, guidelines, families, 1)[0]
        except ArrangementError:
            if families is None:
                raise
    raise AssertionError("one of the two ways returns or raises")
