"""What in the places of pieces could hurt somebody: cables, pipes, beds, ladders, sun."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from visualiser.findings import Finding
from visualiser.geometry import Rect
from visualiser.hanging.holding_cautions import LARGE_MM
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
