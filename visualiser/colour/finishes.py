"""Colours of frame finishes and mat boards, nominal, to judge a picture's surround by."""

from __future__ import annotations

import numpy as np

from visualiser.colour.colorimetry import from_hex, srgb_to_lab
from visualiser.colour.difference import delta_e_2000
from visualiser.colour.judgement import Judgement
from visualiser.colour.palette import Palette
from visualiser.colour.scales import FRAME_FIT

FINISHES: dict[str, str] = {
    "oak": "#b48a5a",
    "walnut": "#5f402d",
    "black": "#1d1b1a",
    "white": "#e9e6df",
    "brass": "#b8944f",
    "silver": "#b9bbbd",
    "natural": "#d2b68f",
}
"""Nominal sRGB of frame finishes: ours, no standard. Stock varies; measure if it matters."""

MATS: dict[str, str] = {
    "bright white": "#f7f7f5",
    "warm white": "#f4f1ea",
    "cream": "#efe4cb",
    "sand": "#d8c7a6",
    "pale grey": "#d3d3d0",
    "mid grey": "#8f8f8d",
    "charcoal": "#3c3c3e",
    "black": "#1f1e1d",
    "sage": "#a9b49a",
    "dusty blue": "#9fb0c0",
    "navy": "#26324a",
    "terracotta": "#b5694a",
}
"""Nominal sRGB of mat boards: ours, no standard."""


def judge_frame(palette: Palette, code: str, least_share: float = 0.05) -> Judgement:
    """Judge whether a frame of colour ``#rrggbb`` takes up a colour of the picture.

    Parameters
    ----------
    palette
        Of the picture.
    code
        The frame's colour.
    least_share
        Swatches smaller than this do not count as taken up.
    """
    main = palette.lab[palette.shares >= min(least_share, float(palette.shares.max()))]
    difference = float(np.min(delta_e_2000(main, srgb_to_lab(from_hex(code)))))
    return FRAME_FIT.judge(difference)
