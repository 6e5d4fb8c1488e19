"""Turn fitted frames into deviations from the plan, the group as a whole laid upon it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.geometry import Matrix
from visualiser.hanging.deviations import COVERAGE_95, Tolerances, Verdict, judge, keep_the_most
from visualiser.hanging.frame_box import HungFrame
from visualiser.hanging.frame_fit import PLACE, FrameFit

Array = NDArray[np.float64]

LEVEL_LIMIT_DEG = 0.25
"""Where the room tells level worse than this, the group's own median tilt is taken as level."""


@dataclass(frozen=True, slots=True, eq=False)
class JudgedGroup:
    """Deviations of the pieces that were seen, in their order.

    Parameters
    ----------
    deviations
        (N, 3) right mm, up mm, tilt deg counter-clockwise.
    covariance
        (2N, 2N) of right and up of each in turn, mm^2, within the group.
    tilt_half_widths_deg
        (N,) 95 % half-widths.
    limits
        What the verdicts are held against.
    findings
        What limits the judgement.
    """

    deviations: Array
    covariance: Matrix
    tilt_half_widths_deg: Array
    limits: Tolerances
    findings: tuple[Finding, ...] = ()

    @property
    def half_widths(self) -> Array:
        """95 % half-widths (N, 3) of the deviations."""
        place = COVERAGE_95 * np.sqrt(np.maximum(np.diag(self.covariance), 0)).reshape(-1, 2)
        return np.asarray(np.c_[place, self.tilt_half_widths_deg])

    def verdict(self, k: int) -> Verdict:
        """Judge one piece."""
        right, up, tilt = (float(v) for v in self.deviations[k])
        widths = tuple(float(v) for v in self.half_widths[k])
        return judge(right, up, tilt, (widths[0], widths[1], widths[2]), self.limits)


def judged(fit: FrameFit, planned: Sequence[HungFrame], limits: Tolerances) -> JudgedGroup:
    """Compare fitted frames with the places that the plan has for them.

    Parameters
    ----------
    fit
        Frames as fitted.
    planned
        The place of each, mm of the plan.
    limits
        What passes for well hung.
    """
    findings = list(fit.plane.findings)
    hung = np.array([[f.x_mm, f.y_mm] for f in fit.frames])
    tilts = np.array([f.tilt_deg for f in fit.frames])
    tilt_covariance = fit.covariance[2::PLACE, 2::PLACE]
    plan = np.array([[f.x_mm, f.y_mm] for f in planned])
    if fit.plane.level_sigma_deg > LEVEL_LIMIT_DEG:
        turn = float(np.median(tilts))
        c, s = np.cos(np.radians(-turn)), np.sin(np.radians(-turn))
        middle = hung.mean(axis=0)
        hung = (hung - middle) @ np.array([[c, -s], [s, c]]).T + middle
        tilts = tilts - turn
        tilt_covariance = _within_group(tilt_covariance, 1)
        findings.append(
            Finding(
                "advice",
                "The room does not show what is level, so tilts are told against the group itself.",
                "Have the ceiling line, a door frame or a corner in the picture.",
                "level-from-group",
            )
        )
    level = np.abs(tilts) <= limits.level_deg
    offsets = hung - plan
    shift = keep_the_most(offsets, limits.gap_mm, level if level.any() else np.ones_like(level))
    places = [PLACE * k + axis for k in range(len(hung)) for axis in (0, 1)]
    return JudgedGroup(
        np.c_[offsets - shift, tilts],
        _within_group(fit.covariance[np.ix_(places, places)], 2),
        COVERAGE_95 * np.sqrt(np.maximum(np.diag(tilt_covariance), 0)),
        limits,
        tuple(findings),
    )


def _within_group(covariance: Matrix, size: int) -> Matrix:
    """Covariance of what is measured against the group's mean, ``size`` numbers to a frame."""
    count = len(covariance) // size
    if count < 2:
        return covariance
    relative = np.kron(np.eye(count) - 1 / count, np.eye(size))
    return np.asarray(relative @ covariance @ relative.T)
