"""Undo the light's colour: balance a photo by paper or by a neutral spot.

Balancing adapts in the Bradford cone space rather than channel by channel: on spectral data under
incandescent and LED light that halves the error of strong colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.colorimetry import (
    LINEAR_TO_XYZ,
    XYZ_TO_LINEAR,
    Colours,
    adaptation,
    lab_to_xyz,
    linear_to_lab,
)
from visualiser.colour.difference import delta_e_2000
from visualiser.errors import ColourError
from visualiser.findings import Finding
from visualiser.photo.linear_light import decode_srgb, encode_srgb

Source = Literal["sheet", "neutral", "camera"]


@dataclass(frozen=True, slots=True)
class PaperWhite:
    """What office paper looks like in even white light, and how far sheets differ.

    Its brightener adds blue in daylight and almost none under lamps, which hold no ultraviolet;
    so the default lies between, and b* is the least certain. Common practice, no source; a
    proofing paper of ISO 12647-2 measures about (95, 1, -4) (from memory).
    """

    lab: tuple[float, float, float] = (93.5, 0.7, -2.5)
    sigma: tuple[float, float, float] = (1.5, 0.8, 2.0)


@dataclass(frozen=True, slots=True, eq=False)
class Balance:
    """How to turn a photo's linear light into that under white light.

    Parameters
    ----------
    matrix
        (3, 3) for linear sRGB.
    sigma_lab
        (3,) standard uncertainty that the white itself brings to a near-neutral colour.
    source
        What it was made from; ``camera`` leaves the photo as it is.
    cast
        CIEDE2000 between the neutral as photographed and as it should be, lightness aside.
    findings
        What limits it.
    """

    matrix: NDArray[np.float64]
    sigma_lab: tuple[float, float, float]
    source: Source
    cast: float
    findings: tuple[Finding, ...] = ()

    def linear(self, linear: ArrayLike) -> Colours:
        """Balanced linear sRGB light (..., 3) of the photo's."""
        return np.asarray(np.asarray(linear, float) @ self.matrix.T)

    def lab(self, linear: ArrayLike) -> Colours:
        """Balanced CIELAB (D65) of the photo's linear light (..., 3)."""
        return linear_to_lab(np.maximum(self.linear(linear), 0))

    def pixels(self, pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Balanced sRGB picture (H, W, 3)."""
        balanced = encode_srgb(self.linear(decode_srgb(pixels)))
        return np.rint(balanced * 255).astype(np.uint8)


def unbalanced() -> Balance:
    """Leave the photo as the camera balanced it."""
    finding = Finding(
        "advice",
        "Nothing neutral in the photo tells the colour of the light.",
        "Tape up a sheet of white paper and photograph the wall again.",
        "balance-unknown",
    )
    return Balance(np.eye(3), (4.0, 4.0, 6.0), "camera", 0.0, (finding,))


def balance_by_neutral(
    linear: ArrayLike,
    target_lab: ArrayLike | None = None,
    *,
    sigma_lab: tuple[float, float, float] = (3.0, 2.0, 3.0),
    source: Source = "neutral",
) -> Balance:
    """Balance by something near neutral.

    Parameters
    ----------
    linear
        (N, 3) linear light of its pixels.
    target_lab
        CIELAB that it should have; by default a grey of the lightness it has.
    sigma_lab
        How sure that is.
    source
        What it is.

    Raises
    ------
    ColourError
        If it is black, clipped, or so strongly coloured that no light in a home would make it so.
    """
    light = np.median(np.asarray(linear, float).reshape(-1, 3), axis=0)
    clipped = (np.asarray(linear, float).reshape(-1, 3).max(axis=1) > 0.98).mean() > 0.25
    if clipped:
        raise ColourError(
            "The white is overexposed: it no longer shows the colour of the light.",
            hint="Photograph the wall a little darker.",
        )
    xyz = light @ LINEAR_TO_XYZ.T
    if xyz[1] < 0.01:
        raise ColourError(
            "The neutral is too dark to tell the colour of the light.",
            hint="Take something light grey or white.",
        )
    lightness = linear_to_lab(np.full(3, min(float(xyz[1]), 1.0)))[0]
    wanted = np.array([lightness, 0, 0]) if target_lab is None else np.asarray(target_lab, float)
    seen = linear_to_lab(light)
    cast = float(delta_e_2000([lightness, *seen[1:]], [lightness, *wanted[1:]]))
    if light.min() <= 0.02 * light.max() or cast > 45:
        raise ColourError(
            "The light is too strongly coloured, or the spot is not neutral.",
            hint="Photograph the wall in daylight, with a sheet of white paper taped up.",
        )
    goal = lab_to_xyz(wanted)
    scale = goal[1] / xyz[1] if target_lab is not None else 1.0
    matrix = XYZ_TO_LINEAR @ adaptation(xyz / xyz[1], goal / goal[1]) @ LINEAR_TO_XYZ * scale
    findings: tuple[Finding, ...] = ()
    if cast > 20:
        findings = (
            Finding(
                "advice",
                "The light is strongly coloured: what is white does not look white in the photo.",
                "Colours read under it are rough; photograph in daylight for better ones.",
                "balance-strong-cast",
            ),
        )
    return Balance(matrix, sigma_lab, source, cast, findings)


def balance_by_sheet(linear: ArrayLike, paper: PaperWhite | None = None) -> Balance:
    """Balance by a sheet of white paper whose pixels (N, 3), linear light, are given.

    Raises
    ------
    ColourError
        As `balance_by_neutral`.
    """
    white = paper or PaperWhite()
    return balance_by_neutral(linear, white.lab, sigma_lab=white.sigma, source="sheet")
