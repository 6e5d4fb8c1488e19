"""What a group is placed by, apart from the wall's own lines: ledge, object, door or slope."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.furnishings import hangs_on_wall, is_screen, ledges
from visualiser.arrangement.guidelines import TOLERANCE_MM, Guidelines
from visualiser.arrangement.heights import eye_height
from visualiser.arrangement.measures import PLAIN, Kind, MeasuringContext
from visualiser.arrangement.placing import LEAST_FLANKED, TALL_FURNITURE, placed_by
from visualiser.arrangement.room_rules import standing_on
from visualiser.arrangement.rules import check_arrangement, neighbour_gaps
from visualiser.arrangement.scoring import WEIGHTS, explain
from visualiser.arrangement.setting import (
    NEAR_EYE,
    Setting,
    ceiling_rise,
    describe_hung,
    host_of,
    objects,
    small_in_the_middle,
    stair_rise,
)
from visualiser.geometry import Rect, bounding_rect
from visualiser.survey.survey import Survey

EVENLY_SPACED = ("pair", "row", "triptych", "grid", "grid with a larger piece")
"""Families that may be laid out at another gap than the one aimed at."""
KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "picture rail": "rail",
        "staggered": "staggered",
        "two rows": "rows",
        "three rows": "rows",
        "row of stacks": "stacked row",
        "column": "column",
        "salon hang": "salon",
        "symmetric salon": "salon",
        "boxed group": "salon",
        "fitted group": "salon",
        "around kept pieces": "salon",
    }
)
"""What families are measured as, where that follows from their name alone."""
FLANKS = ("flanking", "two groups", "around a corner", "balanced halves")
AS_PLACED: Mapping[str, str] = MappingProxyType(
    {"": "by hand", "door": "over a door", "object": "flanking", "rail": "picture rail"}
)
"""Families that groups moved by hand are measured as, by what in the room places them."""


@dataclass(frozen=True, slots=True)
class Flanked:
    """An object with a group either side of it."""

    rect: Rect
    name: str
    corner: bool = False
    small: bool = False
    low: bool = False
    """Whether there is wall above it at eye level, where a group usually hangs."""


def flanked_objects(setting: Setting) -> list[Flanked]:
    """Give what pieces may hang either side of, such as mirrors, windows, beds, televisions."""
    survey, rules = setting.survey, setting.guidelines
    least = LEAST_FLANKED * rules.centre_height_mm
    out = []
    for zone in survey.zones:
        rect, name = zone.polygon.bounds, zone.name or zone.kind
        if "corner" in name.lower().split():
            out.append(Flanked(rect, name, corner=True))
        elif zone.kind in ("window", "door", "other") and "rail" not in name.lower().split():
            out.append(Flanked(rect, name))
    for item in survey.furniture:
        tall = item.rect.top_mm > TALL_FURNITURE * rules.centre_height_mm
        if item.kind == "bed" or hangs_on_wall(item) or (tall and item.kind != "chair"):
            low = not hangs_on_wall(item) and item.rect.top_mm < rules.centre_height_mm
            out.append(Flanked(item.rect, item.name or item.kind, low=low))
    wide = 0.7 * setting.space.bounds.width_mm
    out += [
        Flanked(zone.polygon.bounds, zone.name or zone.kind, small=True)
        for zone in small_in_the_middle(setting)
    ]
    return [
        item
        for item in out
        if item.corner
        or item.small
        or (least <= item.rect.width_mm <= wide and item.rect.height_mm >= least)
    ]


def flank_context(rects: Iterable[Rect], setting: Setting) -> MeasuringContext:
    """Give what a group either side of an object is measured with."""
    all_rects = list(rects)
    bounds = bounding_rect(all_rects)
    middle = bounds.centre_mm[0]
    items = sorted(
        flanked_objects(setting),
        key=lambda f: (abs(f.rect.centre_mm[0] - middle), f.rect.left_mm, f.rect.bottom_mm),
    )
    if not items:
        return PLAIN
    rect = items[0].rect
    centre = rect.centre_mm[0]
    inner = min(
        (max(r.left_mm - centre, centre - r.right_mm) for r in all_rects), default=rect.width_mm / 2
    )
    half = max(inner - setting.gap_mm, 1.0)
    low, high = max(rect.bottom_mm, bounds.bottom_mm), min(rect.top_mm, bounds.top_mm)
    if high <= low:
        low, high = bounds.bottom_mm, bounds.top_mm
    on_wall = rect.bottom_mm > TOLERANCE_MM and not (items[0].corner or items[0].small)
    if not on_wall or rect.height_mm > bounds.height_mm:
        # A door or a corner is no picture: it counts as high as the groups beside it.
        low, high = bounds.bottom_mm, bounds.top_mm
    level = level_beside(items[0], setting, bounds.height_mm)
    host = (centre, (low + high) / 2, 2 * half, high - low)
    return MeasuringContext(host, 0.0, "flank", level_mm=level, low=items[0].low)


def level_beside(item: Flanked, setting: Setting, height_mm: float) -> float:
    """Height of the middle of a group so tall beside an object.

    Beside what hangs on the wall it is the object's own, where that is near the eye's.
    """
    eye = eye_height(setting.guidelines, height_mm, setting.space.ceiling_mm)
    own = item.rect.centre_mm[1]
    on_wall = item.rect.bottom_mm > TOLERANCE_MM and not (item.corner or item.small)
    # A screen is hung for people who sit, and what is beside it keeps to its line.
    near = abs(own - eye) < NEAR_EYE * setting.guidelines.centre_height_mm or is_screen(item.name)
    lowest = setting.space.bounds.bottom_mm + height_mm / 2
    return max(own if on_wall and near else eye, lowest)


def standing_context(bounds: Rect, setting: Setting) -> MeasuringContext:
    """Give what a group that stands on ledges is measured with: those that it stands on."""
    tops = ledges(setting.survey, setting.guidelines)
    under = [
        ledge
        for ledge in tops
        if bounds.left_mm < ledge.right_mm
        and bounds.right_mm > ledge.left_mm
        and bounds.bottom_mm - 2 <= ledge.top_mm <= bounds.top_mm
    ] or tops
    if not under:
        return PLAIN
    whole = bounding_rect(under)
    return MeasuringContext((*whole.centre_mm, whole.width_mm, whole.height_mm), 0.0, "standing")


def kind_of(family: str, variant: str) -> Kind:
    """Give what a group is measured as by its family and variant alone."""
    if "full rectangle" in variant:
        return ""
    if "two high" in variant:
        return "salon"
    return KINDS.get(family, "")


def context_of(arrangement: Arrangement, setting: Setting) -> MeasuringContext:
    """Give what a group of this family is measured with; one moved by hand by where it hangs."""
    bounds, family = arrangement.bounds, arrangement.family
    if family == "by hand":
        family = _as_placed(arrangement, setting)
    if family == "stair":
        kind = kind_of(family, arrangement.name)
        return MeasuringContext(rise=stair_rise(setting) or 0.0, kind=kind)
    if family == "around an object":
        for item in objects(setting):
            if bounds.overlaps(item):
                return MeasuringContext(host_of(item, setting), kind="around")
    if family == "ledge":
        return standing_context(bounds, setting)
    if family in FLANKS:
        return flank_context(arrangement.rects().values(), setting)
    if family == "over a door":
        return door_context(bounds, setting)
    if kind := kind_of(family, arrangement.name):
        return MeasuringContext(kind=kind)
    if family == "under a slope":
        return MeasuringContext(rise=ceiling_rise(setting) or 0.0, kind="slope")
    if family in EVENLY_SPACED:
        gaps = [gap for _, _, gap in neighbour_gaps(arrangement.rects())]
        rules = setting.guidelines
        middle = float(np.median(gaps)) if gaps else 0.0
        if rules.gap_min_mm - 0.01 <= middle <= rules.gap_max_mm + 0.01:
            return MeasuringContext(gap_mm=middle)
    return PLAIN


def _as_placed(arrangement: Arrangement, setting: Setting) -> str:
    """Give the family that a group moved by hand is measured as."""
    survey, rules = setting.survey, setting.guidelines
    if standing_on(arrangement, survey, rules) == set(arrangement.rects()):
        return "ledge"
    return AS_PLACED[placed_by(arrangement, survey, rules)]


def door_context(bounds: Rect, setting: Setting) -> MeasuringContext:
    """Give what a group over a door is measured with."""
    for zone in setting.survey.zones:
        door = zone.polygon.bounds
        if zone.kind == "door" and door.left_mm < bounds.centre_mm[0] < door.right_mm:
            host = (*door.centre_mm, door.width_mm, door.height_mm)
            return MeasuringContext(host, 0.0, "door")
    return PLAIN


def evaluate(
    arrangement: Arrangement,
    survey: Survey,
    guidelines: Guidelines,
    *,
    colours: Mapping[str, ArrayLike] | None = None,
    weights: Mapping[str, float] = WEIGHTS,
) -> Arrangement:
    """Score an arrangement as it hangs and hold the rules against it.

    Returns
    -------
    The same places with ``score``, ``terms`` and ``findings`` renewed.

    Raises
    ------
    ArrangementError
        If the wall's outline or a zone crosses itself.
    """
    findings = check_arrangement(arrangement, survey, guidelines)
    if not arrangement.placements:
        return replace(arrangement, score=0.0, terms=(), findings=findings)
    placed = [arrangement.piece(p.piece_id) for p in arrangement.placements]
    setting = describe_hung(placed, survey, guidelines, colours)
    centres = np.array([[p.x_mm, p.y_mm] for p in arrangement.placements])
    score, terms = explain(centres, setting, weights, context_of(arrangement, setting))
    return replace(arrangement, score=score, terms=terms, findings=findings)
