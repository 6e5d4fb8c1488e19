"""From a photo of framed pieces on a floor or wall to the pieces, their sizes and their layout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError, PieceError
from visualiser.findings import Finding
from visualiser.inventory.artwork import square_up
from visualiser.inventory.piece import Artwork
from visualiser.laid_out.adjusting import OWN, Measured, measure_together
from visualiser.laid_out.box import DEPTH_SIGMA_MM, USUAL_DEPTH_MM, PieceBox
from visualiser.laid_out.choosing import Chosen, choose_outlines
from visualiser.laid_out.close_up import VIEW_HEIGHT_MM, read_box
from visualiser.laid_out.floor_light import FloorLight, floor_light
from visualiser.laid_out.layout import LaidPiece, Layout
from visualiser.laid_out.support import EdgeField
from visualiser.laid_out.top_view import TopView, see_from_above
from visualiser.laid_out.window import read_front, see_front, shows_nothing, window_corners
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.finder.find import convincing
from visualiser.rectification.fit import fit_wall_plane
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference

Array = NDArray[np.float64]
Surface = Literal["floor", "wall"]

GIVEN_DEPTH_SIGMA_MM = 1.5
"""A depth that a person measured."""
MOVED_MM = 12.0
"""Where the pieces move the plane by more, the first look was through a wrong one: look again."""
SHADOW_MM = 45.0
"""Around a piece the floor may lie in its shadow."""
UNEVEN_MAT_MM = 8.0
"""Mats are cut alike left and right, and no wider at the top than at the bottom: common practice,
no source."""
KEPT_FINDINGS = (
    "trimmed-photo", "maybe-trimmed", "straightened-photo", "maybe-straightened", "two-poses",
    "maybe-reflection", "reference-left-out",
)  # fmt: skip
"""What is said of the plane that matters for pieces; the rest is of a wall's level alone."""
OUTER_RIM = 0.6
"""What is cut off a window's picture on each side, mm: the mat's bevel or the lip's shade."""


def read_layout(
    photo: Photo,
    references: Sequence[Reference],
    *,
    surface: Surface = "floor",
    depth_mm: float | None = None,
    lens_profile: LensProfile | None = None,
) -> Layout:
    """Find framed pieces laid on a floor or hung on a wall, and measure them and their layout.

    Parameters
    ----------
    photo
        The photo: from above, or of the wall.
    references
        What of known size lies beside them, as `find_references` gives it, or made from clicked
        corners.
    surface
        A floor has no lines that are level or plumb; a wall has.
    depth_mm
        How far the fronts stand off, where somebody measured it; estimated for each piece else.
    lens_profile
        Lens measured beforehand.

    Returns
    -------
    The pieces in reading order, each size and place with its covariance, and what is in doubt.

    Raises
    ------
    ReferenceNotFound
        If no reference convinces.
    MeasurementError
        If the photo cannot be measured, or shows no framed piece.
    """
    reference = convincing(references)
    marks = Marks(find_lines=surface == "wall")
    plane = fit_wall_plane(photo, references, marks, lens_profile=lens_profile)
    first_plane = plane
    usual = (USUAL_DEPTH_MM, DEPTH_SIGMA_MM)
    if depth_mm is not None:
        usual = (depth_mm, GIVEN_DEPTH_SIGMA_MM)
    for _ in range(2):
        view = see_from_above(photo, plane, VIEW_HEIGHT_MM)
        field = EdgeField(np.asarray(cv2.cvtColor(view.pixels, cv2.COLOR_RGB2LAB), np.uint8))
        sheet = view.from_mm(plane.to_wall(plane.reference_corners_px))
        chosen = choose_outlines(view, field, sheet)
        if not chosen.outlines.size:
            raise _no_pieces()
        boxes = _boxes(chosen, view, field, plane, usual)
        boxes = _upright(boxes, plane)
        measured = measure_together(photo, reference, first_plane, boxes, usual, lens_profile)
        moved = _moved_mm(plane, measured, boxes)
        plane = measured.plane
        if moved < MOVED_MM:
            break
    if not measured.boxes:
        raise _no_pieces()
    light = _light(view, measured, sheet)
    findings = list(_kept_findings(plane)) + list(chosen.findings)
    return _layout(photo, measured, chosen, light, findings, depth_mm)


def _no_pieces() -> MeasurementError:
    return MeasurementError(
        "No framed piece was found beside the reference.",
        hint="Photograph the whole group from above, the sheet beside it and nothing over it.",
    )


def _boxes(
    chosen: Chosen, view: TopView, field: EdgeField, plane: WallPlane, usual: tuple[float, float]
) -> list[PieceBox]:
    """Boxes of the outlines; what their own sides do not tell of their depth the others tell."""
    return [read_box(quad, field.smooth, view, plane, usual) for quad in chosen.outlines]


