"""Whether quadrilaterals can be pictures of a rectangle of known sides, through a likely lens.

Once the focal length is given, a quadrilateral says of its rectangle both how long it is for its
width and whether its corners are square: two numbers to hold against the sheet that is looked for.
How sharp the test is follows from how well the corners are known and how well the lens is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo

Array = NDArray[np.float64]

PHONE_FOCAL_35MM = 28.0
"""Focal length assumed where the file states none, 35 mm equivalent by the image diagonal."""
UNKNOWN_FOCAL_SIGMA = 0.35
"""Relative uncertainty of that guess: it spans ultra-wide to short tele."""
FULL_FRAME_DIAGONAL_MM = 43.267
K1_SIGMA = 0.05
"""Radial distortion left in the picture."""
BOW_SIGMA = 0.004
"""Relative uncertainty of the ratio of a rectangle's sides, and of squareness: things bow."""


@dataclass(frozen=True, slots=True)
class ViewPrior:
    """What is known of the lens: focal length, its relative sigma, and the picture's middle."""

    focal_px: float
    focal_sigma: float
    centre_px: tuple[float, float]

    @classmethod
    def of(cls, photo: Photo) -> ViewPrior:
        """Take what the file states, or what phones usually have."""
        centre = ((photo.width_px - 1) / 2, (photo.height_px - 1) / 2)
        if photo.focal_px is not None:
            return cls(photo.focal_px, photo.focal_relative_sigma, centre)
        diagonal = float(np.hypot(photo.width_px, photo.height_px))
        return cls(
            PHONE_FOCAL_35MM / FULL_FRAME_DIAGONAL_MM * diagonal, UNKNOWN_FOCAL_SIGMA, centre
        )


@dataclass(frozen=True, slots=True, eq=False)
class RectangleFits:
    """Q quadrilaterals against one size of rectangle; arrays of shape (Q,).

    Parameters
    ----------
    upright
        Whether the first of the two sides runs along the top edge, as seen.
    chi2
        Squared misfit of ratio and squareness in their own sigmas: 2 degrees of freedom.
    log_spread
        Logarithm of the area, in ratio and squareness, that their sigmas span: how little the
        misfit says. A small quadrilateral agrees with many rectangles.
    ratio
        Width over height of the rectangle, as the quadrilateral has it.
    tilt_deg
        Angle between the rectangle's plane and the picture's.
    slant_deg, lean_deg
        How much of that angle a rectangle of these sides needs to look as long for its width as
        this quadrilateral: in all, and about the picture's horizontal (a camera held up or down).
    distance_mm
        From the camera to its centre, were it of that size.
    """

    upright: NDArray[np.bool_]
    chi2: Array
    log_spread: Array
    ratio: Array
    tilt_deg: Array
    slant_deg: Array
    lean_deg: Array
    distance_mm: Array


def fit_rectangles(
    quads_px: PointsPx,
    sides_mm: tuple[float, float],
    view: ViewPrior,
    corner_sigma_px: float | Array,
    shape_sigma: float = 0.0,
) -> RectangleFits:
    """Hold quadrilaterals (Q, 4, 2) in photo px against a rectangle of known sides, either way up.

    Parameters
    ----------
    quads_px
        Corners: top-left, top-right, bottom-right, bottom-left.
    sides_mm
        The rectangle's sides.
    view
        What is known of the lens.
    corner_sigma_px
        Standard deviation of a corner in x and in y: one for all, or (4, 2).
    shape_sigma
        How well the ratio of its sides, and its squareness, are known: relative.

    References
    ----------
    Z. Zhang & L.-W. He, "Whiteboard scanning and image enhancement", Digital Signal Processing
    17(2), 2007, section 3: ratio of a rectangle's sides from its picture.
    """
    rays = (np.asarray(quads_px, float) - view.centre_px) / view.focal_px
    shape, along, down, centre = _shape(rays)
    jacobian = np.stack(
        [(_shape(rays + step)[0] - shape) / amount for step, amount in _steps(rays)], axis=-1
    )
    corner_sigma = np.broadcast_to(np.asarray(corner_sigma_px) / view.focal_px, (4, 2)).ravel()
    sigma = np.r_[corner_sigma, K1_SIGMA, view.focal_sigma]
    covariance = (jacobian * sigma**2) @ np.swapaxes(jacobian, -1, -2)
    covariance += (BOW_SIGMA**2 + shape_sigma**2) * np.eye(2)
    target = np.log(sides_mm[0] / sides_mm[1]) * np.array([1.0, -1.0])
    misfit = shape[:, None, :] - np.stack([target, np.zeros(2)], axis=1)  # (Q, 2 ways up, 2)
    solved = np.linalg.solve(covariance[:, None], misfit[..., None])[..., 0]
    chi2 = (misfit * solved).sum(axis=-1)
    way = chi2.argmin(axis=1)
    width = np.where(way == 0, sides_mm[0], sides_mm[1])
    normal = np.cross(along, down)
    tilt = np.degrees(np.arccos(np.abs(normal[:, 2]) / np.linalg.norm(normal, axis=1)))
    height = np.where(way == 0, sides_mm[1], sides_mm[0])
    slant, lean = _foreshortening(rays, width, height)
    distance = np.linalg.norm(centre, axis=1) / np.linalg.norm(along, axis=1) * width
    return RectangleFits(
        way == 0,
        chi2[np.arange(len(way)), way],
        0.5 * np.linalg.slogdet(covariance)[1],
        np.exp(shape[:, 0]),
        tilt,
        slant,
        lean,
        distance,
    )


