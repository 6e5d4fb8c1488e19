"""The hanging plan: hooks, loads, fixings, measures, cuts and cautions of one arrangement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.errors import HangingError
from visualiser.findings import Finding
from visualiser.geometry import Polygon, Rect
from visualiser.hanging.cautions import cautions
from visualiser.hanging.cutting import Cuts, nest
from visualiser.hanging.fixing_classes import WallKind, check_ratings, wall_kind
from visualiser.hanging.loads import SAFETY_FACTOR
from visualiser.hanging.measures import Measures, Side, TapeBorder, measures_of
from visualiser.hanging.piece_plan import Conditions, PiecePlan, plan_pieces
from visualiser.hanging.refusals import dangers, refuse_dangers
from visualiser.hanging.shopping import Purchase, shopping_list
from visualiser.survey.studs import Studs
from visualiser.survey.survey import Survey
from visualiser.wording import BothUnits, sentence

if TYPE_CHECKING:
    from visualiser.survey.main_light import MainLight

ROLL_WIDTH_MM = 914.4
"""36 in, the usual roll of kraft paper: common practice, no source."""


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
        Dangers, cautions and advice, gravest first.
    accepted
        What the person says to the dangers; printed on every paper. Empty where there are none.
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
    accepted: str = ""

    def gravest_of(self, piece_id: str) -> tuple[Finding, ...]:
        """List what could hurt somebody at one piece, or anywhere on this wall."""
        return tuple(f for f in self.gravest if not f.piece_ids or piece_id in f.piece_ids)

    @property
    def gravest(self) -> tuple[Finding, ...]:
        """What could hurt somebody: dangers that were answered for, then cautions."""
        return tuple(f for f in self.findings if f.grave)


def plan_hanging(
    arrangement: Arrangement,
    survey: Survey,
    wall: str | None = None,
    *,
    side: Side = "left",
    safety_factor: float = SAFETY_FACTOR,
    ratings_kg: Mapping[str, float] | None = None,
    roll_width_mm: float = ROLL_WIDTH_MM,
    seismic: bool = False,
    light: MainLight | None = None,
    studs: Studs | None = None,
    guidelines: Guidelines | None = None,
    accepted: str = "",
) -> HangingPlan:
    """Plan how an arrangement is hung.

    Parameters
    ----------
    arrangement
        Pieces with their places.
    survey
        The wall they hang on.
    wall
        ``plasterboard``, ``lath and plaster``, ``brick``, ``concrete``, ``timber`` or ``unknown``;
        unknown when None, and then no fixing is named.
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
    studs
        Where studs were found; the survey's own when None.
    guidelines
        Rules that the arrangement was to keep; the usual ones when None.
    accepted
        Words with which the person answers for what is dangerous in the arrangement.

    Raises
    ------
    HangingError
        If nothing is placed, the wall's kind is not one known here, a hanger does not fit its
        frame, a hook would lie off the wall or below its piece's middle, or the arrangement is
        dangerous and nobody answers for it.
    """
    kind = wall_kind(wall)
    ratings = dict(ratings_kg or {})
    check_ratings(safety_factor, ratings)
    rects = arrangement.rects()
    if not rects:
        raise HangingError(
            "No piece has a place on the wall yet.", hint="Place the pieces, then plan again."
        )
    if studs is not None:
        survey = replace(survey, studs=studs)
    dangerous = dangers(arrangement, survey, guidelines)
    bounds = arrangement.bounds
    measures = measures_of(survey, bounds, side)
    pieces = plan_pieces(
        {piece.id: piece for piece in arrangement.pieces},
        rects,
        bounds.centre_mm,
        Conditions(survey, measures, kind, safety_factor, ratings, seismic),
    )
    _refuse_off_wall(pieces, survey.outline)
    refuse_dangers(dangerous, accepted)
    border = TapeBorder(bounds)
    cuts, too_wide = _cut(arrangement, rects, roll_width_mm)
    return HangingPlan(
        arrangement=arrangement,
        survey=survey,
        wall=kind,
        pieces=pieces,
        measures=measures,
        border=border,
        cuts=cuts,
        purchases=shopping_list(pieces, border, cuts, safety_factor),
        safety_factor=safety_factor,
        findings=(*dangerous, *cautions(pieces, survey, measures, kind, light), *too_wide),
        accepted=accepted.strip() if dangerous else "",
    )


def _cut(
    arrangement: Arrangement, rects: Mapping[str, Rect], roll_width_mm: float
) -> tuple[Cuts, list[Finding]]:
    """Lay the papers on a roll, but for pieces that are wider than it either way round."""
    sizes = {i: (rect.width_mm, rect.height_mm) for i, rect in rects.items()}
    wide = [i for i, size in sizes.items() if roll_width_mm > 0 and min(size) > roll_width_mm]
    names = {piece.id: piece.called for piece in arrangement.pieces}
    cuts = nest({i: sizes[i] for i in sizes if i not in wide}, roll_width_mm, names)
    if not wide:
        return cuts, []
    called = ", ".join(names[i] for i in wide)
    told = Finding(
        "advice",
        sentence(
            f"{called}: wider than the roll of paper (",
            BothUnits(roll_width_mm),
            ") either way round.",
        ),
        "Print its template on sheets that are taped together, or only its hook marks.",
        "wider-than-roll",
        tuple(wide),
    )
    return cuts, [told]


def _refuse_off_wall(pieces: tuple[PiecePlan, ...], wall: Polygon) -> None:
    for plan in pieces:
        for x, y in (*plan.hooks_mm, *plan.locks_mm) or (plan.rect.centre_mm,):
            if not wall.contains_point(x, y):
                raise HangingError(
                    sentence(
                        f"A hook of {plan.piece.called} would lie off the wall, at ",
                        BothUnits(x),
                        " across and ",
                        BothUnits(y),
                        " up.",
                    ),
                    hint="Move the piece onto the wall, or survey more of the wall.",
                )
