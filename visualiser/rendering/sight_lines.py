"""Where the sight lines of photo pixels meet the wall and planes parallel or square to it.

Everything drawn passes through here once: photo pixel, lens removed, to millimetres. Drawing looks
from the pixel to the thing, never the other way, so nothing is resampled twice.

Let C be the camera's centre and P the point where a pixel's sight line meets the wall (z = 0).
Points of the line are C + s (P - C). On the plane z = d, s = 1 - d / Cz for every pixel alike, so
the coordinates on a frame's front are a shift and a scaling of those on the wall.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.survey.survey import Survey

Field = NDArray[np.float32]
"""(H, W) values, one for each pixel of a region."""


@dataclass(frozen=True, slots=True)
class Region:
    """Upright rectangle of photo pixels."""

    x: int
    y: int
    width: int
    height: int

    @classmethod
    def around(cls, points_px: PointsPx, margin_px: float, photo_shape: tuple[int, ...]) -> Region:
        """Smallest region with the points and a margin, cut to the photo; may be empty."""
        low = np.floor(np.min(points_px, axis=0) - margin_px)
        high = np.ceil(np.max(points_px, axis=0) + margin_px) + 1
        limits = [photo_shape[1], photo_shape[0]]
        x0, y0 = (int(v) for v in np.clip(low, 0, limits))
        x1, y1 = (int(v) for v in np.clip(high, 0, limits))
        return cls(x0, y0, max(x1 - x0, 0), max(y1 - y0, 0))

    @property
    def empty(self) -> bool:
        """Whether no pixel is in it."""
        return self.width == 0 or self.height == 0

    @property
    def slices(self) -> tuple[slice, slice]:
        """Index of these pixels in the photo's array."""
        return slice(self.y, self.y + self.height), slice(self.x, self.x + self.width)

    def within(self, other: Region) -> tuple[slice, slice]:
        """Index of these pixels in an array of another region that contains this one."""
        top, left = self.y - other.y, self.x - other.x
        return slice(top, top + self.height), slice(left, left + self.width)


@dataclass(frozen=True, slots=True, eq=False)
class SightLines:
    """The sight lines of a region's pixels, survey mm.

    Parameters
    ----------
    region
        The pixels.
    centre_mm
        (3,) the camera's centre: x, y as on the wall, z its distance from the wall.
    x_mm, y_mm
        (H, W) where each pixel's line meets the wall.
    pitch_x_mm, pitch_y_mm
        (H, W) how fast x and y change on the wall from pixel to pixel: the length of their
        gradients, mm per px.
    """

    region: Region
    centre_mm: tuple[float, float, float]
    x_mm: Field
    y_mm: Field
    pitch_x_mm: Field
    pitch_y_mm: Field

    def scale_at(self, z_mm: float) -> float:
        """Size on the plane z against size on the wall along the same lines."""
        return 1.0 - z_mm / self.centre_mm[2]

    def on_plane(self, z_mm: float) -> tuple[Field, Field]:
        """Coordinates x, y where the lines meet the plane z = z_mm, parallel to the wall."""
        if z_mm == 0:
            return self.x_mm, self.y_mm
        s, (cx, cy, _) = np.float32(self.scale_at(z_mm)), self.centre_mm
        return (
            self.x_mm * s + np.float32(cx * (1 - s)),
            self.y_mm * s + np.float32(cy * (1 - s)),
        )

    def on_side(self, axis: int, at_mm: float) -> tuple[Field, Field]:
        """Coordinates where the lines meet a plane square to the wall.

        Parameters
        ----------
        axis
            0 for the plane x = at_mm, 1 for y = at_mm.
        at_mm
            Where it stands.

        Returns
        -------
        The coordinate along the wall and the distance z from the wall; z is -inf where a line
        runs along the plane.
        """
        across, along = (self.x_mm, self.y_mm) if axis == 0 else (self.y_mm, self.x_mm)
        c_across, c_along = self.centre_mm[axis], self.centre_mm[1 - axis]
        step = across - np.float32(c_across)
        with np.errstate(divide="ignore", invalid="ignore"):
            s = np.float32(at_mm - c_across) / step
        s = np.where(np.isfinite(s), s, np.float32(1e6))
        z = np.float32(self.centre_mm[2]) * (1 - s)
        return np.float32(c_along) + s * (along - np.float32(c_along)), z

    def part(self, region: Region) -> SightLines:
        """Keep the lines of a smaller region inside this one."""
        index = region.within(self.region)
        return SightLines(
            region,
            self.centre_mm,
            self.x_mm[index],
            self.y_mm[index],
            self.pitch_x_mm[index],
            self.pitch_y_mm[index],
        )


def camera_centre(survey: Survey) -> tuple[float, float, float]:
    """Where the camera stood, survey mm."""
    if survey.plane is None:
        raise ValueError("this survey was typed, it has no photo to map to")
    x, y, z = (float(v) for v in -survey.plane.rotation.T @ survey.plane.translation_mm)
    return x - survey.datum_mm[0], y - survey.datum_mm[1], z


def _node_step(survey: Survey) -> int:
    """Spacing of the nodes at which sight lines are solved, px, an even number.

    Between nodes they are interpolated. What that misses grows with the step squared over the
    focal length; this keeps it under a hundredth of a pixel for phone lenses (held by a test).
    """
    assert survey.plane is not None
    return max(2 * int(4 * math.sqrt(survey.plane.lens.focal_px / 1150)), 2)


def wall_points(survey: Survey, region: Region) -> tuple[Field, Field]:
    """Coordinates x, y where the sight lines of a region's pixels meet the wall, survey mm."""
    wall, step = _solved(survey, region)
    return _spread(wall[..., 0], step, region), _spread(wall[..., 1], step, region)


def sight_lines(survey: Survey, region: Region) -> SightLines:
    """Sight lines of every pixel of a region, lens distortion removed."""
    wall, step = _solved(survey, region)
    down, right = (np.asarray(g) for g in np.gradient(wall, step, axis=(0, 1)))
    pitch = np.hypot(down, right)
    fields = [wall[..., 0], wall[..., 1], pitch[..., 0], pitch[..., 1]]
    return SightLines(
        region, camera_centre(survey), *(_spread(field, step, region) for field in fields)
    )


def _solved(survey: Survey, region: Region) -> tuple[NDArray[np.float64], int]:
    """Wall points (rows, columns, 2) of nodes in the middle of blocks, and the blocks' side, px."""
    step = _node_step(survey)
    columns, rows = math.ceil(region.width / step) + 2, math.ceil(region.height / step) + 2
    # Node i stands in the middle of block i - 1, where cv2.resize samples its source exactly.
    xs = region.x + step * (np.arange(columns) - 1) + (step - 1) / 2
    ys = region.y + step * (np.arange(rows) - 1) + (step - 1) / 2
    gx, gy = np.meshgrid(xs, ys)
    return survey.to_wall(np.c_[gx.ravel(), gy.ravel()]).reshape(rows, columns, 2), step


def _spread(nodes: NDArray[np.float64], step: int, region: Region) -> Field:
    """Values of nodes at every pixel of a region."""
    # Interpolated about the middle: single precision then keeps a ten-thousandth of a mm.
    middle = float(nodes.mean())
    rows, columns = nodes.shape
    full = cv2.resize(
        (nodes - middle).astype(np.float32),
        (columns * step, rows * step),
        interpolation=cv2.INTER_LINEAR,
    )
    cut = full[step : step + region.height, step : step + region.width]
    return np.ascontiguousarray(cut + np.float32(middle))
