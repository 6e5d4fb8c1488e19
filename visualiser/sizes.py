"""Sizes that the world has agreed on: paper, cards, prints and frames, all in millimetres."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from functools import cache

from visualiser.errors import SizeError
from visualiser.units import MM_PER_INCH

US_SHEETS = {"letter": (8.5, 11.0), "legal": (8.5, 14.0), "tabloid": (11.0, 17.0)}
"""Sides in inches: ANSI/ASME Y14.1."""


@dataclass(frozen=True, slots=True)
class PaperSize:
    """A sheet or card of agreed size, upright.

    Parameters
    ----------
    name
        As people say it: ``a4``, ``letter``, ``card``.
    width_mm, height_mm
        Short and long side.
    width_tolerance_mm, height_tolerance_mm
        Limits (±) that the side may lie within.
    corner_radius_mm
        Rounding of the corners; 0 for cut sheets.
    """

    name: str
    width_mm: float
    height_mm: float
    width_tolerance_mm: float
    height_tolerance_mm: float
    corner_radius_mm: float = 0.0

    @property
    def aspect(self) -> float:
        """Long side over short side."""
        return self.height_mm / self.width_mm

    @property
    def size_sigma_mm(self) -> float:
        """Standard uncertainty of the longer side, its limits taken as equally likely throughout.

        References
        ----------
        JCGM 100:2008 (GUM), 4.3.7: half-width / √3 for a rectangular distribution.
        """
        return self.height_tolerance_mm / math.sqrt(3)

    @property
    def shape_sigma(self) -> float:
        """Relative standard uncertainty of the ratio of its sides, from their limits."""
        width, height = (
            self.width_tolerance_mm / self.width_mm,
            self.height_tolerance_mm / self.height_mm,
        )
        return math.hypot(width, height) / math.sqrt(3)


def iso_216_tolerance_mm(side_mm: float) -> float:
    """Limits (±) of a side cut to ISO 216:2007: 1.5 mm to 150, 2 mm to 600, 3 mm above."""
    if side_mm <= 150:
        return 1.5
    return 2.0 if side_mm <= 600 else 3.0


def paper_size(name: str) -> PaperSize:
    """Size of a sheet or card by its usual name, in any case.

    Known are ``a0`` to ``a10``, ``b0`` to ``b10``, ``letter``, ``legal``, ``tabloid`` and ``card``.

    Raises
    ------
    SizeError
        If the name is not known.

    References
    ----------
    ISO 216:2007; ANSI/ASME Y14.1 for the US sheets; ISO/IEC 7810 ID-1 for the card.

    Examples
    --------
    >>> sheet = paper_size("A4")
    >>> sheet.width_mm, sheet.height_mm
    (210.0, 297.0)
    """
    known = _paper_sizes()
    key = name.strip().lower()
    if key not in known:
        near = difflib.get_close_matches(key, known, n=1)
        raise SizeError(
            f"“{name}” is not a paper size known here.",
            hint=f"Did you mean {near[0]}?"
            if near
            else "Use a0 to a10, b0 to b10, letter, legal, tabloid or card.",
        )
    return known[key]


def paper_names() -> tuple[str, ...]:
    """Names that `paper_size` knows."""
    return tuple(_paper_sizes())


@cache
def _paper_sizes() -> dict[str, PaperSize]:
    sheets = [*_series("a", 841, 1189), *_series("b", 1000, 1414)]
    # Office sheets of the US have no published tolerance known to us; ISO 216's limits stand in.
    sheets += [
        _sheet(name, width_in * MM_PER_INCH, height_in * MM_PER_INCH)
        for name, (width_in, height_in) in US_SHEETS.items()
    ]
    # ISO/IEC 7810 ID-1. Corner radius 2.88 to 3.48 mm, its middle here. Limits of a card in use,
    # 85.47 to 85.72 and 53.92 to 54.03 mm, are from memory.
    sheets.append(PaperSize("card", 85.60, 53.98, 0.13, 0.06, 3.18))
    return {sheet.name: sheet for sheet in sheets}


def _series(letter: str, width_mm: int, height_mm: int) -> list[PaperSize]:
    """ISO 216: each size is the one before, halved across, fractions of a millimetre dropped."""
    sheets = []
    for number in range(11):
        sheets.append(_sheet(f"{letter}{number}", float(width_mm), float(height_mm)))
        width_mm, height_mm = height_mm // 2, width_mm
    return sheets


def _sheet(name: str, width_mm: float, height_mm: float) -> PaperSize:
    return PaperSize(
        name,
        width_mm,
        height_mm,
        iso_216_tolerance_mm(width_mm),
        iso_216_tolerance_mm(height_mm),
    )


_INCH_PRINTS = (
    (4, 6), (5, 7), (6, 8), (8, 10), (8, 12), (9, 12), (10, 12), (11, 14), (12, 12), (12, 16),
    (12, 18), (14, 18), (16, 16), (16, 20), (18, 24), (20, 20), (20, 24), (20, 30), (22, 28),
    (24, 30), (24, 36), (27, 40), (28, 40), (30, 40),
)  # fmt: skip
_CM_PRINTS = (
    (10, 15), (13, 18), (15, 20), (18, 24), (20, 20), (20, 25), (20, 30), (21, 30), (24, 30),
    (28, 35), (30, 30), (30, 40), (30, 45), (40, 40), (40, 50), (40, 60), (50, 50), (50, 60),
    (50, 70), (60, 80), (60, 90), (61, 91), (70, 70), (70, 100),
)  # fmt: skip


def print_sizes() -> dict[str, tuple[float, float]]:
    """Print and frame sizes that shops keep, by name, as short and long side in mm.

    Common practice: the metric nominal sizes of ISO 1008 and the trade's whole-inch sizes. A frame
    is sold by the picture it takes, so its outside is larger by the moulding.
    """
    inches = {f"{w} x {h} in": (w * MM_PER_INCH, h * MM_PER_INCH) for w, h in _INCH_PRINTS}
    metric = {f"{w} x {h} cm": (w * 10.0, h * 10.0) for w, h in _CM_PRINTS}
    papers = {
        f"{name.upper()}": (_paper_sizes()[name].width_mm, _paper_sizes()[name].height_mm)
        for name in ("a5", "a4", "a3", "a2", "a1")
    }
    return inches | metric | papers


def print_size_name(width_mm: float, height_mm: float, tolerance_mm: float = 1.0) -> str | None:
    """Trade name of a size, either way up; None when no common size is that close.

    Examples
    --------
    >>> print_size_name(508, 406)
    '16 x 20 in'
    """
    short, long = sorted((width_mm, height_mm))
    off = {name: max(abs(short - w), abs(long - h)) for name, (w, h) in print_sizes().items()}
    nearest = min(off, key=off.__getitem__)
    return nearest if off[nearest] <= tolerance_mm else None
