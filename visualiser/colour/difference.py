"""How far apart two colours look: CIEDE2000."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

OPPOSITE_TOLERANCE_DEG = 1e-9
"""Hues this close to half a turn apart count as exactly half a turn apart.

At half a turn the mean hue, and with it the formula, jumps. Where the decimal input says 180°
exactly (pair 14 of Sharma et al.), the last bit of an arctangent must not decide which side the
result falls on; this is a million times coarser than that bit and finer than any measurement.
"""


def delta_e_2000(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """CIEDE2000 difference, with the parametric factors kL = kC = kH = 1.

    Parameters
    ----------
    lab_1, lab_2
        CIELAB colours, shapes (..., 3) that broadcast against each other.

    Returns
    -------
    Differences (...), 0 or more.

    References
    ----------
    ISO/CIE 11664-6:2022. The steps are numbered as in G. Sharma, W. Wu, E. N. Dalal, "The
    CIEDE2000 color-difference formula: implementation notes, supplementary test data, and
    mathematical observations", Color Res. Appl. 30(1):21-30, 2005.

    Examples
    --------
    >>> round(float(delta_e_2000([50, 2.6772, -79.7751], [50, 0, -82.7485])), 4)
    2.0425
    """
    lightness_1, a_1, b_1 = np.moveaxis(np.asarray(lab_1, np.float64), -1, 0)
    lightness_2, a_2, b_2 = np.moveaxis(np.asarray(lab_2, np.float64), -1, 0)

    # Equations (2) to (7): a' stretches the a axis of greys, then chroma and hue.
    mean_chroma = (np.hypot(a_1, b_1) + np.hypot(a_2, b_2)) / 2
    stretch = 1.5 - 0.5 * _blue_weight(mean_chroma)
    a_1, a_2 = a_1 * stretch, a_2 * stretch
    chroma_1, chroma_2 = np.hypot(a_1, b_1), np.hypot(a_2, b_2)
    hue_1 = np.degrees(np.arctan2(b_1, a_1)) % 360
    hue_2 = np.degrees(np.arctan2(b_2, a_2)) % 360
    grey = chroma_1 * chroma_2 == 0

    # Equations (8) to (11).
    turn = hue_2 - hue_1
    wrapped = np.abs(turn) > 180 + OPPOSITE_TOLERANCE_DEG
    turn = np.where(wrapped, turn - 360 * np.sign(turn), turn)
    delta_hue = 2 * np.sqrt(chroma_1 * chroma_2) * np.sin(np.radians(np.where(grey, 0, turn)) / 2)

    # Equations (12) to (14): mean hue on the shorter arc; the sum where one has none.
    total = hue_1 + hue_2
    mean_hue = np.where(
        grey,
        total,
        np.where(wrapped, (total + np.where(total < 360, 360, -360)) / 2, total / 2),
    )
    mean_chroma = (chroma_1 + chroma_2) / 2

    # Equations (15) to (21): the weights.
    hue_weight = (
        1
        - 0.17 * np.cos(np.radians(mean_hue - 30))
        + 0.24 * np.cos(np.radians(2 * mean_hue))
        + 0.32 * np.cos(np.radians(3 * mean_hue + 6))
        - 0.20 * np.cos(np.radians(4 * mean_hue - 63))
    )
    rotation_deg = 30 * np.exp(-(((mean_hue - 275) / 25) ** 2))
    rotation = -np.sin(np.radians(2 * rotation_deg)) * 2 * _blue_weight(mean_chroma)
    offset = ((lightness_1 + lightness_2) / 2 - 50) ** 2
    scaled_lightness = (lightness_2 - lightness_1) / (1 + 0.015 * offset / np.sqrt(20 + offset))
    scaled_chroma = (chroma_2 - chroma_1) / (1 + 0.045 * mean_chroma)
    scaled_hue = delta_hue / (1 + 0.015 * mean_chroma * hue_weight)

    # Equation (22). Rounding can take the sum of equal colours below zero by an ulp.
    squared = (
        scaled_lightness**2
        + scaled_chroma**2
        + scaled_hue**2
        + rotation * scaled_chroma * scaled_hue
    )
    return np.asarray(np.sqrt(np.maximum(squared, 0)))


def _blue_weight(chroma: NDArray[np.float64]) -> NDArray[np.float64]:
    seventh = chroma**7
    return np.asarray(np.sqrt(seventh / (seventh + 25.0**7)))
