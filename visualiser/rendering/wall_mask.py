"""Which pixels of a photo show the wall, for new paint and for what stands before it.

The wall is one surface: the region around the reference, up to the borders that stand out from its
own unevenness, and to the plumb and level edges, however faint, that bound a part of it: a white
door, radiator or ceiling beside a white wall. Further parts, between leaves or beyond a lamp's
pole, are wall if they have the very light expected there and something lies between; what only a
line parts from the wall is a thing of its colour, such as a door. What cannot be told is offered
for a tap, and not painted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb, shrink_linear
from visualiser.photo.photo import PixelsRgb
from visualiser.rendering.framed_areas import framed_areas
from visualiser.rendering.further_parts import (
    LIKE_TINT,
    LIKE_TONE,
    WORTH_A_TAP,
    WallView,
    further_parts,
    strange_parts,
    tone_and_tint,
)
from visualiser.rendering.parted_surfaces import parted_surfaces
from visualiser.rendering.straight_borders import (
    LEAST_EDGE_MM,
    StraightBorders,
    straight_borders,
    wall_grid,
)
from visualiser.rendering.surface_regions import RegionTree, merge_surfaces
from visualiser.rendering.wall_matte import WallMatte, matte_wall
from visualiser.survey.light import WallLight, at_pixels
from visualiser.survey.survey import Survey

Mask = NDArray[np.bool_]

_WORKING_SIDE_PX = 800
_LEVELS = (7.0, 10.0)
"""Strengths of border among which the wall's own unevenness ends, in noise."""
_RING_SHARE, _BEYOND_OWN = 0.8, 1.5
"""Borders half as strong again as those that part a fifth of the ring from its rest bound it."""
_FINER = 0.5
"""Parts of the surface are looked at one by one between borders of so much of its strength."""
_LEAST_RING = 0.4
"""Of the ring around the reference, so much must be one surface; on patterned walls it is not."""
_PATTERN = 0.1
"""Spread of log light in the ring beyond which it is not one paint."""
_GLOW_SHARE = 0.15
"""What changes over more than this share of the ring's size is light: a letter sheet's ring is
some 700 mm across, and its bricks or printed leaves are smaller than 100 mm."""
_LINING_TONE, _LINING_TINT = 0.7, 0.2
"""As a lamp beside it may make a door's lining differ from the wall."""
_STRANGE_TONE, _STRANGE_TINT = 0.9, 0.25
"""Logarithm of light against the wall's: what differs more is another thing, not a door or ceiling
of the wall's paint."""
_NOT_WALL = frozenset({"switch", "socket", "thermostat", "radiator", "window", "door"})


@dataclass(frozen=True, slots=True)
class WallTap:
    """A person's word on one spot: its region is wall, or it is not.

    Parameters
    ----------
    x_px, y_px
        The spot in the photo.
    wall
        Whether its region is added to the wall or taken away from it.
    """

    x_px: float
    y_px: float
    wall: bool

    def mapped(self, move: Callable[[PointsPx], PointsPx]) -> WallTap:
        """Mark the same spot in another view of the photo."""
        x, y = move(np.array([[self.x_px, self.y_px]]))[0]
        return WallTap(float(x), float(y), self.wall)


@dataclass(frozen=True, slots=True, eq=False)
class WallMask:
    """The wall in a photo, at reduced size, with what the full size is computed from.

    Parameters
    ----------
    wall
        (h, w) whether each element is wall.
    unsure
        (h, w) what may be wall and is not painted: worth a tap.
    matte
        How to share single pixels between the wall and what stands before it.
    tree
        Regions that a tap can add or take away.
    shrink
        Elements to one photo pixel.
    things
        (h, w) what stands on the floor before the wall.
    covered
        Share of the usable wall in view that is wall, 0 to 1.
    """

    wall: Mask
    unsure: Mask
    matte: WallMatte
    tree: RegionTree
    shrink: float
    things: Mask
    covered: float

    def share(self, pixels: PixelsRgb) -> NDArray[np.float32]:
        """Share (H, W) of each pixel that shows the wall, 0 to 1."""
        return self.matte.rows(pixels, 0).share


