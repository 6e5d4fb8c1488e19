"""A hung frame as a thin box: wall-side outline, front face, depth and lean."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Matrix

Array = NDArray[np.float64]

SIDES = ("top", "right", "bottom", "left")
LEAN_DEG, LEAN_SIGMA_DEG = 0.6, 0.5
"""A frame on a wire leans a little forward: common practice, no source; only a prior."""


@dataclass(frozen=True, slots=True)
class HungFrame:
    """One frame as it hangs, wall mm.

    Parameters
    ----------
    width_mm, height_mm, depth_mm
        Outside size and how far the front stands off its back.
    x_mm, y_mm
        Centre of the outline that its back draws on the wall.
    tilt_deg
        Counter-clockwise as seen.
    lean_deg
        The top edge further from the wall than the bottom edge, about the bottom back edge.
    """

    width_mm: float
    height_mm: float
    depth_mm: float
    x_mm: float
    y_mm: float
    tilt_deg: float = 0.0
    lean_deg: float = LEAN_DEG

    def corners_xyz_mm(self, *, front: bool) -> Matrix:
        """Corners (4, 3) of the front face or of the back: top-left, clockwise as seen."""
        return box_corners(
            self, np.array([self.x_mm, self.y_mm, self.tilt_deg, self.lean_deg]), front
        )


def box_corners(frame: HungFrame, place: Array, front: bool, inset_mm: float = 0.0) -> Matrix:
    """Corners (4, 3) of a frame at ``place`` = (x mm, y mm, tilt deg, lean deg).

    The inset takes something off all four sides: eased edges are seen inside the true outline.
    """
    centre_x, centre_y, tilt, lean = place
    half, height = frame.width_mm / 2 - inset_mm, frame.height_mm
    z = frame.depth_mm if front else 0.0
    c, s = math.cos(math.radians(lean)), math.sin(math.radians(lean))
    # Turned about the bottom back edge by the lean, then about the centre by the tilt.
    high, low = ((y * c - z * s - height / 2, y * s + z * c) for y in (height - inset_mm, inset_mm))
    ct, st = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
    return np.array(
        [
            [centre_x + ct * x - st * y, centre_y + st * x + ct * y, out]
            for x, (y, out) in ((-half, high), (half, high), (half, low), (-half, low))
        ]
    )
