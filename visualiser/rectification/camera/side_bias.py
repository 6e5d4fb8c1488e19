"""Why a whole side looks a little displaced, how far, and how sure one can be of it.

Hundreds of samples along a side are no hundred witnesses: what moves one moves all. Some things do.
A sheet stands off its wall by a fraction of a millimetre and darkens a strip of wall beside it;
behind the blur that strip cannot be told from the edge, and moves it: inwards where the sheet is
lighter than the wall, and the further, the less they differ (on a white wall by a quarter of a
pixel), outwards where it is darker. Tone curves and flare spread what is bright over what is dark,
on all sides alike. A wall's own pattern beside the sheet moves a side by a little, and so does the
grid of pixels where a side follows it: see `pixel_lock`.

Sharp edges keep to the grid of pixels and pull a side that runs along it out of line. An edge
hardly wider than a pixel is seen by one or two of them, and where it is read depends a little on
where it lies between their centres: a wave of one pixel's period along the way across the grid, of
a few hundredths of a pixel, and of two tenths where white is clipped and the edge looks sharper
than the lens is. Along a side that crosses many rows the wave averages out. Along one that all but
follows the grid a part of one wave is left, which is a shift and a turn of the whole side; and two
sides of a sheet turned apart read as a turn of the wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.terms import ModelTerms
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


Array = NDArray[np.float64]

MOST_SHIFT_PX = 1.5
"""Where sheet and wall are all but equal the strip would explain any shift: no more than this."""
FAINTEST = 0.01
"""Contrast, as a share, below which an edge says nothing of its own."""
SAME_BLUR = 1.08
"""Sides of one reference are equally sharp to this factor."""
CAST_SIGMA = 0.4
"""A shadow of share d of full darkness and width w moves an edge by d w and widens its blur, in
squares, by d (1 - d) w²: for d of a third to two thirds the shift is 0.7 to 1.4 times the widening.
"""
CLIPPED_SIGMA = 0.3
"""How unsure it is how far clipped white has spread over what is beside it, in blurs: it is really
brighter by a factor between 1 and 3 (one and a half stops over), so that the half-level, moved out
by `edges.CLIPPED_SHIFT`, lies anywhere between 0 and 0.97 outside."""
TYPICAL_BLUR_PX = 0.9
"""Where the blur was not measured."""


@dataclass(frozen=True, slots=True)
class SideShift:
    """How far out a side looks beyond where it is, px, the sigma of that, and of a twist.

    The twist is how much further one end is out, and the other in.
    """

    outward_px: float
    sigma_px: float
    twist_px: float


def side_shift(
    samples: EdgeSamples,
    px_per_mm: float,
    thickness_mm: float,
    sharpest_px: float,
    terms: ModelTerms,
    *,
    inward: bool,
) -> SideShift:
    """Expect a side's shift.

    Parameters
    ----------
    samples
        The side as it was seen.
    px_per_mm
        Scale of the photo there.
    thickness_mm
        Of the sheet or card.
    sharpest_px
        Blur of the reference's sharpest side.
    terms
        What the model leaves out.
    inward
        Whether the samples' normals point into the reference.
    """
    look = samples.look
    if look is None:
        plain = terms.side_sigma_px
        return SideShift(0.0, plain, terms.twist_share * plain)
    # The strip takes light from the wall's side of the step: a shift of strip over contrast.
    contrast = _against_wall(look.contrast, inward=inward)
    strip = terms.strip_share * (thickness_mm + terms.gap_mm) * px_per_mm
    spread = strip / terms.strip_share * terms.strip_share_sigma if terms.strip_share else 0.0
    faint = max(abs(contrast), FAINTEST)
    shift = float(np.clip(-np.sign(contrast) * strip / faint, -MOST_SHIFT_PX, MOST_SHIFT_PX))
    doubt = min(spread / faint, MOST_SHIFT_PX)
    cast = 0.0
    if contrast < 0:
        # A cast shadow as wide as the blur joins a dark card to the eye, but softens that side.
        cast = float(np.sqrt(max(look.blur_px**2 - (SAME_BLUR * sharpest_px) ** 2, 0.0)))
    sigma = np.sqrt(
        terms.side_sigma_px**2 + doubt**2 + look.shared_sigma_px**2 + (CAST_SIGMA * cast) ** 2
    )
    lock, turn = lock_sigmas_px(samples)
    # What wanders along a side puts its ends off as much as its middle.
    twist = np.linalg.norm([terms.twist_share * sigma, look.wander_px, turn])
    whole = np.linalg.norm([sigma, look.wander_px, lock])
    return SideShift(shift + cast, float(whole), float(twist))


def bloom_sigma_px(sides: tuple[EdgeSamples, ...], terms: ModelTerms) -> float:
    """Sigma of how far all four sides have spread together: a share of the blur, by contrast."""
    looks = [side.look for side in sides if side.look is not None]
    if not looks:
        return terms.bloom_share * TYPICAL_BLUR_PX
    spread = [terms.bloom_share * look.blur_px * _difference(look.contrast) for look in looks]
    clipped = [CLIPPED_SIGMA * look.blur_px * look.clipped_share for look in looks]
    return float(np.hypot(np.median(spread), np.median(clipped)))


def _against_wall(contrast: float, *, inward: bool) -> float:
    """Light of the reference over the wall's, less one, whichever way the edge was crossed."""
    if inward:
        return contrast
    return 1 / max(1 + contrast, 1e-3) - 1


def _difference(contrast: float) -> float:
    """Difference of two lights as a share of the brighter one."""
    return abs(contrast) / max(1.0, 1 + contrast) if np.isfinite(contrast) else 1.0
