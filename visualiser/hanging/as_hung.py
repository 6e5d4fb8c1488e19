"""The as-hung check: one more photo tells what to nudge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsPx
from visualiser.hanging.anchoring import recognise
from visualiser.hanging.deviations import (
    COVERAGE_95,
    AsHungReport,
    PieceDeviation,
    Tolerances,
    Verdict,
    correction,
    judge,
    keep_the_most,
    names,
    neighbour_gaps,
)
from visualiser.hanging.frame_box import HungFrame, hung_frame
from visualiser.hanging.frame_fit import PLACE, FrameFit, fit_frames
from visualiser.hanging.frame_search import Inset, Located, locate
from visualiser.hanging.frame_sides import view_sides
from visualiser.hanging.identity import seen_in, who_hangs_where
from visualiser.hanging.registration import lay_plan, shifted
from visualiser.inventory.piece import Piece
from visualiser.photo.photo import Photo
from visualiser.rectification.finding import find_references
from visualiser.rectification.fitting import fit_wall_plane
from visualiser.rectification.linear_view import LinearView
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference

Array = NDArray[np.float64]

KINDS = ("a4", "letter", "target", "target-letter")
"""References that are looked for when none is named."""
NO_SHEET = "none"
"""Named as the reference where the frames alone are the measure."""
SCALES = (0.92, 0.94, 0.96, 0.98, 1.0, 1.02, 1.04, 1.06)
"""Scales tried when the group itself is the only measure."""
LEVEL_LIMIT_DEG = 0.25
"""Where the room tells level worse than this, the group's own median tilt is taken as level."""


