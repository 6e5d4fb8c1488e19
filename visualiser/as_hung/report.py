"""Build the report: each piece's deviation, the gaps, and the fewest corrections."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.arrangement import Arrangement
from visualiser.as_hung.fit import FrameFit
from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.identify import Sighting
from visualiser.as_hung.judge import JudgedGroup, Tolerances, Verdict
from visualiser.as_hung.residuals import PLACE
from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsPx, Rect
from visualiser.statistics import COVERAGE_95
from visualiser.wording import BothUnits, capitalised, joined, sentence

Array = NDArray[np.float64]

LEAST_WAY_MM = 1.0
"""A part of a way that is shorter is left out."""


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
        The piece that hangs there by size and picture; the planned one when nothing contradicts
        that; empty when none was found.
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
    """What one photo shows of a hung group.

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


def ways_back(dx_mm: float, dy_mm: float, tolerances: Tolerances) -> list[tuple[str, float]]:
    """List which ways a piece goes back to its place, and how far each, mm; none where it may stay.

    Parameters
    ----------
    dx_mm, dy_mm
        How far it hangs off, right and up.
    tolerances
        How far it may.
    """
    if max(abs(dx_mm), abs(dy_mm)) <= tolerances.gap_mm:
        return []
    ways = (("left", "right"), dx_mm), (("down", "up"), dy_mm)
    return [
        (back if off_mm > 0 else forth, abs(off_mm))
        for (back, forth), off_mm in ways
        if abs(off_mm) >= LEAST_WAY_MM
    ]


def correction(
    name: str, width_mm: float, dx_mm: float, dy_mm: float, tilt_deg: float, tolerances: Tolerances
) -> str:
    """Say what to do with one piece; empty when nothing."""
    moves: list[str] = [
        sentence(f"{way} by ", BothUnits(far)) for way, far in ways_back(dx_mm, dy_mm, tolerances)
    ]
    parts: list[str] = [f"move {name} " + joined(moves, " and ")] if moves else []
    if abs(tilt_deg) > tolerances.level_deg:
        end = width_mm * math.sin(math.radians(abs(tilt_deg)))
        verb = "lower" if tilt_deg > 0 else "raise"
        whose = "its right end" if parts else f"the right end of {name}"
        parts.append(sentence(f"{verb} {whose} by ", BothUnits(end)))
    return capitalised(joined(parts, ", then ")) + "." if parts else ""


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


def build_report(
    arrangement: Arrangement,
    sightings: Sequence[Sighting],
    reasons: Mapping[str, str],
    fit: FrameFit,
    group: JudgedGroup,
    floor_mm: float | None,
) -> AsHungReport:
    """Tell what hangs where.

    Parameters
    ----------
    arrangement
        The plan.
    sightings
        What was seen at the plan's places.
    reasons
        By piece id, why nothing was.
    fit, group
        The frames seen, in the order of ``sightings``, as fitted and as judged.
    floor_mm
        The floor's y in the plane's mm, when known.
    """
    seen = {sighting.place: k for k, sighting in enumerate(sightings)}
    deviations = []
    for place, placement in enumerate(arrangement.placements):
        if place in seen:
            k = seen[place]
            hangs = arrangement.placements[sightings[k].piece].piece_id
            deviations.append(_told_piece(arrangement, placement.piece_id, hangs, fit, group, k))
        else:
            name = arrangement.called(placement.piece_id)
            reason = reasons.get(placement.piece_id, "it was not found")
            sentence = f"{name} was not found: {reason}."
            deviations.append(PieceDeviation(placement.piece_id, "not found", sentence))
    nudges = [d.sentence for d in deviations if d.verdict == "nudge"]
    ids = [arrangement.placements[s.place].piece_id for s in sightings]
    centres = {
        piece_id: arrangement.rect(piece_id).centre_mm + group.deviations[k, :2]
        for k, piece_id in enumerate(ids)
        if sightings[k].place == sightings[k].piece
    }
    return AsHungReport(
        tuple(deviations),
        tuple(_exchanges(arrangement, deviations) + nudges),
        neighbour_gaps(arrangement.rects(), centres, ids, group.covariance),
        group.limits,
        _centre_height(fit, floor_mm),
        group.findings,
        {piece.id: piece.called for piece in arrangement.pieces},
    )


def _told_piece(
    arrangement: Arrangement,
    piece_id: str,
    hangs: str,
    fit: FrameFit,
    group: JudgedGroup,
    k: int,
) -> PieceDeviation:
    """Tell what hangs at one place."""
    name = arrangement.called(piece_id)
    right, up, tilt = (float(v) for v in group.deviations[k])
    widths = [float(v) for v in group.half_widths[k]]
    verdict = group.verdict(k)
    if hangs != piece_id:
        verdict = "swapped"
        sentence = f"{arrangement.called(hangs)} hangs where {name} belongs."
    elif verdict == "nudge":
        width_mm = arrangement.piece(piece_id).width_mm
        sentence = correction(name, width_mm, right, up, tilt, group.limits)
    elif verdict == "right":
        sentence = f"{name} is right."
    else:
        sentence = f"{name} cannot be judged to tolerance."
    frame = fit.frames[k]
    return PieceDeviation(
        piece_id,
        verdict,
        sentence,
        dx_mm=right,
        dy_mm=up,
        tilt_deg=tilt,
        dx_half_width_mm=widths[0],
        dy_half_width_mm=widths[1],
        tilt_half_width_deg=widths[2],
        seen_id=hangs,
        outline_px=fit.plane.project(frame.corners_xyz_mm(front=True)),
        planned_px=fit.plane.project(_as_planned(frame, (right, up, tilt))),
    )


def _exchanges(arrangement: Arrangement, deviations: Sequence[PieceDeviation]) -> list[str]:
    """Say which pieces to change over; two that hang in each other's place need one sentence."""
    seen = {d.piece_id: d.seen_id for d in deviations if d.verdict == "swapped"}
    out = []
    for place, hangs in seen.items():
        here, there = (arrangement.called(i) for i in (hangs, place))
        if seen.get(hangs) != place:
            out.append(f"Hang {there} where {here} hangs now.")
        elif place < hangs:
            out.append(f"Change over {there} and {here}.")
    return out


def _as_planned(frame: HungFrame, deviation: tuple[float, float, float]) -> Matrix:
    """Front corners (4, 3) of a frame with its deviation taken off."""
    dx, dy, tilt = deviation
    put_right = replace(
        frame, x_mm=frame.x_mm - dx, y_mm=frame.y_mm - dy, tilt_deg=frame.tilt_deg - tilt
    )
    return put_right.corners_xyz_mm(front=True)


def _centre_height(fit: FrameFit, floor_mm: float | None) -> tuple[float, float] | None:
    """Height of the group's centre above the floor and its 95 % half-width."""
    if floor_mm is None:
        return None
    tops = [f.y_mm + f.height_mm / 2 for f in fit.frames]
    bottoms = [f.y_mm - f.height_mm / 2 for f in fit.frames]
    centre = (max(tops) + min(bottoms)) / 2
    sigma = float(np.sqrt(np.mean(np.diag(fit.covariance)[1::PLACE])))
    return centre - floor_mm, COVERAGE_95 * sigma
