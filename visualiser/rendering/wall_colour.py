"""Another paint for the wall, and another colour for the room's light."""

from __future__ import annotations

from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.colour.colorimetry import hex_to_linear
from visualiser.errors import PieceError
from visualiser.photo.linear_light import LUMINANCE_32, to_linear, to_pixels
from visualiser.rendering.wall_mask import WallMask, find_wall_mask
from visualiser.survey.light import WallLight
from visualiser.survey.survey import Survey

RoomLight = Literal["as photographed", "neutral", "daylight", "evening"]
_STRIP_ROWS = 256
_LEAST_SHARE, _MIXED, _WHOLE = 0.01, 0.8, 0.999
"""Pixels with less of the wall are left alone; those with more than 0.8 count as nearly whole."""
_INCANDESCENT = np.array([1.845, 0.826, 0.233])
"""CIE illuminant A (XYZ 1.0985, 1, 0.3558) in linear sRGB, by the matrix of IEC 61966-2-1."""
_EYE_SHARE = 0.3
"""How much of a lamp's warmth is still seen by an eye that has got used to it."""


def paint_reflectance(colour: str) -> NDArray[np.float32]:
    """Reflectance (3,) of a paint by its colour code; PieceError if it cannot be read."""
    try:
        return hex_to_linear(colour).astype(np.float32)
    except ValueError:
        raise PieceError(
            f"The wall's colour {colour!r} is not a colour code.",
            hint="Give a hash and six digits, such as #c8a464.",
        ) from None


def repaint_wall(
    pixels: NDArray[np.uint8],
    survey: Survey,
    light: WallLight,
    colour: str,
    mask: WallMask | None = None,
) -> float:
    """Paint the wall another colour, in place, its light and texture kept.

    The light that a pixel has from the wall is multiplied by the ratio of the paints, in linear
    light; what it has of leaves and lamps stays.

    Parameters
    ----------
    pixels
        (H, W, 3) the photo.
    survey, light
        Its survey, and the light on its wall.
    colour
        Colour code of the paint.
    mask
        The wall in these pixels; found here when None.

    Returns
    -------
    Share of the usable wall in view that was repainted, 0 to 1.

    Raises
    ------
    PieceError
        If the colour cannot be read.
    """
    wanted = paint_reflectance(colour)
    gain = wanted / light.wall_reflectance - 1
    mask = mask or find_wall_mask(pixels, survey, light)
    step = 1 / mask.shrink
    # Most pixels are wholly of the wall: their new code depends on the old one alone.
    codes = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)
    table = to_pixels(to_linear(codes) * (1 + gain))
    for top in range(0, pixels.shape[0], _STRIP_ROWS):
        patch = pixels[top : top + _STRIP_ROWS]
        share, wall = mask.matte.rows(patch, top, step)
        whole = share > _WHOLE
        touched = (share > _LEAST_SHARE) & ~whole
        if touched.any():
            linear, part = to_linear(patch[touched]), share[touched][:, None]
            # A pixel wholly of the wall has its own light; a mixed one has the wall's of around it.
            own = np.clip((part - _MIXED) / (1 - _MIXED), 0, 1)
            light_here = part * wall[touched]
            light_here += own * (linear - light_here)
            patch[touched] = to_pixels(linear + light_here * gain)
        if whole.any():
            np.copyto(patch, cv2.LUT(np.ascontiguousarray(patch), table), where=whole[..., None])
    return mask.covered


def relight(pixels: NDArray[np.uint8], light: WallLight, room_light: RoomLight) -> None:
    """Show the picture as the eye would see it by another light, in place.

    "neutral" and "daylight" take the photo's colour cast out; daylight is also a little brighter.
    "evening" looks like lamp light to an eye that has got used to it.
    """
    if room_light == "as photographed":
        return
    white = np.median(light.white.reshape(-1, 3), axis=0)
    cast = white / max(float(white @ LUMINANCE_32), 1e-4)
    gain = 1.0 / np.maximum(cast, 0.05)
    if room_light == "daylight":
        gain = 1.12 * gain
    elif room_light == "evening":
        gain = 0.7 * gain * (1 + _EYE_SHARE * (_INCANDESCENT - 1))
    for top in range(0, pixels.shape[0], _STRIP_ROWS):
        rows = pixels[top : top + _STRIP_ROWS]
        rows[:] = to_pixels(to_linear(np.ascontiguousarray(rows)) * gain.astype(np.float32))
