"""What the colours of a picture, a set or a room amount to, in a painter's words."""

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


def summarise(palette: Palette) -> Theme:
    """Theme of a palette, or of a blend of several."""
    lab, shares = palette.lab, palette.shares
    chroma_value = float(shares @ np.hypot(lab[:, 1], lab[:, 2]))
    hueless = chroma_value < 4
    temperature = TEMPERATURE.judge(
        float(shares @ warmth(lab)), trusted=palette.trusted and not hueless, doubt=_NO_HUE
    )
    lightness = LIGHTNESS_KEY.judge(float(shares @ lab[:, 0]))
    chroma = CHROMA_LEVEL.judge(chroma_value)
    families: dict[str, float] = {}
    for swatch in palette.swatches:
        family = hue_family(swatch.name)
        families[family] = families.get(family, 0.0) + swatch.share
    ordered = tuple(sorted(families.items(), key=lambda item: -item[1]))
    accents = tuple(s for s in palette.swatches if s.accent)
    template = best_template(palette)
    return Theme(
        temperature,
        lightness,
        chroma,
        ordered,
        accents,
        template,
        _in_words(temperature, lightness, chroma, ordered, accents, template),
    )


def _in_words(
    temperature: Judgement,
    lightness: Judgement,
    chroma: Judgement,
    families: tuple[tuple[str, float], ...],
    accents: tuple[Swatch, ...],
    template: TemplateFit | None,
) -> str:
    """Theme in one sentence."""
    main = [name for name, share in families if share >= 0.15] or [families[0][0]]
    words = [chroma.band, temperature.band] if temperature.trusted else [chroma.band]
    text = f"{', '.join(words)} and {lightness.band}, mostly {_listed(main[:3])}"
    if accents:
        text += f", with an accent of {_listed([s.name for s in accents[:2]])}"
    if template is not None and template.fits:
        text += f"; the hues are {template.template.meaning}"
    return text[0].upper() + text[1:] + "."


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
