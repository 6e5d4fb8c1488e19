"""The hanging plan: hooks, loads, fixings, measures, cuts and cautions of one arrangement."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import HangingError
from visualiser.findings import Finding
from visualiser.geometry import Polygon
from visualiser.hanging.cautions import cautions
from visualiser.hanging.cutting import Cuts, nest
from visualiser.hanging.fixings import STRIPS, WallKind, check_ratings, wall_kind
from visualiser.hanging.loads import SAFETY_FACTOR
from visualiser.hanging.measures import Measures, Side, TapeBorder, measures_of
from visualiser.hanging.piece_plan import PiecePlan, plan_pieces
from visualiser.survey.survey import Survey
from visualiser.units import format_both

if TYPE_CHECKING:
    from visualiser.survey.main_light import MainLight

_MM_PER_M = 1000.0
_FEET_PER_M = _MM_PER_M / 304.8
ROLL_WIDTH_MM = 914.4
"""36 in, the usual roll of kraft paper: common practice, no source."""


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


@dataclass(frozen=True, slots=True, eq=False)
class HangingPlan:
    """Everything needed to hang an arrangement.

    Parameters
    ----------
    arrangement, survey
        What is hung, and on what.
    wall
        What the wall is built of.
    pieces
        Each placed piece, in the order of hanging.
    measures
        The datums, and the ± of the survey.
    border
        Rectangle of tape round the group.
    cuts
        Paper rectangles on a roll.
    purchases
        The shopping list.
    safety_factor
        What makers' ratings were divided by.
    findings
        Cautions and advice, gravest first.
    """

    arrangement: Arrangement
    survey: Survey
    wall: WallKind
    pieces: tuple[PiecePlan, ...]
    measures: Measures
    border: TapeBorder
    cuts: Cuts
    purchases: tuple[Purchase, ...]
    safety_factor: float
    findings: tuple[Finding, ...]


def plan_hanging(
    arrangement: Arrangement,
    survey: Survey,
    wall: str = "plasterboard",
    *,
    side: Side = "left",
    safety_factor: float = SAFETY_FACTOR,
    ratings_kg: Mapping[str, float] | None = None,
    roll_width_mm: float = ROLL_WIDTH_MM,
    seismic: bool = False,
    light: MainLight | None = None,
) -> HangingPlan:
    """Plan how an arrangement is hung.

    Parameters
    ----------
    arrangement
        Pieces with their places.
    survey
        The wall they hang on.
    wall
        ``plasterboard``, ``lath and plaster``, ``brick``, ``concrete``, ``timber`` or ``unknown``.
    side
        Side that is measured from.
    safety_factor
        What a maker's rating is divided by, 1 or more.
    ratings_kg
        Maker's rating, kg, by class of fixing, where the person has the packet at hand.
    roll_width_mm
        Of the paper that templates are cut from.
    seismic
        Whether the job lies where earthquakes happen.
    light
        Main light found in the photo, to mind the sun by.

    Raises
    ------
    HangingError
        If nothing is placed, the wall's kind is unknown, a hanger does not fit its frame, a hook
        would lie off the wall, or a piece is larger than the roll of paper.
    """
    kind = wall_kind(wall)
    ratings = dict(ratings_kg or {})
    check_ratings(safety_factor, ratings)
    rects = arrangement.rects()
    if not rects:
        raise HangingError(
            "No piece has a place on the wall yet.", hint="Place the pieces, then plan again."
        )
    bounds = arrangement.bounds
    pieces = plan_pieces(
        {piece.id: piece for piece in arrangement.pieces},
        rects,
        bounds.centre_mm,
        kind,
        safety_factor,
        ratings,
    )
    _refuse_off_wall(pieces, survey.outline)
    measures = measures_of(survey, bounds, side)
    border = TapeBorder(bounds)
    cuts = nest(
        {i: (rect.width_mm, rect.height_mm) for i, rect in rects.items()},
        roll_width_mm,
        {piece.id: piece.called for piece in arrangement.pieces},
    )
    return HangingPlan(
        arrangement=arrangement,
        survey=survey,
        wall=kind,
        pieces=pieces,
        measures=measures,
        border=border,
        cuts=cuts,
        purchases=shopping_list(pieces, border, cuts),
        safety_factor=safety_factor,
        findings=cautions(pieces, survey, measures, kind, seismic, light),
    )


def _refuse_off_wall(pieces: tuple[PiecePlan, ...], wall: Polygon) -> None:
    for plan in pieces:
        for x, y in plan.hooks_mm or (plan.rect.centre_mm,):
            if not wall.contains_point(x, y):
                raise HangingError(
                    f"A hook of {plan.piece.called} would lie off the wall, at "
                    f"{format_both(x)} across and {format_both(y)} up.",
                    hint="Move the piece onto the wall, or survey more of the wall.",
                )
