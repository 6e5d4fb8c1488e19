"""Sub-pixel edges of hung frames, and which of a box's two edges on each side they are.

Where the side face is seen, a side shows two edges: the front's, and the wall-side outline's a few
pixels outside it. Read on the wall plane the front is 6 to 23 mm off, so the two must not be mixed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.hanging.frame_box import HungFrame
from visualiser.rectification.edges import sample_path
from visualiser.rectification.linear_view import LinearView
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

SIDE_ENDS = ((0, 1), (1, 2), (2, 3), (3, 0))
"""Corners that the top, right, bottom and left side run between."""
APART_PX = 3.0
"""Front and wall-side edges closer than this are seen as one blurred edge."""
TRIM = 0.06
FRONT_BIAS_PX, BACK_BIAS_PX = 0.15, 0.6
"""Systematic part of an edge's uncertainty: shading and eased corners, and contact shadows."""


@dataclass(frozen=True, slots=True, eq=False)
class SideView:
    """Edge samples of one side of one frame.

    Parameters
    ----------
    frame, side
        Index of the frame, and of its side (top, right, bottom, left).
    edge
        Which edge of the box the samples lie on; ``either`` where the two are not told apart.
    samples
        Points, normals and their standard uncertainty.
    bias_sigma_px
        Uncertainty that all samples of the side share.
    """

    frame: int
    side: int
    edge: Literal["front", "back", "either"]
    samples: EdgeSamples
    bias_sigma_px: float


def view_sides(
    view: LinearView, plane: WallPlane, frames: list[HungFrame], search_px: float
) -> list[SideView]:
    """Sample every visible edge of every frame around where the frames are held to be.

    Parameters
    ----------
    view
        The photo in linear light.
    plane
        Wall plane as known so far.
    frames
        Frames as known so far, to about ``search_px``.
    search_px
        How far from its expected place an edge is looked for.
    """
    found = []
    for index, frame in enumerate(frames):
        front, back = frame.corners_xyz_mm(front=True), frame.corners_xyz_mm(front=False)
        for side, (i, j) in enumerate(SIDE_ENDS):
            apart = _side_face_px(plane, frame, side)
            if apart < 0.5:  # the side face is turned away: the front edge stands before the wall
                plans: list[tuple[Literal["front", "back", "either"], Array, float, float]] = [
                    ("front", front, search_px, FRONT_BIAS_PX)
                ]
            elif apart < APART_PX:
                plans = [("either", front, search_px, max(FRONT_BIAS_PX, apart / 2))]
            else:
                reach = min(search_px, 0.5 * apart)
                plans = [
                    ("front", front, reach, 2 * FRONT_BIAS_PX),
                    ("back", back, reach, BACK_BIAS_PX),
                ]
            for edge, corners, reach, bias in plans:
                path = _path(plane, corners[i], corners[j])
                samples = sample_path(view, path, reach)
                # What lies at the rim of the search is another edge: the mat's, or a shadow's.
                if len(samples) and abs(_offset_px(samples, path)) < 0.8 * search_px:
                    found.append(SideView(index, side, edge, samples, bias))
    return found


def _offset_px(samples: EdgeSamples, path: Array) -> float:
    """Median distance of samples from the path they were looked for along."""
    nearest = ((samples.points_px[:, None] - path[None]) ** 2).sum(axis=2).argmin(axis=1)
    across = (samples.normals_px * (samples.points_px - path[nearest])).sum(axis=1)
    return float(np.median(across))


def _path(plane: WallPlane, start: Array, end: Array) -> Array:
    """Photo points of about 1 px spacing along an edge, its ends left out."""
    ends = plane.project(np.array([start, end]))
    count = max(int(np.hypot(*(ends[1] - ends[0])) * (1 - 2 * TRIM)), 8)
    t = np.linspace(TRIM, 1 - TRIM, count)[:, None]
    return plane.project(start + t * (end - start))


def _side_face_px(plane: WallPlane, frame: HungFrame, side: int) -> float:
    """Width in px of the visible side face; negative where it is turned away."""
    i, j = SIDE_ENDS[side]
    middle = [frame.corners_xyz_mm(front=front)[[i, j]].mean(axis=0) for front in (True, False)]
    centre = frame.corners_xyz_mm(front=True).mean(axis=0)
    front, back, inside = plane.project(np.array([*middle, centre]))
    ends = plane.project(frame.corners_xyz_mm(front=True)[[i, j]])
    along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    normal = np.array([-along[1], along[0]])
    outward = normal if normal @ (front - inside) > 0 else -normal
    return float(outward @ (back - front))
