"""The scale of the second photo: a sheet beside the group, clicked corners, or the group itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.findings import Finding
from visualiser.geometry import PointsPx
from visualiser.hanging.anchoring import recognise
from visualiser.hanging.doubted_sheet import confirmed_plane
from visualiser.hanging.frame_box import HungFrame
from visualiser.hanging.frame_search import locate
from visualiser.hanging.judging import SCALE_FROM_GROUP
from visualiser.hanging.sightings import inner_rectangles, shown_picture
from visualiser.inventory.piece import Piece
from visualiser.photo.photo import Photo
from visualiser.rectification.finding import find_references
from visualiser.rectification.fitting import fit_wall_plane
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference

KINDS = ("a4", "letter", "target", "target-letter")
"""References that are looked for when none is named."""
SHEET_LEFT_OUT = "sheet-left-out"
"""Code of the finding that a sheet was found, and why it was not measured by."""
NO_SHEET = "none"
"""Named as the reference where the frames alone are the measure."""
SCALES = (0.92, 0.94, 0.96, 0.98, 1.0, 1.02, 1.04, 1.06)
"""Scales tried when the group itself is the only measure."""


def coarse_plane(
    photo: Photo,
    pieces: Sequence[Piece],
    planned: Sequence[HungFrame],
    reference: str | None,
    outlines_px: Mapping[str, PointsPx] | None,
    likely: str | None = None,
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
    usual = sorted(KINDS, key=lambda kind: kind != likely)  # a likely one comes first
    kinds = usual if reference is None else [reference]
    refused: MeasurementError | None = None
    doubted: list[Reference] = []
    for kind in [] if reference == NO_SHEET else kinds:
        candidates: list[Reference] = []
        try:
            candidates = find_references(photo, kind)
            return fit_wall_plane(photo, candidates)
        except ReferenceNotFound:
            doubted += candidates
        except MeasurementError as error:  # one was found that measures nothing: it leans, say
            refused = refused or error
    group = plane_of_group(photo, pieces, planned)
    confirmed = confirmed_plane(photo, pieces, planned, doubted, group)
    if confirmed is not None:
        return confirmed
    if group is not None and refused is not None:
        told = Finding("advice", refused.message, refused.hint, SHEET_LEFT_OUT)
        return replace(group, findings=(told, *group.findings))
    if refused is not None:
        raise refused
    if group is None:
        raise ReferenceNotFound(
            "Neither a sheet of known size nor the planned group was recognised in this photo.",
            hint="Tape a sheet of paper beside the group, or click the four corners of one frame.",
        )
    return group


def plane_of_group(
    photo: Photo, pieces: Sequence[Piece], planned: Sequence[HungFrame]
) -> WallPlane | None:
    """Take the scale from the group alone; None where it is not recognised."""
    group = recognise(photo, planned)
    if group is None:
        return None
    finding = Finding(
        "advice",
        "The frames' own sizes are the only scale in this photo, and less is certain for it.",
        "Tape a sheet of paper beside the group.",
        SCALE_FROM_GROUP,
    )
    return replace(_rescaled(photo, group, pieces, planned), findings=(finding,))


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
                photo.pixels,
                trial,
                place,
                reach_mm=60,
                reach_deg=2,
                insets=inner_rectangles(pieces[i]),
                picture=shown_picture(pieces[i]),
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
