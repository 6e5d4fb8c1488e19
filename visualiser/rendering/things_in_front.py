"""What stands before the wall, found by the wall's own mask: a plant stays before a frame.

The drawn picture takes the place of the wall's light in each pixel; the thing's own light stays.
So the rim of a leaf before a dark frame has no pale seam of the wall that was behind it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LinearRgb, to_linear, to_pixels
from visualiser.photo.photo import PixelsRgb
from visualiser.rendering.wall_mask import WallMask
from visualiser.survey.light import at_pixels

_STRIP_ROWS = 256
_RIM_PX = 3


@dataclass(frozen=True, slots=True, eq=False)
class ThingsInFront:
    """What stands before the wall in a photo.

    Parameters
    ----------
    thing
        (H, W) uint8, how far each pixel shows it, to 255.
    wall_light
        (h, w, 3) linear light of the wall behind it, at reduced size.
    step_px
        Photo pixels to one element of ``wall_light``.
    """

    thing: NDArray[np.uint8]
    wall_light: LinearRgb
    step_px: float

    def repainted(self, ratio: NDArray[np.float32]) -> ThingsInFront:
        """Put the same things before a wall whose light changed by a ratio (3,)."""
        return ThingsInFront(self.thing, self.wall_light * ratio, self.step_px)

    def put_before(self, pixels: NDArray[np.uint8], bare: PixelsRgb) -> None:
        """Lay the things over what was drawn on a photo of the bare wall, in place."""
        height, width = pixels.shape[:2]
        for top in range(0, height, _STRIP_ROWS):
            rows = slice(top, min(top + _STRIP_ROWS, height))
            at = (self.thing[rows] > 0) & (pixels[rows] != bare[rows]).any(axis=2)
            if not at.any():
                continue
            behind = at_pixels(self.wall_light, self.step_px, 0, top, width, rows.stop - top)[at]
            share = self.thing[rows][at][:, None].astype(np.float32) / np.float32(255)
            drawn = to_linear(np.ascontiguousarray(pixels[rows]))[at]
            seen = to_linear(np.ascontiguousarray(bare[rows]))[at]
            own = np.clip(seen - (1 - share) * behind, 0, None)
            # Beside an edge light is known a little wrongly: never more than all of it is replaced.
            pixels[rows][at] = to_pixels(own + (1 - share) * drawn)


def find_things_in_front(pixels: PixelsRgb, mask: WallMask) -> ThingsInFront | None:
    """Find what stands before the wall; None where nothing does.

    Parameters
    ----------
    pixels
        (H, W, 3) the photo.
    mask
        Its wall.
    """
    if not mask.things.any():
        return None
    height, width = pixels.shape[:2]
    square = np.ones((2 * _RIM_PX + 1,) * 2, np.uint8)
    reach = cv2.dilate(mask.things.astype(np.uint8), square).astype(np.float32)
    step = 1 / mask.shrink
    thing = np.zeros((height, width), np.uint8)
    for top in range(0, height, _STRIP_ROWS):
        patch = pixels[top : top + _STRIP_ROWS]
        near = at_pixels(reach, step, 0, top, width, len(patch)) > 0.5
        if near.any():
            share = mask.matte.rows(patch, top, step).share
            thing[top : top + len(patch)] = np.where(near, np.round(255 * (1 - share)), 0)
    return ThingsInFront(thing, mask.matte.wall_light, step)