def check_as_hung(
    photo: Photo,
    arrangement: Arrangement,
    *,
    reference: str | None = None,
    plane: WallPlane | None = None,
    outlines_px: Mapping[str, PointsPx] | None = None,
    floor_mm: float | None = None,
    tolerances: Tolerances | None = None,
) -> AsHungReport:
    """Compare hung pieces with their plan.

    Parameters
    ----------
    photo
        Photo of the hung group.
    arrangement
        The plan; outside sizes and depths of its pieces are the measure.
    reference
        Kind of the reference taped beside the group; several usual kinds are tried when None, and
        none is looked for when it is ``"none"``.
    plane
        The photo's wall plane, when it has been fitted already.
    outlines_px
        Clicked outer corners (4, 2) of one or more pieces by id, for a photo without a reference.
    floor_mm
        The floor's y in the plane's mm, when known: the height of the group's centre is then told.
    tolerances
        Limits of what passes for well hung.

    Returns
    -------
    Deviation of every piece with its 95 % half-width, the gaps, and the fewest corrections.

    Raises
    ------
    MeasurementError
        If nothing in the photo tells its scale, or hardly any planned piece is in it.
    """
    limits = tolerances or Tolerances()
    pieces = [arrangement.piece(p.piece_id) for p in arrangement.placements]
    if not pieces:
        raise MeasurementError(
            "The plan has no piece placed.", hint="Place the pieces first, then check them."
        )
    planned = [hung_frame(p, arrangement.rect(p.id).centre_mm) for p in pieces]
    coarse = plane or _coarse_plane(photo, pieces, planned, reference, outlines_px)
    dx, dy, _ = lay_plan(photo.pixels, coarse, planned)
    places = shifted(planned, dx, dy)
    located, reasons = _locate_all(photo, coarse, pieces, places)
    found = [i for i, hit in enumerate(located) if hit is not None]
    if len(found) < max(1, len(pieces) // 3):
        raise MeasurementError(
            f"Only {len(found)} of the {len(pieces)} planned pieces can be seen in this photo.",
            hint="Photograph the whole hung group from the front, or check the plan that is open.",
        )
    hits = [located[i] for i in found]
    fit = _fit(photo, coarse, [hit.frame for hit in hits if hit is not None])
    return _report(photo, arrangement, pieces, planned, found, reasons, fit, floor_mm, limits)


def _coarse_plane(
    photo: Photo,
    pieces: Sequence[Piece],
    planned: Sequence[HungFrame],
    reference: str | None,
    outlines_px: Mapping[str, PointsPx] | None,
) -> WallPlane:
    """Take the scale from clicked outlines, a reference beside the group, or the group itself."""
    if outlines_px:
        piece_id, corners = next(iter(outlines_px.items()))
        frame = next((f for f, p in zip(planned, pieces, strict=True) if p.id == piece_id), None)
        if frame is None:
            raise MeasurementError(
                f"The outline of {piece_id} was clicked, which is not in the plan.",
                hint="Click the corners of a piece that is placed in the plan.",
            )
        return _plane_behind(photo, frame, np.asarray(corners, float))
    kinds = KINDS if reference is None else (reference,)
    for kind in () if reference == NO_SHEET else kinds:
        try:
            return fit_wall_plane(photo, find_references(photo, kind))
        except ReferenceNotFound:
            continue
    group = recognise(photo, planned)
    if group is None:
        raise ReferenceNotFound(
            "Neither a sheet of known size nor the planned group was recognised in this photo.",
            hint="Tape a sheet of paper beside the group, or click the four corners of one frame.",
        )
    return _rescaled(photo, group, pieces, planned)


def _rescaled(
    photo: Photo, plane: WallPlane, pieces: Sequence[Piece], planned: Sequence[HungFrame]
) -> WallPlane:
    """Try how large the group's frames really are: an outline may have been the mat's, not theirs.

    Scaling the room about the camera leaves every pixel where it is, so the frames are looked for
    at several scales, and the one at which outline, moulding and mat agree best is taken.
    """
    largest = sorted(range(len(pieces)), key=lambda i: -planned[i].width_mm)[:3]
    scores = []
    for scale in SCALES:
        trial = replace(plane, translation_mm=plane.translation_mm * scale)
        total = 0.0
        for i in largest:
            # The same pixels: where the piece would be seen at the trial's scale.
            place = replace(planned[i], x_mm=planned[i].x_mm * scale, y_mm=planned[i].y_mm * scale)
            hit = locate(
                photo.pixels, trial, place, reach_mm=60, reach_deg=2, insets_mm=_insets(pieces[i])
            )
            total += hit.score if hit else 0.0
        scores.append(total)
    best = SCALES[int(np.argmax(scores))]
    return replace(plane, translation_mm=plane.translation_mm * best)


def _plane_behind(photo: Photo, frame: HungFrame, corners_px: PointsPx) -> WallPlane:
    """Fit the wall plane from one frame's front outline: the wall lies its depth behind it."""
    clicked = Reference.from_corners(corners_px, frame.width_mm, frame.height_mm)
    front = fit_wall_plane(photo, [clicked])
    behind = front.translation_mm - front.rotation[:, 2] * frame.depth_mm
    return replace(front, translation_mm=behind)


def _locate_all(
    photo: Photo, plane: WallPlane, pieces: Sequence[Piece], places: Sequence[HungFrame]
) -> tuple[list[Located | None], dict[str, str]]:
    """Search for every piece around its place; also why a piece was not found."""
    out: list[Located | None] = []
    reasons: dict[str, str] = {}
    for piece, place in zip(pieces, places, strict=True):
        hit = locate(photo.pixels, plane, place, insets_mm=_insets(piece))
        if hit is None:
            reasons[piece.id] = "its place is not in the picture"
        elif not hit.convincing:
            weak = [s for s, v in zip(("top", "right", "bottom", "left"), hit.support, strict=True)
                    if v < 0.5]  # fmt: skip
            reasons[piece.id] = f"no edge stands out at its {names(weak) or 'outline'}"
            hit = None
        out.append(hit)
    # One frame cannot be two pieces: the better claim keeps it.
    for i, first in enumerate(out):
        for j, second in enumerate(out[:i]):
            if first is None or second is None:
                continue
            apart = np.hypot(
                first.frame.x_mm - second.frame.x_mm, first.frame.y_mm - second.frame.y_mm
            )
            if apart < 0.5 * min(first.frame.width_mm, first.frame.height_mm):
                loser = i if first.score < second.score else j
                out[loser] = None
                reasons[pieces[loser].id] = "what hangs there is taken for its neighbour"
    return out, reasons


def _insets(piece: Piece) -> list[Inset]:
    """List the rectangles inside a piece's outline that show as edges."""
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    found = [(rail, rail, rail)] if rail > 0 else []
    if piece.mat:
        found.append(
            (rail + piece.mat.top_mm, rail + piece.mat.sides_mm, rail + piece.mat.bottom_mm)
        )
    return found


def _fit(photo: Photo, plane: WallPlane, frames: list[HungFrame]) -> FrameFit:
    """Refine all frames together, in two looks: the second closer, with lost sides left out."""
    view = LinearView.whole(photo)
    now, known = frames, plane
    for search_px in (3.0, 2.0):
        views = view_sides(view, known, now, search_px)
        fit = fit_frames(plane, now, views)
        good = [
            v
            for v, off in zip(views, fit.offsets_px, strict=True)
            if abs(off) < max(1.0, 4 * v.sigma_px)
        ]
        if len(good) < len(views):
            fit = fit_frames(plane, now, good)
        now, known = list(fit.frames), fit.plane
    return fit


def _report(
    photo: Photo,
    arrangement: Arrangement,
    pieces: Sequence[Piece],
    planned: Sequence[HungFrame],
    found: Sequence[int],
    reasons: Mapping[str, str],
    fit: FrameFit,
    floor_mm: float | None,
    limits: Tolerances,
) -> AsHungReport:
    """Turn fitted frames into deviations, verdicts and corrections."""
    findings = list(fit.plane.findings)
    hung = np.array([[f.x_mm, f.y_mm] for f in fit.frames])
    tilts = np.array([f.tilt_deg for f in fit.frames])
    tilt_sigma = np.sqrt(np.diag(fit.covariance)[2::PLACE])
    plan = np.array([[planned[i].x_mm, planned[i].y_mm] for i in found])
    if fit.plane.level_sigma_deg > LEVEL_LIMIT_DEG:
        turn = float(np.median(tilts))
        c, s = np.cos(np.radians(-turn)), np.sin(np.radians(-turn))
        middle = hung.mean(axis=0)
        hung = (hung - middle) @ np.array([[c, -s], [s, c]]).T + middle
        tilts = tilts - turn
        tilt_sigma = np.sqrt(np.maximum(_relative_variance(fit.covariance, 2), 0))
        findings.append(
            Finding(
                "advice",
                "The room does not show what is level, so tilts are told against the group itself.",
                "Have the ceiling line, a door frame or a corner in the picture.",
                "level-from-group",
            )
        )
    offsets = hung - plan
    shift = keep_the_most(offsets, limits.gap_mm, np.abs(tilts) <= limits.level_deg)
    if not (np.abs(tilts) <= limits.level_deg).any():
        shift = keep_the_most(offsets, limits.gap_mm, np.ones(len(offsets), bool))
    offsets = offsets - shift
    spread = [np.sqrt(np.maximum(_relative_variance(fit.covariance, k), 0)) for k in (0, 1)]

    views: list[Array | None] = [None] * len(pieces)
    for k, i in enumerate(found):
        views[i] = seen_in(photo.pixels, fit.plane, fit.frames[k], pieces[i])
    seen_ids = who_hangs_where(views, pieces)

    deviations, corrections = [], []
    for i, piece in enumerate(pieces):
        name = piece.name or piece.id
        if i not in found:
            reason = reasons.get(piece.id, "it was not found")
            deviations.append(
                PieceDeviation(piece.id, "not found", f"{name} was not found: {reason}.")
            )
            continue
        k = list(found).index(i)
        widths = [COVERAGE_95 * float(v[k]) for v in (spread[0], spread[1], tilt_sigma)]
        numbers = (float(offsets[k, 0]), float(offsets[k, 1]), float(tilts[k]))
        verdict: Verdict = judge(*numbers, (widths[0], widths[1], widths[2]), limits)
        todo = correction(name, piece.width_mm, *numbers, limits)
        if seen_ids[i] != piece.id:
            verdict = "swapped"
            other = arrangement.piece(seen_ids[i])
            todo = f"{other.name or other.id} hangs where {name} belongs."
        elif todo:
            corrections.append(todo)
        sentence = todo or (
            f"{name} is right." if verdict == "right" else f"{name} cannot be judged to tolerance."
        )
        deviations.append(
            PieceDeviation(
                piece.id,
                verdict,
                sentence,
                dx_mm=numbers[0],
                dy_mm=numbers[1],
                tilt_deg=numbers[2],
                dx_half_width_mm=widths[0],
                dy_half_width_mm=widths[1],
                tilt_half_width_deg=widths[2],
                seen_id=seen_ids[i],
                outline_px=fit.plane.project(fit.frames[k].corners_xyz_mm(front=True)),
                planned_px=fit.plane.project(_as_planned(fit.frames[k], numbers)),
            )
        )
    corrections = _exchanges(arrangement, deviations) + corrections
    centres = {pieces[i].id: plan[k] + offsets[k] for k, i in enumerate(found)}
    variances = {
        pieces[i].id: np.diag([spread[0][k] ** 2, spread[1][k] ** 2]) for k, i in enumerate(found)
    }
    gaps = neighbour_gaps(arrangement.rects(), centres, variances)
    return AsHungReport(
        tuple(deviations),
        tuple(corrections),
        gaps,
        limits,
        _centre_height(fit, floor_mm),
        tuple(findings),
    )


def _exchanges(arrangement: Arrangement, deviations: Sequence[PieceDeviation]) -> list[str]:
    """Say which pieces to change over; two that hang in each other's place need one sentence."""
    seen = {d.piece_id: d.seen_id for d in deviations if d.verdict == "swapped"}
    out = []
    for place, hangs in seen.items():
        here, there = (arrangement.piece(i).name or i for i in (hangs, place))
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


def _relative_variance(covariance: Array, component: int) -> Array:
    """Variance (N,) of one component of each frame relative to the group's mean."""
    own = covariance[component::PLACE, component::PLACE]
    count = len(own)
    relative = np.eye(count) - 1 / count if count > 1 else np.eye(1)
    return np.asarray(np.diag(relative @ own @ relative.T))


def _centre_height(fit: FrameFit, floor_mm: float | None) -> tuple[float, float] | None:
    """Height of the group's centre above the floor and its 95 % half-width."""
    if floor_mm is None:
        return None
    tops = [f.y_mm + f.height_mm / 2 for f in fit.frames]
    bottoms = [f.y_mm - f.height_mm / 2 for f in fit.frames]
    centre = (max(tops) + min(bottoms)) / 2
    sigma = float(np.sqrt(np.mean(np.diag(fit.covariance)[1::PLACE])))
    return centre - floor_mm, COVERAGE_95 * sigma
