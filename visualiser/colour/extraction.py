"""The palette of a picture: three to eight colours, and small vivid accents not lost."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.clustering import (
    Points,
    Weights,
    distances_to,
    group_sums,
    merge_once,
    settle,
)
from visualiser.colour.colorimetry import din99_to_lab, lab_to_din99, srgb_to_lab
from visualiser.colour.margins import picture_mask
from visualiser.colour.medoids import representatives
from visualiser.colour.palette import Palette, palette_from_lab
from visualiser.errors import ColourError
from visualiser.findings import Finding

DIN99_PER_CIEDE2000 = 1.2
"""Straight DIN99o distance for one unit of CIEDE2000: median over random sRGB pairs."""


@dataclass(frozen=True, slots=True)
class ExtractionSettings:
    """How a palette is drawn from a picture. All are choices, none is a standard.

    Parameters
    ----------
    least, most
        Bounds on the automatic count of swatches.
    worth
        A further swatch must lower the mean colour difference by this much, CIEDE2000.
    accent_share, accent_most, accent_difference, accent_chroma
        A small group of colours is an accent when its share of the picture is between the first
        two, lies this far (CIEDE2000) from every swatch, is this vivid (C*ab), and is more
        vivid than the swatch next to it or of another hue.
    accents
        Most accents that are kept.
    side_px
        Pictures are averaged down to about this side, so that one seen at 24 megapixels and at
        0.3 gives the same palette.
    """

    least: int = 3
    most: int = 8
    worth: float = 0.3
    accent_share: float = 0.003
    accent_most: float = 0.04
    accent_difference: float = 12.0
    accent_chroma: float = 30.0
    accents: int = 3
    side_px: int = 160


_INDISTINCT = 1e-3
"""Groups that cost less than this mean difference to join are the same colour."""
_ACCENT_CELLS = 500
"""Most histogram cells compared with each other in the search for accents: it bounds the time."""

DEFAULT_SETTINGS = ExtractionSettings()


def extract_palette(
    pixels: NDArray[np.uint8],
    count: int | None = None,
    *,
    mask: NDArray[np.bool_] | None = None,
    trim: bool = True,
    settings: ExtractionSettings = DEFAULT_SETTINGS,
) -> Palette:
    """Palette of a picture, largest share first.

    Parameters
    ----------
    pixels
        (H, W, 3) sRGB, (H, W, 4) with opacity, or (H, W) grey; uint8.
    count
        Number of swatches, accents included; None to choose it.
    mask
        (H, W) True where the picture is to be looked at.
    trim
        Leave out an even border or mat around the picture, and glare.
    settings
        What counts as worth a swatch and as an accent.

    Raises
    ------
    ColourError
        If nothing of the picture can be seen: no pixels, all transparent, or all masked out.
    ValueError
        If the array is no picture, or ``count`` is not 1 or more.

    Examples
    --------
    >>> import numpy as np
    >>> grey = np.full((40, 60, 3), 119, np.uint8)
    >>> [s.name for s in extract_palette(grey).swatches]
    ['medium gray']
    """
    if count is not None and count < 1:
        raise ValueError(f"expected a count of 1 or more, got {count!r}")
    rgb, weight = _seen(pixels, mask)
    if rgb.size == 0 or not weight.any():
        raise ColourError(
            "No pixel of the picture can be seen.",
            hint="Choose a picture that is not empty or fully transparent.",
        )
    source_px, opaque = rgb.shape[0] * rgb.shape[1], float(np.count_nonzero(weight)) / weight.size
    rgb, weight = _averaged(rgb, weight, settings.side_px)
    if trim:
        weight = weight * picture_mask(rgb, weight > 0.5)
    kept = weight > 0
    seen, share = _cells(rgb[kept].astype(np.float64), weight[kept].astype(np.float64), bits=5)
    share /= share.sum()
    lab = srgb_to_lab(seen / 255)
    points = lab_to_din99(lab)
    # The search runs on fewer, larger cells; all of them have a say in the end.
    rough, rough_share = _cells(seen, share, bits=4)
    centres = _search(lab_to_din99(srgb_to_lab(rough / 255)), rough_share, count, settings)
    centres, labels = settle(points, share, centres, rounds=4)
    mass = group_sums(labels, share, len(centres))
    own = _is_accent(centres, mass, settings)
    accents = _accents(points, share, lab, centres, settings, settings.accents - int(own.sum()))
    room = (count if count is not None else settings.most) - len(accents) - int(own.sum())
    if len(accents) and room >= 1:
        # Accents that the search found itself weigh as little as the new ones: joining goes by
        # weight and would drop them first.
        accents, centres, mass = np.vstack([centres[own], accents]), centres[~own], mass[~own]
        while len(centres) > room:
            _, centres, mass = merge_once(centres, mass)
        centres, labels = settle(points, share, np.vstack([centres, accents]), rounds=4)
        mass = group_sums(labels, share, len(centres))
    centres, mass = centres[mass > 0], mass[mass > 0]
    return palette_from_lab(
        din99_to_lab(centres),
        mass,
        _is_accent(centres, mass, settings),
        _findings(lab, share, source_px, opaque),
    )


def _seen(
    pixels: NDArray[np.uint8], mask: NDArray[np.bool_] | None
) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """Colour (H, W, 3) and opacity 0 to 1 (H, W) of a picture in any of the accepted forms."""
    array = np.asarray(pixels)
    if array.dtype != np.uint8 or array.ndim not in (2, 3):
        raise ValueError(f"expected uint8 pixels (H, W[, 3 or 4]), got {array.shape} {array.dtype}")
    if array.ndim == 2:
        array = np.repeat(array[:, :, None], 3, axis=2)
    if array.shape[2] not in (3, 4):
        raise ValueError(f"expected 3 or 4 channels, got {array.shape[2]}")
    weight = np.ones(array.shape[:2], np.float32)
    if array.shape[2] == 4:
        weight = (array[:, :, 3] >= 128).astype(np.float32)
    if mask is not None:
        if mask.shape != array.shape[:2]:
            raise ValueError(f"expected a mask of shape {array.shape[:2]}, got {mask.shape}")
        weight = weight * mask.astype(np.float32)
    return np.ascontiguousarray(array[:, :, :3]), weight


def _averaged(
    rgb: NDArray[np.uint8], weight: NDArray[np.float32], side_px: int
) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """Shrink by area means to about ``side_px`` squared pixels.

    Means are of coded values, as picture programs take them when they shrink: averages of
    averages then agree, which means of linear light after means of coded values would not.
    """
    import cv2

    height, width = weight.shape
    scale = side_px / np.sqrt(height * width)
    if scale >= 1:
        return rgb, weight
    size = (max(round(width * scale), 1), max(round(height * scale), 1))
    if weight.all():
        small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
        return np.asarray(small, np.uint8), np.ones(small.shape[:2], np.float32)
    seen = np.asarray(cv2.resize(weight, size, interpolation=cv2.INTER_AREA), np.float32)
    veiled = rgb.astype(np.float32) * weight[:, :, None]
    summed = np.asarray(cv2.resize(veiled, size, interpolation=cv2.INTER_AREA), np.float32)
    mean = summed.reshape(*seen.shape, 3) / np.maximum(seen, 1e-6)[:, :, None]
    return np.rint(np.clip(mean, 0, 255)).astype(np.uint8), np.where(seen > 0.25, seen, 0)


def _cells(rgb: NDArray[np.float64], weight: Weights, bits: int) -> tuple[Points, Weights]:
    """Mean sRGB 0 to 255 (N, 3) and weight (N,) of each used cell of ``bits`` bits a channel."""
    steps = rgb.astype(np.intp) >> (8 - bits)
    cell = (steps[:, 0] << 2 * bits) | (steps[:, 1] << bits) | steps[:, 2]
    count = 1 << 3 * bits
    mass = group_sums(cell, weight, count)
    used = np.flatnonzero(mass)
    sums = [group_sums(cell, weight * rgb[:, axis], count)[used] for axis in range(3)]
    return np.stack(sums, axis=1) / mass[used, None], mass[used]


def _search(
    points: Points, share: Weights, count: int | None, settings: ExtractionSettings
) -> Points:
    """Find swatch colours (K, 3), as few as they may be where their number is not given."""
    worth = settings.worth * DIN99_PER_CIEDE2000
    fewer = representatives(points, share, count if count is not None else settings.most)
    centres, distance = next(fewer)
    for candidate, further in fewer:
        needed = count is not None or len(centres) <= settings.least or further - distance >= worth
        # Colours that cannot be told apart are one swatch, whatever the count.
        if needed and further - distance > _INDISTINCT:
            break
        centres, distance = candidate, further
    return centres


def _accents(
    points: Points,
    share: Weights,
    lab: Points,
    main: Points,
    settings: ExtractionSettings,
    most: int,
) -> Points:
    """Small vivid groups that no swatch stands for, most noticeable first."""
    reach = settings.accent_difference * DIN99_PER_CIEDE2000
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    found: list[Points] = []
    centres = main
    while len(found) < most:
        distances = distances_to(points, centres)
        away = distances.min(1)
        beside = din99_to_lab(centres)[distances.argmin(1)]
        along = (lab[:, 1:] * beside[:, 1:]).sum(1) / np.maximum(chroma, 1e-9)
        # More vivid by a third, or, seen along its own hue, not much of it there.
        stands_out = chroma >= np.maximum(settings.accent_chroma, 4 / 3 * along)
        open_ = np.flatnonzero(stands_out & (away >= reach))
        if not open_.size:
            break
        open_ = open_[np.argsort(-(share * away)[open_], kind="stable")[:_ACCENT_CELLS]]
        near = distances_to(points[open_], points[open_]) <= reach / 2
        area = near @ share[open_]
        pull = near @ (share[open_] * away[open_])
        pull[(area < settings.accent_share) | (area > settings.accent_most)] = 0
        best = int(pull.argmax())
        if pull[best] <= 0:
            break
        members = open_[near[best]]
        centre = share[members] @ points[members] / share[members].sum()
        found.append(centre)
        centres = np.vstack([centres, centre])
    return np.array(found).reshape(-1, 3)


def _is_accent(centres: Points, mass: Weights, settings: ExtractionSettings) -> NDArray[np.bool_]:
    """Which swatches are small, vivid and far from every other."""
    apart = distances_to(centres, centres)
    np.fill_diagonal(apart, np.inf)
    lab = din99_to_lab(centres)
    return np.asarray(
        (mass <= settings.accent_most)
        & (np.hypot(lab[:, 1], lab[:, 2]) >= settings.accent_chroma)
        & (apart.min(1) >= settings.accent_difference * DIN99_PER_CIEDE2000)
    )


def _findings(lab: Points, share: Weights, source_px: int, opaque: float) -> tuple[Finding, ...]:
    """Say what limits a palette of these colours."""
    found: list[Finding] = []
    if source_px < 64:
        found.append(
            Finding(
                "advice",
                f"The picture has only {source_px} pixel{'s' if source_px > 1 else ''}.",
                "Use a larger picture; this palette says little.",
                "palette-few-pixels",
            )
        )
    if opaque < 0.05:
        found.append(
            Finding(
                "advice",
                f"Only {100 * opaque:.0f} % of the picture can be seen; the rest is transparent "
                "or masked.",
                "Use a picture without the empty part.",
                "palette-mostly-hidden",
            )
        )
    chroma, lightness = np.hypot(lab[:, 1], lab[:, 2]), lab[:, 0]
    if share @ (chroma > 5) < 0.02:
        blank = share @ (lightness > 97) > 0.98
        found.append(
            Finding(
                "advice",
                "The picture is blank white." if blank else "The picture has no hue of its own.",
                "Judge it by light and dark; hue says nothing here.",
                "palette-blank" if blank else "palette-monochrome",
            )
        )
    return tuple(found)
