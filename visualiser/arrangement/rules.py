"""The rules held against an arrangement, in plain words with what was measured."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines, rule
from visualiser.arrangement.space import (
    TOLERANCE_MM,
    check_outlines,
    floor_height,
    main_furniture,
)
from visualiser.errors import HangingError
from visualiser.findings import Finding, Severity
from visualiser.geometry import Rect
from visualiser.inventory.bearing import bearing
from visualiser.inventory.piece import Piece
from visualiser.survey.dangers import in_cable_band, protrudes
from visualiser.survey.survey import Survey


def check_arrangement(
    arrangement: Arrangement, survey: Survey, guidelines: Guidelines
) -> tuple[Finding, ...]:
    """Hold every rule against an arrangement.

    Parameters
    ----------
    arrangement
        Pieces and places; need not come from a proposal.
    survey
        The wall they hang on.
    guidelines
        The rules.

    Returns
    -------
    Findings, broken hard rules first, then cautions, then advice and notes.

    Raises
    ------
    ArrangementError
        If the outline or a zone crosses itself.
    """
    check_outlines(survey)
    found = [
        *between(arrangement, guidelines),
        *on_wall(arrangement, survey, guidelines),
        *off_zones(arrangement, survey, guidelines),
        *off_furniture(arrangement, survey),
        *_group(arrangement, survey, guidelines),
        *_people(arrangement, survey, guidelines),
        *_set(arrangement, guidelines),
    ]
    order: dict[Severity, int] = {"broken": 0, "caution": 1, "advice": 2, "note": 3}
    return tuple(sorted(found, key=lambda finding: order[finding.severity]))


def broken_rules(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Keep the findings that forbid an arrangement."""
    return tuple(finding for finding in findings if finding.severity == "broken")


