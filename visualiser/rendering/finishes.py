"""What mouldings, mats and papers look like: reflectance, grain and gloss."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.colour.colorimetry import hex_to_linear
from visualiser.colour.finishes import FINISHES
from visualiser.errors import PieceError
from visualiser.inventory.piece import Moulding

_GRAINED = {"oak": 0.10, "walnut": 0.13, "natural": 0.06}
_METAL = {"brass", "silver"}


@dataclass(frozen=True, slots=True)
class Finish:
    """Surface of a moulding.

    Parameters
    ----------
    reflectance
        Linear RGB.
    grain
        Relative strength of the wood's figure; 0 for paint and metal.
    gloss
        How much more than a matt surface its shading follows the light's direction.
    coated
        Whether varnish, lacquer or paint gives it a surface that mirrors a little.
    """

    reflectance: tuple[float, float, float]
    grain: float = 0.0
    gloss: float = 1.0
    coated: bool = True


def moulding_finish(moulding: Moulding) -> Finish:
    """Surface of a moulding; its own colour code comes before the finish's usual one.

    Raises
    ------
    PieceError
        If a custom finish has no colour, or the colour is not a code such as #c8a464.
    """
    code = moulding.colour or FINISHES.get(moulding.finish, "")
    rgb = _colour(code, "moulding")
    return Finish(
        rgb,
        _GRAINED.get(moulding.finish, 0.0),
        1.7 if moulding.finish in _METAL else 1.0,
        moulding.finish != "natural",
    )


def mat_reflectance(code: str) -> tuple[float, float, float]:
    """Linear reflectance of a mat board's colour code."""
    return _colour(code, "mat")


def _colour(code: str, what: str) -> tuple[float, float, float]:
    try:
        red, green, blue = hex_to_linear(code)
    except ValueError:
        raise PieceError(
            f"The {what}'s colour {code!r} is not a colour code.",
            hint="Give a hash and six digits, such as #c8a464.",
        ) from None
    return float(red), float(green), float(blue)


@cache
def _wood() -> NDArray[np.float32]:
    """Wood's figure, zero mean and unit spread: long streaks, one texel a millimetre."""
    length, width = 2048, 64
    fine = np.random.default_rng(20).standard_normal((width, length)).astype(np.float32)
    thrice = np.tile(fine, (1, 3))  # so that the repeat has no seam
    figure = np.zeros_like(fine)
    for along, across, strength in ((101, 1, 1.0), (271, 7, 0.8)):
        streaks = thrice
        for _ in range(3):  # three boxes come close to a Gaussian
            streaks = np.asarray(cv2.blur(streaks, (along, across)), np.float32)
        streaks = streaks[:, length : 2 * length]
        figure += np.float32(strength) * streaks / streaks.std()
    figure /= figure.std()
    figure.flags.writeable = False
    return figure


def wood_figure(name: str) -> NDArray[np.float32]:
    """Wood's figure (64, 2048) along a rail, 1 mm a texel; each name has its own cut of it."""
    figure = _wood()
    return np.roll(figure, zlib.crc32(name.encode()) % figure.shape[1], axis=1)