def _upright(boxes: Sequence[PieceBox], plane: WallPlane) -> list[PieceBox]:
    """Turn the boxes' names of sides so that all have their top where the photo has its own."""
    angles = np.radians([box.tilt_deg for box in boxes])
    common = float(np.angle(np.exp(4j * angles).mean())) / 4
    centre = plane.to_photo(
        np.array([[np.mean([b.x_mm for b in boxes]), np.mean([b.y_mm for b in boxes])]])
    )
    right = plane.to_wall(centre + [[5.0, 0.0]]) - plane.to_wall(centre - [[5.0, 0.0]])
    level = float(np.arctan2(right[0, 1], right[0, 0]))
    quarter = np.pi / 2
    common += quarter * round((level - common) / quarter)
    out = []
    for box, angle in zip(boxes, angles, strict=True):
        turns = round((common - float(angle)) / quarter)
        wide, high = box.width_mm, box.height_mm
        if turns % 2:
            wide, high = high, wide
        tilt = float(np.degrees(angle + turns * quarter))
        out.append(replace(box, width_mm=wide, height_mm=high, tilt_deg=tilt))
    return out


def _moved_mm(before: WallPlane, measured: Measured, boxes: Sequence[PieceBox]) -> float:
    """How far the pieces' corners come to lie from where the plane before saw them, at most."""
    moved = 0.0
    for k, box in zip(measured.kept, measured.boxes, strict=True):
        corners = boxes[k].corners(0.0)[:, :2]
        again = measured.plane.to_wall(before.to_photo(corners))
        shape = again - again.mean(axis=0) - (corners - corners.mean(axis=0))
        moved = max(moved, float(np.abs(shape).max()))
        del box
    return moved


def _light(view: TopView, measured: Measured, sheet: Array) -> FloorLight:
    covered = np.zeros(view.inside.shape, np.uint8)
    for box in measured.boxes:
        wide = box.corners(0.0, -SHADOW_MM)[:, :2]
        cv2.fillPoly(covered, [np.rint(view.from_mm(wide)).astype(np.int32)], 1)
    grown = sheet + 0.1 * (sheet - sheet.mean(axis=0))
    cv2.fillPoly(covered, [np.rint(grown).astype(np.int32)], 1)
    return floor_light(view, covered > 0, sheet)


def _kept_findings(plane: WallPlane) -> list[Finding]:
    """Pass on what limits the plane, but for what is said of a wall's level alone."""
    return [f for f in plane.findings if f.code in KEPT_FINDINGS]


def _layout(
    photo: Photo,
    measured: Measured,
    chosen: Chosen,
    light: FloorLight,
    findings: list[Finding],
    depth_mm: float | None,
) -> Layout:
    boxes, joint = measured.boxes, measured.covariance
    count = len(boxes)
    turn = float(np.mean([box.tilt_deg for box in boxes]))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    back = np.array([[c, s], [-s, c]])
    centres = np.array([[box.x_mm, box.y_mm] for box in boxes])
    level = (centres - centres.mean(axis=0)) @ back.T
    # Places are told from the group's own middle and direction: those of the sheet do not matter.
    to_group = np.zeros((count, OWN, count * OWN))
    for i in range(count):
        to_group[i, :, OWN * i : OWN * (i + 1)] = np.eye(OWN)
        to_group[i, :2, OWN * i : OWN * i + 2] = back
        aside = np.array([level[i, 1], -level[i, 0]])
        for j in range(count):
            to_group[i, :2, OWN * j : OWN * j + 2] -= back / count
            to_group[i, :2, OWN * j + 2] += aside / count
            to_group[i, 2, OWN * j + 2] -= 1 / count
    covariances = to_group @ joint @ to_group.transpose(0, 2, 1)
    corners = []
    for box, place in zip(boxes, level, strict=True):
        flat = replace(box, x_mm=place[0], y_mm=place[1], tilt_deg=box.tilt_deg - turn)
        corners.append(flat.corners(0.0)[:, :2])
    low = np.concatenate(corners).min(axis=0)
    order = reading_order(
        np.array([[c[:, 1].max(), c[:, 1].min(), c[:, 0].min()] for c in corners])
    )
    pieces = []
    for number, i in enumerate(order, start=1):
        box = boxes[i]
        base = LaidPiece(
            id=f"p{number}",
            width_mm=box.width_mm,
            height_mm=box.height_mm,
            depth_mm=box.depth_mm,
            x_mm=float(level[i, 0] - low[0]),
            y_mm=float(level[i, 1] - low[1]),
            tilt_deg=box.tilt_deg - turn,
            covariance=covariances[i],
            corners_px=measured.plane.project(box.corners(box.depth_mm)),
            confidence=chosen.confidence(measured.kept[i]),
            rail_mm=box.rail_mm,
        )
        pieces.append(_with_picture(photo, measured.plane, box, base, light))
    findings += _doubts(pieces, depth_mm)
    return Layout(tuple(pieces), measured.plane, turn, tuple(findings))


