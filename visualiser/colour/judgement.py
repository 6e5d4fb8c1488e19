"""A judgement: a number, the band it falls in, and one sentence for the client.

Taste is the person's. No band forbids anything; each is a default that can be replaced.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Judgement:
    """One thing said about colours.

    Parameters
    ----------
    kind
        What is judged, such as ``coherence``.
    value
        The number behind it, in ``unit``.
    unit
        ``ΔE00``, ``CH`` (Ou and Luo's harmony), ``°``, ``L*`` or ``C*``.
    band
        A word or two.
    sentence
        What to tell the client.
    trusted
        False where the colours give little to judge by; the sentence then says so.
    """

    kind: str
    value: float
    unit: str
    band: str
    sentence: str
    trusted: bool = True

    def __str__(self) -> str:
        return f"{self.sentence} ({self.band}, {self.value:.3g} {self.unit})"


@dataclass(frozen=True, slots=True)
class Band:
    """One step of a scale: values up to and with ``up_to`` fall in it."""

    up_to: float
    name: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Scale:
    """Bands from low to high, the last open-ended.

    Parameters
    ----------
    kind, unit
        As in `Judgement`.
    bands
        Their limits must rise and end with infinity.
    """

    kind: str
    unit: str
    bands: tuple[Band, ...]

    def __post_init__(self) -> None:
        limits = [band.up_to for band in self.bands]
        if not limits or limits != sorted(set(limits)) or limits[-1] != math.inf:
            raise ValueError(f"the limits of a scale must rise to infinity, got {limits!r}")

    def judge(self, value: float, *, trusted: bool = True, doubt: str = "") -> Judgement:
        """Put a value in its band.

        Parameters
        ----------
        value
            The number.
        trusted
            Whether the colours give enough to judge by.
        doubt
            Why they do not, as a full sentence.

        Raises
        ------
        ValueError
            If the value is not a number.
        """
        if math.isnan(value):
            raise ValueError("a judgement needs a number")
        band = next(b for b in self.bands if value <= b.up_to)
        sentence = band.sentence
        if not trusted:
            sentence = f"{sentence} Take this lightly: {doubt or 'there is little to go by.'}"
        return Judgement(self.kind, float(value), self.unit, band.name, sentence, trusted)


_END = math.inf

COHERENCE = Scale(
    "coherence",
    "ΔE00",
    (
        Band(9, "one palette", "These pieces share one palette and read as a single set."),
        Band(16, "related", "These pieces are clearly related in colour."),
        Band(24, "varied", "These pieces vary in colour; a shared mat or frame would tie them."),
        Band(_END, "unrelated", "These pieces have little colour in common."),
    ),
)
"""Mean palette distance over all pairs of a set. The limits are ours."""

HARMONY = Scale(
    "harmony",
    "CH",
    (
        Band(-0.3, "tense", "The colours pull against each other."),
        Band(0.2, "neutral", "The colours neither clash nor blend."),
        Band(0.6, "agreeable", "The colours go well together."),
        Band(_END, "harmonious", "The colours sit very easily together."),
    ),
)
"""Ou and Luo's harmony, whose published range is -1.24 to 1.39. The limits are ours."""

WALL_CONTRAST = Scale(
    "contrast with the wall",
    "ΔE00",
    (
        Band(6, "melts in", "The piece nearly melts into the wall behind it."),
        Band(15, "quiet", "The piece stands out quietly from the wall."),
        Band(35, "clear", "The piece stands out clearly from the wall."),
        Band(_END, "strong", "The piece stands out strongly from the wall."),
    ),
)
"""Share-weighted CIEDE2000 of a piece's colours to the wall's paint. The limits are ours."""

FRAME_FIT = Scale(
    "frame and picture",
    "ΔE00",
    (
        Band(8, "taken up", "The frame takes up a colour of the picture."),
        Band(18, "related", "The frame is related to a colour of the picture."),
        Band(_END, "set apart", "The frame sets the picture apart rather than taking up a colour."),
    ),
)
"""CIEDE2000 from the finish to the nearest swatch of some size. The limits are ours."""

ROOM_FIT = Scale(
    "piece and room",
    "ΔE00",
    (
        Band(12, "belongs", "The piece takes up the room's colours."),
        Band(22, "related", "The piece is related to the room's colours."),
        Band(32, "contrasts", "The piece contrasts with the room."),
        Band(_END, "stands alone", "The piece has little colour in common with the room."),
    ),
)
"""Palette distance from a piece to the room. The limits are ours."""

TEMPERATURE = Scale(
    "temperature",
    "WC",
    (
        Band(-0.15, "cool", "The colours are cool overall."),
        Band(0.15, "balanced", "Warm and cool colours are in balance."),
        Band(_END, "warm", "The colours are warm overall."),
    ),
)
"""Chromatic part of Ou et al.'s warm-cool scale, weighted by share. The limits are ours."""

LIGHTNESS_KEY = Scale(
    "lightness key",
    "L*",
    (
        Band(38, "low key", "The set is dark overall."),
        Band(64, "middle key", "The set is neither light nor dark overall."),
        Band(_END, "high key", "The set is light overall."),
    ),
)
"""Share-weighted mean L*. The limits are ours."""

CHROMA_LEVEL = Scale(
    "chroma level",
    "C*",
    (
        Band(8, "neutral", "The colours are close to neutral."),
        Band(20, "muted", "The colours are muted."),
        Band(38, "moderate", "The colours are of moderate strength."),
        Band(_END, "vivid", "The colours are vivid."),
    ),
)
"""Share-weighted mean C*ab. The limits are ours."""
