"""Which pixels show bare wall, told from doors and furniture of the same colour.

Colour alone cannot tell a white door from a white wall, nor brightness a lamp's glow from another
paint. So the wall is followed outward from the reference: over slow changes of light, glows and
shadows, up to the edges of whatever stands before it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LUMINANCE_32, shrink_linear
from visualiser.photo.photo import PixelsRgb
from visualiser.rendering.sight_lines import Field
from visualiser.survey.light import WallLight, at_pixels, inside_polygon
from visualiser.survey.survey import Survey

_WORKING_SIDE_PX = 900
_NODE_PX = 8
_NOT_WALL = {"switch", "socket", "thermostat", "radiator", "window", "door"}
_DARKEST, _BRIGHTEST = -1.7, 1.3
"""Log light of the deepest shadow and of a lamp's glow, against the light on the wall around."""
_SLOW_PX, _EDGE, _MOST_EDGE, _EDGE_NOISE = 2.0, 0.016, 0.06, 5.0
"""An edge stands out from its surroundings of 2 px by 1.6 %, or by five times the noise,
or by 6 %."""
_FOOT, _FOOT_PX, _FOOT_LIGHT = 0.3, 5, 0.15
"""What stands out less than 0.3 of its neighbours within 5 px is only the foot of their edge."""
_LINE_PX, _THING_SHARE = 25, 0.2
"""A line with the feet of its edge is up to 12 px wide; a thing shares a fifth of its rim."""
_SAME_TONE, _SAME_TINT, _SPECK = 0.05, 0.02, 0.002
_LEAST_FOLLOWED = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class BareWall:
    """Bare wall of a photo, at reduced size.

    Parameters
    ----------
    share
        (h, w) how far each element is bare wall, 0 to 1.
    usable
        (h, w) whether it lies on the usable wall, apart from doors, windows and fittings marked.
    glow
        (h, w, 3) logarithm of the light there over what the wall's even light gives.
    shrink
        Elements to one photo pixel.
    """

    share: Field
    usable: Field
    glow: NDArray[np.float32]
    shrink: float

    def rows(self, top: int, height: int, width: int) -> tuple[Field, Field, NDArray[np.float32]]:
        """Share, usable and glow at every pixel of rows of the photo."""
        step = 1 / self.shrink
        share, usable, glow = (
            at_pixels(values, step, 0, top, width, height)
            for values in (self.share, self.usable, self.glow)
        )
        return share, usable, glow


def find_bare_wall(pixels: PixelsRgb, survey: Survey, light: WallLight) -> BareWall:
    """Follow the bare wall outward from the reference.

    Parameters
    ----------
    pixels
        (H, W, 3) the photo.
    survey
        Its survey; doors, windows and fittings among its zones are not wall.
    light
        Light on the wall.

    Returns
    -------
    The bare wall. On patterned walls, where edges are everywhere, all of the usable wall that has
    about the wall's colour.
    """
    shrink = min(1.0, _WORKING_SIDE_PX / max(pixels.shape[:2]))
    height, width = (max(round(n * shrink), 2) for n in pixels.shape[:2])
    small = shrink_linear(pixels, width, height)
    usable = _usable(survey, width, height, shrink)
    white = at_pixels(light.white, light.step_px * shrink, 0, 0, width, height)
    usual = white * light.wall_reflectance
    calm = np.asarray(cv2.GaussianBlur(small, (0, 0), 0.8), np.float32)
    ratio = np.log(np.maximum(calm, 1e-4) / np.maximum(usual, 1e-4))
    tone = ratio @ LUMINANCE_32
    tint = np.abs(ratio - tone[..., None]).max(axis=2)
    # Glows and shadows have the colour of another lamp, the more so the stronger they are.
    lit = usable & (tone > _DARKEST) & (tone < _BRIGHTEST) & (tint < 0.1 + 0.3 * np.abs(tone))
    off, sharp = _edges(ratio, lit)
    parts = (lit & ~sharp).astype(np.uint8)
    chosen, labels = _followed(parts, tone, tint, _beside_reference(survey, shrink, parts.shape))
    followed = chosen[labels]
    plausible = usable & (np.abs(tone) < 0.3) & (tint < 0.1)
    if followed.sum() < _LEAST_FOLLOWED * plausible.sum():
        flat = np.zeros_like(ratio)
        return BareWall(usable.astype(np.float32), usable.astype(np.float32), flat, shrink)
    weight = cv2.GaussianBlur(followed.astype(np.float32), (0, 0), 4.0)
    glow = cv2.GaussianBlur(ratio * followed[..., None], (0, 0), 4.0)
    glow = np.where(weight[..., None] > 0.02, glow / np.maximum(weight, 0.02)[..., None], 0)
    # Plain edges hide wall under their foot; of an edge's own elements, the colour tells.
    crest = off > _FOOT * cv2.dilate(off, np.ones((2 * _FOOT_PX + 1,) * 2, np.uint8))
    under = lit & ~(sharp & crest) & (np.abs(ratio - glow).max(axis=2) < _FOOT_LIGHT)
    grown = followed
    for _ in range(_FOOT_PX):
        grown = grown | (_spread(grown) & under)
    grown = _spread(grown) & lit
    return BareWall(
        grown.astype(np.float32), usable.astype(np.float32), glow.astype(np.float32), shrink
    )


