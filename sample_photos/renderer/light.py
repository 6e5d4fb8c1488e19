"""Linear light and sRGB."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def srgb_to_linear(srgb: object) -> Array:
    """IEC 61966-2-1 decoding of values in 0..1."""
    s = np.asarray(srgb, float)
    return np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4)


def linear_to_srgb(linear: object) -> Array:
    """IEC 61966-2-1 encoding of values in 0..1."""
    x = np.asarray(linear, float)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055)


def hex_linear(code: str) -> Array:
    """'#rrggbb' (sRGB) to linear RGB."""
    return srgb_to_linear([int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)])
