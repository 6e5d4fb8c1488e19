"""Another paint for the wall, and another colour for the room's light."""

from __future__ import annotations

from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.colour.colorimetry import hex_to_linear
from visualiser.errors import PieceError
from visualiser.photo.linear_light import LUMINANCE_32, to_linear, to_pixels
from visualiser.rendering.bare_wall import find_bare_wall
from visualiser.survey.light import WallLight
from visualiser.survey.survey import Survey

RoomLight = Literal["as photographed", "neutral", "daylight", "evening"]
_STRIP_ROWS = 256
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


def repaint_wall(pixels: NDArray[np.uint8], survey: Survey, light: WallLight, colour: str) -> float:
    """Paint the wall another colour, in place, its light and texture kept.

    What has the wall's colour under the light there, on the usable wall and joined to the wall
    around the reference, is taken for wall; what stands before it stays.

    Returns
    -------
    Share of the usable wall in view that was repainted, 0 to 1.

    Raises
    ------
    PieceError
        If the colour cannot be read.
    """
    wanted = paint_reflectance(colour)
    gain = wanted / light.wall_reflectance
    bare = find_bare_wall(pixels, survey, light)
    height, width = pixels.shape[:2]
    painted = wall = 0.0
    for top in range(0, height, _STRIP_ROWS):
        rows = min(_STRIP_ROWS, height - top)
        patch = pixels[top : top + rows]
        linear = to_linear(np.ascontiguousarray(patch))
        followed, usable, glow = bare.rows(top, rows, width)
        usual = light.white_in(0, top, width, rows) * light.wall_reflectance * np.exp(glow)
        share = _wall_likeness(linear, usual) * followed * (usable > 0.5)
        wall += float((usable > 0.5).sum())
        painted += float(share.sum())
        changed = linear * (1 + share[..., None] * (gain - 1))
        np.copyto(patch, to_pixels(changed), where=share[..., None] > 0.01)
    return painted / max(wall, 1.0)


def _wall_likeness(linear: NDArray[np.float32], usual: NDArray[np.float32]) -> NDArray[np.float32]:
    """How far each pixel is wall: colour tightly, brightness loosely where it is in shadow."""
    smooth = np.asarray(cv2.GaussianBlur(linear, (0, 0), 1.5), np.float32)
    ratio = np.log(np.maximum(smooth, 1e-4) / np.maximum(usual, 1e-4))
    tone = ratio @ LUMINANCE_32
    tint = np.abs(ratio - tone[..., None]).max(axis=2)
    off_tone = np.where(tone > 0, tone / 0.12, -tone / 0.4)
    likely = np.clip(2.0 - tint / 0.07, 0, 1) * np.clip(2.0 - off_tone, 0, 1)
    # Specks on doors and thin rims of things are neither wall nor worth a hole in it.
    levels = cv2.medianBlur(np.asarray(np.round(likely * 255), np.uint8), 9)
    return np.asarray(levels, np.float32) / np.float32(255)


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
