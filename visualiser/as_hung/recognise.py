"""Recognise the hung group without a sheet: its frames' own shapes, in the plan's constellation.

Outlines with four corners are collected from the photo; one of them taken for one planned piece
fixes a camera, which predicts where the other pieces are seen. The guess that most outlines agree
with is taken. It only has to be good to some centimetres: the search and the fit do the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.frame import (
    HUNG_SIGMA_DEG,
    HUNG_SIGMA_MM,
    SOUGHT_TIMES,
    HungFrame,
    box_corners,
)
from visualiser.photo.photo import Photo, PixelsRgb
from visualiser.raster import resized_px
from visualiser.rectification.camera.adjustment import adjust
from visualiser.rectification.camera.lens_profile import lens_prior
from visualiser.rectification.camera.observation import Linearised
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState, Lens, plane_poses
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.fit_lines import fit_with_lines, gather_lines, sort_by_straightness
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float64]
LOOK_PX = 1400
"""Outlines are looked for in a photo reduced to this many pixels on its longer side."""
LEAST_SHARE = 0.0008
"""Smallest outline, as a share of the picture."""
NEAR_MM, SHAPE_MM = 160.0, 60.0
"""How far an outline may be from its predicted place and shape to count as agreeing."""
CORNER_SIGMA_PX = 4.0
"""How well an outline's corners are known: it may have been the side face's, or the mat's."""


def recognise(photo: Photo, planned: Sequence[HungFrame]) -> WallPlane | None:
    """Recognise the planned group by its frames alone, and fit the wall plane to it.

    Parameters
    ----------
    photo
        The photo.
    planned
        Frames in the plan's mm.

    Returns
    -------
    A coarse plane whose wall mm are the plan's, or None where fewer than half of the group (and
    fewer than two) agree with any guess. How far pieces may be off their places is part of its
    uncertainty.
    """
    terms = ModelTerms()
    lens = lens_prior(photo, terms)
    guess = _best_guess(outlines(photo.pixels), planned, lens.lens)
    if guess is None:
        return None
    pose, matched = guess
    seen = FramesObservation(tuple(planned[i] for i in matched), np.array([*matched.values()]))
    lines = gather_lines(photo, Marks(), list(matched.values()))
    longest = max(photo.width_px, photo.height_px)
    by_straightness = sort_by_straightness(lines, lens)
    alone = adjust(pose, [seen], lens)
    solution = fit_with_lines(alone, [seen], by_straightness, lens, longest, terms).solution
    camera = solution.camera
    normal = camera.rotation[:, 2]
    level = float(np.degrees(np.sqrt(normal @ solution.covariance[:3, :3] @ normal)))
    return WallPlane(
        lens=camera.lens,
        rotation=camera.rotation,
        translation_mm=camera.translation_mm,
        reference_corners_px=next(iter(matched.values())),
        reference_tilt_deg=0.0,
        parameter_covariance=solution.covariance,
        level_sigma_deg=level,
    )


@dataclass(frozen=True, slots=True, eq=False)
class FramesObservation:
    """Front outlines taken for planned frames; own parameters: x mm, y mm and tilt rad of each."""

    frames: tuple[HungFrame, ...]
    corners_px: Array

    @property
    def own_sigma(self) -> Array:
        """How far pieces may hang off their places, so wide that their outlines decide."""
        hung = np.array([HUNG_SIGMA_MM, HUNG_SIGMA_MM, np.radians(HUNG_SIGMA_DEG)])
        return np.tile(SOUGHT_TIMES * hung, len(self.frames))

    @property
    def groups(self) -> NDArray[np.intp]:
        """All corners share one variance factor."""
        return np.zeros(8 * len(self.frames), np.intp)

    def own_start(self, camera: CameraState) -> Array:  # noqa: ARG002 - the protocol's signature
        """Start from the plan."""
        return np.zeros(3 * len(self.frames))

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Corner residuals in sigmas, with derivatives."""
        count = len(self.frames)
        residual = np.empty((count, 8))
        by_camera = np.empty((count, 8, CAMERA_SIZE))
        by_own = np.zeros((count, 8, 3 * count))
        for k, frame in enumerate(self.frames):
            place = np.array([frame.x_mm, frame.y_mm, frame.tilt_deg, frame.lean_deg])
            place[:3] += own[3 * k : 3 * k + 3] * [1.0, 1.0, 180 / np.pi]
            corners = box_corners(frame, place, frame.depth_mm)
            px, camera_by, point_by = camera.project(corners)
            residual[k] = (px - self.corners_px[k]).ravel() / CORNER_SIGMA_PX
            by_camera[k] = camera_by.reshape(8, -1) / CORNER_SIGMA_PX
            arm = corners[:, :2] - place[:2]
            moves = np.zeros((4, 3, 3))
            moves[:, 0, 0] = moves[:, 1, 1] = 1.0
            moves[:, 0, 2], moves[:, 1, 2] = -arm[:, 1], arm[:, 0]
            by_own[k, :, 3 * k : 3 * k + 3] = (point_by @ moves).reshape(8, 3) / CORNER_SIGMA_PX
        return Linearised(
            residual.ravel(), by_camera.reshape(-1, CAMERA_SIZE), by_own.reshape(8 * count, -1)
        )


def _best_guess(
    quads: Sequence[Array], planned: Sequence[HungFrame], lens: Lens
) -> tuple[CameraState, dict[int, Array]] | None:
    """Find the pose most outlines agree with, in the plan's mm, and the outline of each frame."""
    best: tuple[int, float, CameraState, dict[int, Array]] | None = None
    sizes = [float(np.sqrt(cv2.contourArea(q.astype(np.float32)))) for q in quads]
    for quad, size in zip(quads, sizes, strict=True):
        for frame in planned:
            corners = replace(frame, lean_deg=0.0).corners_xyz_mm(front=True)
            for pose in plane_poses(corners[:, :2], quad, lens):
                # The outline is the front face: the wall lies its depth behind.
                behind = pose.translation_mm - pose.rotation[:, 2] * frame.depth_mm
                pose = CameraState(pose.rotation, behind, lens)
                wrong = float(np.abs(pose.project(corners)[0] - quad).max()) / size
                up = pose.rotation[:2, 1]
                # Plumb on the wall is near plumb in a picture that is held upright.
                if wrong > 0.06 or up[1] > -0.9 * np.hypot(*up):
                    continue
                matched, off = _agreeing(pose, quads, planned)
                rank = (len(matched), -off - wrong)
                if best is None or rank > best[:2]:
                    best = (*rank, pose, matched)
    if best is None or best[0] < max(min(2, len(planned)), len(planned) / 2):
        return None
    return best[2], best[3]


