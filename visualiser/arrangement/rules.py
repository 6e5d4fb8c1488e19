"""The rules held against an arrangement, in plain words with what was measured."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.furnishings import main_furniture
from visualiser.arrangement.guidelines import TOLERANCE_MM, Guidelines, rule
from visualiser.arrangement.heights import eye_height
from visualiser.arrangement.placing import placed_by
from visualiser.arrangement.room_rules import (
    across_ledges,
    named,
    off_floor,
    off_furniture,
    off_zones,
    on_wall,
    standing_on,
    verb,
)
from visualiser.arrangement.slopes import floor_height, floor_rise
from visualiser.arrangement.space import check_outlines
from visualiser.findings import Finding, gravest_first
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.survey.dangers import protrudes
from visualiser.survey.survey import Survey
from visualiser.wording import Length, Lengths, sentence

MOST_DRAWN_TOGETHER = 1.0
"""Share of the furniture's width up to which a group may come within the usual one by narrower
gaps or another order; a wider one takes too much whatever its order."""


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
        *between(arrangement, survey, guidelines),
        *on_wall(arrangement, survey, guidelines),
        *off_zones(arrangement, survey, guidelines),
        *off_furniture(arrangement, survey, guidelines),
        *across_ledges(arrangement, survey, guidelines),
        *off_floor(arrangement, survey, guidelines),
        *_group(arrangement, survey, guidelines),
        *_people(arrangement, survey, guidelines),
        *_set(arrangement, guidelines),
    ]
    return gravest_first(found)


def broken_rules(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Keep the findings that forbid an arrangement."""
    return tuple(finding for finding in findings if finding.severity == "broken")


