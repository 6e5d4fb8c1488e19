"""A piece looked at as finely as the photo shows it: its depth, its moulding and its outline again.

The top view of the whole floor shows a side's foot and its front's edge some samples apart only.
Once the outline is known to a millimetre, both stand out.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.straight_on import photo_map
from visualiser.laid_out.box import (
    OUT_MM,
    PieceBox,
    box_from_outline,
    outline_of_box,
    read_depth,
    side_profiles,
)
from visualiser.laid_out.support import widened
from visualiser.laid_out.top_view import TopView
from visualiser.photo.photo import Photo
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float64]
Image = NDArray[np.float32]

VIEW_HEIGHT_MM = 20.0
"""Views are taken through about where fronts are."""
FINEST_MM = 0.7
"""Sampling of a close look: finer tells no more of lines some millimetres apart."""
PER_MM = 2
"""Samples of the profiles across a side, a mm."""
FINE_LINE_SIGMA_MM = 0.5
"""How well a line's place is read then, beside what it is taken for."""


def read_box(
    outline: Array,
    seen: Image,
    view: TopView,
    plane: WallPlane,
    usual: tuple[float, float],
    *,
    per_mm: int = 1,
    line_sigma_mm: float | None = None,
) -> PieceBox:
    """Stand a box on an outline (4, 2) of a view, its depth read from what lies along its sides.

    Parameters
    ----------
    outline, seen, view, plane
        The outline, the view's Lab colours, a little smoothed, the view and its plane.
    usual
        Depth that is expected, and its standard uncertainty, mm.
    per_mm, line_sigma_mm
        How finely it is looked at, and how well a line's place is read by that.
    """
    profiles = side_profiles(seen, outline, view.step_mm, per_mm)
    start = box_from_outline(outline, view, plane, usual[0])
    fine = {} if line_sigma_mm is None else {"line_sigma_mm": line_sigma_mm}
    told = read_depth(start, profiles, plane, *usual, **fine)
    outline = widened(outline[None], told.outward_mm[None] / view.step_mm)[0]
    box = box_from_outline(outline, view, plane, told.depth_mm)
    return replace(box, depth_sigma_mm=told.sigma_mm, rail_mm=told.rail_mm)


def look_closely(
    photo: Photo, plane: WallPlane, box: PieceBox, usual: tuple[float, float]
) -> PieceBox:
    """Read a piece again whose outline is known to about a millimetre.

    Parameters
    ----------
    photo, plane, box
        The photo, its plane, and the piece as it is known.
    usual
        Depth that is expected, and its standard uncertainty, mm.
    """
    view = _part(photo, plane, box)
    lab = cv2.cvtColor(view.pixels, cv2.COLOR_RGB2LAB).astype(np.float32)
    seen = np.asarray(cv2.GaussianBlur(lab, (0, 0), 0.9), np.float32)
    again = read_box(
        outline_of_box(box, view, plane), seen, view, plane, usual,
        per_mm=PER_MM, line_sigma_mm=FINE_LINE_SIGMA_MM,
    )  # fmt: skip
    turns = round((again.tilt_deg - box.tilt_deg) / 90)
    assert turns == 0  # the outline starts where the box does
    return again if again.rail_mm > 0 else replace(again, rail_mm=box.rail_mm)


def _part(photo: Photo, plane: WallPlane, box: PieceBox) -> TopView:
    """Resample the neighbourhood of a piece."""
    corners = box.corners(0.0)[:, :2]
    margin = OUT_MM + 10.0 + box.depth_mm
    low, high = corners.min(axis=0) - margin, corners.max(axis=0) + margin
    step = max(FINEST_MM, float(plane.mm_per_px(np.array([[box.x_mm, box.y_mm]]))[0]))
    columns, rows = (max(int(v / step), 8) for v in high - low)
    left, top = float(low[0]), float(high[1])
    px = photo_map(plane, (left, top), step, (columns, rows), VIEW_HEIGHT_MM)
    seen = cv2.remap(
        photo.pixels, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    inside = (px >= 0).all(axis=2)
    inside &= (px[..., 0] <= photo.width_px - 1) & (px[..., 1] <= photo.height_px - 1)
    return TopView(np.asarray(seen, np.uint8), inside, left, top, step, VIEW_HEIGHT_MM)
