"""What stands before a wall or hangs on it, and what that is to a group of pictures.

A group hangs above a sofa, stands on a ledge, hangs from a rail and flanks a mirror.
"""

from __future__ import annotations

from visualiser.arrangement.guidelines import TOLERANCE_MM, Guidelines
from visualiser.geometry import Rect
from visualiser.survey.survey import Furniture, Survey

NEAR_ABOVE = 0.9
"""Heights of the wall's lower half, to its middle, within which something above counts."""
TALL_ZONES = ("window", "door", "beam", "radiator")
"""Kinds of zones that take a stretch of wall, unlike a switch."""
_LEDGES = ("ledge", "shelf", "mantelshelf")
_MANTELS = ("mantel", "mantelpiece", "mantelshelf")
_SCREENS = ("tv", "television", "screen")
_ON_WALL = (*_SCREENS, "mirror")
_LEAST_RAIL_MM = 1500.0
"""Height from which a rail is one that pictures hang from, not a dado or a clothes rail: picture
rails run above eye level, common practice, no source."""


def main_furniture(survey: Survey, guidelines: Guidelines) -> Furniture | None:
    """Give the furniture a group belongs above: the widest with free wall over its middle.

    What reaches so high that frames above it would begin over eye level is none, nor is a chair,
    nor what has a television, a mirror or a window over it: there a group hangs beside, or flanks
    that.
    """
    least = guidelines.furniture_clearance_min_mm
    items = [
        item
        for item in survey.furniture
        if item.kind != "chair"
        and item.rect.top_mm + least < guidelines.centre_height_mm
        and not is_ledge(item)
        and not is_rail(item)
        and not hangs_on_wall(item)
        and not taken_above(item, survey)
    ]
    return max(items, key=lambda item: (item.rect.width_mm, -item.rect.left_mm), default=None)


def taken_above(item: Furniture, survey: Survey) -> bool:
    """Whether something takes the wall over the middle of a piece of furniture."""
    middle, top = item.rect.centre_mm[0], item.rect.top_mm
    ceiling = survey.outline.bounds.top_mm
    taken = [z.polygon.bounds for z in survey.zones if z.kind in TALL_ZONES or z.kind == "other"]
    taken += [other.rect for other in survey.furniture if other is not item]
    return any(
        rect.left_mm < middle < rect.right_mm
        and rect.bottom_mm >= top - TOLERANCE_MM
        and rect.bottom_mm < top + NEAR_ABOVE * (ceiling - top) / 2
        and rect.height_mm > 0.08 * ceiling
        for rect in taken
    )


def is_ledge(item: Furniture) -> bool:
    """Whether pieces stand on it: a ledge or shelf on the wall, or a mantel over a fireplace."""
    words = item.name.lower().split()
    on_wall = item.rect.bottom_mm > TOLERANCE_MM
    return any(word in _MANTELS or (on_wall and word in _LEDGES) for word in words)


def is_rail(item: Furniture) -> bool:
    """Whether pieces hang from it on cords: a picture rail, and no curtain or clothes rail."""
    words = item.name.lower().split()
    of_pictures = "rail" in words and ("picture" in words or len(words) == 1)
    return of_pictures and item.rect.bottom_mm >= _LEAST_RAIL_MM


def hangs_on_wall(item: Furniture) -> bool:
    """Whether it hangs on the wall itself, so that pieces flank it; its stand does not."""
    words = item.name.lower().split()
    return item.rect.bottom_mm > TOLERANCE_MM and any(word in words for word in _ON_WALL)


def is_screen(name: str) -> bool:
    """Whether what is so named is a screen that people watch."""
    return any(word in name.lower().split() for word in _SCREENS)


def ledges(survey: Survey, guidelines: Guidelines) -> list[Rect]:
    """Shelves that pieces can stand on; a typed height runs along the whole wall."""
    bounds, clear = survey.outline.bounds, guidelines.edge_clearance_mm
    out = [item.rect for item in survey.furniture if is_ledge(item)]
    if guidelines.ledge_height_mm is not None:
        width = max(bounds.width_mm - 2 * clear, 0.0)
        out.append(Rect(bounds.left_mm + clear, guidelines.ledge_height_mm, width, 0.0))
    return out


def rail_height(survey: Survey, guidelines: Guidelines) -> float | None:
    """Height of the picture rail's lower side: as typed, or of what is named so; None without."""
    if guidelines.picture_rail_mm is not None:
        return guidelines.picture_rail_mm
    found = [item.rect.bottom_mm for item in survey.furniture if is_rail(item)]
    found += [
        zone.polygon.bounds.bottom_mm
        for zone in survey.zones
        if "rail" in zone.name.lower().split() and "picture" in zone.name.lower()
    ]
    return min(found, default=None)