def _group(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Iterator[Finding]:
    if not arrangement.placements:
        return
    rects = arrangement.rects()
    bounds, ids = arrangement.bounds, tuple(rects)
    if standing_on(arrangement, survey, guidelines) == set(ids):
        return
    if placed_by(arrangement, survey, guidelines):
        return
    furniture = main_furniture(survey, guidelines)
    over = (
        furniture is not None
        and bounds.gap_to(furniture.rect)[0] < 0
        and furniture.rect.left_mm < bounds.centre_mm[0] < furniture.rect.right_mm
    )
    if furniture is not None and over:
        label = furniture.name or furniture.kind
        share = bounds.width_mm / max(furniture.rect.width_mm, 1e-9)
        low, high = guidelines.furniture_share_min, guidelines.furniture_share_max
        if not low - 0.005 <= share <= high + 0.005:
            alone = len(ids) == 1
            what = arrangement.called(ids[0]) if alone else "The group"
            larger = "Choose a larger one" if alone else "Spread the group"
            smaller = "Draw it together, or leave a piece out"
            least, most = _widths_in_reach(list(rects.values()), guidelines)
            if alone or share > MOST_DRAWN_TOGETHER or least > high * furniture.rect.width_mm:
                smaller = "Choose a smaller one" if alone else "Choose smaller pieces, or fewer"
            if not alone and most < low * furniture.rect.width_mm:
                larger = "Choose larger pieces"
            yield Finding(
                guidelines.severity("furniture-share"),
                f"{what} is {100 * share:.0f} % as wide as the {label}; {100 * low:.0f} to "
                f"{100 * high:.0f}\u00a0% is usual.",
                f"{larger}, or add a piece." if share < low else f"{smaller}.",
                "furniture-share",
                ids,
            )
        lift = bounds.bottom_mm - furniture.rect.top_mm
        low, high = guidelines.furniture_clearance_min_mm, guidelines.furniture_clearance_max_mm
        if lift > high + TOLERANCE_MM and bounds.bottom_mm > guidelines.lowest_edge + TOLERANCE_MM:
            yield Finding(
                "advice",
                sentence(
                    "The group hangs ",
                    Length(lift),
                    f" above the {label}; ",
                    Lengths((low, high), " to "),
                    " is usual.",
                ),
                _remedy(arrangement, survey, guidelines, high - lift),
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
    else:
        height = bounds.centre_mm[1] - floor_height(survey.outline, bounds.centre_mm[0])
        rest = guidelines.centre_height_mm
        if not floor_rise(survey.outline):
            rest = eye_height(guidelines, bounds.height_mm, survey.outline.bounds.top_mm)
        off = height - rest
        if abs(off) > guidelines.centre_height_tolerance_mm + TOLERANCE_MM:
            yield Finding(
                guidelines.severity("centre-height"),
                sentence(
                    "The group's centre hangs ",
                    Length(height),
                    " above the floor, ",
                    Length(abs(off)),
                    f" {('above' if off > 0 else 'below')} the ",
                    Length(rest),
                    " where a group so tall rests.",
                ),
                _remedy(arrangement, survey, guidelines, rest - height),
                "centre-height",
                ids,
            )


def _widths_in_reach(rects: list[Rect], guidelines: Guidelines) -> tuple[float, float]:
    """Least and greatest width of a row at gaps that hold it together; of other groups any."""
    if max(r.bottom_mm for r in rects) >= min(r.top_mm for r in rects):
        return 0.0, math.inf
    own, gaps = sum(r.width_mm for r in rects), len(rects) - 1
    return own + gaps * guidelines.gap_min_mm, own + gaps * guidelines.gap_max_mm


def _remedy(arrangement: Arrangement, survey: Survey, guidelines: Guidelines, up_mm: float) -> str:
    """Say to move a group by ``up_mm``, or what to do where that would break a hard rule."""
    moved = replace(
        arrangement,
        placements=tuple(replace(p, y_mm=p.y_mm + up_mm) for p in arrangement.placements),
    )
    room = (on_wall, off_zones, off_furniture, across_ledges, off_floor)
    before, after = (
        broken_rules(tuple(found for check in room for found in check(one, survey, guidelines)))
        for one in (arrangement, moved)
    )
    if len(after) > len(before):
        return "There is no room for it there: fewer or smaller pieces would come nearer."
    return "Raise the group." if up_mm > 0 else "Lower the group."


def _people(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Iterator[Finding]:
    """Rules about who passes, looks on or lies below; one finding each, for all they concern."""
    rects = arrangement.rects()
    far = [i for i, r in rects.items() if _projects_too_far(r, arrangement.piece(i), guidelines)]
    if far:
        worst = max(far, key=lambda i: arrangement.piece(i).stand_off_mm)
        yield Finding(
            guidelines.severity("walkway", soft="caution"),
            sentence(
                f"{named(arrangement, far)} {verb(far, 'stands', 'stand')} up to ",
                Length(arrangement.piece(worst).stand_off_mm, 1),
                f" off the wall with {verb(far, 'its lower edge', 'lower edges')} from ",
                Length(min(rects[i].bottom_mm for i in far)),
                " above the floor, where ",
                Length(guidelines.walkway_projection_mm, 1),
                " is the limit beside a public way.",
            ),
            f"Use a shallower frame ({rule('walkway').source}); local codes decide.",
            "walkway",
            tuple(far),
        )
    away = guidelines.viewing_distance_mm
    if away:
        angles = {
            i: math.degrees(2 * math.atan(min(r.width_mm, r.height_mm) / 2 / away))
            for i, r in rects.items()
        }
        small = [i for i, angle in angles.items() if angle < guidelines.smallest_angle_deg]
        if small:
            least = min(angles[i] for i in small)
            fills = f"{'only ' if small[1:] else ''}{least:.1f}°"
            yield Finding(
                guidelines.severity("smallest-piece"),
                sentence(
                    f"{named(arrangement, small)} {verb(small, 'fills', 'fill')} {fills} of view "
                    "from ",
                    Length(away),
                    f"; below {guidelines.smallest_angle_deg:g}° a piece looks lost.",
                ),
                "Go up a size, or hang it where people come closer.",
                "smallest-piece",
                tuple(small),
            )
    for item in survey.furniture:
        over = [i for i, r in rects.items() if r.gap_to(item.rect)[0] < 0]
        if item.kind in ("bed", "cot") and over:
            yield Finding(
                "caution",
                f"{named(arrangement, over)} {verb(over, 'hangs', 'hang')} over the "
                f"{item.name or item.kind}, where {verb(over, 'it', 'they')} could fall on "
                "somebody.",
                "Keep heavy and glazed pieces from over beds; use closed hooks and fixings "
                "that cannot let go (FEMA 528, 2014).",
                "over-bed",
                tuple(over),
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


def between(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Iterator[Finding]:
    """Hold gaps between pieces against the rules; those that stand on a ledge may overlap."""
    rects = arrangement.rects()
    standing = standing_on(arrangement, survey, guidelines)
    for (one, a), (two, b) in combinations(rects.items(), 2):
        distance = a.distance_to(b)
        if one in standing and two in standing:
            continue
        if a.overlaps(b, TOLERANCE_MM):
            yield Finding(
                "broken",
                sentence(
                    f"{arrangement.called(one)} and {arrangement.called(two)} overlap by ",
                    Length(-distance),
                    ".",
                ),
                "Move one of them aside.",
                "overlap",
                (one, two),
            )
        elif distance < guidelines.gap_min_mm - TOLERANCE_MM:
            yield Finding(
                guidelines.severity("gap-min"),
                sentence(
                    f"{arrangement.called(one)} and {arrangement.called(two)} are ",
                    Length(distance),
                    " apart, less than ",
                    Length(guidelines.gap_min_mm),
                    ".",
                ),
                "Move them apart or lower the least gap.",
                "gap-min",
                (one, two),
            )
    taken = [zone.polygon.bounds for zone in survey.zones]
    taken += [item.rect for item in survey.furniture]
    wide = [
        (one, two, gap)
        for one, two, gap in _nearest_gaps(rects)
        if gap > guidelines.gap_max_mm + TOLERANCE_MM
        and not (one in standing and two in standing)
        and not any(_between_rect(rects[one], rects[two]).overlaps(rect) for rect in taken)
    ]
    if wide and not placed_by(arrangement, survey, guidelines):
        one, two, gap = max(wide, key=lambda item: item[2])
        which = "The gap" if len(wide) == 1 else f"{len(wide)} gaps are wide: the widest,"
        yield Finding(
            guidelines.severity("gap"),
            sentence(
                f"{which} between {arrangement.called(one)} and "
                f"{arrangement.called(two)}{('' if len(wide) == 1 else ',')} is ",
                Length(gap),
                "; ",
                Lengths((guidelines.gap_min_mm, guidelines.gap_max_mm), " to "),
                " holds a group together.",
            ),
            f"Close {'it' if len(wide) == 1 else 'them'} up, where no line of edges asks for more.",
            "gap",
            tuple(dict.fromkeys(i for pair in wide for i in pair[:2])),
        )


TOUCH_MM = 0.5
"""Overlap up to which frames touch, and are not hung over each other."""


def neighbour_gaps(rects: dict[str, Rect]) -> list[tuple[str, str, float]]:
    """Clear gaps between pieces that face each other with nothing in between, mm.

    Each is (left or lower piece, right or upper piece, gap). Pieces that touch face each other
    too, and so do those that overlap by a hair: their gap is 0 or just below.
    """
    out = []
    for (one, a), (two, b) in combinations(rects.items(), 2):
        across, up = a.gap_to(b)
        touch = -TOUCH_MM < max(across, up) <= 0 and min(across, up) < -TOUCH_MM
        if (across > 0) == (up > 0) and not touch:
            continue
        between = _between_rect(a, b)
        hair = TOUCH_MM if touch else 1e-6
        if any(r.overlaps(between, hair) for i, r in rects.items() if i not in (one, two)):
            continue
        first = a.left_mm < b.left_mm if across > up else a.bottom_mm < b.bottom_mm
        out.append((one, two, max(across, up)) if first else (two, one, max(across, up)))
    return out


def _nearest_gaps(rects: dict[str, Rect]) -> list[tuple[str, str, float]]:
    """Keep the gaps to the nearest piece on a side: what shows over others' edges is none."""
    gaps = neighbour_gaps(rects)
    nearest: dict[tuple[str, bool, bool], float] = {}
    sides = []
    for one, two, gap in gaps:
        apart = rects[one].gap_to(rects[two])
        across = apart[0] > apart[1]
        own = (one, across, True), (two, across, False)
        sides.append(own)
        for side in own:
            nearest[side] = min(gap, nearest.get(side, gap))
    return [
        item
        for item, own in zip(gaps, sides, strict=True)
        if any(item[2] <= nearest[side] + TOLERANCE_MM for side in own)
    ]


def _between_rect(a: Rect, b: Rect) -> Rect:
    """Rectangle that fills the space between two facing rectangles."""
    xs = sorted([a.left_mm, a.right_mm, b.left_mm, b.right_mm])[1:3]
    ys = sorted([a.bottom_mm, a.top_mm, b.bottom_mm, b.top_mm])[1:3]
    return Rect(xs[0], ys[0], xs[1] - xs[0], ys[1] - ys[0])
