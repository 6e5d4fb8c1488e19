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

    @classmethod
    def of(cls, kind: str, unit: str, *rows: tuple[float, str, str]) -> Scale:
        """Scale from rows of limit, band and sentence."""
        return cls(kind, unit, tuple(Band(*row) for row in rows))

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
