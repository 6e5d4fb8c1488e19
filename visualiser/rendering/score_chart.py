"""Why an arrangement scores as it does: a row a term, with a bar and the sentence."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from visualiser.arrangement.arrangement import Arrangement

PAPER = (250, 249, 246)
INK = (60, 60, 62)
TRACK = (226, 222, 214)
BAR = (28, 92, 140)
OVERSAMPLE = 2


def draw_score(arrangement: Arrangement, *, width_px: int = 900) -> NDArray[np.uint8]:
    """Draw an arrangement's score terms, the weightiest first.

    The bar's length is the term, its thickness the weight, so that its area is what the term adds.

    Returns
    -------
    (H, W, 3) uint8 sRGB.

    Raises
    ------
    ValueError
        If the arrangement has not been scored, or the picture would be narrower than 300 px.
    """
    if not arrangement.terms or width_px < 300:
        raise ValueError("a score chart needs a scored arrangement and 300 px or more")
    unit = OVERSAMPLE * width_px / 90
    terms = sorted(arrangement.terms, key=lambda t: -t.weight)
    row = 3.2 * unit
    image = Image.new("RGB", (OVERSAMPLE * width_px, round(row * len(terms) + 5 * unit)), PAPER)
    pen = ImageDraw.Draw(image)
    large, small = (ImageFont.load_default(size=s * unit) for s in (1.7, 1.25))
    title = f"{arrangement.name or arrangement.family}   score {arrangement.score:.1f} of 100"
    pen.text((1.5 * unit, 2 * unit), title, INK, large, "lm")
    thickest = max(t.weight for t in terms)
    left, length = 23 * unit, 20 * unit
    for number, term in enumerate(terms):
        y = 4.5 * unit + number * row + row / 2
        half = max(0.2, 1.1 * term.weight / max(thickest, 1e-9)) * unit
        pen.text((1.5 * unit, y), f"{term.name}", INK, small, "lm")
        share = f"{100 * term.weight * term.value:.1f} of {100 * term.weight:.1f}"
        pen.text((left - unit, y), share, INK, small, "rm")
        pen.rectangle([left, y - half, left + length, y + half], TRACK)
        pen.rectangle([left, y - half, left + term.value * length, y + half], BAR)
        at = left + length + unit
        words = _wrapped(term.sentence, small, image.width - at - unit)
        pen.multiline_text((at, y), words, INK, small, "lm", spacing=0.2 * unit)
    size = (width_px, round(image.height / OVERSAMPLE))
    return np.asarray(image.resize(size, Image.Resampling.LANCZOS), dtype=np.uint8)


def _wrapped(sentence: str, font: ImageFont.FreeTypeFont | ImageFont.ImageFont, most: float) -> str:
    """Break a sentence into lines no wider than there is room."""
    lines = [""]
    for word in sentence.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and font.getlength(longer) > most:
            lines.append(word)
        else:
            lines[-1] = longer
    return "\n".join(lines)
