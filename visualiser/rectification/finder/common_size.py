"""Which common size of sheet a shape is of: each held against the others, as sharp as it was seen.

A4 and Letter differ by 9 % in the ratio of their sides. How surely a shape is one or the other
follows from how well its corners were read, and that differs by twenty times between a sheet on a
dark wall and a white one on white.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.weighing import Look, misfit
from visualiser.rectification.kinds import ReferenceKind, reference_kind
from visualiser.sizes import PaperSize

COMMON_KINDS = ("a4", "letter", "card")
"""What is looked for where nobody says what hangs there; and what is held against what was said."""
ALIKE = 0.02
"""Kinds whose ratios of sides differ by less, as a logarithm, are one shape: A4 and A3."""
BOWED = 0.001
"""Standard deviation of a corner beside what the picture leaves open, as a share of the diagonal:
the sheet bows. With it, the chi-square of ratio and squareness of right finds has median, three
quarters and nine tenths of 0.2, 0.4 and 1.1 in 74 path-traced rooms, 0.9, 2.5 and 6.3 in a bedroom
of 37 photographs, 0.4, 0.8 and 1.6 in 67 other photographs (chi-square with two degrees of freedom:
1.4, 2.8 and 4.6); 0.0015 and 0.002 take the same finds."""
MISREAD, TIMES_WIDER = 0.05, 4.0
"""One reading of corners in twenty is of another edge than the sheet's, and its standard deviation
as many times wider: no shape is contradicted or confirmed beyond that."""

ONE_SIZE = 0.9
"""Probability that all sheets in a photo are of one size (an assumption, no source: who tapes up
several takes them off one pile)."""


def size_gain(photo: Photo, seen: Look, kind: ReferenceKind) -> tuple[float, str]:
    """Hold a shape against the other common sizes.

    Parameters
    ----------
    photo, seen
        The photo, and a candidate in it.
    kind
        The kind looked for.

    Returns
    -------
    Log-likelihood of its size over the likeliest other, and the name of that: infinity and no name
    where no other is of its shape.
    """
    own = _log_likelihood(photo, seen, kind.size)
    gains = {
        name: own - _log_likelihood(photo, seen, other.size)
        for name in COMMON_KINDS
        if (other := reference_kind(name)).is_white == kind.is_white
        and abs(float(np.log(other.size.aspect / kind.size.aspect))) > ALIKE
    }
    name = min(gains, key=lambda one: gains[one], default="")
    return gains.get(name, np.inf), name


def together(gains: Sequence[float], sheets: Sequence[float]) -> list[float]:
    """Add to each thing's gain what the other things of the photo say of the size.

    Either all sheets are of one size, with probability `ONE_SIZE`, or each is by itself and then of
    the size that fits it better; a thing that is no sheet says nothing. So the others add
    log(1 / (1 - `ONE_SIZE`)) at most, however many they are: a misstated focal length misleads all.

    Parameters
    ----------
    gains
        From `size_gain`, one for each thing; infinity where no other size is of its shape.
    sheets
        Probability that each is a sheet, of whichever size.

    Returns
    -------
    Log-likelihood of the size looked for over the other, one for each thing.
    """
    known = np.isfinite(gains)
    half = np.where(known, np.clip(gains, -30, 30), 0.0) / 2
    p = np.asarray(sheets, float)
    wanted = np.log(p * np.exp(half) + (1 - p))
    other = np.log(p * np.exp(-half) + (1 - p))
    better = np.maximum(wanted, other)

    def of_the_rest(i: int, each: NDArray[np.float64]) -> float:
        by_itself = np.log1p(-ONE_SIZE) + np.delete(better, i).sum()
        return float(np.logaddexp(np.log(ONE_SIZE) + np.delete(each, i).sum(), by_itself))

    return [
        gain + (of_the_rest(i, wanted) - of_the_rest(i, other) if known[i] else 0.0)
        for i, gain in enumerate(gains)
    ]


def _log_likelihood(photo: Photo, seen: Look, size: PaperSize) -> float:
    """Log-likelihood of a shape, up to what is the same for every size."""
    extent = float(np.hypot(*np.ptp(seen.corners_px, axis=0)))
    half = misfit(photo, seen.corners_px, size, np.hypot(seen.sigma_px, BOWED * extent)) / 2
    read = np.log(1 - MISREAD) - half
    misread = np.log(MISREAD / TIMES_WIDER**2) - half / TIMES_WIDER**2
    return float(np.logaddexp(read, misread))
