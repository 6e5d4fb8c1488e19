"""How sharp edges keep to the grid of pixels, and pull a side that runs along it out of line.

An edge hardly wider than a pixel is seen by one or two of them, and where it is read depends a
little on where it lies between their centres: a wave of one pixel's period along the way across
the grid, of a few hundredths of a pixel, and of two tenths where white is clipped and the edge
looks sharper than the lens is. Along a side that crosses many rows the wave averages out. Along one
that all but follows the grid a part of one wave is left, which is a shift and a turn of the whole
side; and two sides of a sheet turned apart read as a turn of the wall.
"""

from __future__ import annotations

import numpy as np

from visualiser.rectification.reference import EdgeLook, EdgeSamples

WAVE_PX, WAVE_FALL, CLIPPED_FACTOR = 0.15, 2.8, 2.7
"""Amplitude of the wave: ``WAVE_PX exp(-WAVE_FALL blur_px**2)``, and that many times as much where
white is clipped. Measured on edges drawn exactly and developed by a camera model (blur 0.45 to 0.8
px, sharpened, tone curve, JPEG): 0.07 px for the sharpest and 0.02 for the softest, 0.2 and 0.05 to
0.07 where the paper is 1.3 to 2.5 times as bright as white; beside the wave 0.01 to 0.03 px are
left there."""


def lock_sigmas_px(samples: EdgeSamples) -> tuple[float, float]:
    """How far the wave may shift a side as a whole, and turn it: px, at its ends.

    A line fitted to a wave of amplitude ``a`` and unknown phase that goes through ``s`` periods
    over the side is shifted by ``a / sqrt(2)`` times the spherical Bessel function ``j0(pi s)``
    (root mean square), and turned by ``3 j1(pi s)`` times that. Between their zeros, which depend
    on the wave being quite regular, both are replaced by what bounds them.
    """
    if samples.look is None or len(samples) < 2:
        return 0.0, 0.0
    crossed = np.pi * float(np.ptp(samples.points_px, axis=0).min())
    size = wave_px(samples.look) / np.sqrt(2)
    shift = size / np.hypot(1.0, crossed)
    turn = size * crossed / np.hypot(1.0, crossed**2 / 3)
    return float(shift), float(turn)


def wave_px(look: EdgeLook) -> float:
    """Amplitude of the wave for an edge that looks like this."""
    clipped = 1 + (CLIPPED_FACTOR - 1) * look.clipped_share
    return float(WAVE_PX * np.exp(-WAVE_FALL * look.blur_px**2) * clipped)
