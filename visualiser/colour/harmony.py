"""Whether colours go together: Ou and Luo's two-colour harmony, and sums of it over palettes.

The model was fitted to 1431 pairs of flat colours seen on medium grey, without context. It judges
no picture: between pictures it follows lightness (r = 0.70 over 92 paintings and prints in 18
series) and tells pieces of one series from strangers no better than chance (area under the curve
0.52; the palette distance reaches 0.94). So nothing is ranked by it and no client is told of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.palette import Palette

HARMONY_RANGE = (-1.24, 1.39)
"""Published range of the model over the colours it was fitted to."""


def colour_harmony(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """Harmony CH of pairs of colours; the higher the more harmonious.

    Parameters
    ----------
    lab_1, lab_2
        CIELAB colours, shapes (..., 3) that broadcast against each other.

    Returns
    -------
    CH (...), about -1.2 to 1.4.

    References
    ----------
    L.-C. Ou, M. R. Luo, "A colour harmony model for two-colour combinations", Color Res. Appl.
    31(3):191-204, 2006.

    Examples
    --------
    >>> round(float(colour_harmony([50, 0, 0], [80, 0, 0])), 4)
    0.8934
    """
    first, second = np.asarray(lab_1, float), np.asarray(lab_2, float)
    chroma_1, chroma_2 = (np.hypot(c[..., 1], c[..., 2]) for c in (first, second))
    step = second - first
    chroma_step = chroma_2 - chroma_1
    # The metric hue difference of CIELAB, not the angle between the hues.
    hue_step_squared = np.maximum(step[..., 1] ** 2 + step[..., 2] ** 2 - chroma_step**2, 0)

    colour_difference = np.sqrt(hue_step_squared + (chroma_step / 1.46) ** 2)
    by_chroma = 0.04 + 0.53 * np.tanh(0.8 - 0.045 * colour_difference)

    lightness_sum = first[..., 0] + second[..., 0]
    by_lightness = 0.28 + 0.54 * np.tanh(-3.88 + 0.029 * lightness_sum)
    by_lightness += 0.14 + 0.15 * np.tanh(-2 + 0.2 * np.abs(step[..., 0]))

    return np.asarray(by_chroma + by_lightness + _hue_effect(first) + _hue_effect(second))


def _hue_effect(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Part of the harmony that one colour brings by its own hue."""
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    hue_deg = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360
    fades_in = 0.5 + 0.5 * np.tanh(-2 + 0.5 * chroma)
    by_hue = (
        -0.08
        - 0.14 * np.sin(np.radians(hue_deg + 50))
        - 0.07 * np.sin(np.radians(2 * hue_deg + 90))
    )
    from_yellow = (90 - hue_deg) / 10  # the model counts this in degrees
    by_yellow = (0.22 * lab[..., 0] - 12.8) / 10 * np.exp(from_yellow - np.exp(from_yellow))
    return np.asarray(fades_in * (by_hue + by_yellow))


def palette_harmony(palette: Palette) -> float:
    """Harmony within one palette: the mean of its pairs, weighted by the product of shares.

    A set as the mean of its pairs follows L.-C. Ou, P. Chong, M. R. Luo, C. Minchew, "Additivity
    of colour harmony", Color Res. Appl. 36(5):355-372, 2011 (from memory). A single colour is
    paired with itself.
    """
    if len(palette.swatches) == 1:
        return float(colour_harmony(palette.lab[0], palette.lab[0]))
    pairs = colour_harmony(palette.lab[:, None], palette.lab)
    weights = np.outer(palette.shares, palette.shares)
    np.fill_diagonal(weights, 0)
    return float((pairs * weights).sum() / weights.sum())


def mutual_harmony(palette_1: Palette, palette_2: Palette) -> float:
    """Harmony between two palettes: the mean over pairs across, weighted by shares."""
    pairs = colour_harmony(palette_1.lab[:, None], palette_2.lab)
    return float(palette_1.shares @ pairs @ palette_2.shares)
