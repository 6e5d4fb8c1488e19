"""Where a sheet leaves the scale open, find the one at which the frames are seen best.

A sheet that is small, curled or partly hidden tells the scale to a per cent or two: of a frame of
500 mm that is a good part of a moulding's width. Taken too small, a frame fits between its outer
edge on one side and its inner edge on the other. At the right scale all its edges agree at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.hanging.frame_box import HungFrame
from visualiser.hanging.frame_search import AMBIGUOUS, STEP_MM, Inset, turned, within_on_front
from visualiser.hanging.side_votes import edge_votes, pair_support
from visualiser.hanging.straight_on import straight_on
from visualiser.photo.photo import PixelsRgb
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.projection import CameraState

Array = NDArray[np.float64]

OPEN_MM = 2.0
"""What the scale leaves open at a frame's sides, standard uncertainty, from which scales are tried:
twice this is beyond where the fit looks for an edge, and near the next one in."""
REACH_MM = 24.0
"""How far a frame may be moved: between edges of a moulding of usual width, and a little more."""
NEAR = 3
"""Samples within which a place counts as the same."""
SIGMAS, HALF_STEPS = 3.5, 4
"""Scales are tried so far from the sheet's own, in so many steps either way."""
BETTER = 1.04
"""What all edges together must gain: texture and chance give a few per cent."""
MOST_FRAMES = 4


def at_best_scale(
    pixels: PixelsRgb,
    plane: WallPlane,
    frames: Sequence[HungFrame],
    insets: Sequence[Sequence[Inset]],
) -> tuple[WallPlane, list[HungFrame]]:
    """Move a plane within what it leaves open to where the frames' edges agree best.

    Parameters
    ----------
    pixels
        Photo, (H, W, 3) uint8.
    plane
        The plane as the sheet has it.
    frames, insets
        Frames as located on it, and the rectangles that show within each.

    Returns
    -------
    Plane and frames to start the fit from; as they were where nothing speaks for another scale.
    """
    largest = sorted(range(len(frames)), key=lambda k: -frames[k].width_mm * frames[k].height_mm)
    largest = largest[:MOST_FRAMES]
    if not largest:
        return plane, list(frames)
    by_size = np.mean([_size_by_camera(plane, frames[k]) for k in largest], axis=0)
    covariance = by_size @ plane.parameter_covariance @ by_size.T
    sigma = np.sqrt(np.diag(covariance))
    half_mm = np.mean([[frames[k].width_mm, frames[k].height_mm] for k in largest], axis=0) / 2
    if (sigma * half_mm).max() < OPEN_MM:
        return plane, list(frames)
    steps = np.arange(-HALF_STEPS, HALF_STEPS + 1) / HALF_STEPS * SIGMAS
    scales = 1 + steps[:, None] * sigma
    votes = [_Votes(pixels, plane, frames[k], insets[k]) for k in largest]
    support = np.array([np.sum([one.best(scale) for one in votes], axis=0) for scale in scales])
    both = support[:, None, 0] + support[None, :, 1]
    off = np.stack(np.meshgrid(*(steps[:, None] * sigma).T, indexing="ij"), axis=-1)
    far = np.einsum("xyi,ij,xyj->xy", off, np.linalg.inv(covariance + 1e-12 * np.eye(2)), off)
    both = np.where(far <= SIGMAS**2, both, 0.0)
    across, up = np.unravel_index(int(both.argmax()), both.shape)
    if both[across, up] < BETTER * both[HALF_STEPS, HALF_STEPS]:
        return plane, list(frames)
    # The likeliest camera of all that show the frames so large.
    gain = plane.parameter_covariance @ by_size.T @ np.linalg.inv(covariance + 1e-12 * np.eye(2))
    camera = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    moved = camera.moved(gain @ off[across, up])
    there = replace(
        plane, rotation=moved.rotation, translation_mm=moved.translation_mm, lens=moved.lens
    )
    scale = 1 + off[across, up]
    shifted = [
        _Votes(pixels, plane, frame, inside).placed(scale)
        for frame, inside in zip(frames, insets, strict=True)
    ]
    return there, [_same_pixels(frame, plane, there) for frame in shifted]


def _size_by_camera(plane: WallPlane, frame: HungFrame) -> Array:
    """Differentiate how large a frame is seen, across and up, by the camera: (2, 11), relative."""
    corners = frame.corners_xyz_mm(front=True)
    middles = (corners + np.roll(corners, -1, axis=0)) / 2  # top, right, bottom, left
    state = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    px, by_camera, _ = state.project(middles)
    rows = []
    for a, b in ((1, 3), (0, 2)):
        span = px[a] - px[b]
        rows.append(span @ (by_camera[a] - by_camera[b]) / (span @ span))
    return np.array(rows)


class _Votes:
    """What speaks for edges around one frame, seen straight-on and level."""

    def __init__(
        self, pixels: PixelsRgb, plane: WallPlane, frame: HungFrame, insets: Sequence[Inset]
    ) -> None:
        patch, _ = straight_on(pixels, plane, frame, REACH_MM + 8, STEP_MM)
        self.frame, self.reach = frame, int(REACH_MM / STEP_MM)
        self.across, self.down = edge_votes(turned(patch, -frame.tilt_deg))
        self.within = [within_on_front(plane, frame, inset) for inset in insets]

    def at(self, scale: Array) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Support of plumb and of level sides at every shift, the frame so many times as large."""

        def sized(width: float, height: float) -> tuple[float, float]:
            return float(width * scale[0]), float(height * scale[1])

        size = sized(self.frame.width_mm / STEP_MM, self.frame.height_mm / STEP_MM)
        within = [replace(one, size=sized(*one.size)) for one in self.within]
        return pair_support(self.across, self.down, size, self.reach, within)

    def best(self, scale: Array) -> list[float]:
        """Support of plumb and of level sides where each is best."""
        return [float(support.max()) for support in self.at(scale)]

    def placed(self, scale: Array) -> HungFrame:
        """Put the frame where all sides together are seen best at a scale.

        It stays near where it was located, by its picture as well, unless that is clearly worse.
        """
        plumb, level = self.at(scale)
        total = plumb + level
        near = np.zeros_like(total)
        here = slice(self.reach - NEAR, self.reach + NEAR + 1)
        near[here, here] = total[here, here]
        if near.max() > AMBIGUOUS * total.max():
            total = near
        row, column = divmod(int(total.argmax()), total.shape[1])
        right, up = (column - self.reach) * STEP_MM, (self.reach - row) * STEP_MM
        c, s = (f(np.radians(self.frame.tilt_deg)) for f in (np.cos, np.sin))
        return replace(
            self.frame,
            x_mm=float(self.frame.x_mm + c * right - s * up),
            y_mm=float(self.frame.y_mm + s * right + c * up),
        )


def _same_pixels(frame: HungFrame, plane: WallPlane, there: WallPlane) -> HungFrame:
    """Put a frame on another plane where it is seen at the same place."""
    seen = plane.project(frame.corners_xyz_mm(front=True)).mean(axis=0)
    for _ in range(3):
        now = there.project(frame.corners_xyz_mm(front=True)).mean(axis=0)
        dx, dy = there.to_wall(seen[None])[0] - there.to_wall(now[None])[0]
        frame = replace(frame, x_mm=frame.x_mm + float(dx), y_mm=frame.y_mm + float(dy))
    return frame