def _agreeing(
    pose: CameraState, quads: Sequence[Array], planned: Sequence[HungFrame]
) -> tuple[dict[int, Array], float]:
    """Collect the outline that each frame would be seen as, where one is near enough."""
    corners = np.array(quads)
    matched, off = {}, 0.0
    for k, frame in enumerate(planned):
        expected = frame.corners_xyz_mm(front=True)
        if pose.to_camera(expected)[:, 2].min() < 200:
            continue
        px = pose.project(expected)[0]
        scale = np.sqrt(cv2.contourArea(px.astype(np.float32))) / np.sqrt(
            frame.width_mm * frame.height_mm
        )
        shifts = (corners - px).mean(axis=1)
        shapes = np.abs(corners - px - shifts[:, None]).max(axis=(1, 2))
        cost = np.hypot(*shifts.T) / (NEAR_MM * scale) + shapes / (SHAPE_MM * scale)
        at = int(cost.argmin())
        if cost[at] < 1:
            matched[k] = corners[at]
            off += float(cost[at])
    return matched, off


def outlines(pixels: PixelsRgb) -> list[Array]:
    """Collect convex outlines with four corners: (4, 2) px each, top-left first, clockwise."""
    height, width = pixels.shape[:2]
    shrink = min(1.0, LOOK_PX / max(height, width))
    size = (round(width * shrink), round(height * shrink))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    lab = cv2.cvtColor(cv2.GaussianBlur(small, (0, 0), 1.0), cv2.COLOR_RGB2LAB)
    found: list[Array] = []
    for channel in cv2.split(lab):
        spread = float(np.percentile(channel, 98) - np.percentile(channel, 2))
        for share in (0.06, 0.15, 0.35):
            high = max(share * spread * 2, 12.0)
            thin = cv2.Canny(channel, 0.4 * high, high)
            edges = cv2.morphologyEx(thin, cv2.MORPH_CLOSE, np.ones((3, 3)))
            contours, _ = cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
            for contour in contours:
                area = cv2.contourArea(contour)
                if area < LEAST_SHARE * size[0] * size[1] or area > 0.5 * size[0] * size[1]:
                    continue
                corners = cv2.approxPolyDP(contour, 0.03 * cv2.arcLength(contour, True), True)
                if len(corners) == 4 and cv2.isContourConvex(corners):
                    quad = resized_px(corners.reshape(4, 2), 1 / shrink)
                    found.append(_clockwise(quad))
    return _distinct(found)


def _clockwise(quad: Array) -> Array:
    """Order corners top-left, top-right, bottom-right, bottom-left."""
    centred = quad - quad.mean(axis=0)
    order = np.argsort(np.arctan2(centred[:, 1], centred[:, 0]))
    turned = quad[order]
    first = int(np.argmin(turned.sum(axis=1)))
    return np.roll(turned, -first, axis=0)


def _distinct(quads: list[Array]) -> list[Array]:
    """Leave out repetitions of one outline."""
    kept: list[Array] = []
    for quad in quads:
        size = float(np.hypot(*np.ptp(quad, axis=0)))
        if all(np.abs(quad - other).max() > 0.02 * size for other in kept):
            kept.append(quad)
    return kept[:160]
