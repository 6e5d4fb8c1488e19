"""What a file says of the camera's focal length, as a prior and never as truth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

FILM_DIAGONAL_MM = math.hypot(36.0, 24.0)
"""Diagonal of the 36 x 24 mm film frame: 43.27 mm."""

# Exif 2.3 (CIPA DC-008), tags of the Exif IFD.
_FOCAL_LENGTH = 0x920A
_PIXEL_X_DIMENSION = 0xA002
_PIXEL_Y_DIMENSION = 0xA003
_FOCAL_PLANE_X_RESOLUTION = 0xA20E
_FOCAL_PLANE_RESOLUTION_UNIT = 0xA210
_DIGITAL_ZOOM_RATIO = 0xA404
_FOCAL_LENGTH_35MM = 0xA405
_UNIT_MM = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}

# A lens's true focal length beside its nominal one, and its change with the focus distance:
# common practice, no source.
_NOMINAL_SIGMA = 0.01
_FOCAL_PLANE_SIGMA = 0.02
_USELESS_SIGMA = 0.15

ONLY_TRIMMED = 0.4
"""Share of the trimmed pictures with the camera's own Exif block that were not resized as well: the
programs that trim on a phone leave every pixel where it is (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class FocalPrior:
    """Focal length in pixels, and its standard uncertainty as a fraction of it.

    Last the 35 mm equivalent that it was worked out of; None where the file states it otherwise.
    """

    focal_px: float
    relative_sigma: float
    focal_35mm: float | None = None

    @property
    def from_size(self) -> bool:
        """Whether it was worked out from the picture's size, which trimming changes."""
        return self.focal_35mm is not None


@dataclass(frozen=True, slots=True)
class LensTags:
    """The tags that bear on the focal length; None where absent or unusable.

    ``pixel_dimensions`` are those of the picture as it was taken, either way up.
    """

    focal_35mm: float | None = None
    focal_mm: float | None = None
    plane_px_per_mm: float | None = None
    pixel_dimensions: tuple[int, int] | None = None
    digital_zoom: float = 1.0

    @classmethod
    def from_exif(cls, tags: Mapping[int, Any]) -> LensTags:
        """Read them from an Exif IFD as a mapping of tag number to value."""
        resolution = _positive(tags.get(_FOCAL_PLANE_X_RESOLUTION))
        unit_mm = _UNIT_MM.get(int(_positive(tags.get(_FOCAL_PLANE_RESOLUTION_UNIT)) or 2))
        across = _positive(tags.get(_PIXEL_X_DIMENSION))
        down = _positive(tags.get(_PIXEL_Y_DIMENSION))
        return cls(
            focal_35mm=_positive(tags.get(_FOCAL_LENGTH_35MM)),
            focal_mm=_positive(tags.get(_FOCAL_LENGTH)),
            plane_px_per_mm=resolution / unit_mm if resolution and unit_mm else None,
            pixel_dimensions=(int(across), int(down))
            if across and down and across >= 1 and down >= 1
            else None,
            digital_zoom=_positive(tags.get(_DIGITAL_ZOOM_RATIO)) or 1.0,
        )


def _positive(value: Any) -> float | None:
    """Read a tag as a positive finite number; None for all the ways it can be nonsense."""
    try:
        number = float(value[0] if isinstance(value, tuple | list) else value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError, IndexError, KeyError):
        return None
    return number if 0 < number < 1e9 else None


def focal_prior(tags: LensTags, width_px: int, height_px: int) -> FocalPrior | None:
    """Focal length of a picture of this size, from its tags.

    The 35 mm equivalent is taken as equality of the image diagonal; some makers mean the width.
    Its uncertainty adds up: the distance to the other readings of the same number, its rounding
    to a whole millimetre, what cropping leaves open, and 1 % for lens and focus.

    Parameters
    ----------
    tags
        What the file says.
    width_px, height_px
        Size of the decoded picture, either way up.

    Returns
    -------
    The prior, or None where the tags say nothing usable.

    References
    ----------
    Exif 2.3 (CIPA DC-008), tags 0xA405, 0x920A, 0xA20E. CIPA DCG-001 on the diagonal (from
    memory).

    Examples
    --------
    >>> prior = focal_prior(LensTags(focal_35mm=26), 4032, 3024)
    >>> round(prior.focal_px), round(prior.relative_sigma, 3)
    (3029, 0.031)
    """
    taken = tags.pixel_dimensions or (width_px, height_px)
    equivalent = None
    long_taken, short_taken = float(max(taken)), float(min(taken))
    scale, scale_sigma = scale_since_taken(
        long_taken, short_taken, float(max(width_px, height_px)), float(min(width_px, height_px))
    )
    if tags.focal_35mm is not None and 5 <= tags.focal_35mm <= 3000:
        equivalent = tags.focal_35mm
        focal = equivalent / FILM_DIAGONAL_MM * math.hypot(long_taken, short_taken)
        rounding = 0.5 / equivalent / math.sqrt(3)
        sigma = math.hypot(_reading_sigma(long_taken, short_taken), rounding, _NOMINAL_SIGMA)
    elif tags.focal_mm is not None and tags.plane_px_per_mm is not None:
        focal = tags.focal_mm * tags.plane_px_per_mm * tags.digital_zoom
        if not 0.2 < focal / long_taken < 100:
            return None  # the two tags contradict the picture's size
        sigma = _FOCAL_PLANE_SIGMA
    else:
        return None
    # Whether a digital zoom is already in the equivalent is not laid down: allow for both.
    zoom_sigma = abs(math.log(tags.digital_zoom)) / math.sqrt(12)
    sigma = math.hypot(sigma, scale_sigma, zoom_sigma)
    return FocalPrior(focal * scale, sigma, equivalent) if sigma < _USELESS_SIGMA else None


def _reading_sigma(long_px: float, short_px: float) -> float:
    """RMS distance of the other readings of a 35 mm equivalent from the diagonal, as a fraction.

    The others are the width of the frame (4.0 % from the diagonal at 4:3, none at 3:2) and, for a
    picture that is neither 4:3 nor 3:2, the diagonal of the 4:3 sensor that it was cut from.
    """
    diagonal = math.hypot(long_px, short_px) / FILM_DIAGONAL_MM
    others = [long_px / 36.0]
    aspect = long_px / short_px
    if not 1.30 < aspect < 1.53:
        long_whole = long_px if aspect > 4 / 3 else short_px * 4 / 3
        others.append(long_whole * 1.25 / FILM_DIAGONAL_MM)
    squares = [(other / diagonal - 1) ** 2 for other in others]
    return math.sqrt(sum(squares) / (1 + len(squares)))


def scale_since_taken(
    long_taken: float, short_taken: float, long_now: float, short_now: float
) -> tuple[float, float]:
    """Change of pixel scale since a picture was taken, and its relative sigma.

    Same proportions: resized. Other proportions: trimmed, and perhaps resized as well; a scale of
    1 is certain when a side kept its length, otherwise it is 1 in `ONLY_TRIMMED` of all and else
    anything down to the tightest trim.

    Parameters
    ----------
    long_taken, short_taken
        Sides of the picture as it was taken, px.
    long_now, short_now
        Sides of the picture as it is, px.
    """
    across, down = long_now / long_taken, short_now / short_taken
    pixel = 1.5 / short_now  # sizes are rounded to whole pixels
    if abs(across / down - 1) < max(pixel, 0.002):
        return math.sqrt(across * down), 0.0
    largest = max(across, down)
    if abs(largest - 1) < pixel or largest > 1:
        return max(largest, 1.0), 0.0
    # Mean and standard deviation of a logarithm that is 0, or even from that of the largest on.
    spread, apart = math.log(largest), 1 - ONLY_TRIMMED
    mean = apart * spread / 2
    return math.exp(mean), math.sqrt(apart * spread**2 / 3 - mean**2)
