"""What in a piece's weight, hanger or fixing could bring it down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from visualiser.findings import Finding
from visualiser.hanging.fixings import HEAVY_KG, WallKind
from visualiser.hanging.loads import FLATTEST_WIRE_DEG
from visualiser.hanging.piece_plan import PiecePlan, ids_of, named
from visualiser.units import format_both

LARGE_MM = 600.0
"""From this width two hooks are advised: our own limit; FEMA gives none."""
SHALLOW_DROP_MM = 10.0
"""A hook that bears nearer to the top edge may show above the frame: our own limit."""


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
