"""The rules held against an arrangement, in plain words with what was measured."""

from __future__ import annotations

import math
from collections.abc import Iterator

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines, rule
from visualiser.arrangement.space import (
    TOLERANCE_MM,
    check_outlines,
    floor_height,
    main_furniture,
)
from visualiser.arrangement.spacing_rules import between
from visualiser.arrangement.wall_rules import off_furniture, off_zones, on_wall
from visualiser.findings import Finding, Severity
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.survey.dangers import protrudes
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