def find_wall_mask(
    pixels: PixelsRgb,
    survey: Survey,
    light: WallLight,
    *,
    taps: Sequence[WallTap] = (),
    hidden_px: Sequence[PointsPx] = (),
) -> WallMask:
    """Find the wall in a photo.

    Parameters
    ----------
    pixels
        (H, W, 3) the photo.
    survey
        Its survey; doors, windows and fittings among its zones are not wall.
    light
        Light on the wall.
    taps
        Regions that a person added or took away, in this order.
    hidden_px
        Outlines, each (N, 2) photo px, of what was painted out and is wall now.
    """
    shrink = min(1.0, _WORKING_SIDE_PX / max(pixels.shape[:2]))
    height, width = (max(round(n * shrink), 2) for n in pixels.shape[:2])
    small = shrink_linear(pixels, width, height)
    assert survey.plane is not None

    def drawn(outline: PointsPx) -> Mask:
        mask = np.zeros((height, width), np.uint8)
        corners = np.clip((np.asarray(outline, float) + 0.5) * shrink - 0.5, -3e4, 3e4)
        cv2.fillPoly(mask, [np.round(corners * 16).astype(np.int32)], 1, shift=4)
        return mask > 0

    sheet = survey.plane.reference_corners_px
    middle = sheet.mean(axis=0)
    ring = drawn(middle + 3.0 * (sheet - middle)) & ~drawn(middle + 1.4 * (sheet - middle))
    white = at_pixels(light.white, light.step_px * shrink, 0, 0, width, height)
    expected = np.asarray(np.maximum(white * light.wall_reflectance, 1e-4), np.float32)
    edges = straight_borders(small, survey, shrink, ring)
    borders = edges.either
    tree = merge_surfaces(small, ring, borders)
    main, strength = _main_surface(tree, ring)
    main &= ~strange_parts(tree, _FINER * strength, main, small, expected)
    side_mm = np.linalg.norm(survey.to_wall(sheet[:1]) - survey.to_wall(sheet[1:2]))
    least_px = LEAST_EDGE_MM * shrink * float(np.linalg.norm(sheet[0] - sheet[1]) / side_mm)
    main &= ~parted_surfaces(main, borders, ring & main, least_px)
    hidden = np.zeros((height, width), bool)
    for outline in hidden_px:
        hidden |= drawn(outline)
    barred = np.zeros((height, width), bool)
    for zone in survey.zones:
        if zone.kind in _NOT_WALL:
            barred |= drawn(survey.to_photo(np.array(list(zone.polygon))))
    barred |= drawn(middle + 1.06 * (sheet - middle))
    barred &= ~hidden
    found = _plain(small, expected, main, ring)
    start = (main & ~barred) | hidden if found else hidden
    calm = matte_wall(small, expected, start).wall_light
    x_mm, height_mm = wall_grid(survey, small.shape, shrink)
    floor_mm = survey.outline.bounds.bottom_mm if survey.floor_known else -np.inf
    view = WallView(small, calm, height_mm, floor_mm)
    wall, unsure = further_parts(tree, strength, start, view)
    wall, unsure = _bounded(wall, unsure, edges, start, small, calm, least_px)
    further = wall & ~start
    pictures = framed_areas(~start, x_mm, height_mm) | framed_areas(further, x_mm, height_mm)
    pictures &= further
    wall, unsure = wall & ~pictures, unsure | pictures
    wall, unsure = (wall | hidden) & ~barred, unsure & ~barred & ~hidden
    for tap in taps:
        region = _tapped(tree, tap, shrink, strength, ring)
        wall, unsure = (wall | region) if tap.wall else (wall & ~region), unsure & ~region
    things = _standing(~wall & ~unsure & ~barred, wall, height_mm, floor_mm)
    usable = drawn(survey.to_photo(np.array(list(survey.outline)))) & ~barred
    covered = float((wall & usable).sum() / max(usable.sum(), 1))
    matte = matte_wall(small, expected, wall)
    return WallMask(wall, unsure, matte, tree, shrink, things, covered)