def _group(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Iterator[Finding]:
    if not arrangement.placements:
        return
    bounds = arrangement.bounds
    ids = tuple(arrangement.rects())
    furniture = main_furniture(survey)
    over = furniture is not None and bounds.gap_to(furniture.rect)[0] < 0
    if furniture is not None and over:
        label = furniture.name or furniture.kind
        share = bounds.width_mm / max(furniture.rect.width_mm, 1e-9)
        low, high = guidelines.furniture_share_min, guidelines.furniture_share_max
        if not low - 0.005 <= share <= high + 0.005:
            yield Finding(
                guidelines.severity("furniture-share"),
                f"The group is {100 * share:.0f} % as wide as the {label}; {100 * low:.0f} to "
                f"{100 * high:.0f} % is usual.",
                "Spread the group, or add a piece." if share < low else "Draw the group together.",
                "furniture-share",
                ids,
            )
        lift = bounds.bottom_mm - furniture.rect.top_mm
        low, high = guidelines.furniture_clearance_min_mm, guidelines.furniture_clearance_max_mm
        if not low - TOLERANCE_MM <= lift <= high + TOLERANCE_MM:
            yield Finding(
                guidelines.severity("furniture-clearance"),
                f"The group hangs {lift:.0f} mm above the {label}; {low:.0f} to {high:.0f} mm "
                "is usual.",
                "Raise the group." if lift < low else "Lower the group.",
                "furniture-clearance",
                ids,
            )
    elif not survey.floor_known:
        yield Finding(
            "note",
            "The floor was not seen, so the height of the centre cannot be checked.",
            "Measure the floor's height under the reference.",
            "centre-height",
            ids,
        )
    elif arrangement.family != "ledge":
        height = bounds.centre_mm[1] - floor_height(survey.outline, bounds.centre_mm[0])
        off = height - guidelines.centre_height_mm
        if abs(off) > guidelines.centre_height_tolerance_mm + TOLERANCE_MM:
            yield Finding(
                guidelines.severity("centre-height"),
                f"The group's centre hangs {height:.0f} mm above the floor, {abs(off):.0f} mm "
                f"{'above' if off > 0 else 'below'} the {guidelines.centre_height_mm:.0f} mm "
                "asked for.",
                "Lower the group." if off > 0 else "Raise the group.",
                "centre-height",
                ids,
            )


def _people(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Iterator[Finding]:
    """Rules about who passes, looks on or lies below."""
    for piece_id, rect in arrangement.rects().items():
        piece, name = arrangement.piece(piece_id), arrangement.called(piece_id)
        if _projects_too_far(rect, piece, guidelines):
            yield Finding(
                guidelines.severity("walkway", soft="caution"),
                f"{name} stands {piece.stand_off_mm:.1f} mm off the wall with its lower edge at "
                f"{rect.bottom_mm:.0f} mm, where {guidelines.walkway_projection_mm:.1f} mm is "
                "the limit beside a public way.",
                f"Use a shallower frame ({rule('walkway').source}); local codes decide.",
                "walkway",
                (piece_id,),
            )
        if guidelines.viewing_distance_mm:
            angle = math.degrees(
                2
                * math.atan(min(rect.width_mm, rect.height_mm) / 2 / guidelines.viewing_distance_mm)
            )
            if angle < guidelines.smallest_angle_deg:
                yield Finding(
                    guidelines.severity("smallest-piece"),
                    f"{name} fills {angle:.1f}° of view from "
                    f"{guidelines.viewing_distance_mm / 1000:.1f} m; below "
                    f"{guidelines.smallest_angle_deg:g}° it looks lost.",
                    "Go up a size, or hang it where people come closer.",
                    "smallest-piece",
                    (piece_id,),
                )
        for item in survey.furniture:
            if item.kind in ("bed", "cot") and rect.gap_to(item.rect)[0] < 0:
                yield Finding(
                    "caution",
                    f"{name} hangs over the {item.name or item.kind}, where it could fall on "
                    "somebody.",
                    "Keep heavy and glazed pieces from over beds; use closed hooks and fixings "
                    "that cannot let go (FEMA 528, 2014).",
                    "over-bed",
                    (piece_id,),
                )


def _projects_too_far(rect: Rect, piece: Piece, guidelines: Guidelines) -> bool:
    """Whether a piece stands out too far into a public way, by the limits that hold here."""
    return guidelines.walkway and protrudes(
        rect.bottom_mm,
        piece.stand_off_mm,
        above_mm=guidelines.walkway_low_mm,
        up_to_mm=guidelines.walkway_high_mm,
        most_mm=guidelines.walkway_projection_mm,
    )


def _set(arrangement: Arrangement, guidelines: Guidelines) -> Iterator[Finding]:
    placed = [arrangement.piece(p.piece_id) for p in arrangement.placements]
    sizes = {tuple(sorted((round(p.width_mm), round(p.height_mm)))) for p in placed}
    finishes = {p.moulding.finish if p.moulding else "unframed" for p in placed}
    if guidelines.one_finish and len(sizes) > 1 and len(finishes) > 2:
        yield Finding(
            guidelines.severity("one-finish"),
            f"{len(sizes)} sizes hang in {len(finishes)} finishes: {', '.join(sorted(finishes))}.",
            "One finish, or two at most, ties a mixed set together.",
            "one-finish",
            tuple(p.id for p in placed),
        )
    hung = {p.id for p in placed}
    if left := [p for p in arrangement.pieces if p.id not in hung]:
        yield Finding(
            "note",
            f"{len(left)} of {len(arrangement.pieces)} pieces are not hung: "
            f"{', '.join(p.called for p in left)}.",
            "",
            "not-hung",
            tuple(p.id for p in left),
        )


def between(arrangement: Arrangement, guidelines: Guidelines) -> Iterator[Finding]:
    """Hold gaps between pieces against the rules."""
    rects = arrangement.rects()
    for (one, a), (two, b) in combinations(rects.items(), 2):
        distance = a.distance_to(b)
        if a.overlaps(b, TOLERANCE_MM):
            yield Finding(
                "broken",
                f"{arrangement.called(one)} and {arrangement.called(two)} overlap by "
                f"{-distance:.0f} mm.",
                "Move one of them aside.",
                "overlap",
                (one, two),
            )
        elif distance < guidelines.gap_min_mm - TOLERANCE_MM:
            yield Finding(
                guidelines.severity("gap-min"),
                f"{arrangement.called(one)} and {arrangement.called(two)} are {distance:.0f} mm "
                f"apart, less than {guidelines.gap_min_mm:.0f} mm.",
                "Move them apart or lower the least gap.",
                "gap-min",
                (one, two),
            )
    for one, two, gap in neighbour_gaps(rects):
        if gap > guidelines.gap_max_mm + TOLERANCE_MM:
            yield Finding(
                guidelines.severity("gap"),
                f"The gap between {arrangement.called(one)} and {arrangement.called(two)} is "
                f"{gap:.0f} mm; {guidelines.gap_min_mm:.0f} to {guidelines.gap_max_mm:.0f} mm "
                "holds a group together.",
                "Close it up, if no line of the group asks for it.",
                "gap",
                (one, two),
            )


def neighbour_gaps(rects: dict[str, Rect]) -> list[tuple[str, str, float]]:
    """Clear gaps between pieces that face each other with nothing in between, mm.

    Each is (left or lower piece, right or upper piece, gap).
    """
    out = []
    for (one, a), (two, b) in combinations(rects.items(), 2):
        across, up = a.gap_to(b)
        if (across > 0) == (up > 0):
            continue
        between = _between_rect(a, b)
        if any(r.overlaps(between) for i, r in rects.items() if i not in (one, two)):
            continue
        first = a.left_mm < b.left_mm if across > 0 else a.bottom_mm < b.bottom_mm
        out.append((one, two, max(across, up)) if first else (two, one, max(across, up)))
    return out


def _between_rect(a: Rect, b: Rect) -> Rect:
    """Rectangle that fills the space between two facing rectangles."""
    xs = sorted([a.left_mm, a.right_mm, b.left_mm, b.right_mm])[1:3]
    ys = sorted([a.bottom_mm, a.top_mm, b.bottom_mm, b.top_mm])[1:3]
    return Rect(xs[0], ys[0], xs[1] - xs[0], ys[1] - ys[0])


def hook_points(piece: Piece, rect: Rect) -> tuple[tuple[float, float], ...]:
    """Where hooks enter the wall, mm; none for strips, nor where the hanger cannot be as told.

    What is wrong with a hanger is named when its hooks are worked out, in the hanging plan.
    """
    try:
        found = bearing(piece)
        return found.may_lie_on_wall(rect) if piece.hanger.of.holes else ()
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
