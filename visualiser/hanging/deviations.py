"""How hung pieces differ from the plan, what is within tolerance, and the fewest corrections."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsMm, PointsPx, Rect
from visualiser.units import format_both

Array = NDArray[np.float64]
Verdict = Literal["right", "nudge", "unsure", "swapped", "not found"]

COVERAGE_95 = 1.96
"""Half-width of a 95 % interval in standard uncertainties (JCGM 100:2008, table G.1)."""


@dataclass(frozen=True, slots=True)
class Tolerances:
    """What passes for well hung. Both are our own limits, to be changed at will."""

    level_deg: float = 0.3
    gap_mm: float = 3.0

    def __post_init__(self) -> None:
        if not (0 < self.level_deg < 45 and 0 < self.gap_mm < math.inf):
            raise ValueError(f"tolerances must be above zero, got {self!r}")


@dataclass(frozen=True, slots=True, eq=False)
class PieceDeviation:
    """One planned piece as it hangs.

    Parameters
    ----------
    piece_id
        The piece that the plan has there.
    verdict
        Whether it is right, wants a nudge, could not be judged, is another piece, or is absent.
    dx_mm, dy_mm
        How far right and how far up of its place it hangs, the group as a whole laid on the plan.
    tilt_deg
        Counter-clockwise as seen.
    dx_half_width_mm, dy_half_width_mm, tilt_half_width_deg
        95 % half-widths.
    seen_id
        The piece that hangs there by size and picture; the planned one when nothing speaks
        against it; empty when none was found.
    outline_px
        (4, 2) front outline in the photo; None when not found.
    planned_px
        (4, 2) where the plan has that outline, the group as a whole laid on what hangs.
    sentence
        What was found and what to do, for people.
    """

    piece_id: str
    verdict: Verdict
    sentence: str
    dx_mm: float = math.nan
    dy_mm: float = math.nan
    tilt_deg: float = math.nan
    dx_half_width_mm: float = math.nan
    dy_half_width_mm: float = math.nan
    tilt_half_width_deg: float = math.nan
    seen_id: str = ""
    outline_px: PointsPx | None = None
    planned_px: PointsPx | None = None


@dataclass(frozen=True, slots=True)
class Gap:
    """Clear distance between two neighbours, planned and as hung."""

    first_id: str
    second_id: str
    direction: Literal["across", "up"]
    planned_mm: float
    hung_mm: float
    half_width_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class AsHungReport:
    """What one photo tells of a hung group.

    Parameters
    ----------
    pieces
        Every planned piece, in the plan's order.
    corrections
        Sentences: the fewest moves that bring all within tolerance.
    gaps
        Between neighbours, planned and as hung.
    tolerances
        What the verdicts were held against.
    group_centre_mm
        Height of the group's centre above the floor and its 95 % half-width; None when the floor
        is not known.
    findings
        What limits the check.
    names
        What people call the pieces, by id.
    """

    pieces: tuple[PieceDeviation, ...]
    corrections: tuple[str, ...]
    gaps: tuple[Gap, ...]
    tolerances: Tolerances
    group_centre_mm: tuple[float, float] | None = None
    findings: tuple[Finding, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)

    def called(self, piece_id: str) -> str:
        """Tell what people call the piece of an id."""
        return self.names.get(piece_id, piece_id)

    @property
    def all_right(self) -> bool:
        """Whether nothing needs doing."""
        return all(piece.verdict == "right" for piece in self.pieces)


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


def correction(
    name: str, width_mm: float, dx_mm: float, dy_mm: float, tilt_deg: float, tolerances: Tolerances
) -> str:
    """Say what to do with one piece; empty when nothing."""
    moves = []
    if max(abs(dx_mm), abs(dy_mm)) > tolerances.gap_mm:
        if abs(dx_mm) >= 1.0:
            moves.append(f"{'left' if dx_mm > 0 else 'right'} by {format_both(abs(dx_mm))}")
        if abs(dy_mm) >= 1.0:
            moves.append(f"{'down' if dy_mm > 0 else 'up'} by {format_both(abs(dy_mm))}")
    parts = [f"move {name} " + " and ".join(moves)] if moves else []
    if abs(tilt_deg) > tolerances.level_deg:
        end = width_mm * math.sin(math.radians(abs(tilt_deg)))
        verb = "lower" if tilt_deg > 0 else "raise"
        whose = "its right end" if parts else f"the right end of {name}"
        parts.append(f"{verb} {whose} by {format_both(end)}")
    text = ", then ".join(parts)
    return text[:1].upper() + text[1:] + "." if text else ""


def neighbour_gaps(
    planned: Mapping[str, Rect],
    centres_mm: Mapping[str, Array],
    order: Sequence[str],
    covariance: Matrix,
) -> tuple[Gap, ...]:
    """Gaps between pieces that face each other with nothing between, planned and as hung.

    Parameters
    ----------
    planned
        Rectangles of the plan, by id.
    centres_mm
        Centres as hung, by id; pieces not found are left out.
    order, covariance
        (2N, 2N) of the centres' right and up in turn, for pieces in this order: neighbours share
        most of the plane's error, so a gap is known better than either place.
    """
    gaps = []
    ids = [piece_id for piece_id in planned if piece_id in centres_mm]
    for a in ids:
        for b in ids:
            for axis, direction in ((0, "across"), (1, "up")):
                first, second = planned[a], planned[b]
                gap = (first.gap_to(second)[axis], first.gap_to(second)[1 - axis])
                ahead = second.centre_mm[axis] > first.centre_mm[axis]
                if not ahead or gap[0] < 0 or gap[1] > -20 or _between(planned, a, b, axis):
                    continue
                shift = (centres_mm[b] - centres_mm[a]) - (
                    np.array(second.centre_mm) - np.array(first.centre_mm)
                )
                i, j = 2 * order.index(a) + axis, 2 * order.index(b) + axis
                variance = covariance[i, i] + covariance[j, j] - 2 * covariance[i, j]
                sigma = math.sqrt(max(variance, 0.0))
                gaps.append(
                    Gap(
                        a,
                        b,
                        "across" if direction == "across" else "up",
                        gap[0],
                        gap[0] + float(shift[axis]),
                        COVERAGE_95 * sigma,
                    )
                )
    return tuple(gaps)


def _between(planned: Mapping[str, Rect], a: str, b: str, axis: int) -> bool:
    """Whether a third piece stands between two."""
    first, second = planned[a], planned[b]
    low = (first.right_mm, first.top_mm)[axis]
    high = (second.left_mm, second.bottom_mm)[axis]
    for name, other in planned.items():
        if name in (a, b):
            continue
        start, end = ((other.left_mm, other.right_mm), (other.bottom_mm, other.top_mm))[axis]
        if (
            start < high
            and end > low
            and min(other.gap_to(first)[1 - axis], other.gap_to(second)[1 - axis]) < 0
        ):
            return True
    return False


def names(pieces: Sequence[str]) -> str:
    """Join names as in a sentence."""
    return " and ".join([", ".join(pieces[:-1]), pieces[-1]] if len(pieces) > 1 else list(pieces))