_CRUMB_SHARE, _BROKEN, _CRUMBS = 0.02, 0.4, 0.01
"""A piece of less than the first share of the surface is a crumb of it. With the second share of
crumbs a surface is broken up (0.76 on a dark wall in JPEG blocks, 0.26 at most on 20 others); with
less than the third it is whole again. Ours."""


def _plain(small: LinearRgb, expected: LinearRgb, main: Mask, ring: Mask) -> bool:
    """Whether the wall around the reference is one paint, and not a pattern or bare bricks."""
    if not ring.any() or main[ring].mean() < _LEAST_RING:
        return False
    # The noise of a dark wall is no pattern, nor is a lamp's glow that falls off across it.
    calm = np.asarray(cv2.GaussianBlur(small, (0, 0), 1.5), np.float32)
    seen = (main & ring).astype(np.float32)
    tone = np.asarray(np.log(np.maximum(calm, 1e-4) / expected) @ LUMINANCE_32, np.float32)
    wide = _GLOW_SHARE * np.sqrt(float(ring.sum()))
    weight = np.maximum(cv2.GaussianBlur(seen, (0, 0), wide), 1e-6)
    fine = tone - cv2.GaussianBlur(tone * seen, (0, 0), wide) / weight
    low, high = np.percentile(fine[main & ring], (16, 84))
    return bool((high - low) / 2 < _PATTERN)


def _main_surface(tree: RegionTree, ring: Mask) -> tuple[Mask, float]:
    """Find the surface around the reference, and the strength of border that it ends at.

    How strong the borders are that dissolve within the ring says how uneven the wall itself is.
    """
    if not ring.any():
        return np.zeros_like(ring), _LEVELS[0]
    inside = np.bincount(tree.patches[ring], minlength=tree.merged.shape[1])
    at = int(np.searchsorted(tree.levels, _LEVELS[0]))
    most = int(np.bincount(tree.merged[at], weights=inside).argmax())
    members = tree.merged[at] == most
    home = int(np.argmax(np.where(members, inside, -1)))
    # What stays apart at every strength in question is a thing hung there: it says nothing.
    own = tree.barrier(home)[tree.patches[ring]]
    uneven = float(np.percentile(own[own <= _LEVELS[1]], 100 * _RING_SHARE))
    strength = float(np.clip(_BEYOND_OWN * uneven, *_LEVELS))
    seed = int(np.flatnonzero(tree.patches.ravel() == home)[0])
    strength = _settled(tree, seed, strength)
    regions = tree.regions(strength)
    return regions == regions.flat[seed], strength


def _settled(tree: RegionTree, seed: int, strength: float) -> float:
    """Raise a strength until a surface that coding has broken up has taken in its own crumbs.

    Blocks of a dark wall's JPEG leave it in many small pieces; a few are there on every wall, and
    are no reason to let a door or a ceiling join it.
    """
    last = tree.regions(_LEVELS[1])
    whole = last == last.flat[seed]
    for level in (strength, *(v for v in tree.levels.tolist() if strength < v < _LEVELS[1])):
        regions = tree.regions(level)
        area = np.bincount(regions[whole], minlength=int(regions.max()) + 1)
        main = area[regions.flat[seed]]
        crumbs = area[(area > 0) & (area < _CRUMB_SHARE * main)].sum()
        if crumbs < (_BROKEN if level == strength else _CRUMBS) * main:
            return float(level)
    return _LEVELS[1]


