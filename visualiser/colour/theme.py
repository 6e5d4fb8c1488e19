"""What the colours of a picture, a set or a room amount to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.clustering import merge_once
from visualiser.colour.colorimetry import din99_to_lab, lab_to_din99
from visualiser.colour.judgement import Judgement
from visualiser.colour.names import hue_family
from visualiser.colour.palette import Palette, Swatch, blend, palette_from_lab
from visualiser.colour.scales import CHROMA_LEVEL, LIGHTNESS_KEY, TEMPERATURE
from visualiser.colour.templates import TemplateFit, best_template
from visualiser.colour.wording import in_words

_WARMTH_STEP = 0.12
"""Least difference of overall warmth worth a word: about the distance from the middle of 271
pictures to their warmest or coolest quarter (0.15, 0.13). Ours."""
_NO_HUE = "the colours are almost without hue."


@dataclass(frozen=True, slots=True)
class Theme:
    """Summary of a palette.

    Parameters
    ----------
    temperature, lightness, chroma
        Judgements.
    families
        Hue families (ISCC-NBS level 1) and their shares, largest first.
    accents
        Small vivid swatches.
    template
        Figure that the hues make on the wheel; None without hue.
    sentence
        All of it in one sentence.
    """

    temperature: Judgement
    lightness: Judgement
    chroma: Judgement
    families: tuple[tuple[str, float], ...]
    accents: tuple[Swatch, ...]
    template: TemplateFit | None
    sentence: str


def overall_palette(
    palettes: Sequence[Palette], weights: ArrayLike | None = None, most: int = 8
) -> Palette:
    """One palette for a set, or for a set and its room: like colours joined, at most ``most``.

    Parameters
    ----------
    palettes
        What to bring together.
    weights
        How much each counts; equally by default.
    most
        Most swatches of the result.
    """
    mixed = blend(palettes, weights)
    centres, mass = lab_to_din99(mixed.lab), mixed.shares
    while len(centres) > 1:
        cost, fewer, merged = merge_once(centres, mass)
        if len(centres) <= most and cost > 1e-9:
            break
        centres, mass = fewer, merged
    return palette_from_lab(din99_to_lab(centres), mass, findings=mixed.findings)


def warmth(lab: ArrayLike) -> NDArray[np.float64]:
    """How warm (above 0) or cool (below 0) colours (..., 3) look; 0 for grey.

    The model's constant -0.5 is left out, so that grey is neither.

    References
    ----------
    L.-C. Ou, M. R. Luo, A. Woodcock, A. Wright, "A study of colour emotion and colour preference.
    Part I", Color Res. Appl. 29(3):232-240, 2004: warm-cool (formula from memory).
    """
    values = np.asarray(lab, float)
    chroma = np.hypot(values[..., 1], values[..., 2])
    hue = np.arctan2(values[..., 2], values[..., 1])
    return np.asarray(0.02 * chroma**1.07 * np.cos(hue - np.radians(50)))


def summarise(palette: Palette, beside: Sequence[Palette] = ()) -> Theme:
    """Summarise a palette, or a blend of several.

    Parameters
    ----------
    palette
        Of the picture, set or room.
    beside
        Palettes of the other pieces of its set, where it has any: then the sentence says warm or
        cool against those, not against pictures at large.
    """
    lab, shares = palette.lab, palette.shares
    chroma_value = float(shares @ np.hypot(lab[:, 1], lab[:, 2]))
    hueless = chroma_value < 4
    temperature = TEMPERATURE.judge(
        _overall_warmth(palette), trusted=palette.trusted and not hueless, doubt=_NO_HUE
    )
    lightness = LIGHTNESS_KEY.judge(float(shares @ lab[:, 0]))
    chroma = CHROMA_LEVEL.judge(chroma_value)
    families: dict[str, float] = {}
    for swatch in palette.swatches:
        family = hue_family(swatch.name)
        families[family] = families.get(family, 0.0) + swatch.share
    ordered = tuple(sorted(families.items(), key=lambda item: -item[1]))
    manner = [_KEYS.get(lightness.band, ""), _LEVELS.get(chroma.band, "")]
    if temperature.trusted:
        manner.append(_against(palette, beside) if beside else _TEMPERATURES[temperature.band])
    return Theme(
        temperature,
        lightness,
        chroma,
        ordered,
        tuple(s for s in palette.swatches if s.accent),
        best_template(palette),
        in_words(palette, [word for word in manner if word]),
    )


_KEYS = {"low key": "dark", "high key": "light"}
_LEVELS = {"neutral": "almost without colour", "muted": "muted", "vivid": "vivid"}
_TEMPERATURES = {"cool": "cool", "balanced": "", "warm": "warm"}


def _overall_warmth(palette: Palette) -> float:
    return float(palette.shares @ warmth(palette.lab))


def _against(palette: Palette, others: Sequence[Palette]) -> str:
    """Say how warm a piece is against the rest of its set; nothing where it is as they are."""
    rest = np.array([_overall_warmth(p) for p in others])
    step = _overall_warmth(palette) - float(rest.mean())
    # Beyond what the rest differ among themselves, and a step that can be seen at all.
    if abs(step) < max(_WARMTH_STEP, float(rest.std())):
        return ""
    return "warmer than the rest" if step > 0 else "cooler than the rest"
