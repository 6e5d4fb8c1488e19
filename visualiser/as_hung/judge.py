"""Compare fitted frames with the plan, the group as a whole laid upon it, and judge each piece."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.fit import FrameFit
from visualiser.as_hung.frame import HUNG_SIGMA_DEG, HUNG_SIGMA_MM, HungFrame
from visualiser.as_hung.residuals import PLACE
from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsMm
from visualiser.rectification.plane import WallPlane
from visualiser.statistics import COVERAGE_95

Array = NDArray[np.float64]
SCALE_FROM_GROUP = "scale-from-group"
"""Code of the finding that nothing but the frames gives the scale."""
STRETCH = 0.007
"""How far that scale may be off, across and up by itself: in a slanting view a side face of 20 mm
is seen as 6 mm beside a frame of 500 mm, and is taken for its face on all frames alike, wholly or
in part, or left out where it is seen: a uniform distribution to 1.2 % either way. (42 rendered
groups: 0.7 % across, 0.7 % up.)"""
INSIDE_STRETCH = 0.004
"""The same where windows of mats and lips of mouldings are seen, which no side face is mixed up
with: they are taken to lie a millimetre or two in 500 from where they do. (The frames alone, 34
rendered groups: 0.25 % across, 0.25 % up.)"""
DOUBTED_STRETCH = 0.03
"""The same where hardly a frame is clear: a moulding of 20 mm may have been left out on one side of
a frame of 600 mm."""
LEAST_CLEAR = 0.5
"""Share of the pieces that must be clear for the group to be a measure."""
CONTRADICTED = 3.0
"""Sigmas by which the group turns away from the room's level before that is rejected."""
ASTRAY, ROUNDS = 2.0, 5
"""A piece this many sigmas from its place in the group counts half in telling level (Cauchy)."""
Verdict = Literal["right", "nudge", "unsure", "swapped", "not found"]


@dataclass(frozen=True, slots=True)
class Tolerances:
    """What passes for well hung. Both are our own limits, to be changed at will."""

    level_deg: float = 0.3
    gap_mm: float = 3.0

    def __post_init__(self) -> None:
        if not (0 < self.level_deg < 45 and 0 < self.gap_mm < math.inf):
            raise ValueError(f"tolerances must be above zero, got {self!r}")


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


def compare_with_plan(
    fit: FrameFit, planned: Sequence[HungFrame], limits: Tolerances, clear_share: float = 1.0
) -> JudgedGroup:
    """Compare fitted frames with the places that the plan has for them.

    Parameters
    ----------
    fit
        Frames as fitted.
    planned
        The place of each, mm of the plan.
    limits
        What passes for well hung.
    clear_share
        Share of the planned pieces that are clear in the photo.
    """
    # How far the wall is known at its ends counts for a wall that hangs empty.
    findings = [f for f in fit.plane.findings if f.code != "uncertain-end"]
    columns = [PLACE * k + axis for k in range(len(fit.frames)) for axis in range(3)]
    off = np.array(
        [
            (f.x_mm - p.x_mm, f.y_mm - p.y_mm, f.tilt_deg)
            for f, p in zip(fit.frames, planned, strict=True)
        ]
    )
    plan = np.array([[p.x_mm, p.y_mm] for p in planned])
    off, covariance, share = levelled(off, fit.covariance[np.ix_(columns, columns)], plan)
    if share > 0.5:
        findings.append(
            Finding(
                "advice",
                "The room hardly shows what is level: it is taken from the group as a whole.",
                "Have the ceiling line, a door frame or a corner in the picture.",
                "level-from-group",
            )
        )
    if from_group(fit.plane):
        doubted = clear_share < LEAST_CLEAR
        inside = 2 * sum(frame.inner is not None for frame in fit.frames) >= len(fit.frames)
        stretch = INSIDE_STRETCH if inside else STRETCH
        covariance = covariance + _stretched(plan, DOUBTED_STRETCH if doubted else stretch)
        if doubted:
            findings.append(
                Finding(
                    "advice",
                    "Hardly a frame stands out in this photo, and nothing else in it has a known "
                    "size: places are known only roughly.",
                    "Tape a sheet of paper beside the group, and photograph it from the front.",
                    "hardly-clear",
                )
            )
    level = np.abs(off[:, 2]) <= limits.level_deg
    usable = level if level.any() else np.ones_like(level)
    shift = keep_the_most(off[:, :2], limits.gap_mm, usable)
    places = [3 * k + axis for k in range(len(off)) for axis in (0, 1)]
    return JudgedGroup(
        np.c_[off[:, :2] - shift, off[:, 2]],
        _within_group(covariance[np.ix_(places, places)], 2),
        COVERAGE_95 * np.sqrt(np.maximum(np.diag(covariance)[2::3], 0)),
        limits,
        tuple(findings),
    )


def from_group(plane: WallPlane) -> bool:
    """Whether nothing but the frames gave a plane its scale."""
    return any(finding.code == SCALE_FROM_GROUP for finding in plane.findings)