def reading_order(extents: Array) -> list[int]:
    """Order pieces, given as top, bottom and left (N, 3): rows from the top, each from the left."""
    left = list(np.argsort(-(extents[:, 0] + extents[:, 1])))
    order: list[int] = []
    while left:
        first = left[0]
        row = [
            k for k in left
            if extents[first, 1] < (extents[k, 0] + extents[k, 1]) / 2
            or extents[k, 0] > (extents[first, 0] + extents[first, 1]) / 2
        ]  # fmt: skip
        order += sorted(row, key=lambda k: extents[k, 2])
        left = [k for k in left if k not in row]
    return [int(k) for k in order]


def _with_picture(
    photo: Photo, plane: WallPlane, box: PieceBox, piece: LaidPiece, light: FloorLight
) -> LaidPiece:
    """Read moulding, mat and picture of one piece."""
    pixels, step = see_front(photo, plane, box)
    white = light.at(np.array([[box.x_mm, box.y_mm]]))[0]
    front = read_front(pixels, step, box.rail_mm)
    inner = front.window_mm + OUTER_RIM
    width = box.width_mm - inner[1] - inner[3]
    height = box.height_mm - inner[0] - inner[2]
    findings: list[Finding] = []
    artwork = None
    if min(width, height) > 10:
        try:
            squared = square_up(
                photo.pixels,
                window_corners(plane, box, inner),
                aspect=width / height,
                neutralise=False,
                name=piece.id,
            )
        except PieceError:
            squared = None
        if squared is not None:
            gain = (1.0 / np.maximum(white, 1e-3)).astype(np.float32)
            neutral = to_pixels(to_linear(np.ascontiguousarray(squared.artwork.pixels)) * gain)
            artwork = Artwork(neutral, piece.id)
            if shows_nothing(neutral):
                findings.append(_nothing_in_frame(piece.id))
            findings += [
                replace(f, text=f"{piece.id}: {f.text[0].lower()}{f.text[1:]}")
                for f in squared.findings
            ]
    mat = tuple(float(v) for v in np.maximum(front.window_mm - front.lip_mm, 0.0))
    has_mat = min(mat) > 5
    if has_mat and (abs(mat[1] - mat[3]) > UNEVEN_MAT_MM or mat[0] - mat[2] > UNEVEN_MAT_MM):
        findings.append(
            Finding(
                "advice",
                f"{piece.id}: the mat reads unlike on opposite sides; a shadow may lie on it.",
                "Check the mat's borders, or photograph it in more even light.",
                "uneven-mat",
            )
        )
    return replace(
        piece,
        rail_mm=float(np.median(front.lip_mm)) if box.rail_mm > 0 else 0.0,
        mat_mm=mat if has_mat else (0.0, 0.0, 0.0, 0.0),  # type: ignore[arg-type]
        colour=_hex(front.rail_lab, white),
        mat_colour=_hex(front.mat_lab, white),
        artwork=artwork,
        findings=tuple(findings),
    )


def _nothing_in_frame(name: str) -> Finding:
    return Finding(
        "advice",
        f"{name}: no picture is seen in its frame: a mirror, a reflection over the glass, or "
        "nothing in it yet.",
        "Say that it is a mirror, or give it its picture by itself.",
        "nothing-in-frame",
    )


def _hex(lab: Array, white: Array) -> str:
    """Write a seen Lab colour, in neutral light, as ``#rrggbb``."""
    seen = cv2.cvtColor(np.asarray(lab, np.float32).reshape(1, 1, 3), cv2.COLOR_LAB2RGB)
    levels = np.asarray(np.clip(np.rint(seen * 255), 0, 255), np.uint8)
    light = to_linear(levels) / np.maximum(white, 1e-3)
    neutral = to_pixels(light.astype(np.float32))
    red, green, blue = (int(v) for v in neutral.ravel())
    return f"#{red:02x}{green:02x}{blue:02x}"


def _doubts(pieces: Sequence[LaidPiece], depth_mm: float | None) -> list[Finding]:
    """Say which depths are only supposed, and which pieces seem to have no frame."""
    findings = [finding for piece in pieces for finding in piece.findings]
    bare = [piece.id for piece in pieces if piece.rail_mm <= 0]
    if bare:
        findings.append(
            Finding(
                "note",
                f"No frame is seen around {_names(bare)}: taken for a canvas without one.",
                "Say which moulding it has if it has one.",
                "no-frame-seen",
            )
        )
    unsure = [p.id for p in pieces if np.sqrt(p.covariance[5, 5]) > 5.0]
    if unsure and depth_mm is None:
        findings.append(
            Finding(
                "advice",
                f"How far the front of {_names(unsure)} stands off is not seen from above; the "
                "sizes' ± allows for what is usual.",
                "Measure the frame's depth and give it, for a smaller ±.",
                "depth-supposed",
            )
        )
    return findings


def _names(ids: Sequence[str]) -> str:
    return " and ".join([", ".join(ids[:-1]), ids[-1]] if len(ids) > 1 else list(ids))