def _followed(
    parts: NDArray[np.uint8], tone: Field, tint: Field, start: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], NDArray[np.int32]]:
    """Choose among the parts between edges: whether each is wall, and the map of their numbers.

    The wall is the part that the reference hangs on. What a mere line parts from it is a thing of
    the wall's colour, as a door is, and so is what a line parts from that. What lies apart, with
    something thick between, is wall if it has the very light expected there.
    """
    count, found = cv2.connectedComponents(parts, connectivity=4)
    labels = np.asarray(found, np.int32)
    chosen = np.zeros(count, bool)
    if not (labels[start] > 0).any():
        return chosen, labels
    chosen[np.argmax(np.bincount(labels[start & (labels > 0)], minlength=count))] = True
    areas = np.bincount(labels.ravel(), minlength=count)
    mean_tone, mean_tint = (
        np.bincount(labels.ravel(), weights=f.ravel(), minlength=count) / np.maximum(areas, 1)
        for f in (tone, tint)
    )
    specks = areas < _SPECK * areas[1:].sum()
    border = (parts > 0) & (cv2.erode(parts, np.ones((3, 3), np.uint8)) == 0)
    rim = np.maximum(np.bincount(labels[border], minlength=count), 1)
    ring = np.ones((_LINE_PX, _LINE_PX), np.uint8)

    def along(these: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Share of each part's rim that only a line parts from these."""
        near = cv2.dilate(these[labels].astype(np.uint8), ring) > 0
        return np.bincount(labels[near & border], minlength=count) / rim

    beside = along(chosen)
    things = (beside > _THING_SHARE) & ~chosen & ~specks
    for _ in range(2):  # panels in a door, panels in those
        things |= (along(things) > _THING_SHARE) & ~chosen & ~specks
    same = (np.abs(mean_tone) < _SAME_TONE) & (mean_tint < _SAME_TINT)
    chosen |= same & ~specks & ~things
    # Specks of wall show between leaves.
    chosen |= specks & (beside > 0) & (np.abs(mean_tone) < 4 * _SAME_TONE) & (mean_tint < 0.05)
    chosen[0] = False
    return chosen, labels


def _edges(ratio: NDArray[np.float32], lit: NDArray[np.bool_]) -> tuple[Field, NDArray[np.bool_]]:
    """Tell how far each element stands out from its surroundings, and which are edges.

    Lines and steps stand out; slopes do not.
    """
    off = np.abs(ratio - cv2.GaussianBlur(ratio, (0, 0), _SLOW_PX)).max(axis=2)
    noise = float(np.median(off[lit])) if lit.any() else 0.0
    sharp = (off > np.clip(_EDGE_NOISE * noise, _EDGE, _MOST_EDGE)).astype(np.uint8)
    return off, cv2.morphologyEx(sharp, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)) > 0


def _spread(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0


def _usable(survey: Survey, width: int, height: int, shrink: float) -> NDArray[np.bool_]:
    across, down = (
        np.arange(0, width + _NODE_PX, _NODE_PX),
        np.arange(0, height + _NODE_PX, _NODE_PX),
    )
    x, y = np.meshgrid((across + 0.5) / shrink - 0.5, (down + 0.5) / shrink - 0.5)
    nodes = survey.to_wall(np.c_[x.ravel(), y.ravel()]).reshape(*x.shape, 2).astype(np.float32)
    gx, gy = np.meshgrid(
        np.arange(width, dtype=np.float32) / _NODE_PX,
        np.arange(height, dtype=np.float32) / _NODE_PX,
    )
    wall = np.asarray(cv2.remap(nodes, gx, gy, cv2.INTER_LINEAR), np.float32)
    x_mm, y_mm = wall[..., 0], wall[..., 1]
    inside = inside_polygon(x_mm, y_mm, survey.outline)
    for zone in survey.zones:
        if zone.kind in _NOT_WALL:
            inside &= ~inside_polygon(x_mm, y_mm, zone.polygon)
    return inside


def _beside_reference(survey: Survey, shrink: float, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Mark a ring around the reference, as wide as it is."""
    assert survey.plane is not None
    corners = (survey.plane.reference_corners_px + 0.5) * shrink - 0.5
    centre = corners.mean(axis=0)
    ring = np.zeros(shape[:2], np.uint8)
    for grown, value in ((3.0, 1), (1.3, 0)):
        cv2.fillConvexPoly(
            ring, np.round(centre + grown * (corners - centre)).astype(np.int32), value
        )
    return ring > 0
