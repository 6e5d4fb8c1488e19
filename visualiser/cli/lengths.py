"""Lengths as a job's commands print them: the job's own unit first, the other beside it."""

from __future__ import annotations

from visualiser.units import Unit, format_half_width, format_length


def both(length_mm: float, units: Unit) -> str:
    """Print a length in a job's unit, and in inches or millimetres beside it.

    Examples
    --------
    >>> both(1524, "in"), both(1524, "cm")
    ('60 in (1 524 mm)', '152.4 cm (60 in)')
    """
    other: Unit = "mm" if units in ("in", "ft") else "in"
    return f"{format_length(length_mm, units)} ({format_length(length_mm, other)})"


def half_width(half_width_mm: float) -> str:
    """Print a 95 % half-width, rounded up."""
    return format_half_width(half_width_mm)
