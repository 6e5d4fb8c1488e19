"""Whether the corners of a rectangle are rounded as a bank card's, or square as most others' are.

The corner itself is a few pixels wide: what a rounding takes off is told from the light it lacks,
behind the photo's own blur, with the corner free to lie a little elsewhere.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

RADIUS_MM = 3.18
"""ISO/IEC 7810: 2.88 to 3.48 mm."""
FINE = 8
"""Parts of a pixel in which the shapes are drawn."""
OWN_SIGMA = 0.2
"""Standard deviation of the share of a rounding that is seen where noise is no matter: cards are
rounded by 0.9 to 1.1 times as much, shadows and prints lie in corners."""
LIKELIEST, LEAST, MOST = 1.0, -0.5, 3.0
"""Share that a card shows; and between which anything else may lie: cushions, tape, leaves."""
HIDDEN, NOT_SQUARE = 0.1, 0.3
"""One card in ten has something on its corners; of other rectangles three in ten have no square
ones (common practice, no source)."""
PIXELS_ALIKE = 4.0
"""Pixels of a developed photo that say the same."""


class Rounding(NamedTuple):
    """Share of a card's rounding that corners show, 0 to 1, and its standard uncertainty."""

    share: float
    sigma: float

    @property
    def log_odds(self) -> float:
        """How much likelier such corners are of a card than of something square."""
        from scipy.special import ndtr

        if not np.isfinite(self.sigma):
            return 0.0
        card, square = (
            np.exp(-0.5 * ((self.share - at) / self.sigma) ** 2) / (self.sigma * np.sqrt(2 * np.pi))
            for at in (LIKELIEST, 0.0)
        )
        # Anything is measured through the same uncertainty: what is wholly unsure says nothing.
        ends = ndtr((np.array([LEAST, MOST]) - self.share) / self.sigma)
        anything = float(ends[1] - ends[0]) / (MOST - LEAST)
        of_card = (1 - HIDDEN) * card + HIDDEN * anything
        of_other = (1 - NOT_SQUARE) * square + NOT_SQUARE * anything
        return float(np.log(of_card / of_other))


UNKNOWN = Rounding(0.5, np.inf)


def corner_rounding(
    photo: Photo, corners_px: PointsPx, sides: tuple[EdgeSamples, ...], size_mm: tuple[float, float]
) -> Rounding:
    """Measure how rounded the corners of a likely card are.

    Parameters
    ----------
    photo
        The photo.
    corners_px
        (4, 2) corners where its sides meet, clockwise.
    sides
        Samples of its sides, which tell the blur.
    size_mm
        Length of the first side and of the second.
    """
    blurs = [s.look.blur_px for s in sides if s.look is not None]
    if not blurs:
        return UNKNOWN
    seen = [_of_corner(photo, corners_px, i, size_mm, float(np.median(blurs))) for i in range(4)]
    known = np.array([one for one in seen if one is not None])
    if len(known) < 3:
        return UNKNOWN
    # The median: a leaf behind one corner, or a finger's mark, is no rounding.
    sigma = 1.25 * np.sqrt(np.mean(known[:, 1] ** 2) / len(known))
    return Rounding(float(np.median(known[:, 0])), float(np.hypot(sigma, OWN_SIGMA)))


def _of_corner(
    photo: Photo, corners_px: PointsPx, index: int, size_mm: tuple[float, float], blur_px: float
) -> tuple[float, float] | None:
    corner = corners_px[index]
    length_on, length_back = size_mm[index % 2], size_mm[(index + 1) % 2]
    on = (corners_px[(index + 1) % 4] - corner) / length_on  # px for each mm along the next side
    back = (corners_px[index - 1] - corner) / length_back
    reach = round(2.2 * RADIUS_MM * float(np.hypot(*on) + np.hypot(*back)) / 2 + 3)
    middle = np.rint(corner).astype(int)
    if (middle < reach).any() or (middle + reach >= [photo.width_px, photo.height_px]).any():
        return None
    square, rounded = _shapes(corner - middle, on, back, reach, blur_px)
    taken_off = square - rounded
    view = LinearView.around(photo.pixels, corner[None], reach + 1.0)
    grid = middle + np.stack(np.meshgrid(*[np.arange(-reach, reach + 1.0)] * 2), axis=-1)
    light = view.sample(grid).reshape(-1, 3).astype(float)
    inside, outside = (mask.ravel() for mask in (rounded > 0.98, square < 0.02))
    if min(inside.sum(), outside.sum()) < 6:
        return None
    # A corner that lies a little elsewhere is no rounding: two ways to move it are free.
    down, across = np.gradient(square)
    terms = [square, -taken_off, across, down, np.ones_like(square)]
    basis = np.stack([term.ravel() for term in terms], axis=1)
    # A lens blurs light, a camera's smoothing blurs codes, about its square root.
    fits = [_fit(values, basis, inside, outside) for values in (light, np.sqrt(light))]
    best = min((fit for fit in fits if fit is not None), default=None)
    return best[1:] if best is not None else None


def _fit(
    values: Array, basis: Array, inside: NDArray[np.bool_], outside: NDArray[np.bool_]
) -> tuple[float, float, float] | None:
    """Fit shapes to values (N, 3): misfit as a share of the step, share of rounding, its sigma."""
    contrast = np.median(values[inside], axis=0) - np.median(values[outside], axis=0)
    value = values @ (contrast / max(float(np.linalg.norm(contrast)), 1e-9))
    normal = np.linalg.pinv(basis.T @ basis)
    found = normal @ (basis.T @ value)
    if abs(found[0]) < 1e-6:
        return None
    freedom = max(len(value) - basis.shape[1], 1)
    variance = float(((value - basis @ found) ** 2).sum()) / freedom
    share = float(found[1] / found[0])
    gradient = np.array([-share, 1, 0, 0, 0]) / found[0]
    sigma = float(np.sqrt(PIXELS_ALIKE * variance * (gradient @ normal @ gradient)))
    return float(np.sqrt(variance)) / abs(float(found[0])), share, sigma


def _shapes(
    corner: Array, on: Array, back: Array, reach: int, blur_px: float
) -> tuple[Array, Array]:
    """Share of each pixel about the middle that a square and a rounded corner cover, blurred."""
    turn = np.linspace(np.pi, 1.5 * np.pi, 17)
    arc = RADIUS_MM * (1 + np.c_[np.cos(turn), np.sin(turn)])
    far = 4 * RADIUS_MM + 4 * reach / min(float(np.hypot(*on)), float(np.hypot(*back)))
    drawn = []
    for outline in (np.zeros((1, 2)), arc):
        outline_mm = np.r_[outline, [[far, 0.0], [far, far], [0.0, far]]]
        outline_px = corner + outline_mm @ np.array([on, back]) + reach
        canvas = np.zeros(((2 * reach + 1) * FINE,) * 2, np.float32)
        fine = np.round(((outline_px + 0.5) * FINE - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(canvas, [fine], 1.0, shift=4)
        own = np.sqrt(max(blur_px**2 - 1 / 12, 0.04))  # the blur seen holds the pixel's own
        soft = cv2.GaussianBlur(canvas, (0, 0), own * FINE)
        drawn.append(
            np.asarray(
                cv2.resize(soft, None, fx=1 / FINE, fy=1 / FINE, interpolation=cv2.INTER_AREA),
                float,
            )
        )
    return drawn[0], drawn[1]
