"""Between sRGB, CIE XYZ, CIELAB and OKLab; adaptation to another white; hue and contrast.

Everything works on arrays whose last axis holds the three components. CIELAB here is always for
D65, the white of sRGB, unless a function takes a white.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.photo.linear_light import LUMINANCE, decode_srgb, encode_srgb

Colours = NDArray[np.float64]
"""(..., 3) colours; the variable's name says of which kind (``rgb``, ``linear``, ``lab``)."""

D65 = np.array([0.95047, 1.0, 1.08883])
"""XYZ of D65 for the 2° observer, Y = 1: ASTM E308-01, as used with sRGB."""
D50 = np.array([0.96422, 1.0, 0.82521])
"""XYZ of D50 for the 2° observer, Y = 1: ASTM E308-01, the white of ICC profiles."""

LINEAR_TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
"""IEC 61966-2-1 primaries, seven digits, so that (1, 1, 1) is D65 above to the last digit."""
XYZ_TO_LINEAR = np.linalg.inv(LINEAR_TO_XYZ)

BRADFORD = np.array(
    [
        [0.8951, 0.2664, -0.1614],
        [-0.7502, 1.7135, 0.0367],
        [0.0389, -0.0685, 1.0296],
    ]
)
"""Cone responses of the Bradford transform: K. M. Lam (1985), as in ICC.1:2022, annex E."""

_OKLAB_CONES = np.array(
    [
        [0.8189330101, 0.3618667424, -0.1288597137],
        [0.0329845436, 0.9293118715, 0.0361456387],
        [0.0482003018, 0.2643662691, 0.6338517070],
    ]
)
_OKLAB_AXES = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
_HEX = re.compile("[0-9A-Fa-f]{6}")
_CIE_EPSILON = 216 / 24389
_CIE_KAPPA = 24389 / 27


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike = D65) -> Colours:
    """CIELAB from XYZ (Y of white = 1).

    References
    ----------
    ISO/CIE 11664-4:2019, equations (1) to (6).
    """
    t = np.asarray(xyz, float) / np.asarray(white, float)
    f = np.where(t > _CIE_EPSILON, np.cbrt(t), (_CIE_KAPPA * t + 16) / 116)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def lab_to_xyz(lab: ArrayLike, white: ArrayLike = D65) -> Colours:
    """XYZ (Y of white = 1) from CIELAB.

    References
    ----------
    ISO/CIE 11664-4:2019, annex A.
    """
    values = np.asarray(lab, float)
    y = (values[..., 0] + 16) / 116
    f = np.stack([y + values[..., 1] / 500, y, y - values[..., 2] / 200], axis=-1)
    t = np.where(f**3 > _CIE_EPSILON, f**3, (116 * f - 16) / _CIE_KAPPA)
    return np.asarray(t * np.asarray(white, float))


def linear_to_lab(linear: ArrayLike) -> Colours:
    """CIELAB (D65) from linear sRGB light."""
    return xyz_to_lab(np.asarray(linear, float) @ LINEAR_TO_XYZ.T)


def lab_to_linear(lab: ArrayLike) -> Colours:
    """Linear sRGB light from CIELAB (D65); may lie outside 0 to 1."""
    return np.asarray(lab_to_xyz(lab) @ XYZ_TO_LINEAR.T)


def srgb_to_lab(rgb: ArrayLike) -> Colours:
    """CIELAB (D65) from sRGB, ``uint8`` 0 to 255 or float 0 to 1."""
    return linear_to_lab(decode_srgb(rgb))


def lab_to_srgb(lab: ArrayLike) -> NDArray[np.uint8]:
    """Nearest sRGB ``uint8`` of CIELAB (D65), clipped to the gamut."""
    return np.rint(encode_srgb(lab_to_linear(lab)) * 255).astype(np.uint8)


def lab_to_lch(lab: ArrayLike) -> Colours:
    """Lightness, chroma, and hue in degrees from 0 up to 360, of a Lab triple."""
    values = np.asarray(lab, float)
    hue = np.degrees(np.arctan2(values[..., 2], values[..., 1])) % 360
    return np.stack([values[..., 0], np.hypot(values[..., 1], values[..., 2]), hue], axis=-1)


def lch_to_lab(lch: ArrayLike) -> Colours:
    """Lab triple of lightness, chroma, and hue in degrees."""
    values = np.asarray(lch, float)
    hue = np.radians(values[..., 2])
    return np.stack(
        [values[..., 0], values[..., 1] * np.cos(hue), values[..., 1] * np.sin(hue)], axis=-1
    )


def xyz_to_oklab(xyz: ArrayLike) -> Colours:
    """OKLab from XYZ under D65.

    References
    ----------
    B. Ottosson, "A perceptual color space for image processing" (2020).
    """
    cones = np.cbrt(np.asarray(xyz, float) @ _OKLAB_CONES.T)
    return np.asarray(cones @ _OKLAB_AXES.T)


