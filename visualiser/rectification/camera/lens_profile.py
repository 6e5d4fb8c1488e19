"""What is known of the lens beforehand: from the file, or from photos of a printed target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.geometry import PointsMm, PointsPx, frozen
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import LENS, POSE, CameraState, Lens
from visualiser.rectification.camera.terms import ModelTerms

Array = NDArray[np.float64]

PHONE_FOCAL_35MM = 28.0
"""Focal length assumed of an unknown phone, 35 mm equivalent by the image diagonal."""
FULL_FRAME_DIAGONAL_MM = 43.267
UNKNOWN_FOCAL_SIGMA = 0.3
"""Relative uncertainty of that guess: it spans wide to short tele."""
FOCAL_MATCH = 0.01
"""Files of one camera and zoom state the same focal length to this."""
PROFILE_REUSE_SIGMAS = (0.002, 0.002, 0.002)
"""A lens refocuses between photos: added to the profile's log focal, k1 and k2."""
MIN_VIEWS, MIN_POINTS = 3, 6


@dataclass(frozen=True, slots=True, eq=False)
class LensPrior:
    """Lens expected before the photo is looked at.

    Parameters
    ----------
    lens
        Expected values.
    covariance
        (5, 5) of log focal, k1, k2, centre x, centre y.
    """

    lens: Lens
    covariance: Array

    def pull(self, lens: Lens) -> tuple[Array, Array]:
        """Deviation (5,) from what is expected, and the information (5, 5)."""
        deviation = np.array(
            [
                np.log(lens.focal_px / self.lens.focal_px),
                lens.k1 - self.lens.k1,
                lens.k2 - self.lens.k2,
                lens.centre_x_px - self.lens.centre_x_px,
                lens.centre_y_px - self.lens.centre_y_px,
            ]
        )
        return deviation, np.asarray(np.linalg.inv(self.covariance))


@dataclass(frozen=True, slots=True, eq=False)
class LensProfile:
    """One camera's lens at one focal length, measured from several photos of a flat target.

    Parameters
    ----------
    camera
        Camera model as the file states it.
    stated_focal_px
        Focal length as those files state it, in these pixels; None where they say nothing.
    width_px, height_px
        Size of the photos measured.
    lens
        What was measured.
    covariance
        (5, 5) of log focal, k1, k2, centre x, centre y.
    rms_px
        Root mean square of what was left over.
    """

    camera: str
    stated_focal_px: float | None
    width_px: int
    height_px: int
    lens: Lens
    covariance: Array
    rms_px: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "covariance", frozen(self.covariance, (5, 5)))

    def matches(self, photo: Photo) -> bool:
        """Whether a photo comes from the same camera, zoom and size (either way up)."""
        size = (photo.width_px, photo.height_px)
        if not self.camera or photo.camera != self.camera:
            return False
        if size not in ((self.width_px, self.height_px), (self.height_px, self.width_px)):
            return False
        return same_zoom(self.stated_focal_px, photo.focal_px)

    def prior(self, photo: Photo) -> LensPrior:
        """Expect this lens of a photo of the same size, either way up."""
        covariance = self.covariance.copy()
        covariance[range(3), range(3)] += np.square(PROFILE_REUSE_SIGMAS)
        if (photo.width_px, photo.height_px) == (self.width_px, self.height_px):
            return LensPrior(self.lens, covariance)
        # Turned by a quarter, one way or the other: the centre's offset is known but for its sign.
        middle = np.array([photo.width_px - 1, photo.height_px - 1]) / 2
        off = np.array(
            [
                self.lens.centre_y_px - (self.height_px - 1) / 2,
                self.lens.centre_x_px - (self.width_px - 1) / 2,
            ]
        )
        covariance[3:] = covariance[:, 3:] = 0.0
        covariance[[3, 4], [3, 4]] = self.covariance[[4, 3], [4, 3]] + off**2
        lens = replace(self.lens, centre_x_px=float(middle[0]), centre_y_px=float(middle[1]))
        return LensPrior(lens, covariance)


def same_zoom(one_px: float | None, other_px: float | None) -> bool:
    """Whether files of one camera that state these focal lengths, or none, are of one zoom."""
    if one_px is None or other_px is None:
        return one_px is other_px
    return abs(other_px / one_px - 1) < FOCAL_MATCH


