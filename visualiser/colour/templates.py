"""Hue templates: whether the hues of a palette fall into one of a few simple figures on the wheel.

Hue and saturation are those of HSV, the wheel on which the templates are defined.
"""

from __future__ import annotations

import colorsys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.colorimetry import from_hex
from visualiser.colour.palette import Palette


@dataclass(frozen=True, slots=True)
class HueTemplate:
    """A figure on the hue wheel.

    Parameters
    ----------
    name
        The letter it is published under.
    sectors
        Centre, relative to the figure's own angle, and width of each sector, degrees.
    meaning
        What the hues are, in a painter's words.
    """

    name: str
    sectors: tuple[tuple[float, float], ...]
    meaning: str

    @property
    def coverage(self) -> float:
        """Part of the wheel that it covers."""
        return sum(width for _, width in self.sectors) / 360


TEMPLATES: tuple[HueTemplate, ...] = (
    HueTemplate("i", ((0, 18),), "all of one kind"),
    HueTemplate("I", ((0, 18), (180, 18)), "two opposites"),
    HueTemplate("V", ((0, 93.6),), "neighbours"),
    HueTemplate("L", ((0, 18), (90, 79.2)), "of one kind with a range a quarter turn away"),
    HueTemplate("Y", ((0, 93.6), (180, 18)), "neighbours with one opposite"),
    HueTemplate("T", ((0, 180),), "on one half of the wheel"),
    HueTemplate("X", ((0, 93.6), (180, 93.6)), "in two opposite ranges"),
)
"""D. Cohen-Or, O. Sorkine, R. Gal, T. Leyvand, Y.-Q. Xu, "Color harmonization", ACM Trans. Graph.
25(3):624-630, 2006, section 3, after Y. Matsuda (1995) and M. Tokumaru et al. (2002). The widths
are 5 % of the wheel for small sectors, 26 % for the large ones of V, Y and X, 22 % for that of L,
50 % for T; the centres lie 180° apart, those of L 90° (from memory of the paper; the 27 % that L
covers altogether is restated by others). Some public code gives L's wide sector 93.6°, which is
the width of V. The eighth, N, is the absence of hue: `best_template` then gives None."""


@dataclass(frozen=True, slots=True)
class TemplateFit:
    """How well hues fall into a template.

    Parameters
    ----------
    template
        The figure.
    angle_deg
        How far it is turned, HSV hue of its first sector's centre.
    off_deg
        Mean distance of the hues outside its sectors, weighted by share and saturation.
    fits
        Whether that is within the tolerance asked for.
    """

    template: HueTemplate
    angle_deg: float
    off_deg: float
    fits: bool


def hue_and_saturation(palette: Palette) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """HSV hue in degrees (N,) and saturation 0 to 1 (N,) of a palette's swatches."""
    hsv = np.array([colorsys.rgb_to_hsv(*(from_hex(s.hex) / 255)) for s in palette.swatches])
    return hsv[:, 0] * 360, hsv[:, 1]


def off_template(
    hues_deg: ArrayLike, template: HueTemplate, angle_deg: ArrayLike
) -> NDArray[np.float64]:
    """Arc from each hue (N,) to the nearest sector edge, 0 inside, for each angle (A,): (A, N)."""
    hues = np.atleast_1d(np.asarray(hues_deg, float))
    angles = np.atleast_1d(np.asarray(angle_deg, float))
    offsets, widths = (np.array(v, float) for v in zip(*template.sectors, strict=True))
    turn = hues[None, :, None] - angles[:, None, None] - offsets
    arc = np.abs((turn + 180) % 360 - 180)
    return np.asarray(np.maximum(arc - widths / 2, 0).min(axis=2))


def fit_template(
    hues_deg: ArrayLike, weights: ArrayLike, template: HueTemplate, tolerance_deg: float = 5.0
) -> TemplateFit:
    """Turn a template to where it leaves out least.

    What is left out changes its slope only where a sector's edge or the middle between two edges
    passes a hue, so trying the edges at every hue finds the best angle exactly.

    Raises
    ------
    ValueError
        If no hue has a weight.
    """
    hues, amounts = np.asarray(hues_deg, float), np.asarray(weights, float)
    if not amounts.sum() > 0:
        raise ValueError("a template needs hues with a weight above 0")
    angles = np.concatenate(
        [
            (hues - centre + side * width / 2) % 360
            for centre, width in template.sectors
            for side in (-1, 0, 1)
        ]
    )
    off = off_template(hues, template, angles) @ amounts / amounts.sum()
    best = int(np.argmin(np.round(off, 9)))
    return TemplateFit(
        template, float(angles[best]), float(off[best]), bool(off[best] <= tolerance_deg)
    )


def best_template(
    palette: Palette,
    templates: Sequence[HueTemplate] = TEMPLATES,
    tolerance_deg: float = 5.0,
    least_saturation: float = 0.08,
) -> TemplateFit | None:
    """Smallest figure that the palette's hues fall into, else the one that leaves out least.

    Parameters
    ----------
    palette
        Its shares times saturations are the weights.
    templates
        Which to try.
    tolerance_deg
        Mean distance outside that still counts as inside. Ours.
    least_saturation
        Share-weighted saturation below which there is no hue to judge. Ours.

    Returns
    -------
    The fit; None for a palette of greys, which has no hue.
    """
    hues, saturation = hue_and_saturation(palette)
    weights = palette.shares * saturation
    if weights.sum() < least_saturation:
        return None
    fits = [fit_template(hues, weights, t, tolerance_deg) for t in templates]
    inside = [f for f in fits if f.fits]
    if inside:
        return min(inside, key=lambda f: (f.template.coverage, f.off_deg))
    return min(fits, key=lambda f: f.off_deg)
