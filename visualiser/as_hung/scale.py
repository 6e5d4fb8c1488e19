"""Take the second photo's scale: from a sheet, from clicked corners, or from the group itself.

A sheet that is small in the picture, faint, or beside its like may be the right one all the same.
Its size gives the wall a scale, at which the planned frames are either seen, outline, moulding and
mat, or not at all.
A scale that a sheet leaves open is settled by where the frames' edges agree best.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.identify import inner_rectangles, shown_picture
from visualiser.as_hung.judge import LEAST_CLEAR, SCALE_FROM_GROUP
from visualiser.as_hung.place import match_plan
from visualiser.as_hung.recognise import recognise
from visualiser.as_hung.search import AMBIGUOUS, STEP_MM, Inset, locate, turned, within_on_front
from visualiser.as_hung.straight_on import edge_votes, pair_support, straight_on
from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.findings import Finding
from visualiser.geometry import PointsPx
from visualiser.inventory.piece import Piece
from visualiser.photo.photo import Photo, PixelsRgb
from visualiser.rectification.camera.projection import CameraState
from visualiser.rectification.finder.find import find_references
from visualiser.rectification.fit import fit_wall_plane
from visualiser.rectification.kinds import make_of
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference

SAME_SIZE = 0.08
"""How far the scale that the frames alone give may be off: the most that is tried there."""
SAME_SHAPE = 0.045
"""A4 and Letter differ by 9 % in shape: a sheet is within half of that of its own."""
LEAST = 2
"""One frame confirms no sheet: near enough, something of its size is found."""
TRIED = 2
"""Without a scale from the frames, so many sheets are tried."""
Array = NDArray[np.float64]
OPEN_MM = 2.0
"""What the scale leaves open at a frame's sides, standard uncertainty, from which scales are tried:
twice this is beyond where the fit looks for an edge, and near the next one in."""
REACH_MM = 24.0
"""How far a frame may be moved: between edges of a moulding of usual width, and a little more."""
NEAR = 3
"""Samples within which a place counts as the same."""
SIGMAS, HALF_STEPS = 3.5, 4
"""Scales are tried so far from the sheet's own, in so many steps either way."""
BETTER = 1.04
"""What all edges together must gain: texture and chance give a few per cent."""
MOST_FRAMES = 4
KINDS = ("a4", "letter", "target", "target-letter")
"""References that are looked for when none is named."""
SHEET_LEFT_OUT = "sheet-left-out"
"""Code of the finding that a sheet was found, and why it was not measured by."""
NO_SHEET = "none"
"""Named as the reference where the frames alone are the measure."""
SCALES = (0.92, 0.94, 0.96, 0.98, 1.0, 1.02, 1.04, 1.06)
"""Scales tried when the group itself is the only measure."""


def sides_mm(corners_px: PointsPx, plane: WallPlane) -> NDArray[np.float64]:
    """Measure the sides (4,) of a rectangle on a plane, from its top on, clockwise."""
    corners = plane.to_wall(corners_px)
    return np.asarray(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T))


def agree_in_size(seen_mm: NDArray[np.float64], taken_mm: NDArray[np.float64]) -> bool:
    """Whether sides (4,) of a sheet are those of the size that it is taken for."""
    ratio = seen_mm / taken_mm
    shape = ratio[::2].mean() / ratio[1::2].mean()
    return bool(np.abs(ratio - 1).max() < SAME_SIZE and abs(shape - 1) < SAME_SHAPE)


def confirmed_plane(
    photo: Photo,
    pieces: Sequence[Piece],
    planned: Sequence[HungFrame],
    sheets: Sequence[Reference],
    group: WallPlane | None,
) -> WallPlane | None:
    """Fit the wall plane to the doubted sheet that the frames confirm; None where they do not.

    Parameters
    ----------
    photo
        The photo.
    pieces, planned
        The plan's pieces, and where it has them.
    sheets
        Candidates that did not convince by themselves.
    group
        The plane from the frames alone, where they do.
    """
    if group is not None:
        tried = [
            sheet
            for sheet in sheets
            if agree_in_size(
                sides_mm(sheet.corners_px, group), np.tile([sheet.width_mm, sheet.height_mm], 2)
            )
        ]
    else:
        tried = sorted(sheets, key=lambda sheet: -sheet.confidence)[:TRIED]
    best: WallPlane | None = None
    most = 0.0
    for sheet in tried:
        try:
            plane = fit_wall_plane(photo, [replace(sheet, confidence=1.0)])
        except MeasurementError:
            continue
        laid = match_plan(photo, plane, pieces, planned)
        confirmed = laid.clear >= max(LEAST, LEAST_CLEAR * len(pieces))
        if confirmed and laid.evidence > most:
            best, most = plane, laid.evidence
    return best


