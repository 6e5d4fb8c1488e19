"""From a photo or scan of an artwork to the picture itself: flat, of true shape, neutral."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from visualiser.errors import PhotoError, PieceError
from visualiser.findings import Finding
from visualiser.geometry import PointsPx
from visualiser.inventory.artwork_corners import find_quadrilateral, in_order
from visualiser.inventory.artwork_light import border_white, glare_share, neutralised
from visualiser.inventory.artwork_shape import aspect_from_perspective
from visualiser.inventory.piece import Artwork
from visualiser.photo.decoding import load_photo
from visualiser.photo.limits import PhotoLimits
from visualiser.photo.photo import PixelsRgb

LEAST_SIDE_PX = 16
LIMITS = PhotoLimits(file_bytes=150_000_000, pixels=150_000_000)
"""Scans are larger than photos; 150 megapixels are a metre at 300 dpi."""


@dataclass(frozen=True, slots=True, eq=False)
class SquaredUp:
    """A flat picture cut out of a photo.

    Parameters
    ----------
    artwork
        The picture.
    corners_px
        (4, 2) where it was in the photo: top-left, top-right, bottom-right, bottom-left.
    aspect
        Width over height.
    aspect_relative_sigma
        Standard uncertainty of the aspect as a fraction; 0 where it was given.
    findings
        Glare, doubts about the shape.
    """

    artwork: Artwork
    corners_px: PointsPx
    aspect: float
    aspect_relative_sigma: float
    findings: tuple[Finding, ...] = ()


def load_artwork(data: bytes, name: str = "") -> Artwork:
    """Decode an artwork's file; transparent parts become white paper.

    Raises
    ------
    PieceError
        If it is no picture, too large, or too small to be one.
    """
    try:
        photo = load_photo(data, LIMITS)
    except PhotoError as reason:
        raise PieceError(
            f"Artwork {name or 'file'}: {reason.message}", hint=reason.hint
        ) from reason
    if min(photo.width_px, photo.height_px) < LEAST_SIDE_PX:
        raise PieceError(
            f"Artwork {name or 'file'} is only {photo.width_px} x {photo.height_px} px.",
            hint="Use a scan or photo of at least a few hundred pixels a side.",
        )
    return Artwork(photo.pixels, name, photo.digest)


def square_up(
    pixels: PixelsRgb,
    corners_px: PointsPx | None = None,
    *,
    aspect: float | None = None,
    focal_px: float | None = None,
    neutralise: bool = True,
    name: str = "",
) -> SquaredUp:
    """Cut the picture out of a photo of it and turn it square on.

    Parameters
    ----------
    pixels
        (H, W, 3) the photo.
    corners_px
        (4, 2) corners as clicked, in any order; found when None.
    aspect
        Width over height where the size is known; recovered from the perspective when None.
    focal_px
        Focal length as the file states it; worked out from the perspective, or taken as usual
        for a phone, when None.
    neutralise
        Bring a white border to neutral white.
    name
        Of the artwork.

    Raises
    ------
    PieceError
        If no picture is found, or the corners are no quadrilateral.
    """
    height, width = pixels.shape[:2]
    if min(width, height) < LEAST_SIDE_PX:
        raise PieceError(
            f"The photo is only {width} x {height} px.", hint="Use a larger photo of the artwork."
        )
    if corners_px is None:
        corners_px = find_quadrilateral(pixels)
        if corners_px is None:
            raise PieceError(
                "No picture with four straight sides stands out in the photo.",
                hint="Click its four corners, or photograph it on a plain, contrasting ground.",
            )
    corners = in_order(corners_px)
    findings: list[Finding] = []
    sigma = 0.0
    if aspect is None:
        aspect, sigma = aspect_from_perspective(corners, width, height, focal_px)
        if sigma > 0.02:
            findings.append(
                Finding(
                    "advice",
                    f"The picture's shape is only known to ± {200 * sigma:.0f} % from this angle.",
                    "Give its measured width and height, or photograph it more squarely.",
                    code="aspect-uncertain",
                )
            )
    elif not 0.02 < aspect < 50:
        raise PieceError(
            f"A picture {aspect:g} times as wide as high is not possible here.",
            hint="Check its width and height.",
        )
    flat = _flattened(pixels, corners, aspect)
    if (share := glare_share(flat)) > 0.002:
        findings.append(
            Finding(
                "advice",
                f"A bright reflection hides about {100 * share:.1f} % of the picture.",
                "Photograph it again from a little to the side, or turn off the light behind you.",
                code="glare",
            )
        )
    if neutralise and (white := border_white(flat)) is not None:
        flat = neutralised(flat, white)
    return SquaredUp(Artwork(flat, name), corners, aspect, sigma, tuple(findings))


def _flattened(pixels: PixelsRgb, corners: PointsPx, aspect: float) -> PixelsRgb:
    """Picture resampled once, at about its own resolution, from light averaged where it shrinks."""
    top, right, bottom, left = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    wide, high = max(top, bottom), max(left, right)
    # The longest sides keep their pixels; the other direction follows from the aspect.
    width = max(wide, high * aspect)
    scale = min(1.0, math.sqrt(40e6 / max(width * width / aspect, 1)))
    columns, rows = max(round(width * scale), 1), max(round(width * scale / aspect), 1)
    target = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - 0.5
    to_flat = cv2.getPerspectiveTransform(corners.astype(np.float32), target)
    flat = cv2.warpPerspective(
        pixels, to_flat, (columns, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(flat, np.uint8)
