"""Lay a plan on a photographed wall: where on the wall the group hangs, before any detail.

The sheet of the second photo is taped anywhere. Every planned size is looked for all over the
wall at once, and the shift is taken at which most of the group finds something of its size.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.identify import first_look
from visualiser.as_hung.search import Located
from visualiser.as_hung.straight_on import edge_votes, photo_map, side_support
from visualiser.inventory.piece import Piece
from visualiser.photo.photo import Photo, PixelsRgb
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float32]
STEP_MM = 5.0
ABSENT = 0.45
"""A side of a frame that is not there finds this much support in its neighbourhood."""
WHOLLY = 0.97
"""Share of a frame's place in the picture from which it counts as seen."""
LEAST_RELAID = 3
"""Fewer clear frames than this do not outvote where the group as a whole seemed to hang."""
MAX_SIDE = 1400
"""The wall is looked at with at most this many samples a side."""


def lay_plan(
    pixels: PixelsRgb, plane: WallPlane, frames: Sequence[HungFrame], *, reach_mm: float = 80.0
) -> tuple[float, float, float]:
    """Find the shift of the plan on the wall.

    Parameters
    ----------
    pixels
        Photo, (H, W, 3) uint8.
    plane
        Coarse plane.
    frames
        Frames as planned, in mm of the plan.
    reach_mm
        How far each may hang from its place.

    Returns
    -------
    dx, dy
        To be added to the plan's mm to get the plane's.
    score
        Mean support per side over the group beyond what bare wall would give, at most 0.55.
    """
    depth = float(np.median([f.depth_mm for f in frames]))
    view, seen, left_mm, top_mm, step = _wall_view(pixels, plane, depth)
    across, down = edge_votes(view)
    reach = max(int(reach_mm / step), 1)
    window = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)

    def support(size: tuple[float, float]) -> Array:
        found = side_support(across, down, size)
        value = np.asarray(cv2.dilate(found, window), np.float32) - 4 * ABSENT
        # A place that is not wholly in the picture may support a shift, but not oppose it.
        box = max(round(size[0]), 1), max(round(size[1]), 1)
        inside = cv2.blur(seen, box, borderType=cv2.BORDER_CONSTANT) > WHOLLY
        return np.where(inside, value, np.maximum(value, 0)).astype(np.float32)

    sizes = list(dict.fromkeys((f.width_mm / step, f.height_mm / step) for f in frames))
    # The filters let go of the interpreter: two sizes are looked for at a time.
    with ThreadPoolExecutor(2) as both:
        maps = dict(zip(sizes, both.map(support, sizes), strict=True))
    centre = np.mean([[f.x_mm, f.y_mm] for f in frames], axis=0)
    total = np.zeros(view.shape[:2], np.float32)
    for frame in frames:
        own = maps[(frame.width_mm / step, frame.height_mm / step)]
        shift = (frame.x_mm - centre[0]) / step, -(frame.y_mm - centre[1]) / step
        matrix = np.array([[1, 0, -shift[0]], [0, 1, -shift[1]]], float)
        total += cv2.warpAffine(own, matrix, (own.shape[1], own.shape[0]), flags=cv2.INTER_NEAREST)
    # The plateau of a dilated map: its middle is the place where the reach is used least.
    level = np.asarray(cv2.blur(total, (reach + 1, reach + 1)))
    row, column = divmod(int(level.argmax()), level.shape[1])
    x, y = left_mm + column * step, top_mm - row * step
    score = float(level[row, column]) / (4 * len(frames))
    return float(x - centre[0]), float(y - centre[1]), score


def shifted(frames: Sequence[HungFrame], dx_mm: float, dy_mm: float) -> list[HungFrame]:
    """Frames moved together."""
    return [replace(f, x_mm=f.x_mm + dx_mm, y_mm=f.y_mm + dy_mm) for f in frames]


def relaid(places: list[HungFrame], seen: Mapping[int, HungFrame]) -> list[HungFrame]:
    """Lay the plan where the clear frames have it, so that the others are looked for there.

    Bricks and stripes are edges as well: among them the whole plan is laid down some centimetres
    off. The median passes over single pieces that hang astray.

    Parameters
    ----------
    places
        Frames where the plan was laid.
    seen
        Those that are clear, by their number in the plan, where they were seen.
    """
    if len(seen) < LEAST_RELAID:
        return places
    off = [(f.x_mm - places[k].x_mm, f.y_mm - places[k].y_mm) for k, f in seen.items()]
    dx, dy = (float(v) for v in np.median(off, axis=0))
    return shifted(places, dx, dy)


def _wall_view(
    pixels: PixelsRgb, plane: WallPlane, depth_mm: float
) -> tuple[Array, Array, float, float, float]:
    """See the whole wall straight-on; what of it is in the photo; left, top and step in mm."""
    height, width = pixels.shape[:2]
    t = np.linspace(0, 1, 9)
    rim = np.vstack(
        [
            np.c_[t * (width - 1), 0 * t],
            np.c_[t * (width - 1), 0 * t + height - 1],
            np.c_[0 * t, t * (height - 1)],
            np.c_[0 * t + width - 1, t * (height - 1)],
        ]
    )
    wall = plane.to_wall(rim)
    # Towards the wall's vanishing line the rim runs off; a room is not that large.
    low, high = np.maximum(wall.min(axis=0), -6000), np.minimum(wall.max(axis=0), 6000)
    step = max(STEP_MM, float((high - low).max()) / MAX_SIDE)
    columns, rows = (len(np.arange(low[k], high[k], step)) for k in (0, 1))
    left, top = float(low[0]), float(high[1])
    px = photo_map(plane, (left, top), step, (columns, rows), depth_mm)
    # Several photo pixels to a sample: average them first, the whole ones by reducing the photo.
    shrink = width / max(columns, 1)
    whole = max(int(shrink), 1)
    small = (max(width // whole, 1), max(height // whole, 1))
    source = cv2.resize(pixels, small, interpolation=cv2.INTER_AREA) if whole > 1 else pixels
    rest = shrink / whole
    if rest > 1.5:
        source = cv2.GaussianBlur(source, (0, 0), 0.4 * rest)
    at = (px + 0.5) * (np.array(small, np.float32) / (width, height)).astype(np.float32) - 0.5
    view = cv2.remap(source, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderValue=(0, 0, 0))
    inside = (px >= 0).all(axis=2) & (px[..., 0] < width) & (px[..., 1] < height)
    seen = inside.astype(np.float32)
    return np.asarray(view, np.float32), seen, left, top, step


@dataclass(frozen=True, slots=True)
class PlanMatch:
    """A plan laid on a plane: where every piece should be, and the pieces found near there."""

    places: list[HungFrame]
    found: Mapping[int, Located]

    @property
    def clear(self) -> int:
        """How many pieces are seen beyond doubt."""
        return sum(hit.clear for hit in self.found.values())

    @property
    def evidence(self) -> float:
        """How well the pieces that were found agree with what is seen, summed over them."""
        return sum(hit.agreement for hit in self.found.values() if hit.convincing)


def match_plan(
    photo: Photo, plane: WallPlane, pieces: Sequence[Piece], planned: Sequence[HungFrame]
) -> PlanMatch:
    """Lay the plan on a plane, and look for every piece near its place there."""
    dx, dy, _ = lay_plan(photo.pixels, plane, planned)
    places = shifted(planned, dx, dy)
    return PlanMatch(places, first_look(photo.pixels, plane, pieces, places))
