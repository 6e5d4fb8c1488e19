"""What the camera-and-plane model leaves out, as standard uncertainties that can be changed."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

BOW_SHARE = 0.001
"""Bow of a building's edges, as a share of their length: 1 mm in 1 m. (Robust spread of edges seen
in photographs, the lens taken out: 0.0009 of 1,900 edges of York Urban at 640 px, 0.0011 to 0.0013
of 280 of a house at 4000 px: it grows with the length, not with the pixels.)"""


@dataclass(frozen=True, slots=True)
class ModelTerms:
    """Uncertainties that no residual shows. None is a standard; each says where it comes from.

    The reference's own size is not here: see ``Reference.size_sigma_mm``.
    """

    bloom_share: float = 0.12
    """Bright spreads over dark (tone curve, sharpening): all sides move out or in together.
    Standard uncertainty in blurs where one side of the edge is black, in proportion less elsewhere.
    A gentle S of the tone curve lifts what is half-way by 3 % of the step, which is 0.08 blurs; a
    camera's sharpening moves it by about as much. Clipped paper is counted apart: `EdgeLook`."""
    strip_share: float = 0.2
    """Wall that a sheet darkens beside it, were the strip quite black: a share of how far the
    sheet stands off. Half under an even sky, less for what white paper and wall throw back."""
    strip_share_sigma: float = 0.2
    """The same strip differs from side to side with where the light comes from."""
    gap_mm: float = 0.2
    """How far tape lets the underside of a sheet stand off."""
    side_sigma_px: float = 0.05
    """What else moves one side as a whole: the wall's pattern, lateral colour."""
    twist_share: float = 0.5
    """What moves a side moves one end of it more than the other: by this share of its sigma."""
    mark_sigma_px: float = 0.1
    """A printed target's corner; published figures run from 0.02 to 0.3 px."""
    click_sigma_px: float = 1.0
    """A corner clicked by hand."""
    bulge_sigma_mm: float = 1.0
    """Paper taped at its ends stands off between them."""
    stand_off_sigma_mm: float = 0.5
    """Thickness, tape and plaster: how far the whole reference lies off the wall's plane."""
    flatness_sigma_mm: float = 1.0
    """How far a plastered wall strays from a plane."""
    tilt_sigma_deg: float = 1.5
    """How crooked people tape a sheet by eye."""
    building_sigma_deg: float = 0.05
    """How plumb and level a room is built: about 1 mm in 1 m."""
    bow_share: float = BOW_SHARE
    """How far the middle of a building's edge strays from its chord, as a share of its length."""
    k1_sigma: float = 0.04
    """Distortion left in a phone's corrected picture, first term: 2.4 % at its corners. A longer
    lens may bend as much there, by a larger k1. (Common practice, no source; York Urban's camera,
    37 mm by its own lines: 2.1 % at its corners, k1 -0.066.)"""
    k2_sigma: float = 0.02
    """The second term."""
    centre_sigma: float = 0.008
    """Principal point off a whole frame's middle, as a share of its long side. In the published
    calibrations of five plain cameras (OpenCV's samples, York Urban and three more) it is 0.004 to
    0.035, root mean square 0.017; in phones less (common practice, no source)."""

    def __post_init__(self) -> None:
        for field in fields(self):
            if not 0 <= (value := getattr(self, field.name)) < math.inf:
                raise ValueError(f"{field.name} must be 0 or more, got {value!r}")
