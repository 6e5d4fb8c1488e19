"""Look in a plan for what could hurt somebody: in its places, weights, hangers and fixings.

Each check reads places and weights, and names the source of its rule or says that there is none.
None of this replaces local codes or a licensed person; the plan's page of cautions says so too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from visualiser.findings import Finding, gravest_first
from visualiser.geometry import Rect
from visualiser.hanging.fixing_classes import WallKind
from visualiser.hanging.loads import FLATTEST_WIRE_DEG
from visualiser.hanging.measures import Measures
from visualiser.hanging.piece_plan import PiecePlan, ids_of, named
from visualiser.hanging.places import HELD_WORDS, LARGE_MM, RULES, Held, held_at, warned
from visualiser.hanging.withheld import WITHHELD
from visualiser.survey.dangers import (
    CABLE_STRIP_MM,
    POINTS_WITH_CABLES,
    in_cable_band,
)
from visualiser.survey.survey import Survey, Zone
from visualiser.wording import BothUnits, capitalised, parts_of, sentence

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
SHALLOW_DROP_MM = 10.0
"""A hook that bears nearer to the top edge may show above the frame: our own limit."""
LADDER_MM = 2200.0
"""Above this most people need more than a step stool: our own limit."""
PIPE_MARGIN_MM = 150.0
"""Beside a known pipe: our own limit, taken from the cable strips."""
_STRONG_SHARE, _SIDEWAYS_SLOPE = 0.4, 0.5  # of the wall's light; our own judgement of a window
BOARD_KG = 10.0
"""Above this a piece in the board alone is worth a caution: our own limit, no source."""
ASK_RATINGS_KG = 5.0
"""Above this the ratings of wire, rings and screws are asked for: our own limit, no source."""


def cautions(
    pieces: Sequence[PiecePlan],
    survey: Survey,
    measures: Measures,
    wall: WallKind,
    light: MainLight | None = None,
) -> tuple[Finding, ...]:
    """Look at a plan for what could hurt somebody, gravest first."""
    found = [
        *no_fixing(pieces, wall),
        *at_places(pieces),
        *cables(pieces, survey, measures),
        *services(pieces, survey, measures),
        *weights(pieces),
        *hangers(pieces),
        *studs(pieces),
        *surroundings(pieces),
        *daylight(survey, light),
        *(f for f in survey.findings if f.code in _DATUMS),
    ]
    return gravest_first(found)


def no_fixing(pieces: Sequence[PiecePlan], wall: WallKind) -> Iterable[Finding]:
    """Say for which pieces no fixing is named, and why: the rows that withheld it."""
    for reason, row in WITHHELD.items():
        hit = [plan for plan in pieces if reason in plan.fixing.reasons]
        if not hit or reason == "place":  # whose row of the table of places is printed
            continue
        says = f"{named(hit)}: {row.says}" if reason != "wall" else row.says
        yield Finding("caution", capitalised(says), row.do, row.code, ids_of(hit))
    if wall == "unknown" and not any("wall" in plan.fixing.reasons for plan in pieces):
        raise AssertionError("an unknown wall gets no fixing")


def at_places(pieces: Sequence[PiecePlan]) -> Iterable[Finding]:
    """Warn of the places that pieces hang at, by the table that chose what holds them."""
    groups: dict[tuple[str, str, Held], list[PiecePlan]] = {}
    for place, rule in RULES.items():
        for plan in pieces:
            for there, called in plan.places:
                weight = plan.load.weight
                if there == place and warned(place, plan.piece, weight):
                    held = held_at(place, plan.piece, weight)
                    groups.setdefault((place, called, held), []).append(plan)
        for (known, called, held), hit in groups.items():
            if known == place:
                yield Finding(
                    rule.severity,
                    sentence(
                        f"{named(hit)}: ",
                        *(
                            part.format(there=called) if isinstance(part, str) else part
                            for part in parts_of(rule.says)
                        ),
                    ),
                    f"{rule.source} {HELD_WORDS[held]}".strip(),
                    rule.code,
                    ids_of(hit),
                )


def weights(pieces: Sequence[PiecePlan]) -> Iterable[Finding]:
    """Look for what hangs heavy in a board alone, and for weights that were never taken."""
    in_board = [
        plan
        for plan in pieces
        if plan.fixing.fixing is not None
        and plan.fixing.fixing.into == "board"
        and plan.load.weight.heavy_kg > BOARD_KG
    ]
    if in_board:
        yield Finding(
            "caution",
            f"{named(in_board)}: more than {BOARD_KG:g} kg in the board alone (our own limit).",
            "Better in studs: find and mark them, or hang it from a batten or cleat over two.",
            "board-heavy",
            ids_of(in_board),
        )
    guessed = [
        plan for plan in pieces if plan.load.weight.estimated and "weigh" not in plan.fixing.reasons
    ]
    if guessed:
        yield Finding(
            "advice",
            f"{named(guessed)}: weight estimated from size and build.",
            "Weigh each on bathroom scales and type it in; fixings were chosen for the upper end.",
            "weight-estimated",
            ids_of(guessed),
        )
    unrated = [
        plan
        for plan in pieces
        if plan.load.weight.heavy_kg > ASK_RATINGS_KG
        and plan.piece.hanger.rated_kg is None
        and plan.load.hooks
        and "hanger" not in plan.fixing.reasons
    ]
    if unrated:
        yield Finding(
            "advice",
            f"{named(unrated)}: nobody has said what wire, rings or plates and their screws carry.",
            "The list of what to buy says what each must be rated for; type the rating in.",
            "hanger-unrated",
            ids_of(unrated),
        )


def studs(pieces: Sequence[PiecePlan]) -> Iterable[Finding]:
    """Mind that studs are where a detector finds them, not where they should be."""
    hit = [
        plan
        for plan in pieces
        if plan.fixing.fixing is not None and plan.fixing.fixing.into in ("stud", "studs")
    ]
    if hit:
        yield Finding(
            "advice",
            f"{named(hit)}: hangs from studs where they were marked, or follow from one marked.",
            "Find each stud's two edges with a detector before the first hole.",
            "check-studs",
            ids_of(hit),
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
    apart = [plan for plan in pieces if plan.bearing.spacing_assumed]
    if apart:
        yield Finding(
            "caution",
            f"{named(apart)}: the distance between the two hooks has not been measured; they are "
            "planned where they usually are.",
            "Measure between the two rings (or plates, or wires) and type it in before making a "
            "hole.",
            "spacing-assumed",
            ids_of(apart),
        )
    one_ring = [
        plan for plan in pieces if len(plan.hooks_mm) == 1 and plan.piece.hanger.of.usual_hooks == 2
    ]
    if one_ring:
        yield Finding(
            "caution",
            f"{named(one_ring)}: hangs from one {one_ring[0].piece.hanger.of.part} alone, as was "
            "given.",
            "These come in pairs: two hold it level, and one holds it when the other lets go.",
            "one-ring",
            ids_of(one_ring),
        )
    low = [
        plan
        for plan in pieces
        if plan.bearing.attachment_drop_mm is not None
        and plan.bearing.attachment_drop_mm > plan.rect.height_mm / 2
    ]
    if low:
        yield Finding(
            "caution",
            f"{named(low)}: its wire is fixed below the frame's middle, so that the top leans out.",
            "Fix the wire in the upper half, about a third down.",
            "wire-low",
            ids_of(low),
        )
    flat = [
        plan
        for plan in pieces
        if plan.load.wire_angle_deg is not None
        and plan.load.wire_angle_deg < FLATTEST_WIRE_DEG
        and "flat wire" not in plan.fixing.reasons
    ]
    if flat:
        steepest = min(plan.load.wire_angle_deg or 0.0 for plan in flat)
        yield Finding(
            "caution",
            f"{named(flat)}: the wire's legs are flatter than {FLATTEST_WIRE_DEG:g}° "
            f"(down to {steepest:.1f}°), which strains wire and frame.",
            # Of a wire that is fixed too low the other finding says to fix it higher.
            f"Give it a longer wire{'' if set(low) & set(flat) else ' or fix the wire lower'}; "
            "OSHA's sling guidance does not recommend flatter legs.",
            "flat-wire",
            ids_of(flat),
        )
    unknown = [plan for plan in pieces if plan.load.slope_unknown]
    if unknown:
        yield Finding(
            "caution",
            f"{named(unknown)}: how steep its wire runs has not been measured; it is taken to pull "
            f"with the whole weight, as at {FLATTEST_WIRE_DEG:g}°. A flatter wire pulls harder.",
            "Measure, the wire pulled up, from the top edge down to the hook and to the wire's two "
            "fixing points, and between those, and type all three in before it hangs.",
            "wire-unmeasured",
            ids_of(unknown),
        )
    shallow = [
        plan for plan in pieces if plan.hooks_mm and 0 < plan.bearing.drop_mm < SHALLOW_DROP_MM
    ]
    if shallow:
        yield Finding(
            "advice",
            sentence(
                f"{named(shallow)}: the hook bears less than ",
                BothUnits(SHALLOW_DROP_MM),
                " below the top edge and may show above the frame.",
            ),
            "Fix the hanger lower on the frame (a longer drop), or take a small hook.",
            "hook-may-show",
            ids_of(shallow),
        )
    single = [plan for plan in pieces if len(plan.hooks_mm) == 1 and plan.rect.width_mm > LARGE_MM]
    if single:
        yield Finding(
            "advice",
            sentence(
                f"{named(single)}: wider than ",
                BothUnits(LARGE_MM),
                " (our own limit) on one hook.",
            ),
            "Large pictures are steadier on two hooks than on one (FEMA, 2008).",
            "two-hooks",
            ids_of(single),
        )


def _called(zone: Zone) -> str:
    return f"the {zone.kind}" + (f" “{zone.name}”" if zone.name else "")


def cables(pieces: Sequence[PiecePlan], survey: Survey, measures: Measures) -> Iterable[Finding]:
    """Look for hooks where cables are allowed to run unseen: BS 7671 §522.6.202 (i)."""
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
            if any(in_cable_band(zone, x, y, across, up) for x, y in plan.holes_mm)
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
            for x, y in plan.holes_mm
        )
    ]
    if hit:
        yield Finding(
            "caution",
            sentence(
                f"{named(hit)}: a hook lies within ",
                BothUnits(strip),
                " of the wall's top or its ends.",
            ),
            hint,
            "hook-in-cable-strip",
            ids_of(hit),
        )


def services(pieces: Sequence[PiecePlan], survey: Survey, measures: Measures) -> Iterable[Finding]:
    """Look for hooks beside known pipes and radiators."""
    for zone in survey.zones:
        box = zone.polygon.bounds
        if zone.kind in ("pipe", "radiator"):
            margin = PIPE_MARGIN_MM + max(measures.across_half_width_mm, measures.up_half_width_mm)
            hit = [
                plan
                for plan in pieces
                if any(_inside(box.grown(margin), x, y) for x, y in plan.holes_mm)
            ]
            if hit:
                yield Finding(
                    "caution",
                    f"{named(hit)}: a hook lies on or near {_called(zone)}.",
                    "Pipes run here; find them with a detector before drilling, or move the hook.",
                    "hook-near-pipe",
                    ids_of(hit),
                )


def _inside(box: Rect, x: float, y: float) -> bool:
    return box.left_mm <= x <= box.right_mm and box.bottom_mm <= y <= box.top_mm


def surroundings(pieces: Sequence[PiecePlan]) -> Iterable[Finding]:
    """Look for hooks that need a ladder."""
    high = [plan for plan in pieces if any(y > LADDER_MM for _, y in plan.hooks_mm)]
    if high:
        yield Finding(
            "caution",
            sentence(f"{named(high)}: hooks above ", BothUnits(LADDER_MM), ", work for a ladder."),
            "Use a ladder on firm level floor with a second person; don't stand on furniture.",
            "ladder",
            ids_of(high),
        )


def daylight(survey: Survey, light: MainLight | None) -> Iterable[Finding]:
    """Look for windows marked on the wall, or a strong light from the side in the photo."""
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
