"""Which common size of sheet a shape is of: each held against the others, as sharp as it was seen.

A4 and Letter differ by 9 % in the ratio of their sides. How surely a shape is one or the other
follows from how well its corners were read, and that differs by twenty times between a sheet on a
dark wall and a white one on white.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.weighing import Look, misfit
from visualiser.rectification.kinds import ReferenceKind, reference_kind
from visualiser.sizes import PaperSize

Array = NDArray[np.float64]

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


def thing_gain(gains: Sequence[float], odds: Sequence[float]) -> float:
    """Weigh what one thing's outlines say of its own size, each as likely as it is.

    Asked for one size, the outline that fits it best must not decide alone where others as likely
    say less of it.

    Parameters
    ----------
    gains
        From `size_gain`, one for each outline.
    odds
        Log-odds of each outline, whatever the size.

    Returns
    -------
    Log-odds of the size looked for over the other; infinity where no other is of its shape.
    """
    return float(logit(_shares(odds) @ expit(np.maximum(gains, -30.0))))


def thing_says(gains: Sequence[float], odds: Sequence[float], sheet: float) -> tuple[float, float]:
    """Weigh what the outlines of one thing say of its size.

    Parameters
    ----------
    gains
        From `size_gain`, one for each outline.
    odds
        Log-odds of each outline, whatever the size: asked for one size, the outline that fits it
        best must not speak alone.
    sheet
        Probability that it is a sheet, of whichever size; what is none says nothing.

    Returns
    -------
    Log-likelihoods of the size looked for, and of the other.
    """
    half = np.clip(np.where(np.isfinite(gains), gains, 0.0), -30, 30) / 2
    share = _shares(odds)
    wanted, other = (float(share @ np.exp(sign * half)) for sign in (1, -1))
    return float(np.log(sheet * wanted + 1 - sheet)), float(np.log(sheet * other + 1 - sheet))


def _shares(odds: Sequence[float]) -> Array:
    """Share of each outline of a thing, by its log-odds."""
    share = np.exp(np.asarray(odds, float) - np.max(odds))
    return np.asarray(share / share.sum())


def together(gain: float, others: Sequence[tuple[float, float]]) -> float:
    """Add to the gain of one thing what the other things of the photo say of the size.

    Either all sheets are of one size, with probability `ONE_SIZE`, or each is by itself and then of
    the size that fits it better. So the others add log(1 / (1 - `ONE_SIZE`)) at most, however many
    they are: a misstated focal length misleads all.

    Parameters
    ----------
    gain
        From `size_gain`; infinity where no other size is of its shape.
    others
        From `thing_says`, one for each other thing.

    Returns
    -------
    Log-likelihood of the size looked for over the other.
    """
    if not np.isfinite(gain) or not others:
        return gain
    likely = np.asarray(others, float)
    by_itself = np.log1p(-ONE_SIZE) + likely.max(axis=1).sum()
    wanted, other = np.logaddexp(np.log(ONE_SIZE) + likely.sum(axis=0), by_itself)
    return gain + float(wanted - other)


def _log_likelihood(photo: Photo, seen: Look, size: PaperSize) -> float:
    """Log-likelihood of a shape, up to what is the same for every size."""
    extent = float(np.hypot(*np.ptp(seen.corners_px, axis=0)))
    half = misfit(photo, seen.corners_px, size, np.hypot(seen.sigma_px, BOWED * extent)) / 2
    read = np.log(1 - MISREAD) - half
    misread = np.log(MISREAD / TIMES_WIDER**2) - half / TIMES_WIDER**2
    return float(np.logaddexp(read, misread))