def at_best_scale(
    pixels: PixelsRgb,
    plane: WallPlane,
    frames: Sequence[HungFrame],
    insets: Sequence[Sequence[Inset]],
) -> tuple[WallPlane, list[HungFrame]]:
    """Move a plane within what it leaves open to where the frames' edges agree best.

    Parameters
    ----------
    pixels
        Photo, (H, W, 3) uint8.
    plane
        The plane as the sheet has it.
    frames, insets
        Frames as located on it, and the rectangles that show within each.

    Returns
    -------
    Plane and frames to start the fit from; as they were where nothing supports another scale.
    """
    largest = sorted(range(len(frames)), key=lambda k: -frames[k].width_mm * frames[k].height_mm)
    largest = largest[:MOST_FRAMES]
    if not largest:
        return plane, list(frames)
    by_size = np.mean([_size_by_camera(plane, frames[k]) for k in largest], axis=0)
    covariance = by_size @ plane.parameter_covariance @ by_size.T
    sigma = np.sqrt(np.diag(covariance))
    half_mm = np.mean([[frames[k].width_mm, frames[k].height_mm] for k in largest], axis=0) / 2
    if (sigma * half_mm).max() < OPEN_MM:
        return plane, list(frames)
    steps = np.arange(-HALF_STEPS, HALF_STEPS + 1) / HALF_STEPS * SIGMAS
    scales = 1 + steps[:, None] * sigma
    votes = [_Votes(pixels, plane, frames[k], insets[k]) for k in largest]
    support = np.array([np.sum([one.best(scale) for one in votes], axis=0) for scale in scales])
    both = support[:, None, 0] + support[None, :, 1]
    off = np.stack(np.meshgrid(*(steps[:, None] * sigma).T, indexing="ij"), axis=-1)
    far = np.einsum("xyi,ij,xyj->xy", off, np.linalg.inv(covariance + 1e-12 * np.eye(2)), off)
    both = np.where(far <= SIGMAS**2, both, 0.0)
    across, up = np.unravel_index(int(both.argmax()), both.shape)
    if both[across, up] < BETTER * both[HALF_STEPS, HALF_STEPS]:
        return plane, list(frames)
    # The likeliest camera of all that show the frames so large.
    gain = plane.parameter_covariance @ by_size.T @ np.linalg.inv(covariance + 1e-12 * np.eye(2))
    camera = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    moved = camera.moved(gain @ off[across, up])
    there = replace(
        plane, rotation=moved.rotation, translation_mm=moved.translation_mm, lens=moved.lens
    )
    scale = 1 + off[across, up]
    shifted = [
        _Votes(pixels, plane, frame, inside).placed(scale)
        for frame, inside in zip(frames, insets, strict=True)
    ]
    return there, [_same_pixels(frame, plane, there) for frame in shifted]


def _size_by_camera(plane: WallPlane, frame: HungFrame) -> Array:
    """Differentiate how large a frame is seen, across and up, by the camera: (2, 11), relative."""
    corners = frame.corners_xyz_mm(front=True)
    middles = (corners + np.roll(corners, -1, axis=0)) / 2  # top, right, bottom, left
    state = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    px, by_camera, _ = state.project(middles)
    rows = []
    for a, b in ((1, 3), (0, 2)):
        span = px[a] - px[b]
        rows.append(span @ (by_camera[a] - by_camera[b]) / (span @ span))
    return np.array(rows)


class _Votes:
    """What supports edges around one frame, seen straight-on and level."""

    def __init__(
        self, pixels: PixelsRgb, plane: WallPlane, frame: HungFrame, insets: Sequence[Inset]
    ) -> None:
        patch, _ = straight_on(pixels, plane, frame, REACH_MM + 8, STEP_MM)
        self.frame, self.reach = frame, int(REACH_MM / STEP_MM)
        self.across, self.down = edge_votes(turned(patch, -frame.tilt_deg))
        self.within = [within_on_front(plane, frame, inset) for inset in insets]

    def at(self, scale: Array) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Support of plumb and of level sides at every shift, the frame so many times as large."""

        def sized(width: float, height: float) -> tuple[float, float]:
            return float(width * scale[0]), float(height * scale[1])

        size = sized(self.frame.width_mm / STEP_MM, self.frame.height_mm / STEP_MM)
        within = [replace(one, size=sized(*one.size)) for one in self.within]
        return pair_support(self.across, self.down, size, self.reach, within)

    def best(self, scale: Array) -> list[float]:
        """Support of plumb and of level sides where each is best."""
        return [float(support.max()) for support in self.at(scale)]

    def placed(self, scale: Array) -> HungFrame:
        """Put the frame where all sides together are seen best at a scale.

        It stays near where it was located, by its picture as well, unless that is clearly worse.
        """
        plumb, level = self.at(scale)
        total = plumb + level
        near = np.zeros_like(total)
        here = slice(self.reach - NEAR, self.reach + NEAR + 1)
        near[here, here] = total[here, here]
        if near.max() > AMBIGUOUS * total.max():
            total = near
        row, column = divmod(int(total.argmax()), total.shape[1])
        right, up = (column - self.reach) * STEP_MM, (self.reach - row) * STEP_MM
        c, s = (f(np.radians(self.frame.tilt_deg)) for f in (np.cos, np.sin))
        return replace(
            self.frame,
            x_mm=float(self.frame.x_mm + c * right - s * up),
            y_mm=float(self.frame.y_mm + s * right + c * up),
        )


def _same_pixels(frame: HungFrame, plane: WallPlane, there: WallPlane) -> HungFrame:
    """Put a frame on another plane where it is seen at the same place."""
    seen = plane.project(frame.corners_xyz_mm(front=True)).mean(axis=0)
    for _ in range(3):
        now = there.project(frame.corners_xyz_mm(front=True)).mean(axis=0)
        dx, dy = there.to_wall(seen[None])[0] - there.to_wall(now[None])[0]
        frame = replace(frame, x_mm=frame.x_mm + float(dx), y_mm=frame.y_mm + float(dy))
    return frame


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
    kinds = usual_kinds(likely) if reference is None else (reference,)
    refused: MeasurementError | None = None
    doubted: list[Reference] = []
    for kind in () if reference == NO_SHEET else kinds:
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


def usual_kinds(likely: str | None) -> tuple[str, ...]:
    """List the references to look for where none is named, the likely sheet or target first.

    Examples
    --------
    >>> usual_kinds("letter"), usual_kinds("a3")[:2]
    (('letter', 'a4', 'target', 'target-letter'), ('a3', 'a4'))
    """
    is_sheet = likely is not None and make_of(likely) in ("sheet", "target")
    return tuple(dict.fromkeys((likely, *KINDS) if likely and is_sheet else KINDS))


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
