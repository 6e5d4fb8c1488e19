"""Look in a plan for what could hurt somebody: in its places, weights, hangers and fixings.

Each check reads places and weights, and names the source of its rule or says that there is none.
None of this replaces local codes or a licensed person; the plan's page of cautions says so too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from visualiser.findings import Finding
from visualiser.geometry import Rect
from visualiser.hanging.fixings import HEAVY_KG, WallKind
from visualiser.hanging.loads import FLATTEST_WIRE_DEG
from visualiser.hanging.measures import Measures
from visualiser.hanging.piece_plan import PiecePlan, ids_of, named
from visualiser.survey.dangers import (
    CABLE_STRIP_MM,
    MOST_PROTRUSION_MM,
    POINTS_WITH_CABLES,
    in_cable_band,
    protrudes,
)
from visualiser.survey.survey import FurnitureKind, Survey, Zone
from visualiser.units import format_both

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
LARGE_MM = 600.0
"""From this width two hooks are advised: our own limit; FEMA gives none."""
SHALLOW_DROP_MM = 10.0
"""A hook that bears nearer to the top edge may show above the frame: our own limit."""
LADDER_MM = 2200.0
"""Above this most people need more than a step stool: our own limit."""
RADIATOR_REACH_MM = 1000.0
"""How far above a radiator its warm air is minded: our own limit."""
PIPE_MARGIN_MM = 150.0
"""Beside a known pipe: our own limit, taken from the cable strips."""
_LYING: tuple[FurnitureKind, ...] = ("bed", "cot")
_SEATS: tuple[FurnitureKind, ...] = ("sofa", "chair")
_STRONG_SHARE, _SIDEWAYS_SLOPE = 0.4, 0.5  # of the wall's light; our own judgement of a window
_LARGE_OVER_SEAT_KG = 5.0  # our own limit; FEMA says "large"


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


def weights(pieces: Sequence[PiecePlan], wall: WallKind) -> Iterable[Finding]:
    """Look for heavy pieces, unknown walls, and fixings that are not enough."""
    heavy = [plan for plan in pieces if plan.load.weight.heavy_kg > HEAVY_KG]
    if heavy:
        yield Finding(
            "caution",
            f"{named(heavy)}: may weigh more than {HEAVY_KG:g} kg (our own limit).",
            "Have a licensed person choose and set the fixing, into studs or masonry.",
            "heavy",
            ids_of(heavy),
        )
    if wall == "unknown":
        yield Finding(
            "caution",
            "Nobody has said what the wall is built of.",
            "Find out before buying fixings, or ask a licensed person; follow the local code.",
            "unknown-wall",
        )
    beyond = [
        plan
        for plan in pieces
        if plan.fixing.fixing is None and wall != "unknown" and plan not in heavy
    ]
    if beyond:
        yield Finding(
            "caution",
            f"{named(beyond)}: no ordinary class of fixing is held to be enough on this wall.",
            "Type the maker's rating of the fixing you have, or ask a licensed person.",
            "no-fixing",
            ids_of(beyond),
        )
    guessed = [plan for plan in pieces if plan.load.weight.estimated]
    if guessed:
        yield Finding(
            "advice",
            f"{named(guessed)}: weight estimated from size and build.",
            "Weigh each on bathroom scales and type it in; fixings were chosen for the upper end.",
            "weight-estimated",
            ids_of(guessed),
        )


def against_earthquakes(pieces: Sequence[PiecePlan], seismic: bool) -> Iterable[Finding]:
    """FEMA 528 (2014): what shakes must be held below too."""
    if seismic and pieces:
        yield Finding(
            "caution",
            "The job lies where earthquakes happen.",
            "Hang on closed hooks and secure the lower corners (FEMA 528, 2014); follow the local "
            "code.",
            "earthquake",
            ids_of(pieces),
        )


def hangers(pieces: Sequence[PiecePlan]) -> Iterable[Finding]:
    """Look for drops not measured, flat wires, hooks that show, wide pieces on one hook."""
    assumed = [plan for plan in pieces if plan.bearing.drop_origin == "assumed"]
    if assumed:
        yield Finding(
            "advice",
            f"{named(assumed)}: the drop from top edge to hook has not been measured.",
            "Measure it before making a hole; the heights of these hooks are only assumed.",
            "drop-assumed",
            ids_of(assumed),
        )
    flat = [
        plan
        for plan in pieces
        if plan.load.wire_angle_deg is not None and plan.load.wire_angle_deg < FLATTEST_WIRE_DEG
    ]
    if flat:
        steepest = min(plan.load.wire_angle_deg or 0.0 for plan in flat)
        yield Finding(
            "caution",
            f"{named(flat)}: the wire's legs are flatter than {FLATTEST_WIRE_DEG:g}° "
            f"(down to {steepest:.0f}°), which strains wire and frame.",
            "Give it a longer wire or fix the wire lower; OSHA's sling guidance does not recommend "
            "flatter legs.",
            "flat-wire",
            ids_of(flat),
        )
    shallow = [
        plan for plan in pieces if plan.hooks_mm and 0 < plan.bearing.drop_mm < SHALLOW_DROP_MM
    ]
    if shallow:
        yield Finding(
            "advice",
            f"{named(shallow)}: the hook bears less than {format_both(SHALLOW_DROP_MM)} below "
            "the top edge and may show above the frame.",
            "Shorten the drop only where the hook is small, or fix the hanger lower.",
            "hook-may-show",
            ids_of(shallow),
        )
    single = [plan for plan in pieces if len(plan.hooks_mm) == 1 and plan.rect.width_mm > LARGE_MM]
    if single:
        yield Finding(
            "advice",
            f"{named(single)}: wider than {format_both(LARGE_MM)} (our own limit) on one hook.",
            "Large pictures are steadier on two hooks than on one (FEMA, 2008).",
            "two-hooks",
            ids_of(single),
        )


def _called(zone: Zone) -> str:
    return f"the {zone.kind}" + (f" “{zone.name}”" if zone.name else "")


def cables(pieces: Sequence[PiecePlan], survey: Survey, measures: Measures) -> Iterable[Finding]:
    """Hooks where cables are allowed to run unseen: BS 7671 §522.6.202 (i)."""
    wall = survey.outline.bounds
    across, up = measures.across_half_width_mm, measures.up_half_width_mm
    hint = (
        "Cables may run here (BS 7671 §522.6.202; other codes differ): find them with a detector "
        "first, or move the hook."
    )
    for zone in survey.zones:
        hit = [
            plan
            for plan in pieces
            if any(in_cable_band(zone, x, y, across, up) for x, y in plan.hooks_mm)
        ]
        if hit:
            yield Finding(
                "caution",
                f"{named(hit)}: a hook lies straight above, below or beside {_called(zone)}.",
                hint,
                "hook-in-cable-band",
                ids_of(hit),
            )
    if not any(zone.kind in POINTS_WITH_CABLES for zone in survey.zones):
        yield Finding(
            "note",
            "No switch or socket is marked on this wall, so the plan cannot mind their cables.",
            "Mark them, and look for those hidden behind furniture.",
            "no-switch-marked",
        )
    strip = CABLE_STRIP_MM
    hit = [
        plan
        for plan in pieces
        if any(
            x <= wall.left_mm + strip + across
            or x >= wall.right_mm - strip - across
            or y >= wall.top_mm - strip - up
            for x, y in plan.hooks_mm
        )
    ]
    if hit:
        yield Finding(
            "caution",
            f"{named(hit)}: a hook lies within {format_both(strip)} of the wall's top or its ends.",
            hint,
            "hook-in-cable-strip",
            ids_of(hit),
        )


def services(pieces: Sequence[PiecePlan], survey: Survey, measures: Measures) -> Iterable[Finding]:
    """Hooks beside known pipes, and pieces in the warm air above radiators."""
    for zone in survey.zones:
        box = zone.polygon.bounds
        if zone.kind in ("pipe", "radiator"):
            margin = PIPE_MARGIN_MM + max(measures.across_half_width_mm, measures.up_half_width_mm)
            hit = [
                plan
                for plan in pieces
                if any(_inside(box.grown(margin), x, y) for x, y in plan.hooks_mm)
            ]
            if hit:
                yield Finding(
                    "caution",
                    f"{named(hit)}: a hook lies on or near {_called(zone)}.",
                    "Pipes run here; find them with a detector before drilling, or move the hook.",
                    "hook-near-pipe",
                    ids_of(hit),
                )
        if zone.kind == "radiator":
            warm = Rect(box.x_mm, box.top_mm, box.width_mm, RADIATOR_REACH_MM)
            hit = [plan for plan in pieces if plan.rect.overlaps(warm)]
            if hit:
                yield Finding(
                    "caution",
                    f"{named(hit)}: above {_called(zone)}.",
                    "Warm air dries paper, paint and glue, and strips let go: hang it elsewhere.",
                    "above-radiator",
                    ids_of(hit),
                )


def _inside(box: Rect, x: float, y: float) -> bool:
    return box.left_mm <= x <= box.right_mm and box.bottom_mm <= y <= box.top_mm


def over_people(pieces: Sequence[PiecePlan], survey: Survey) -> Iterable[Finding]:
    """FEMA, "Mount Framed Pictures and Mirrors Securely" (2008), and FEMA 528 (2014)."""
    for item in survey.furniture:
        over = [
            plan
            for plan in pieces
            if plan.rect.gap_to(item.rect)[0] < 0 and plan.rect.top_mm > item.rect.top_mm
        ]
        called = item.name or item.kind
        if item.kind in _SEATS:
            over = [
                plan
                for plan in over
                if plan.load.weight.heavy_kg > _LARGE_OVER_SEAT_KG
                or max(plan.rect.width_mm, plan.rect.height_mm) > LARGE_MM
            ]
        elif item.kind not in _LYING:
            continue
        if over:
            yield Finding(
                "caution",
                f"{named(over)}: over the {called}, where it could fall on somebody.",
                "FEMA (2008) advises against large pictures over beds, chairs or couches: use two "
                "closed hooks in solid backing, fixed by a licensed person, or hang elsewhere.",
                "over-bed" if item.kind in _LYING else "over-seat",
                ids_of(over),
            )


def surroundings(pieces: Sequence[PiecePlan], survey: Survey) -> Iterable[Finding]:
    """Pieces that people walk into (2010 ADA Standards, §307.2), hooks that need a ladder."""
    if survey.floor_known:
        deep = [plan for plan in pieces if protrudes(plan.rect.bottom_mm, plan.piece.stand_off_mm)]
        if deep:
            yield Finding(
                "advice",
                f"{named(deep)}: stands more than {format_both(MOST_PROTRUSION_MM)} off the wall "
                "at walking height.",
                "Not allowed beside a public walkway (2010 ADA Standards, §307.2); at home, keep "
                "it out of the way people walk.",
                "protrudes",
                ids_of(deep),
            )
        high = [plan for plan in pieces if any(y > LADDER_MM for _, y in plan.hooks_mm)]
        if high:
            yield Finding(
                "caution",
                f"{named(high)}: hooks above {format_both(LADDER_MM)}, work for a ladder.",
                "Use a ladder on firm level floor with a second person; don't stand on furniture.",
                "ladder",
                ids_of(high),
            )


def daylight(survey: Survey, light: MainLight | None) -> Iterable[Finding]:
    """Windows marked on the wall, or a strong light from the side in the photo."""
    sources = [_called(zone) for zone in survey.zones if zone.kind == "window"]
    if (
        light is not None
        and light.known
        and light.share >= _STRONG_SHARE
        and abs(light.slope_x) >= _SIDEWAYS_SLOPE
    ):
        sources.append(f"the {'right' if light.slope_x > 0 else 'left'}, as the photo shows")
    if sources:
        yield Finding(
            "advice",
            f"There is strong light from {' and from '.join(sources)}.",
            "See whether direct sun reaches a place at any hour; it fades prints and warms strips.",
            "daylight",
        )
