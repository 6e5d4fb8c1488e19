"""How likely what two photos share of a plane is the wall itself, not the fronts of pictures.

Fronts of pictures are one plane too, parallel to the wall. Where the wall shows behind them, it is
the plane further back. Where only one plane is seen, it tells by how much of the shared view it
fills: paper, plaster and brick are everywhere between what stands before them, pictures leave gaps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.observation import on_wall
from visualiser.rectification.camera.projection import CameraState

Array = NDArray[np.float64]

WALL_SIGMA_MM = 1.5
"""How far the wall itself lies off its plane over what two photos share."""
FRONT_MM = 18.0
"""How far the fronts of pictures lie before it, root mean square: frames are 15 to 30 mm deep,
prints and canvases less (common practice, no source)."""
FRONTS_SHARE = 0.2
"""One overlap in some five holds nothing but pictures (no source)."""
FILLS, FILLS_STEP = 0.35, 0.07
"""Pictures fill no more than this share of what two photos share of a wall; each further step makes
it e times likelier that it is the wall. (Drawn walls: 0.1 to 0.3 filled by pictures and notes, 0.7
to 1 by plaster or paper.)"""
CELL_MM = 120.0
"""Cells in which it is counted."""
REACH_MM = 1500.0
"""Above and below the first sheet: a wall is looked at so far."""


def stand_off_sigma(filled: float, *, backs: bool) -> float:
    """Find how far the plane that two photos share may lie off the wall, one sigma, mm.

    Parameters
    ----------
    filled
        Share of the shared view that it fills.
    backs
        Whether pictures were seen to hang before it.
    """
    if backs:
        return WALL_SIGMA_MM
    steps = max(filled - FILLS, 0.0) / FILLS_STEP
    fronts = FRONTS_SHARE / (FRONTS_SHARE + (1 - FRONTS_SHARE) * math.exp(min(steps, 50.0)))
    return math.hypot(WALL_SIGMA_MM, math.sqrt(fronts) * FRONT_MM)


def filled_share(
    cameras: Sequence[CameraState],
    size_px: tuple[int, int],
    on_wall_px: Array,
    before_px: Array,
) -> float:
    """Find the share of the wall that two photos share, in cells, in which matches lie on it.

    Parameters
    ----------
    cameras
        Both cameras.
    size_px
        Width and height of the photos.
    on_wall_px, before_px
        (N, 2) what matches on the wall's plane, and before it, in the first photo; what stands
        before the wall hides it.
    """
    if not len(on_wall_px):
        return 0.0
    width, height = size_px
    rim = np.linspace(0, 1, 9)
    edge = np.concatenate([np.c_[rim, 0 * rim], np.c_[rim, 0 * rim + 1]]) * [width - 1, height - 1]
    x = on_wall(cameras[0], edge)[:, 0]
    columns = np.arange(math.floor(x.min() / CELL_MM), math.ceil(x.max() / CELL_MM))
    reach = math.ceil(REACH_MM / CELL_MM)
    cells = np.stack(np.meshgrid(columns, np.arange(-reach, reach)), axis=-1).reshape(-1, 2)
    middles = (cells + 0.5) * CELL_MM
    shown = np.ones(len(cells), bool)
    for camera in cameras:
        px = camera.project(np.c_[middles, np.zeros(len(middles))])[0]
        shown &= ((px >= 0) & (px <= [width - 1, height - 1])).all(axis=1)
    held = {tuple(cell) for cell in _cells(cameras[0], on_wall_px)}
    hidden = {tuple(cell) for cell in _cells(cameras[0], before_px)} - held
    seen = ({tuple(cell) for cell in cells[shown]} | held) - hidden
    return len(held) / len(seen)


def _cells(camera: CameraState, points_px: Array) -> NDArray[np.int64]:
    """Cells (N, 2) of the wall on which pixels look."""
    if not len(points_px):
        return np.empty((0, 2), np.int64)
    return np.floor(on_wall(camera, points_px) / CELL_MM).astype(np.int64)
