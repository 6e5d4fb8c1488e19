"""What is known of the lens beforehand: from the file, or from photos of a printed target."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import frozen
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.camera.terms import ModelTerms

Array = NDArray[np.float64]

PHONE_FOCAL_35MM = 28.0
"""Focal length assumed of an unknown phone, 35 mm equivalent by the image diagonal."""
FULL_FRAME_DIAGONAL_MM = 43.267
UNKNOWN_FOCAL_SIGMA = 0.3
"""Relative uncertainty of that guess: it spans wide to short tele."""
STATED_FIELD = 0.5
"""Share of makers whose 35 mm equivalent is the angle that the picture's corners take in, as the
guideline has it; others scale the lens's own focal length by the sensor's size, barrel or not.
(Common practice, no source. York Urban's one camera lies further off than either.)"""
FOCAL_MATCH = 0.01
"""Files of one camera and zoom state the same focal length to this."""
PROFILE_REUSE_SIGMAS = (0.002, 0.002, 0.002)
"""A lens refocuses between photos: added to the profile's log focal, k1 and k2."""


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

    def deviation(self, lens: Lens) -> Array:
        """How far (5,) a lens is from what is expected."""
        return np.array(
            [
                np.log(lens.focal_px / self.lens.focal_px),
                lens.k1 - self.lens.k1,
                lens.k2 - self.lens.k2,
                lens.centre_x_px - self.lens.centre_x_px,
                lens.centre_y_px - self.lens.centre_y_px,
            ]
        )


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
    left_over_px
        Standard deviation, in x and in y, of what neighbouring points share of it: no noise of
        finding them, but what the model of the lens, or the target's flatness, leaves out.
    """

    camera: str
    stated_focal_px: float | None
    width_px: int
    height_px: int
    lens: Lens
    covariance: Array
    rms_px: float
    left_over_px: float = 0.0

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
        # Which way it was turned is not known, and so not what is askew about the axis either.
        lens = replace(
            self.lens, centre_x_px=float(middle[0]), centre_y_px=float(middle[1]), p1=0.0, p2=0.0
        )
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
    # Tangent of the angle at which the corners are seen, against an unknown phone's.
    corner = float(np.hypot(width, height)) / 2 / focal
    longer = max(FULL_FRAME_DIAGONAL_MM / 2 / PHONE_FOCAL_35MM / corner, 1.0)
    bent = np.array([terms.k1_sigma * longer**2, terms.k2_sigma * longer**4])
    sigmas = np.maximum([sigma, *bent, centre, centre], 1e-6)
    covariance = np.diag(sigmas**2)
    if photo.focal_35mm is not None:
        _tie_to_corners(covariance, FULL_FRAME_DIAGONAL_MM / 2 / photo.focal_35mm)
    return LensPrior(Lens(focal, (width - 1) / 2, (height - 1) / 2), covariance)


def _tie_to_corners(covariance: Array, tangent: float) -> None:
    """Let a focal length that was stated as an angle of view depend on what bends the corners.

    Corners seen at that angle lie ``focal * tangent * (1 + k1 tangent^2 + k2 tangent^4)`` from the
    middle, whatever the lens: log focal is what was stated less ``k1 tangent^2 + k2 tangent^4``.

    Parameters
    ----------
    covariance
        (5, 5) of a lens prior, the lens's parameters independent as yet; changed in place.
    tangent
        Tangent of half the angle that is stated of the picture's diagonal.

    References
    ----------
    CIPA DCG-001: the 35 mm equivalent is that of the angle of view (from memory).
    """
    by_k = -np.array([tangent**2, tangent**4])
    bent = np.diag(covariance)[1:3]
    covariance[0, 1:3] = covariance[1:3, 0] = STATED_FIELD * by_k * bent
    covariance[0, 0] += STATED_FIELD * float((by_k**2 * bent).sum())
