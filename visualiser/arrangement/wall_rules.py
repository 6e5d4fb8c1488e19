"""Rules of what hangs where on the wall: its ends, what must stay clear, furniture before it."""

from __future__ import annotations

from collections.abc import Iterator

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.space import TOLERANCE_MM
from visualiser.errors import HangingError
from visualiser.findings import Finding
from visualiser.geometry import Rect
from visualiser.inventory.bearing import bearing
from visualiser.inventory.piece import Piece
from visualiser.survey.dangers import in_cable_band
from visualiser.survey.survey import Survey


def hook_points(piece: Piece, rect: Rect) -> tuple[tuple[float, float], ...]:
    """Where hooks enter the wall, mm; none for strips, nor where the hanger cannot be as told.

    What is wrong with a hanger is named when its hooks are worked out, in the hanging plan.
    """
    try:
        return bearing(piece).on_wall(rect)
    except HangingError:
        return ()


def on_wall(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Iterator[Finding]:
    """Hold the ends of the usable wall against pieces."""
    outline, clear = survey.outline, guidelines.edge_clearance_mm
    for piece_id, rect in arrangement.rects().items():
        name = arrangement.called(piece_id)
        if not outline.contains_rect(rect, TOLERANCE_MM):
            beyond = _beyond(outline.bounds, rect)
            how_far = f" by {beyond:.0f} mm" if beyond > 0 else ""
            yield Finding(
                "broken",
                f"{name} reaches past the usable wall{how_far}.",
                "Move it in, or leave it out.",
                "outside",
                (piece_id,),
            )
            continue
        wider = Rect(
            rect.left_mm - clear, rect.y_mm, rect.width_mm + 2 * clear, rect.height_mm + clear
        )
        if not outline.contains_rect(wider, TOLERANCE_MM):
            left = clear - _beyond(outline.bounds, wider)
            measured = f"{left:.0f} mm" if left < clear else f"less than {clear:.0f} mm"
            yield Finding(
                guidelines.severity("edge-clearance"),
                f"{name} hangs {measured} from the wall's end or the ceiling; "
                f"{clear:.0f} mm is asked for.",
                "Move it in or lower the clearance.",
                "edge-clearance",
                (piece_id,),
            )


def _beyond(bounds: Rect, rect: Rect) -> float:
    """How far a rectangle reaches past another, on its worst side."""
    return max(
        bounds.left_mm - rect.left_mm,
        rect.right_mm - bounds.right_mm,
        bounds.bottom_mm - rect.bottom_mm,
        rect.top_mm - bounds.top_mm,
    )


def off_zones(
    arrangement: Arrangement, survey: Survey, guidelines: Guidelines
) -> Iterator[Finding]:
    """Hold what must stay clear, and cables near it, against pieces and their hooks."""
    clear = guidelines.zone_clearance_mm
    for piece_id, rect in arrangement.rects().items():
        name = arrangement.called(piece_id)
        hooks = hook_points(arrangement.piece(piece_id), rect)
        for zone in survey.zones:
            label = zone.name or zone.kind
            if zone.polygon.overlaps_rect(rect, TOLERANCE_MM):
                yield Finding(
                    "broken",
                    f"{name} covers the {label}, which is to stay clear.",
                    "Move it away.",
                    "zone",
                    (piece_id,),
                )
            elif zone.polygon.overlaps_rect(rect.grown(clear), TOLERANCE_MM):
                distance = zone.polygon.distance_to_rect(rect)
                yield Finding(
                    "broken",
                    f"{name} hangs {distance:.0f} mm from the {label}; {clear:.0f} mm is asked "
                    "for on every side.",
                    "Move it away or lower the clearance from zones.",
                    "zone",
                    (piece_id,),
                )
            if any(zone.polygon.contains_point(x, y) for x, y in hooks):
                yield Finding(
                    "broken",
                    f"A hook of {name} would go into the {label}.",
                    "Move the piece, or drill elsewhere.",
                    "zone",
                    (piece_id,),
                )
            elif any(in_cable_band(zone, x, y) for x, y in hooks):
                yield Finding(
                    guidelines.severity("cable-run", soft="caution"),
                    f"A hook of {name} lies straight above, below or beside the {label}, where "
                    "cables may run.",
                    "Check with a cable detector before drilling; follow the local wiring rules.",
                    "cable-run",
                    (piece_id,),
                )


def off_furniture(arrangement: Arrangement, survey: Survey) -> Iterator[Finding]:
    """Hold furniture against pieces that would hang behind it."""
    for piece_id, rect in arrangement.rects().items():
        for item in survey.furniture:
            if item.rect.overlaps(rect, TOLERANCE_MM):
                hidden = item.rect.top_mm - rect.bottom_mm
                yield Finding(
                    "broken",
                    f"The lowest {hidden:.0f} mm of {arrangement.called(piece_id)} hang behind "
                    f"the {item.name or item.kind}.",
                    "Raise it or move it aside.",
                    "furniture",
                    (piece_id,),
                )