def _foreshortening(rays: Array, width: Array, height: Array) -> tuple[Array, Array]:
    """Slant in all, and about the horizontal, degrees (Q,), from lengths alone.

    From afar a circle in the rectangle's plane looks an ellipse: short over long axis is the cosine
    of the slant, and the short axis points the way it slants. Unlike the convergence of sides, that
    holds for small quadrilaterals too.
    """
    a, b, c, d = np.moveaxis(rays, 1, 0)
    along = (b - a + c - d) / (2 * width[:, None])
    down = (d - a + c - b) / (2 * height[:, None])
    ellipse = along[:, :, None] * along[:, None] + down[:, :, None] * down[:, None]
    squares, axes = np.linalg.eigh(ellipse)  # the short axis first
    cosine = np.sqrt(np.maximum(squares[:, 0], 0) / np.maximum(squares[:, 1], 1e-30))
    slant = np.degrees(np.arccos(np.clip(cosine, 0, 1)))
    return slant, slant * np.abs(axes[:, 1, 0])


def _shape(rays: Array) -> tuple[Array, Array, Array, Array]:
    """Log of width over height and cosine of the corner (Q, 2); both sides and the centre, (Q, 3).

    The homography from the unit square to the quadrilateral has, up to scale, the rectangle's two
    sides as its first columns, since these are seen through a normalised camera.
    """
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = np.moveaxis(rays, 0, -1)
    # Heckbert, "Fundamentals of texture mapping and image warping", 1989, section 2.2.3.
    sx, sy = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
    dx1, dy1, dx2, dy2 = x1 - x2, y1 - y2, x3 - x2, y3 - y2
    det = dx1 * dy2 - dx2 * dy1
    det = np.where(np.abs(det) < 1e-12, 1e-12, det)
    g, h = (sx * dy2 - dx2 * sy) / det, (dx1 * sy - sx * dy1) / det
    along = np.stack([x1 - x0 + g * x1, y1 - y0 + g * y1, g], axis=-1)
    down = np.stack([x3 - x0 + h * x3, y3 - y0 + h * y3, h], axis=-1)
    corner = np.stack([x0, y0, np.ones_like(x0)], axis=-1)
    a, d = np.linalg.norm(along, axis=1), np.linalg.norm(down, axis=1)
    cosine = (along * down).sum(axis=1) / (a * d)
    shape = np.stack([np.log(a / d), cosine], axis=-1)
    return shape, along, down, corner + (along + down) / 2


def _steps(rays: Array) -> list[tuple[Array, float]]:
    """Small changes of the rays: each corner coordinate, distortion, focal length."""
    amount = 1e-6
    steps: list[tuple[Array, float]] = []
    for index in range(8):
        step = np.zeros((4, 2))
        step.flat[index] = amount
        steps.append((step, amount))
    steps.append((amount * rays * (rays**2).sum(axis=-1, keepdims=True), amount))
    steps.append((-amount * rays, amount))
    return steps