def adaptation(source: ArrayLike, target: ArrayLike) -> NDArray[np.float64]:
    """Bradford matrix (3, 3) that takes XYZ seen under one white to another.

    References
    ----------
    ICC.1:2022, annex E. B. Lindbloom, "Chromatic Adaptation", gives the D65 to D50 matrix.
    """
    ratio = (BRADFORD @ np.asarray(target, float)) / (BRADFORD @ np.asarray(source, float))
    return np.asarray(np.linalg.inv(BRADFORD) @ (ratio[:, None] * BRADFORD))


def adapt_lab(lab: ArrayLike, source: ArrayLike, target: ArrayLike) -> Colours:
    """CIELAB given for one white as CIELAB for another, by the Bradford transform."""
    return xyz_to_lab(lab_to_xyz(lab, source) @ adaptation(source, target).T, target)


def lab_to_din99(lab: ArrayLike) -> Colours:
    """DIN99o coordinates of CIELAB (D65), kE = kCH = 1.

    Straight distances in this space follow small CIEDE2000 differences closely, which CIELAB's
    do not, and unlike CIEDE2000 they are a metric. So means, medians and search bounds are sound.

    References
    ----------
    DIN 6176:2018-10. G. Cui, M. R. Luo, B. Rigg, G. Roesler, K. Witt, "Uniform colour spaces
    based on the DIN99 colour-difference formula", Color Res. Appl. 27(4):282-290, 2002.
    """
    values = np.asarray(lab, float)
    turn = np.radians(26)
    e = values[..., 1] * np.cos(turn) + values[..., 2] * np.sin(turn)
    f = 0.83 * (values[..., 2] * np.cos(turn) - values[..., 1] * np.sin(turn))
    radius = np.hypot(e, f)
    chroma = np.log1p(0.075 * radius) / 0.0435
    hue = np.arctan2(f, e) + turn
    lightness = 303.67 * np.log1p(0.0039 * values[..., 0])
    return np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)


def din99_to_lab(din99: ArrayLike) -> Colours:
    """CIELAB (D65) of DIN99o coordinates, kE = kCH = 1."""
    values = np.asarray(din99, float)
    turn = np.radians(26)
    chroma = np.hypot(values[..., 1], values[..., 2])
    hue = np.arctan2(values[..., 2], values[..., 1]) - turn
    radius = np.expm1(0.0435 * chroma) / 0.075
    e, f = radius * np.cos(hue), radius * np.sin(hue) / 0.83
    return np.stack(
        [
            np.expm1(values[..., 0] / 303.67) / 0.0039,
            e * np.cos(turn) - f * np.sin(turn),
            e * np.sin(turn) + f * np.cos(turn),
        ],
        axis=-1,
    )


def luminance(rgb: ArrayLike) -> NDArray[np.float64]:
    """Relative luminance 0 to 1 of sRGB.

    References
    ----------
    W3C, WCAG 2.2, "relative luminance".
    """
    return np.asarray(decode_srgb(rgb) @ LUMINANCE)


def contrast_ratio(rgb_1: ArrayLike, rgb_2: ArrayLike) -> NDArray[np.float64]:
    """Contrast 1 to 21 of two sRGB colours.

    References
    ----------
    W3C, WCAG 2.2, "contrast ratio".
    """
    first, second = luminance(rgb_1), luminance(rgb_2)
    return np.asarray((np.maximum(first, second) + 0.05) / (np.minimum(first, second) + 0.05))


def to_hex(rgb: ArrayLike) -> str:
    """``#rrggbb`` of one sRGB ``uint8`` triple.

    Examples
    --------
    >>> to_hex([255, 128, 0])
    '#ff8000'
    """
    red, green, blue = (int(v) for v in np.asarray(rgb))
    return f"#{red:02x}{green:02x}{blue:02x}"


def from_hex(text: str) -> NDArray[np.uint8]:
    """SRGB ``uint8`` triple of ``#rrggbb``.

    Raises
    ------
    ValueError
        If the text is no such code.

    Examples
    --------
    >>> from_hex("#ff8000")
    array([255, 128,   0], dtype=uint8)
    """
    digits = text.removeprefix("#")
    if not _HEX.fullmatch(digits):
        raise ValueError(f"expected a colour as #rrggbb, got {text!r}")
    return np.frombuffer(bytes.fromhex(digits), dtype=np.uint8)


def hex_to_linear(text: str) -> NDArray[np.float32]:
    """Linear light (3,) of ``#rrggbb``.

    Raises
    ------
    ValueError
        If the text is no such code.
    """
    return decode_srgb(from_hex(text)).astype(np.float32)
