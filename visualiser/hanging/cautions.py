"""What could hurt somebody, looked for in the plan itself.

Each check reads places and weights, and names the source of its rule or says that there is none.
None of this replaces local codes or a licensed person; the plan's page of cautions says so too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from visualiser.findings import Finding
from visualiser.hanging.fixings import WallKind
from visualiser.hanging.holding_cautions import against_earthquakes, hangers, weights
from visualiser.hanging.measures import Measures
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.place_cautions import (
    cables,
    daylight,
    over_people,
    services,
    surroundings,
)
from visualiser.survey.survey import Survey

if TYPE_CHECKING:
    from visualiser.survey.main_light import MainLight

_DATUMS = ("floor-unknown", "side-from-reference")  # what the survey says of its own zero

GENERAL = (
    "Before drilling or nailing, check for cables and pipes with a detector, and from both sides "
    "of the wall. Where you cannot be sure, don't drill: ask a licensed electrician or plumber.",
    "Local building and electrical codes and the makers' instructions govern over this plan. For "
    "heavy pieces, unknown walls and anything over a bed or seat, ask a licensed person.",
    "Wear eye protection when drilling or nailing, and a dust mask; old paint and plaster may hold "
    "lead or asbestos: have it tested before it is disturbed.",
    "Stand ladders on firm level floor, keep three points of contact, don't reach sideways; have a "
    "second person for large or heavy pieces.",
    "Check each fixing by hand with about twice the piece's weight before the piece goes on it.",
)


def cautions(
    pieces: Sequence[PiecePlan],
    survey: Survey,
    measures: Measures,
    wall: WallKind,
    seismic: bool = False,
    light: MainLight | None = None,
) -> tuple[Finding, ...]:
    """Look at a plan for what could hurt somebody, gravest first."""
    found = [
        *cables(pieces, survey, measures),
        *services(pieces, survey, measures),
        *over_people(pieces, survey),
        *weights(pieces, wall),
        *against_earthquakes(pieces, seismic),
        *hangers(pieces),
        *surroundings(pieces, survey),
        *daylight(survey, light),
        *(f for f in survey.findings if f.code in _DATUMS),
    ]
    rank = {"broken": 0, "caution": 1, "advice": 2, "note": 3}
    return tuple(sorted(found, key=lambda finding: rank[finding.severity]))