def levelled(off: Array, covariance: Matrix, plan_mm: PointsMm) -> tuple[Array, Matrix, float]:
    """Turn the group as a whole as far towards its plan as what is known of level leaves open.

    A wrong level turns every piece about the camera's foot and tilts it. Pieces are hung near
    their places, so the plan gives level as well, however roughly: the two are weighed.

    Parameters
    ----------
    off
        (N, 3) right mm, up mm, counter-clockwise deg off the plan, as measured.
    covariance
        (3N, 3N) of these, level's own uncertainty included.
    plan_mm
        (N, 2) planned centres.

    Returns
    -------
    The same after the turn, and the share that the plan had in it, 0 to 1.

    Notes
    -----
    A line that is taken for level and is not turns all pieces alike, by more than anybody hangs a
    whole group: beyond `CONTRADICTED` sigmas the plan alone gives level.

    References
    ----------
    R. F. Stengel, "Optimal Control and Estimation", 1994, section 4.3: the covariance after an
    update of any gain, in Joseph's form (from memory).
    """
    spread = np.array([HUNG_SIGMA_MM, HUNG_SIGMA_MM, HUNG_SIGMA_DEG])
    weight = np.ones(len(off))
    for _ in range(ROUNDS):
        arm = plan_mm - np.average(plan_mm, axis=0, weights=weight)
        turn = np.c_[np.radians(-arm[:, 1]), np.radians(arm[:, 0]), np.ones(len(arm))].ravel()
        precision = np.outer(weight, 1 / spread**2).ravel()
        middle = np.average(off[:, :2], axis=0, weights=weight)
        about_middle = np.c_[off[:, :2] - middle, off[:, 2]].ravel()
        variance = 1 / float((turn**2 * precision).sum())
        picked = variance * turn * precision
        turned = float(picked @ about_middle)
        # A piece far from where the others put it was changed over, or misread: it gives no level.
        left = (about_middle - turned * turn).reshape(-1, 3) / spread
        weight = 1 / (1 + (left**2).mean(axis=1) / ASTRAY**2)
    seen = float(picked @ covariance @ picked)
    if turned**2 > CONTRADICTED**2 * (seen + variance):
        seen = turned**2
    gain = seen / (seen + variance)
    update = np.eye(len(turn)) - gain * np.outer(turn, picked)
    levelled_off = off.ravel() - gain * turned * turn
    after = update @ covariance @ update.T + gain**2 * variance * np.outer(turn, turn)
    return levelled_off.reshape(-1, 3), np.asarray(after), gain


def _stretched(plan_mm: PointsMm, stretch: float) -> Matrix:
    """Covariance (3N, 3N) that a wrong scale adds, about the group's middle."""
    arm = plan_mm - plan_mm.mean(axis=0)
    out = np.zeros((3 * len(arm), 3 * len(arm)))
    for axis in (0, 1):
        moved = np.zeros((len(arm), 3))
        moved[:, axis] = stretch * arm[:, axis]
        out += np.outer(moved, moved)
    return out


def _within_group(covariance: Matrix, size: int) -> Matrix:
    """Covariance of what is measured against the group's mean, ``size`` numbers to a frame."""
    count = len(covariance) // size
    if count < 2:
        return covariance
    relative = np.kron(np.eye(count) - 1 / count, np.eye(size))
    return np.asarray(relative @ covariance @ relative.T)


def keep_the_most(offsets_mm: PointsMm, tolerance_mm: float, usable: NDArray[np.bool_]) -> Array:
    """Shift (2,) of the group under which the most pieces need no move.

    Ties go to the shift with the least total deviation. A group hung as a whole a little to the
    left needs no correction, unless its place is measured too.
    """
    points = offsets_mm[usable]
    if len(points) == 0:
        return np.zeros(2)
    edges = tolerance_mm * (1 - 1e-9)
    xs, ys = (
        np.unique(np.r_[points[:, k], points[:, k] - edges, points[:, k] + edges]) for k in (0, 1)
    )
    grid = np.stack(np.meshgrid(xs, ys, indexing="ij"), axis=-1).reshape(-1, 2)
    off = np.abs(points[None] - grid[:, None]).max(axis=2)
    kept = (off <= tolerance_mm).sum(axis=1)
    total = off.sum(axis=1)
    best = grid[np.lexsort((total, -kept))[0]]
    inside = np.abs(points - best).max(axis=1) <= tolerance_mm
    if inside.sum() < 2:
        return np.asarray(np.median(points, axis=0) if len(points) > 2 else best)
    centred = points[inside].mean(axis=0)
    still = (np.abs(points - centred).max(axis=1) <= tolerance_mm).sum()
    return np.asarray(centred if still >= inside.sum() else best)


def judge(
    dx_mm: float,
    dy_mm: float,
    tilt_deg: float,
    half_widths: tuple[float, float, float],
    tolerances: Tolerances,
) -> Verdict:
    """Judge one piece; unsure where its half-width is twice a limit and it is not clearly over."""
    place, tilt = max(abs(dx_mm), abs(dy_mm)), abs(tilt_deg)
    sure_mm = max(abs(dx_mm) - half_widths[0], abs(dy_mm) - half_widths[1])
    if sure_mm > tolerances.gap_mm or tilt - half_widths[2] > tolerances.level_deg:
        return "nudge"
    if max(half_widths[:2]) > 2 * tolerances.gap_mm or half_widths[2] > 2 * tolerances.level_deg:
        return "unsure"
    over = place > tolerances.gap_mm or tilt > tolerances.level_deg
    return "nudge" if over else "right"
