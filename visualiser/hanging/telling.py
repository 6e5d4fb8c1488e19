"""Say what was found at each planned place, and the fewest corrections that put it right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from visualiser.arrangement.arrangement import Arrangement
from visualiser.geometry import Matrix
from visualiser.hanging.deviations import (
    COVERAGE_95,
    AsHungReport,
    PieceDeviation,
    correction,
    neighbour_gaps,
)
from visualiser.hanging.frame_box import HungFrame
from visualiser.hanging.frame_fit import FrameFit
from visualiser.hanging.frame_residuals import PLACE
from visualiser.hanging.judging import JudgedGroup
from visualiser.hanging.sightings import Sighting


def told(
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
