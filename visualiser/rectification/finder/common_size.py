"""Which common size of sheet a shape is of: each held against the others, as sharp as it was seen.

A4 and Letter differ by 9 % in the ratio of their sides. How surely a shape is one or the other
follows from how well its corners were read, and that differs by twenty times between a sheet on a
dark wall and a white one on white.
"""

from __future__ import annotations

import numpy as np

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


def _log_likelihood(photo: Photo, seen: Look, size: PaperSize) -> float:
    """Log-likelihood of a shape, up to what is the same for every size."""
    extent = float(np.hypot(*np.ptp(seen.corners_px, axis=0)))
    half = misfit(photo, seen.corners_px, size, np.hypot(seen.sigma_px, BOWED * extent)) / 2
    read = np.log(1 - MISREAD) - half
    misread = np.log(MISREAD / TIMES_WIDER**2) - half / TIMES_WIDER**2
    return float(np.logaddexp(read, misread))
