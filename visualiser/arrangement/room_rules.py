"""Rules of the room: the wall's ends, what must stay clear, floor, ledges and furniture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.furnishings import is_ledge, is_rail, ledges
from visualiser.arrangement.guidelines import TOLERANCE_MM, Guidelines
from visualiser.arrangement.heights import highest_centre
from visualiser.arrangement.placing import door_below
from visualiser.arrangement.slopes import floor_rise
from visualiser.errors import HangingError
from visualiser.findings import Finding
from visualiser.geometry import Rect, bounding_rect
from visualiser.inventory.bearing import bearing
from visualiser.inventory.piece import Piece
from visualiser.survey.dangers import in_cable_band
from visualiser.survey.survey import Survey
from visualiser.wording import Length, sentence

STANDING_MM = 2.0
"""How far a lower edge may be from a ledge's top and still stand on it."""


def hook_points(piece: Piece, rect: Rect) -> tuple[tuple[float, float], ...]:
    """Where hooks enter the wall, mm; none for strips, nor where the hanger cannot be as typed.

    What is wrong with a hanger is named when its hooks are worked out, in the hanging plan.
    """
    try:
        found = bearing(piece)
        return found.may_lie_on_wall(rect) if piece.hanger.of.holes else ()
    except HangingError:
        return ()


