"""What in the room places a group, by where its frames hang and not by what the group is called.

A group over a door, either side of a mirror or on cords below a rail keeps to these, so that the
wall's own lines do not count; it stays such a group when one of its frames is moved a little.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Literal

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.furnishings import hangs_on_wall, rail_height
from visualiser.arrangement.guidelines import TOLERANCE_MM, Guidelines
from visualiser.arrangement.space import NEAR_MIDDLE
from visualiser.geometry import Rect, bounding_rect
from visualiser.survey.survey import Survey

PlacedBy = Literal["", "door", "object", "rail"]

LEAST_FLANKED = 0.2
"""Least width and height, over the centre height, of an object that is flanked."""
TALL_FURNITURE = 0.7
"""Height, over the centre height, from which furniture is flanked as an object is."""
WIDEST_OVER_DOOR = 2.0
"""Width of a group over a door, over the door's, at most."""
ON_CORDS = ("picture rail", "by hand")
"""Families that hang from a rail where there is one; others are laid out on the wall itself."""


def placed_by(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> PlacedBy:
    """Find what places a group: a door below it, an object between its halves, or a rail."""
    rects = arrangement.rects().values()
    if not rects:
        return ""
    if door_below(bounding_rect(rects), survey) is not None:
        return "door"
    if any(_parts(item, rects) for item in _flanked(rects, survey, guidelines)):
        return "object"
    rail = rail_height(survey, guidelines)
    if rail is not None and arrangement.family in ON_CORDS:
        return "rail" if bounding_rect(rects).top_mm <= rail + TOLERANCE_MM else ""
    return ""


def door_below(bounds: Rect, survey: Survey) -> Rect | None:
    """Find the door that a group hangs over; None where it hangs over none."""
    for zone in survey.zones:
        door = zone.polygon.bounds
        if (
            zone.kind == "door"
            and door.left_mm < bounds.centre_mm[0] < door.right_mm
            and bounds.bottom_mm >= door.top_mm - TOLERANCE_MM
            and bounds.width_mm <= WIDEST_OVER_DOOR * door.width_mm
        ):
            return door
    return None


def _parts(item: Rect, rects: Collection[Rect]) -> bool:
    """Whether frames hang on both sides of an object, and none over, under or across it."""
    left = [rect.right_mm <= item.left_mm + TOLERANCE_MM for rect in rects]
    right = [rect.left_mm >= item.right_mm - TOLERANCE_MM for rect in rects]
    aside = all(one or other for one, other in zip(left, right, strict=True))
    return aside and any(left) and any(right)


def _flanked(rects: Collection[Rect], survey: Survey, guidelines: Guidelines) -> Iterator[Rect]:
    """Give what a group could hang either side of: beside it, or a bed below its two halves."""
    bounds, centre = bounding_rect(rects), guidelines.centre_height_mm
    wall = survey.outline.bounds
    least = LEAST_FLANKED * centre
    for zone in survey.zones:
        rect, words = zone.polygon.bounds, zone.name.lower().split()
        off = abs(rect.centre_mm[0] - wall.centre_mm[0])
        small = zone.kind in ("thermostat", "switch") and off < NEAR_MIDDLE * wall.width_mm
        object_ = zone.kind in ("window", "door", "other") and "rail" not in words
        large = object_ and min(rect.width_mm, rect.height_mm) >= least
        if (small or large or "corner" in words) and rect.gap_to(bounds)[1] < 0:
            yield rect
    for item in survey.furniture:
        tall = item.rect.top_mm > TALL_FURNITURE * centre and item.kind != "chair"
        if (item.kind == "bed" or hangs_on_wall(item) or tall) and item.rect.width_mm >= least:
            yield item.rect
