"""Between 8-bit sRGB and linear light, by tables: fast enough for whole photos.

Everything that adds, averages or multiplies light does so on linear values (1 is the white of the
sRGB encoding). Going there and back without a change in between returns every byte as it was.

References
----------
IEC 61966-2-1:1999, clause 5.2, with the threshold 0.04045.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.photo.photo import PixelsRgb

LinearRgb = NDArray[np.float32]
"""(H, W, 3) linear light of the sRGB primaries; 1 is encoded white."""

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Shares of the linear primaries in relative luminance (IEC 61966-2-1:1999, clause 5.2)."""
LUMINANCE_32 = LUMINANCE.astype(np.float32)
"""The same for whole pictures, whose light is held in single precision."""

_STEPS = 1 << 14
"""Entries of the encoding table. It is indexed by the square root of light, where steps that fine
stay under a fortieth of an 8-bit level even in the darkest tones."""


def decode_srgb(encoded: ArrayLike) -> NDArray[np.float64]:
    """Linear light of 0 to 1 of sRGB, ``uint8`` 0 to 255 or float 0 to 1."""
    given = np.asarray(encoded)
    if given.dtype == np.uint8:
        return np.asarray(decode_srgb(np.arange(256) / 255)[given])
    value = given.astype(np.float64)
    curved = ((np.maximum(value, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.asarray(np.where(value <= 0.04045, value / 12.92, curved))


def encode_srgb(linear: ArrayLike) -> NDArray[np.float64]:
    """SRGB of 0 to 1 of linear light; light outside 0 to 1 is clipped."""
    value = np.clip(np.asarray(linear, np.float64), 0.0, 1.0)
    curved = 1.055 * np.maximum(value, 1e-9) ** (1 / 2.4) - 0.055
    return np.asarray(np.where(value <= 0.04045 / 12.92, 12.92 * value, curved))


@cache
def _decoding() -> NDArray[np.float32]:
    return decode_srgb(np.arange(256) / 255).astype(np.float32)


@cache
def decoding_16() -> NDArray[np.uint16]:
    """Linear light of every 8-bit code (256,), scaled to 16 bits."""
    return np.round(decode_srgb(np.arange(256) / 255) * 65535).astype(np.uint16)


@cache
def _encoding() -> NDArray[np.float32]:
    light = (np.arange(_STEPS + 1) / _STEPS) ** 2
    return (encode_srgb(light) * 255).astype(np.float32)


def to_linear(pixels: PixelsRgb) -> LinearRgb:
    """Linear light of 8-bit sRGB pixels."""
    return np.asarray(cv2.LUT(pixels, _decoding()), np.float32)


def to_levels(linear: LinearRgb) -> NDArray[np.float32]:
    """Fractional 8-bit levels (0 to 255) of linear light; outside 0 to 1 is clipped."""
    index = np.sqrt(np.clip(linear, 0.0, 1.0)) * np.float32(_STEPS) + np.float32(0.5)
    return np.asarray(_encoding()[index.astype(np.uint16)])


def opponent_levels(linear: LinearRgb) -> NDArray[np.float32]:
    """Split linear light into tone, red less green and blue less green, in 8-bit levels.

    A camera's noise and the steps of its coding are about even in levels; in logarithms of light
    they would grow several times over towards the dark.
    """
    level = to_levels(linear)
    red, green, blue = level[..., 0], level[..., 1], level[..., 2]
    return np.stack([level @ LUMINANCE_32, red - green, blue - green], axis=-1)


def to_pixels(linear: LinearRgb) -> PixelsRgb:
    """8-bit sRGB pixels of linear light; outside 0 to 1 is clipped."""
    return (to_levels(linear) + np.float32(0.5)).astype(np.uint8)


def shrink_linear(pixels: PixelsRgb, width: int, height: int) -> LinearRgb:
    """Shrink by averaging light, not levels: what a smaller sensor would have caught.

    Works through strips, so that very large pictures need little memory beside themselves.
    """
    rows, columns = pixels.shape[:2]
    if width > columns or height > rows:
        raise ValueError(f"cannot shrink {columns} x {rows} to {width} x {height}")
    # An area average is separable: narrow strip by strip first, then shorten.
    table = decoding_16()
    narrow = np.empty((rows, width, 3), np.uint16)
    step = max(1, (1 << 21) // columns)
    for top in range(0, rows, step):
        strip = cv2.LUT(pixels[top : top + step], table)
        narrow[top : top + step] = cv2.resize(
            strip, (width, len(strip)), interpolation=cv2.INTER_AREA
        )
    small = cv2.resize(narrow, (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32) / np.float32(65535)
