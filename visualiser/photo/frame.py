"""Whether a picture is the camera's whole frame, or a part that was trimmed from it.

The optical axis meets the middle of a frame, and so the middle of a picture only where nothing was
cut off. A file shows that by the size that the camera noted, and by proportions that sensors have.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from visualiser.photo.camera import scale_since_taken

ASPECTS = (1.0, 4 / 3, 3 / 2, 16 / 9, 2.0, 18.5 / 9, 19 / 9, 19.5 / 9, 20 / 9, 21 / 9)
"""Long over short side of the frames that cameras and phones write."""
ASPECT_SLACK, OLD_ASPECT_SLACK = 0.003, 0.007
"""How far a frame's sides stray from these by rounding to whole blocks, as a share of the ratio;
the second for 3:2, of which 4928 x 3264 is one."""
SLACK_SIGMA = 0.0015
"""How sure these are: a frame may stray a little further, so much the less likely."""
UNKNOWN_CUT_SIGMA = 1 / 8
"""How far trimming moves the middle, in x and in y, where nothing is known of what was cut off:
standard deviation as a share of the diagonal (common practice, no source)."""
KNOWN_CUT_SHARE = 0.5
"""The same where it is known how much: a share of it. All of it may have come off one side."""
CUT_LOG_DIAGONAL = (0.15, 0.12)
"""Logarithm of the whole frame's diagonal over the picture's, and its standard deviation, where
part of it was cut off, nobody knows how much: a fifth off one side and a tenth off the top make
0.17 (common practice, no source)."""

NOTED_AND_USUAL, NOTED_ONLY = 0.98, 0.15
"""Chance that a picture is whole which has the size that its camera noted, with a sensor's
proportions; and with quite others: the programs that trim pictures write the new size there, and
one trimmed picture in twenty has a sensor's proportions by accident (common practice, no source).
In between the odds follow how like a sensor's they are."""
USUAL_ONLY, NEITHER = 0.9, 0.15
"""The same where the file says nothing of the camera's size."""


@dataclass(frozen=True, slots=True)
class FrameEvidence:
    """What a file says of its picture being whole, and where the optical axis lies if it is not.

    Parameters
    ----------
    whole_chance
        Probability that nothing was cut off.
    cut_sigma_px
        Standard deviation of the middle's shift in x and in y, were it trimmed.
    log_focal, log_focal_sigma
        What is to be added to the logarithm of the stated focal length then, and how sure that is.
    """

    whole_chance: float = 1.0
    cut_sigma_px: tuple[float, float] = (0.0, 0.0)
    log_focal: float = 0.0
    log_focal_sigma: float = 0.0

    def __post_init__(self) -> None:
        if not 0 <= self.whole_chance <= 1:
            raise ValueError(f"a chance lies between 0 and 1, got {self.whole_chance!r}")
        if min(*self.cut_sigma_px, self.log_focal_sigma) < 0:
            raise ValueError("standard deviations must be 0 or more")

    def scaled(self, factor: float) -> FrameEvidence:
        """Carry it over to a picture that was made larger or smaller by a factor."""
        x, y = self.cut_sigma_px
        return replace(self, cut_sigma_px=(x * factor, y * factor))


WHOLE = FrameEvidence()
"""Pixels known to be a whole frame."""


def frame_evidence(
    width_px: int, height_px: int, noted: tuple[int, int] | None, focal_from_size: bool
) -> FrameEvidence:
    """Judge whether a picture is a whole frame.

    Parameters
    ----------
    width_px, height_px
        Size of the picture, upright.
    noted
        Size that the camera noted, either way up; None where the file says nothing.
    focal_from_size
        Whether the stated focal length was worked out from the noted size, or is a guess by the
        size of the picture.

    References
    ----------
    Exif 2.3 (CIPA DC-008), tags 0xA002 and 0xA003: size of the picture as it was compressed.

    Examples
    --------
    >>> round(frame_evidence(4032, 3024, (4032, 3024), True).whole_chance, 3)
    0.98
    >>> frame_evidence(3100, 2700, (4032, 3024), True).whole_chance
    0.0
    """
    size = np.array([width_px, height_px], float)
    likeness = sensor_likeness(width_px, height_px)
    unknown = UNKNOWN_CUT_SIGMA * float(np.hypot(*size))
    more, sigma = CUT_LOG_DIAGONAL if focal_from_size else (0.0, 0.0)
    if noted is None:
        chance = _between(NEITHER, USUAL_ONLY, likeness)
        return FrameEvidence(chance, (unknown, unknown), more, sigma)
    taken = np.sort(noted).astype(float)[np.argsort(np.argsort(size, kind="stable"))]
    scale = size / taken
    if abs(scale[0] / scale[1] - 1) < max(1.5 / size.min(), 0.002):
        chance = _between(NOTED_ONLY, NOTED_AND_USUAL, likeness)
        return FrameEvidence(chance, (unknown, unknown), more, sigma)
    resized, _ = scale_since_taken(
        float(taken.max()), float(taken.min()), float(size.max()), float(size.min())
    )
    cut = np.maximum(taken * resized - size, 0.0) * KNOWN_CUT_SHARE
    return FrameEvidence(0.0, (float(cut[0]), float(cut[1])))


def sensor_likeness(width_px: int, height_px: int, aspects: Iterable[float] = ASPECTS) -> float:
    """Work out how likely a frame is to have such proportions, against a sensor's own; at most 1.

    Where a frame lies is spread evenly over the slack and normally beyond its ends.

    Examples
    --------
    >>> round(sensor_likeness(4032, 3024), 2), round(sensor_likeness(3100, 2700), 2)
    (1.0, 0.0)
    """
    share_below = NormalDist(sigma=SLACK_SIGMA).cdf
    long, short = max(width_px, height_px), min(width_px, height_px)
    rounding = 1.5 / short
    likeness = 0.0
    for aspect in aspects:
        slack = max(OLD_ASPECT_SLACK if aspect == 3 / 2 else ASPECT_SLACK, rounding)
        here, at_most = (
            share_below(off + slack) - share_below(off - slack)
            for off in (long / short / aspect - 1, 0.0)
        )
        likeness = max(likeness, here / at_most)
    return likeness


def _between(least: float, most: float, share: float) -> float:
    """Chance whose odds lie a share of the way from those of one chance to those of another."""
    odds = [chance / (1 - chance) for chance in (least, most)]
    mixed = odds[0] + share * (odds[1] - odds[0])
    return mixed / (1 + mixed)
