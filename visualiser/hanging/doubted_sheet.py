"""A sheet that is not trusted by itself, held against the frames beside it.

A sheet that is small in the picture, faint, or beside its like may be the right one all the same.
Its size gives the wall a scale, at which the planned frames are either seen, outline, moulding and
mat, or not at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.geometry import PointsPx
from visualiser.hanging.frame_box import HungFrame
from visualiser.hanging.judging import LEAST_CLEAR
from visualiser.hanging.laying import laid_on
from visualiser.inventory.piece import Piece
from visualiser.photo.photo import Photo
from visualiser.rectification.fitting import fit_wall_plane
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
        The plane as the frames alone tell it, where they do.
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
        laid = laid_on(photo, plane, pieces, planned)
        confirmed = laid.clear >= max(LEAST, LEAST_CLEAR * len(pieces))
        if confirmed and laid.evidence > most:
            best, most = plane, laid.evidence
    return best
