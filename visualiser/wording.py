"""Sentences that hold lengths, so that each reader gets them in a unit of their own.

What the core finds is put into words where it is found; the lengths in it stay numbers. As a
string a sentence has its lengths in millimetres, which is what programs and plain texts print.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from visualiser.units import Unit, format_both, format_half_width, format_length, round_up_mm


@dataclass(frozen=True, slots=True)
class Length:
    """A length in a sentence.

    Parameters
    ----------
    mm
        The length.
    digits
        Decimals that are printed in millimetres; None for as many as it has.
    up
        Rounded up instead of to the nearest: for a ±, which never promises more than it holds.
    """

    mm: float
    digits: int | None = 0
    up: bool = False

    def __str__(self) -> str:
        value = math.ceil(self.mm - 1e-9) if self.up else self.mm
        return f"{value:g} mm" if self.digits is None else f"{value:.{self.digits}f} mm"

    def in_unit(self, unit: Unit) -> str:
        """Print it in a unit, to the trade's step; where it has decimals, not in whole mm."""
        if self.up:
            return format_length(round_up_mm(self.mm, unit), unit)
        if unit == "mm" and self.digits != 0:
            return str(self)
        return format_length(self.mm, unit)


@dataclass(frozen=True, slots=True)
class Lengths:
    """Two or more lengths with one unit behind the last, as ``400 x 500 mm``.

    Parameters
    ----------
    mm
        The lengths.
    between
        What stands between two of them.
    digits
        As of `Length`.
    """

    mm: tuple[float, ...]
    between: str = " x "
    digits: int | None = 0

    def __str__(self) -> str:
        return self._joined([str(Length(one, self.digits)) for one in self.mm], "mm", self.between)

    def in_unit(self, unit: Unit) -> str:
        """Print them in a unit, to the trade's step."""
        printed = [Length(one, self.digits).in_unit(unit) for one in self.mm]
        return self._joined(printed, unit, self.between.replace("x", "×"))

    @staticmethod
    def _joined(printed: list[str], unit: str, between: str) -> str:
        bare = [one.removesuffix(f" {unit}") for one in printed[:-1]]
        return between.join([*bare, printed[-1]])


@dataclass(frozen=True, slots=True)
class BothUnits:
    """A length that plain texts give in millimetres and in inches.

    Parameters
    ----------
    mm
        The length.
    half_width
        Whether it is a ±: rounded up, and printed with its sign.
    """

    mm: float
    half_width: bool = False

    def __str__(self) -> str:
        return format_half_width(self.mm) if self.half_width else format_both(self.mm)

    def in_unit(self, unit: Unit) -> str:
        """Print it in one unit only."""
        if self.half_width:
            return f"± {Length(max(self.mm, 0.1), up=True).in_unit(unit)}"
        return format_length(self.mm, unit)


Part = str | Length | Lengths | BothUnits


class Sentence(str):
    """Words and the lengths between them; as a string, its lengths are in millimetres.

    Parameters
    ----------
    parts
        Words and lengths in their order.

    Examples
    --------
    >>> one = sentence("The gap is ", Length(63.5), ", as usual.")
    >>> print(one, one.in_unit("in"))
    The gap is 64 mm, as usual. The gap is 2 1/2 in, as usual.
    """

    parts: tuple[Part, ...]

    def __new__(cls, parts: tuple[Part, ...]) -> Sentence:
        """Print the lengths in millimetres, and keep them."""
        made = super().__new__(cls, "".join(str(part) for part in parts))
        made.parts = parts
        return made

    def __getnewargs__(self) -> tuple[tuple[Part, ...]]:  # type: ignore[override]
        return (self.parts,)

    def __add__(self, more: str) -> Sentence:
        return Sentence((*self.parts, *parts_of(more)))

    def __radd__(self, before: str) -> Sentence:
        return Sentence((*parts_of(before), *self.parts))

    def in_unit(self, unit: Unit) -> str:
        """Write it with its lengths in a unit."""
        return "".join(part if isinstance(part, str) else part.in_unit(unit) for part in self.parts)


def parts_of(text: str) -> tuple[Part, ...]:
    """Words and lengths of a text; a plain one is a single part."""
    return text.parts if isinstance(text, Sentence) else (text,)


def in_unit(text: str, unit: Unit) -> str:
    """Write a text with its lengths in a unit; one that holds no lengths stays as it is."""
    return text.in_unit(unit) if isinstance(text, Sentence) else text


def sentence(*parts: Part) -> Sentence:
    """Put a sentence together from words and lengths; sentences among them keep their lengths."""
    return Sentence(tuple(inner for part in parts for inner in _inner(part)))


def _inner(part: Part) -> tuple[Part, ...]:
    return parts_of(part) if isinstance(part, str) else (part,)


def joined(texts: list[str], between: str) -> Sentence:
    """Join texts, as `str.join` does; their lengths stay lengths."""
    parts: list[Part] = []
    for k, text in enumerate(texts):
        parts.extend((between,) if k else ())
        parts.extend(parts_of(text))
    return Sentence(tuple(parts))


def capitalised(text: str) -> str:
    """Begin a text with a capital; its lengths stay lengths."""
    if not isinstance(text, Sentence):
        return text[:1].upper() + text[1:]
    first, *others = text.parts
    return Sentence((first[:1].upper() + first[1:] if isinstance(first, str) else first, *others))
