"""How far off one side of a frame may look by itself, and how far turned.

Blocks along a side are no independent witnesses: what puts one off, a brick beside it, a step in a
shadow, a square of the picture's compression, puts its neighbours off as well. How far they scatter
says how far the side may be off, however many they are. And a shadow cast on the wall, as wide as
the blur, joins a dark frame to the eye: it moves that side out, and softens it. A frame that is
lighter than what it is seen before ends, to the eye, where its surface has turned half way from the
side, which is as dark, to the front.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from visualiser.rectification.reference import EdgeSamples
from visualiser.rectification.side_shift import CAST_SIGMA, SAME_BLUR

SIDE_SIGMA_PX, SIDE_SHARE = 0.1, 0.125
"""What each side may be off by, however clear it is: at least, and as a share of the photo's blur,
within which shades beside the edge mix with it."""
MOULDING_SIGMA_MM, ROUNDED_SIGMA_MM = 0.3, 0.6
"""How far a moulding's edge may be off the section it is taken for."""
TURNED_SIGMA = 0.6
"""How unsure it is where a light frame seems to end, as a share of how far in that is: between its
very edge and twice as far, all alike likely."""
FAINT, FAINT_SIGMA_MM = 0.35, 1.5
"""A step of less than this share of what it rises from may be another line of the section, such as
a bevel's ridge or the shade in an eased edge: they lie some millimetres in."""
TOGETHER = 1.2
"""A side is off by so many times what its blocks scatter by. (957 sides in rendered rooms: 1.1 to
1.4, in proportion to the scatter of a block and not to that of their mean.)"""
CAST_SHARE = 0.7
"""Share of the widening that a dark side is seen further out by: between nothing, for an eased
edge, and 1.4 times it, for a strip of two thirds of full darkness; all alike likely."""
TWIST_SHARE = 0.6
"""What moves a side moves one end of it more than the other: by this share. (The same sides.)"""
SHARP_PERCENTILE = 10
"""Sides as sharp as this share of all are as sharp as the photo is."""


@dataclass(frozen=True, slots=True)
class SideDoubt:
    """How far out a side looks beyond where it is, px; the sigma of that, and of a twist."""

    outward_px: float
    sigma_px: float
    twist_sigma_px: float


def sharpest_px(sides: Sequence[EdgeSamples], untold_px: float = np.inf) -> float:
    """Tell a photo's own blur from its sides, some of which are softened by shadows."""
    blurs = [samples.look.blur_px for samples in sides if samples.look is not None]
    return float(np.percentile(blurs, SHARP_PERCENTILE)) if blurs else untold_px


def side_doubt(
    samples: EdgeSamples,
    sharp_px: float,
    px_per_mm: float,
    merged_px: float,
    *,
    rounded: bool,
    half_turned_mm: float = 0.0,
) -> SideDoubt:
    """Judge one side by how it looks.

    Parameters
    ----------
    samples
        The side as it was seen, normals pointing into the frame.
    sharp_px
        Blur of the photo.
    px_per_mm
        Scale of the photo there.
    merged_px
        How far it may be off because it is either of two lines.
    rounded
        Whether the frame's face has no sharp edge.
    half_turned_mm
        How far in its surface has turned half way to the front; 0 for the foot.

    Notes
    -----
    A moulding that is not quite the one it is taken for, or the other of two lines, moves a side
    without turning it: the twist is a share of the rest.
    """
    look = samples.look
    scatter = TOGETHER * float(np.median(samples.sigma_px))
    widened = coded = outward = 0.0
    moulding_mm = ROUNDED_SIGMA_MM if rounded else MOULDING_SIGMA_MM
    if look is not None:
        widened = float(np.sqrt(max(look.blur_px**2 - (SAME_BLUR * sharp_px) ** 2, 0.0)))
        coded = look.shared_sigma_px
        light = look.contrast > 0
        outward = -half_turned_mm * px_per_mm if light else CAST_SHARE * widened
        if light:
            moulding_mm = float(np.hypot(moulding_mm, TURNED_SIGMA * half_turned_mm))
        if abs(look.contrast) < FAINT:
            moulding_mm = float(np.hypot(moulding_mm, FAINT_SIGMA_MM))
    least = max(SIDE_SIGMA_PX, SIDE_SHARE * sharp_px) if np.isfinite(sharp_px) else SIDE_SIGMA_PX
    seen = float(np.linalg.norm([least, scatter, CAST_SIGMA * widened, coded]))
    whole = float(np.linalg.norm([seen, moulding_mm * px_per_mm, merged_px]))
    return SideDoubt(outward, whole, TWIST_SHARE * seen)