def _bounded(
    wall: Mask,
    unsure: Mask,
    edges: StraightBorders,
    main: Mask,
    small: LinearRgb,
    calm: LinearRgb,
    least_px: float,
) -> tuple[Mask, Mask]:
    """Take from the wall what straight borders part from its main surface: that is unsure."""
    seen = np.asarray(cv2.GaussianBlur(small, (0, 0), 1.0), np.float32)
    ratio = np.log(np.maximum(seen, 1e-4) / np.maximum(calm, 1e-4))
    tone, tint = tone_and_tint(ratio)
    strange = (np.abs(tone) > _STRANGE_TONE) | (tint > _STRANGE_TINT)
    borders = edges.along(np.asarray(main | ~strange))
    parted = np.zeros_like(wall)
    # A door's lining by a lamp is lighter than the wall may be, and still no thing before it.
    for most_tone, most_tint in ((LIKE_TONE, LIKE_TINT), (_LINING_TONE, _LINING_TINT)):
        like = (np.abs(tone) < most_tone) & (tint < most_tint)
        parted |= parted_surfaces(wall | like, borders, main, least_px)
    parted |= _beyond_parted(wall & ~parted, parted, main)
    _, labels, stats, _ = cv2.connectedComponentsWithStats((parted & wall).astype(np.uint8))
    large = stats[:, cv2.CC_STAT_AREA] > WORTH_A_TAP * wall.size
    large[0] = False
    return wall & ~parted, unsure | large[labels]


def _beyond_parted(wall: Mask, parted: Mask, main: Mask) -> Mask:
    """Find parts of the wall that lie nearer to what is parted from it: a door beyond a pole."""
    _, found = cv2.connectedComponents(wall.astype(np.uint8))
    labels = np.asarray(found, np.int32)
    joined = np.isin(labels, np.unique(labels[main & wall])) & wall
    islands = wall & ~joined
    if not (islands.any() and parted.any() and joined.any()):
        return np.zeros_like(wall)
    count = int(labels.max()) + 1
    nearest = []
    for source in (joined, parted):
        away = cv2.distanceTransform((~source).astype(np.uint8), cv2.DIST_L2, 3)
        least = np.full(count, np.inf)
        np.minimum.at(least, labels[islands], away[islands])
        nearest.append(least)
    nearer = nearest[1] < nearest[0]
    nearer[0] = False
    return np.asarray(islands & nearer[labels])


def _standing(strange: Mask, wall: Mask, height_mm: NDArray[np.float64], floor_mm: float) -> Mask:
    """Choose what reaches down past the wall's foot: it stands before the wall, or is its frame."""
    if not wall.any():
        return np.zeros_like(wall)
    low, high = np.percentile(height_mm[wall], (0.5, 99.5))
    low = max(float(low), floor_mm)
    _, found = cv2.connectedComponents((strange & (height_mm < high)).astype(np.uint8))
    foot = height_mm < low
    foot[-1] = True
    standing = np.unique(found[foot & (found > 0)])
    return np.asarray(np.isin(found, standing) & (found > 0))


def _tapped(tree: RegionTree, tap: WallTap, shrink: float, strength: float, ring: Mask) -> Mask:
    """Find the largest region around a spot that the reference's surface is no part of."""
    rows, columns = tree.patches.shape
    x = int(np.clip(round((tap.x_px + 0.5) * shrink - 0.5), 0, columns - 1))
    y = int(np.clip(round((tap.y_px + 0.5) * shrink - 0.5), 0, rows - 1))
    patch = int(tree.patches[y, x])
    home = int(np.bincount(tree.patches[ring]).argmax()) if ring.any() else -1
    region = np.asarray(tree.patches == patch)
    for k, level in enumerate(tree.levels):
        joined = tree.merged[k] == tree.merged[k, patch]
        if level > strength or (home >= 0 and joined[home]):
            break
        region = np.asarray(joined[tree.patches])
    return region
