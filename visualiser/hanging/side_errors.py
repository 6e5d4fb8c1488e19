"""How far the edges of frames are seen from where the frames end: what is expected, and learnt.

Four parts: what all edges share, what the same side of all frames shares (one light), what each
frame has (an inset all round), and what each side has to itself. Only the last two are errors of
the frames' places among themselves; the size of the last is learnt from the photo. They stem from
eased edges, from highlights on rounded faces and from shadows beside the frames.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.hanging.frame_box import HungFrame
from visualiser.hanging.frame_sides import Edge

Array = NDArray[np.float64]
SharedKind = Literal["outline", "round", "foot", "arris"]

COMMON_SIGMA_MM, TONE_SHARE = 0.25, 0.3
"""How much smaller all frames of a photo are seen than they are, all round. A tone curve that is
not the standard's moves the middle of a blurred step: of a camera that writes light as it is, by
half a blur; anything between that and nothing is alike likely, 0.3 in all."""
SHARED_SIGMA_MM: dict[SharedKind, float] = {
    "outline": 0.5,
    "round": 0.9,
    "foot": 1.1,
    "arris": 0.8,
}
"""How much further in one side of all frames is seen than that, for each kind of edge."""
KINDS: tuple[SharedKind, ...] = tuple(SHARED_SIGMA_MM)
INSET_SIGMA_MM = 0.5
"""How much a frame is seen smaller all round than its neighbours. (These are components of variance
of 614 sides in rendered rooms, seen with the true cameras: 0.1 to 0.3 in common, 0.5 shared by
outlines with a sharp edge and 0.8 by rounded ones, 0.7 to 1.1 by feet; insets 0.5.)"""
INNER_SIGMA = {
    "window": np.array([0.7, 0.7, 0.1, 1.5, 2.0]),
    "lip": np.array([0.3, 0.3, 0.05, 1.0, 1.5]),
}
"""How far what shows within a frame lies from where it should: right and up mm, turned degrees,
further in all round mm, further out from the wall mm. A mat has some play in its rebate and is cut
to about a millimetre; a moulding is as wide on all sides. (Common practice, no source.)"""
FREEDOM = 6.0
"""Degrees of freedom of the t distribution of sides' own errors: some are far out."""
BELIEF = 12.0
"""The expected size counts as much as this many sides."""


def shared_kind(frame: HungFrame, edge: Edge) -> SharedKind:
    """Tell what an edge shares its errors with."""
    if edge.kind in ("foot", "arris"):
        return edge.kind
    return "outline" if frame.has_arris else "round"


class SideSpread:
    """Size of the sides' own errors of one kind, learnt while fitting.

    Parameters
    ----------
    sigma_px
        (V,) expected standard uncertainty of each side.

    Notes
    -----
    Expectation maximisation for the scale of a t distribution, each error weighed by how well its
    size agrees with the rest; an error's expected square is its estimate's plus its variance.

    References
    ----------
    K. L. Lange, R. J. A. Little, J. M. G. Taylor, "Robust statistical modeling using the t
    distribution", J. Am. Stat. Assoc. 84:881-896, 1989, section 3 and appendix B (from memory):
    estimation, and the information that an observation of scale 1 has, (v + 1) / (v + 3).
    """

    def __init__(self, sigma_px: Array) -> None:
        self.expected = sigma_px**2
        self.variance = self.expected.copy()
        self.scale = 1.0

    def learn(self, error_px: Array, variance_px: Array) -> None:
        """Take the errors (V,) and their variances (V,) of the fit so far into account."""
        square = (error_px**2 + variance_px) / self.expected
        weight = (FREEDOM + 1) / (FREEDOM + square / self.scale)
        self.scale = float((BELIEF + (weight * square).sum()) / (BELIEF + len(square)))
        self.variance = self.expected * self.scale / weight

    @property
    def told(self) -> Array:
        """Variances (V,) to tell half-widths by: the weights of the fit make it seem too sure.

        A side that agrees is weighed more than it tells on the average, since the next one may
        not; the expected information of the t distribution counts, not the weight of the day.
        """
        expected = self.expected * self.scale * (FREEDOM + 3) / (FREEDOM + 1)
        return np.maximum(self.variance, expected)