def lens_prior(photo: Photo, terms: ModelTerms, profile: LensProfile | None = None) -> LensPrior:
    """Expect what a matching profile says, else what the file says, else what phones have."""
    width, height = photo.width_px, photo.height_px
    if profile is not None:
        return profile.prior(photo)
    if photo.focal_px is not None:
        focal, sigma = photo.focal_px, photo.focal_relative_sigma
    else:
        focal = PHONE_FOCAL_35MM / FULL_FRAME_DIAGONAL_MM * float(np.hypot(width, height))
        sigma = UNKNOWN_FOCAL_SIGMA
    centre = terms.centre_sigma * max(width, height)
    sigmas = np.array([sigma, terms.k1_sigma, terms.k2_sigma, centre, centre])
    lens = Lens(focal, (width - 1) / 2, (height - 1) / 2)
    return LensPrior(lens, np.diag(np.maximum(sigmas, 1e-6) ** 2))


def calibrate_lens(
    views: Sequence[tuple[PointsMm, PointsPx]],
    width_px: int,
    height_px: int,
    camera: str = "",
    stated_focal_px: float | None = None,
) -> LensProfile:
    """Measure a lens from several photos of one flat target.

    Parameters
    ----------
    views
        For each photo the target's points in its own plane (N, 2), mm, and in the photo (N, 2).
    width_px, height_px
        Size of the photos.
    camera, stated_focal_px
        What their files say, to match the profile later.

    Raises
    ------
    MeasurementError
        If there are too few photos or points, or no lens explains them.

    References
    ----------
    Z. Zhang, "A flexible new technique for camera calibration", IEEE PAMI 22(11), 2000.
    """
    usable = [
        (np.asarray(a, float), np.asarray(b, float)) for a, b in views if len(a) >= MIN_POINTS
    ]
    if len(usable) < MIN_VIEWS:
        raise MeasurementError(
            f"A lens profile needs {MIN_VIEWS} photos of the target or more, got {len(usable)}.",
            hint="Photograph the target from the left, the right, above and below.",
        )
    flags = cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3 | cv2.CALIB_FIX_ASPECT_RATIO
    guess = 0.8 * max(width_px, height_px)
    matrix = np.array(
        [[guess, 0, (width_px - 1) / 2], [0, guess, (height_px - 1) / 2], [0, 0, 1.0]]
    )
    solid = [np.c_[a, np.zeros(len(a))].astype(np.float32) for a, _ in usable]
    flat = [b.astype(np.float32).reshape(-1, 1, 2) for _, b in usable]
    try:
        rms, matrix, bend, turns, shifts = cv2.calibrateCamera(
            solid, flat, (width_px, height_px), matrix, np.zeros(5),
            flags=flags | cv2.CALIB_USE_INTRINSIC_GUESS,
        )  # fmt: skip
    except cv2.error as error:
        raise MeasurementError(
            "No lens explains the photos of the target.",
            hint="Leave out blurred photos and those where the target is bent.",
        ) from error
    k1, k2 = (float(v) for v in np.ravel(bend)[:2])
    lens = Lens(float(matrix[0, 0]), float(matrix[0, 2]), float(matrix[1, 2]), k1, k2)
    states = [
        CameraState(np.asarray(cv2.Rodrigues(r)[0], float), np.ravel(t).astype(float), lens)
        for r, t in zip(turns, shifts, strict=True)
    ]
    covariance = _lens_covariance(states, usable)
    if not (np.isfinite(covariance).all() and lens.focal_px > 0 and rms < 0.01 * width_px):
        raise MeasurementError(
            "The photos of the target do not agree on one lens.",
            hint="Take them with one phone at one zoom, from clearly different directions.",
        )
    return LensProfile(camera, stated_focal_px, width_px, height_px, lens, covariance, float(rms))


def _lens_covariance(states: Sequence[CameraState], views: Sequence[tuple[Array, Array]]) -> Array:
    """Covariance (5, 5) of the lens with every photo's pose left free (Schur complement)."""
    information = np.zeros((5, 5))
    left_over, count = 0.0, 0
    for state, (points_mm, points_px) in zip(states, views, strict=True):
        pixels, by_camera, _ = state.project(np.c_[points_mm, np.zeros(len(points_mm))])
        left_over += float(((pixels - points_px) ** 2).sum())
        count += pixels.size
        jacobian = by_camera.reshape(-1, 11)
        pose, lens = jacobian[:, POSE], jacobian[:, LENS]
        tied = np.linalg.solve(pose.T @ pose, pose.T @ lens)
        information += lens.T @ (lens - pose @ tied)
    variance = left_over / max(count - 6 * len(states) - 5, 1)
    return np.asarray(np.linalg.inv(information) * variance)