def standing_on(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> set[str]:
    """Ids of the pieces whose lower edges stand on a ledge."""
    tops = ledges(survey, guidelines)
    return {
        piece_id
        for piece_id, rect in arrangement.rects().items()
        if any(
            abs(rect.bottom_mm - ledge.top_mm) <= STANDING_MM
            and ledge.left_mm - STANDING_MM <= rect.left_mm
            and rect.right_mm <= ledge.right_mm + STANDING_MM
            for ledge in tops
        )
    }


def on_wall(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Iterator[Finding]:
    """Hold the ends of the usable wall against pieces."""
    outline, clear = survey.outline, guidelines.edge_clearance_mm
    for piece_id, rect in arrangement.rects().items():
        name = arrangement.called(piece_id)
        if not outline.contains_rect(rect, TOLERANCE_MM):
            beyond = _beyond(outline.bounds, rect)
            how_far = sentence(" by ", Length(beyond)) if beyond > 0 else ""
            yield Finding(
                "broken",
                sentence(f"{name} reaches past the usable wall", how_far, "."),
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
            measured = (
                sentence(Length(left)) if left < clear else sentence("less than ", Length(clear))
            )
            yield Finding(
                guidelines.severity("edge-clearance"),
                sentence(
                    f"{name} hangs ",
                    measured,
                    " from the wall's end or the ceiling; ",
                    Length(clear),
                    " is asked for.",
                ),
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
    near_cables: dict[str, dict[str, int]] = {}
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
                    sentence(
                        f"{name} hangs ",
                        Length(distance),
                        f" from the {label}; ",
                        Length(clear),
                        " is asked for on every side.",
                    ),
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
            elif near := sum(in_cable_band(zone, x, y) for x, y in hooks):
                hooks_near = near_cables.setdefault(label, {})
                hooks_near[piece_id] = max(near, hooks_near.get(piece_id, 0))
    for label, hooks_near in near_cables.items():
        ids = list(hooks_near)
        several = sum(hooks_near.values()) > 1
        yield Finding(
            guidelines.severity("cable-run", soft="caution"),
            f"{'Hooks' if several else 'A hook'} of {named(arrangement, ids)} "
            f"{'lie' if several else 'lies'} straight above, below or beside the {label}, where "
            "cables may run.",
            "Check with a cable detector before drilling; follow the local wiring rules.",
            "cable-run",
            tuple(ids),
        )


def off_floor(
    arrangement: Arrangement, survey: Survey, guidelines: Guidelines
) -> Iterator[Finding]:
    """Hold the lowest edge and the highest centre against what hangs above a level floor."""
    if not arrangement.placements or not survey.floor_known or floor_rise(survey.outline):
        return
    standing = standing_on(arrangement, survey, guidelines)
    rects = {i: r for i, r in arrangement.rects().items() if i not in standing}
    low = [i for i, r in rects.items() if r.bottom_mm < guidelines.lowest_edge - TOLERANCE_MM]
    if low:
        worst = min(rects[i].bottom_mm for i in low)
        yield Finding(
            guidelines.severity("lowest-edge"),
            sentence(
                f"{named(arrangement, low)} {verb(low, 'hangs', 'hang')} low: ",
                Length(worst),
                " above the floor, where ",
                Length(guidelines.lowest_edge),
                " is the least.",
            ),
            "Raise the group, or leave a piece out.",
            "lowest-edge",
            tuple(low),
        )
    if not rects or door_below(bounding_rect(rects.values()), survey) is not None:
        return
    bounds = bounding_rect(rects.values())
    most = highest_centre(survey, guidelines)
    if bounds.centre_mm[1] > most + TOLERANCE_MM:
        yield Finding(
            guidelines.severity("highest-centre"),
            sentence(
                "The group's centre hangs ",
                Length(bounds.centre_mm[1]),
                " above the floor; ",
                Length(most),
                " is the most that people look up to with ease.",
            ),
            "Lower the group, or hang it beside what takes the wall.",
            "highest-centre",
            tuple(rects),
        )


def across_ledges(
    arrangement: Arrangement, survey: Survey, guidelines: Guidelines
) -> Iterator[Finding]:
    """Hold ledges against frames that would hang across one, or just off it."""
    standing = standing_on(arrangement, survey, guidelines)
    solid = [item.rect for item in survey.furniture if is_ledge(item)]
    for ledge in ledges(survey, guidelines):
        across = [
            i
            for i, r in arrangement.rects().items()
            if i not in standing
            and r.left_mm < ledge.right_mm - TOLERANCE_MM
            and r.right_mm > ledge.left_mm + TOLERANCE_MM
            and r.bottom_mm < ledge.top_mm - STANDING_MM
            and r.top_mm > ledge.top_mm + STANDING_MM
        ]
        if across and ledge not in solid:
            yield Finding(
                "broken",
                sentence(
                    f"{named(arrangement, across)} {verb(across, 'hangs', 'hang')} across "
                    "the picture ledge at ",
                    Length(ledge.top_mm),
                    ".",
                ),
                "Stand it on the ledge, or move it clear.",
                "furniture",
                tuple(across),
            )


def off_furniture(
    arrangement: Arrangement, survey: Survey, guidelines: Guidelines
) -> Iterator[Finding]:
    """Hold furniture against pieces that would hang behind it, or too near above it."""
    least = guidelines.furniture_clearance_min_mm
    standing = standing_on(arrangement, survey, guidelines)
    for item in survey.furniture:
        if is_ledge(item) or is_rail(item):
            continue
        lifts = {
            i: r.bottom_mm - item.rect.top_mm
            for i, r in arrangement.rects().items()
            if r.left_mm < item.rect.right_mm - TOLERANCE_MM
            and r.right_mm > item.rect.left_mm + TOLERANCE_MM
            and i not in standing
            and -TOLERANCE_MM <= r.bottom_mm - item.rect.top_mm < least - TOLERANCE_MM
        }
        if lifts:
            yield Finding(
                guidelines.severity("furniture-clearance"),
                sentence(
                    f"{named(arrangement, list(lifts))} {verb(list(lifts), 'hangs', 'hang')} ",
                    Length(min(lifts.values())),
                    f" above the {item.name or item.kind}; ",
                    Length(least),
                    " is the least.",
                ),
                "Raise the group.",
                "furniture-clearance",
                tuple(lifts),
            )
    for piece_id, rect in arrangement.rects().items():
        for item in survey.furniture:
            if item.rect.overlaps(rect, TOLERANCE_MM):
                name = arrangement.called(piece_id)
                hidden = min(item.rect.top_mm, rect.top_mm) - max(
                    item.rect.bottom_mm, rect.bottom_mm
                )
                lowest = item.rect.bottom_mm <= rect.bottom_mm and item.rect.top_mm < rect.top_mm
                of = "of" if lowest else "of the height of"
                behind = f" {of} {name} hang behind the {item.name or item.kind}."
                yield Finding(
                    "broken",
                    sentence("The lowest " if lowest else "", Length(hidden), behind),
                    "Raise it or move it aside.",
                    "furniture",
                    (piece_id,),
                )


def named(arrangement: Arrangement, piece_ids: Sequence[str]) -> str:
    """Join the names of pieces in the order of the list: ``one, two and three``."""
    place = {piece.id: number for number, piece in enumerate(arrangement.pieces)}
    names = [arrangement.called(i) for i in sorted(piece_ids, key=lambda i: place[i])]
    return " and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)


def verb(piece_ids: Sequence[str], one: str, several: str) -> str:
    """Choose the words for one piece or for several."""
    return several if len(piece_ids) > 1 else one
