"""Which photos are shown to be of the first one's wall, not of another over the same floor.

A photo that shares enough of the wall's plane with one of that wall is of it, and so is one whose
sheet fits there. One that only the floor ties may show a wall that stands nearer or further back:
the foot of its wall, where wall and floor meet, has to lie where the first wall's plane meets it.
What two photos share of a plane proves nothing where it may be the front of a piece of furniture.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from visualiser.rectification.camera.observation import on_plane, on_wall
from visualiser.rectification.camera.projection import CameraState
from visualiser.rectification.camera.tie_points import TiePoints
from visualiser.rectification.fit_lines import LineFit
from visualiser.rectification.joined.next_pose import LEAST_LAYER, Floor
from visualiser.rectification.joined.shared_layer import WALL_SIGMA_MM

FOOT_MM = 45.0
"""How far before or behind the wall its foot may seem to lie: a skirting's thickness, 10 to 20 mm
(common practice, no source), and what the floor's height is known to."""
LEAST_FOOT_MM = 350.0
"""Length of foot that has to be seen: a box's or a cupboard's is rarely there by chance."""
LOW_MM = 400.0
"""So far below the first sheet, which hangs at some 1450 mm, no front of a sideboard, a chest of
drawers or a bed's head reaches up (common practice, no source)."""
TOLD_MM = 2 * WALL_SIGMA_MM
"""Stand-off, one sigma, up to which a shared plane is taken for the wall: something hangs before
it, or it fills the view as plaster and paper do."""


def first_unproven(
    cameras: Sequence[CameraState],
    ties: Sequence[TiePoints],
    sheets: Sequence[int],
    lines: Mapping[int, LineFit],
    floor: Floor | None,
) -> int | None:
    """Find the first photo that nothing shows to be of the first one's wall; None if all are.

    Parameters
    ----------
    cameras, ties
        Cameras of all photos, and what ties them.
    sheets
        Which photos show a reference that fits on the wall.
    lines
        Lines of the room of each photo.
    floor
        Where the floor lies, if that is known.
    """
    shown = {0, *sheets}
    if floor is not None:
        shown |= {
            k for k, fit in lines.items() if foot_length(cameras[k], fit, floor) > LEAST_FOOT_MM
        }
    pairs = [
        {tie.first, tie.second}
        for tie in ties
        if is_layer(tie) and not may_be_front(cameras[tie.first], tie)
    ]
    grown = True
    while grown:
        more = {k for pair in pairs if pair & shown for k in pair} - shown
        grown = bool(more)
        shown |= more
    left = [k for k in range(len(cameras)) if k not in shown]
    return left[0] if left else None


def is_layer(tie: TiePoints) -> bool:
    """Whether it ties two photos by enough points of one plane parallel to the wall."""
    return tie.kind == "wall" and len(tie.sigma_px) >= LEAST_LAYER


def may_be_front(camera: CameraState, tie: TiePoints) -> bool:
    """Whether what two photos share of a plane may be the front of a piece of furniture.

    Parameters
    ----------
    camera
        Camera of the first of the two, in the wall's mm from the first sheet's middle.
    tie
        What they share.
    """
    if tie.stand_off_sigma_mm <= TOLD_MM:
        return False
    return bool(on_wall(camera, tie.first_px)[:, 1].max() < -LOW_MM)


def foot_length(camera: CameraState, fit: LineFit, floor: Floor) -> float:
    """Length, mm, of level lines that lie where the wall meets the floor."""
    length = 0.0
    for line, direction in zip(fit.lines, fit.directions, strict=True):
        if direction.kind == "level":
            ends = on_plane(camera, line.ends_px, 1, floor.y_mm)
            if (np.abs(ends[:, 2]) < FOOT_MM).all():
                length += float(abs(ends[1, 0] - ends[0, 0]))
    return length
