"""Light over a floor or wall: its pattern averages out, what is left varies with the light."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, PointsPx
from visualiser.laid_out.top_view import TopView
from visualiser.photo.linear_light import LUMINANCE, decode_srgb
from visualiser.statistics import MAD_TO_SIGMA

Array = NDArray[np.float64]

PAPER_REFLECTANCE = 0.87
"""Office paper: ISO brightness 80 to 90 % is usual. Common practice, no source; ± 0.03."""
CELL = 12
"""Samples of a top view that are averaged before the light is fitted."""
SCALE_MM = 1000.0


@dataclass(frozen=True, slots=True, eq=False)
class FloorLight:
    """Linear light that perfect white would show.

    Parameters
    ----------
    white
        (3,) at the reference.
    fall
        (6,) of the logarithm of light over the plane: 1, x, y, x², xy, y² in metres.
    """

    white: Array
    fall: Array

    def at(self, points_mm: PointsMm) -> Array:
        """White (N, 3) at places on the plane."""
        change = _basis(points_mm) @ self.fall
        return np.asarray(self.white * np.exp(change)[:, None])


def _basis(points_mm: PointsMm) -> Array:
    x, y = (np.asarray(points_mm, float) / SCALE_MM).T
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)


def floor_light(view: TopView, covered: NDArray[np.bool_], sheet: PointsPx) -> FloorLight:
    """Fit the light from what is seen of the floor, and from the white sheet on it.

    Parameters
    ----------
    view
        The top view.
    covered
        (H, W) where pieces, their shadows or the sheet lie.
    sheet
        (4, 2) the sheet's corners in the view.
    """
    free = (view.inside & ~covered).astype(np.float32)
    light = (decode_srgb(view.pixels) @ LUMINANCE).astype(np.float32)
    rows, columns = (n // CELL for n in light.shape)
    size = (columns, rows)
    area = cv2.resize(free[: rows * CELL, : columns * CELL], size, interpolation=cv2.INTER_AREA)
    total = cv2.resize(
        (free * light)[: rows * CELL, : columns * CELL], size, interpolation=cv2.INTER_AREA
    )
    good = area > 0.6
    row, column = np.nonzero(good)
    middle = np.asarray(np.stack([column, row], axis=1) * float(CELL) + (CELL - 1) / 2, float)
    fall = np.zeros(6)
    centre = sheet.mean(axis=0)
    inner = np.rint(centre + 0.7 * (sheet - centre)).astype(np.int32)
    mask = np.zeros(view.inside.shape, np.uint8)
    cv2.fillPoly(mask, [inner], 1)
    paper = decode_srgb(view.pixels[mask > 0])
    white = np.median(paper, axis=0) / PAPER_REFLECTANCE if len(paper) else np.ones(3)
    if good.sum() > 60:
        value = np.log(np.maximum(total[good] / area[good], 1e-4)).astype(float)
        basis = _basis(view.to_mm(middle))
        weight = np.ones(len(value))
        ridge = np.diag([0.0, 0.05, 0.05, 2.0, 2.0, 2.0]) * len(value) * 0.02
        for _ in range(12):
            weighted = basis.T * weight
            fall = np.linalg.solve(weighted @ basis + ridge, weighted @ value)
            residual = value - basis @ fall
            spread = max(MAD_TO_SIGMA * float(np.median(np.abs(residual))), 0.01)
            # Shadows and feet only darken: what lies below counts less than what lies above.
            limit = np.where(residual < 0, 1.5, 3.0) * spread
            weight = np.minimum(1.0, (limit / np.maximum(np.abs(residual), 1e-9)) ** 2)
    at_sheet = float((_basis(view.to_mm(centre[None])) @ fall)[0])
    fall = fall - [at_sheet, 0, 0, 0, 0, 0]
    return FloorLight(np.asarray(white), fall)
