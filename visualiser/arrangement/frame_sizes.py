"""Usual frame sizes by their system, and the next size up within one.

Systems are not mixed: a group of 40 x 50 cm frames does not go up to 16 x 20 in, 6 mm larger.
"""

from __future__ import annotations

INCH_MM = 25.4

Size = tuple[float, float]

INCH_SIZES: tuple[Size, ...] = tuple(
    (w * INCH_MM, h * INCH_MM)
    for w, h in (
        (4, 4), (4, 6), (5, 5), (5, 7), (6, 6), (6, 8), (8, 8), (8, 10), (8, 12), (9, 12),
        (10, 10), (11, 14), (12, 12), (12, 16), (12, 18), (14, 14), (16, 16), (16, 20), (16, 24),
        (18, 18), (18, 24), (20, 20), (20, 24), (20, 28), (20, 30), (22, 28), (24, 24), (24, 30),
        (24, 36), (27, 40), (30, 30), (30, 40), (36, 36), (36, 48), (40, 60),
    )
)  # fmt: skip
"""Photograph and frame sizes in inches: common practice, no source."""
CM_SIZES: tuple[Size, ...] = tuple(
    (10.0 * w, 10.0 * h)
    for w, h in (
        (10, 10), (10, 15), (13, 13), (13, 18), (15, 15), (15, 20), (18, 24), (20, 20), (20, 25),
        (20, 30), (24, 30), (25, 25), (28, 35), (30, 30), (30, 40), (30, 45), (35, 50), (40, 40),
        (40, 50), (40, 60), (50, 50), (50, 60), (50, 70), (50, 75), (60, 60), (60, 80), (60, 90),
        (70, 70), (70, 90), (70, 100), (80, 80), (80, 100), (80, 120), (90, 120), (100, 100),
        (100, 140),
    )
)  # fmt: skip
"""Frame sizes in centimetres: common practice, no source."""
A_SIZES: tuple[Size, ...] = (
    (105.0, 148.0), (148.0, 210.0), (210.0, 297.0), (297.0, 420.0), (420.0, 594.0),
    (594.0, 841.0), (841.0, 1189.0),
)  # fmt: skip
"""ISO 216:2007, table 1: A6 to A0."""
SYSTEMS: tuple[tuple[Size, ...], ...] = (CM_SIZES, INCH_SIZES, A_SIZES)

SAME_SIZE_MM = 1.5
"""How far a size may be from a usual one and still be it."""
SAME_SHAPE = 0.08
"""Share by which long over short side may change: 11 x 14 in and 16 x 20 in look alike."""
LEAST_STEP = 1.15
"""Least growth of both sides that is seen as a larger size."""


def next_size(size_mm: Size, factor: float = 1.0) -> Size:
    """Give the next usual size of the same system and shape, at least 15 % larger.

    Parameters
    ----------
    size_mm
        Width and height.
    factor
        Growth that is wanted at least, where it is more.

    Returns
    -------
    Width and height; the size scaled where its system has none of that shape.
    """
    short, long = sorted(size_mm)
    wanted = max(factor * 0.98, LEAST_STEP)
    systems = [s for s in SYSTEMS if any(_is(size, (short, long)) for size in s)] or [*SYSTEMS]
    larger = [
        size
        for system in systems
        for size in system
        if min(size[0] / short, size[1] / long) >= wanted - 1e-9
        and abs((size[1] / size[0]) / (long / short) - 1) <= SAME_SHAPE
        and (size[0] == size[1]) == (long - short <= SAME_SIZE_MM)
    ]
    found = min(larger, key=lambda s: s[0] * s[1], default=(short * wanted, long * wanted))
    return found if size_mm[0] <= size_mm[1] else (found[1], found[0])


def _is(one: Size, other: Size) -> bool:
    return max(abs(one[0] - other[0]), abs(one[1] - other[1])) <= SAME_SIZE_MM
