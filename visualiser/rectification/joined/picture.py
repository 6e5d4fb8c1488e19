"""One straight-on picture of a wall that several photographs show.

Each place is taken from the photo that shows it furthest from its border, so that it stays sharp;
the photos' light is made equal, first by one gain each, then by what is left of the difference
between their broad light. What stands before the wall is cut where two photos meet: they look at it
from two sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Matrix, PointsMm
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.photo.photo import Photo, PixelsRgb
from visualiser.raster import resized_px
from visualiser.rectification.camera.projection import CAMERA_SIZE, FLIP, Lens
from visualiser.rectification.joined.wall import JoinedWall
from visualiser.rectification.plane import WallPlane, faces_wall

Array = NDArray[np.float32]

MOST_PIXELS = 12e6
"""Size of the picture."""
AHEAD_MM = 3000.0
"""Distance from which the picture is as if taken."""
COARSE_MM = 25.0
"""Step at which light is compared."""
BROAD_MM = 200.0
"""What changes over less than this is the wall's, not the light's."""
COVERED = 0.98
"""Share of the picture that photos show; the rest has the wall's mean colour."""
MAP_STEP = 16
"""Pixels between those whose place in a photo is worked out; between them it runs straight."""
ROWS = 256
"""Rows painted at once."""
EVEN = 1.15
"""By no more than this is light evened beyond one gain for each photo: things before the wall
differ by more."""


class JoinedPicture(NamedTuple):
    """The straight-on picture, its wall, and which photo (H, W) each pixel is from, -1 for none.

    Photo and plane go wherever those of a single photo do. The plane's covariance is the joined
    wall's as closely as one camera can have it, and nowhere smaller.
    """

    photo: Photo
    plane: WallPlane
    source: NDArray[np.int8]


class _Frame(NamedTuple):
    """Where the picture lies on the wall, mm, and its size in px."""

    left_mm: float
    top_mm: float
    mm_per_px: float
    width: int
    height: int

    def points(self, columns: Matrix, rows: Matrix) -> PointsMm:
        """Wall mm of a grid of pixels."""
        x = self.left_mm + columns * self.mm_per_px
        y = self.top_mm - rows * self.mm_per_px
        return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def straight_on_picture(photos: Sequence[Photo], wall: JoinedWall) -> JoinedPicture:
    """Join photos of one wall into a picture of it as seen straight on.

    Parameters
    ----------
    photos
        The photos that the wall was measured in, in the same order.
    wall
        The measured wall.
    """
    frame = _frame(wall)
    coarse = _coarser(frame)
    seen = [_coarse_view(photo, wall, k, coarse) for k, photo in enumerate(photos)]
    evening = _evening([light for light, _ in seen], [inside for _, inside in seen], wall.first)
    mean = np.mean([light[inside > 0].mean(axis=0) for light, inside in seen], axis=0)
    empty = to_pixels(np.asarray(mean, np.float32).reshape(1, 1, 3))[0, 0]
    pixels = np.empty((frame.height, frame.width, 3), np.uint8)
    source = np.full((frame.height, frame.width), -1, np.int8)
    grids = [_map_grid(wall, k, frame) for k in range(len(photos))]
    for top in range(0, frame.height, ROWS):
        part = slice(top, min(top + ROWS, frame.height))
        _paint(photos, wall, grids, evening, (coarse, frame), part, pixels, source)
    pixels[source < 0] = empty
    plane = _straight_plane(wall, frame)
    return JoinedPicture(Photo(pixels, plane.lens.focal_px, 0.001), plane, source)


def _frame(wall: JoinedWall) -> _Frame:
    """Find the stretch of wall that the photos show, and the finest scale any has in its middle."""
    ends, scales = [], []
    for plane, (width, height) in zip(wall.photos, wall.sizes_px, strict=True):
        t = np.linspace(0, 1, 25)
        x, y = t * (width - 1), t * (height - 1)
        none = np.zeros(len(t))
        around = np.concatenate([
            np.c_[x, none], np.c_[x, none + height - 1], np.c_[none, y], np.c_[none + width - 1, y],
        ])  # fmt: skip
        ends.append(plane.to_wall(around[faces_wall(plane, around)]))
        middle = plane.to_wall(np.array([[(width - 1) / 2, (height - 1) / 2]]))
        scales.append(float(plane.mm_per_px(middle)[0]))
    low, high = np.concatenate(ends).min(axis=0), np.concatenate(ends).max(axis=0)
    x, y = np.arange(low[0], high[0], COARSE_MM), np.arange(low[1], high[1], COARSE_MM)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    shown = wall.shown_by(grid).any(axis=0).reshape(len(y), len(x))
    left, right, bottom, top = 0, len(x), 0, len(y)
    while (part := shown[bottom:top, left:right]).mean() < COVERED:
        sides = [part[:, 0].mean(), part[:, -1].mean(), part[0].mean(), part[-1].mean()]
        worst = int(np.argmin(sides))
        left, right = left + (worst == 0), right - (worst == 1)
        bottom, top = bottom + (worst == 2), top - (worst == 3)
    across, up = x[right - 1] - x[left], y[top - 1] - y[bottom]
    scale = max(min(scales), float(np.sqrt(across * up / MOST_PIXELS)))
    size = int(across / scale) + 1, int(up / scale) + 1
    return _Frame(float(x[left]), float(y[top - 1]), scale, *size)


def _coarser(frame: _Frame) -> _Frame:
    count = (
        max(2, int(np.ceil((frame.width - 1) * frame.mm_per_px / COARSE_MM)) + 1),
        max(2, int(np.ceil((frame.height - 1) * frame.mm_per_px / COARSE_MM)) + 1),
    )
    return _Frame(frame.left_mm, frame.top_mm, COARSE_MM, *count)


def _coarse_view(photo: Photo, wall: JoinedWall, k: int, coarse: _Frame) -> tuple[Array, Array]:
    """Linear light (R, C, 3) of a photo on the coarse grid, and how far inside it lies (R, C)."""
    grid = coarse.points(np.arange(float(coarse.width)), np.arange(float(coarse.height)))
    px = wall.photos[k].to_photo(grid)
    inside = _inside(px, wall, k, grid).reshape(coarse.height, coarse.width)
    scale = COARSE_MM / float(wall.photos[k].mm_per_px(np.zeros((1, 2)))[0])
    size = (max(8, int(photo.width_px / scale)), max(8, int(photo.height_px / scale)))
    small = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    at = resized_px(px, np.array(size) / [photo.width_px, photo.height_px])
    at = at.reshape(coarse.height, coarse.width, 2).astype(np.float32)
    light = cv2.remap(
        to_linear(np.asarray(small, np.uint8)).astype(np.float32), at[..., 0], at[..., 1],
        cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return np.asarray(light, np.float32), inside


def _inside(px: Matrix, wall: JoinedWall, k: int, points: PointsMm) -> Array:
    """How many pixels inside a photo's border places lie (N,); 0 where it does not show them."""
    width, height = wall.sizes_px[k]
    border = np.minimum(px, np.array([width - 1, height - 1]) - px).min(axis=1)
    plane = wall.photos[k]
    ahead = points @ plane.rotation[2, :2] + plane.translation_mm[2] > 1.0
    return np.where(ahead, np.maximum(border, 0.0), 0.0).astype(np.float32)


def _evening(lights: Sequence[Array], insides: Sequence[Array], first: int) -> list[Array]:
    """Factors (R, C, 3) by which each photo's light is evened, the first photo's gain kept."""
    count = len(lights)
    logs = [np.log(np.maximum(light, 1e-3)) for light in lights]
    rows, values = [np.eye(count)[first] * 1e3], [np.zeros(3)]
    for i in range(count):
        for j in range(i + 1, count):
            both = (insides[i] > 0) & (insides[j] > 0)
            if both.any():
                weight = np.sqrt(both.sum())
                rows.append(weight * (np.eye(count)[j] - np.eye(count)[i]))
                values.append(weight * np.median((logs[i] - logs[j])[both], axis=0))
    gains = np.linalg.lstsq(np.array(rows), np.array(values), rcond=None)[0]
    sigma = BROAD_MM / COARSE_MM
    broad = []
    for log, gain, inside in zip(logs, gains, insides, strict=True):
        mask = (inside > 0).astype(np.float32)
        spread = cv2.GaussianBlur(mask, (0, 0), sigma)[..., None]
        light = cv2.GaussianBlur((log + gain).astype(np.float32) * mask[..., None], (0, 0), sigma)
        broad.append(light / np.maximum(spread, 1e-3))
    weights = np.array([inside**2 for inside in insides])[..., None]
    share = weights / np.maximum(weights.sum(axis=0), 1e-6)
    shared = (share * np.array(broad)).sum(axis=0)
    limit = np.log(EVEN)
    return [
        np.exp(gain + np.clip(shared - own, -limit, limit)).astype(np.float32)
        for gain, own in zip(gains, broad, strict=True)
    ]


def _map_grid(wall: JoinedWall, k: int, frame: _Frame) -> tuple[Array, Array]:
    """Where every so many pixels of the picture lie in a photo (R, C, 2), and how far inside."""
    columns = np.arange(0.0, frame.width + MAP_STEP, MAP_STEP)
    rows = np.arange(0.0, frame.height + MAP_STEP, MAP_STEP)
    points = frame.points(columns, rows)
    px = wall.photos[k].to_photo(points)
    inside = _inside(px, wall, k, points)
    shape = (len(rows), len(columns))
    return px.reshape(*shape, 2).astype(np.float32), inside.reshape(shape)


def _columns_shown(inside: Array, rows: slice, width: int) -> slice:
    """Columns of the picture within which a photo shows something of some rows."""
    first, last = rows.start // MAP_STEP, -(-rows.stop // MAP_STEP)
    shown = np.flatnonzero((inside[first : last + 1] > 0).any(axis=0))
    if not len(shown):
        return slice(0, 0)
    start, stop = (shown[0] - 1) * MAP_STEP, (shown[-1] + 1) * MAP_STEP + 1
    return slice(max(int(start), 0), min(int(stop), width))


def _between(grid: Array, rows: slice, columns: slice) -> Array:
    """Fill in a grid of every `MAP_STEP` pixels for a part, straight from one to the next."""
    at = np.arange(rows.start, rows.stop) / MAP_STEP
    low = at.astype(int)
    part = (at - low).astype(np.float32)[:, None, None]
    lines = grid[low] * (1 - part) + grid[low + 1] * part
    at = np.arange(columns.start, columns.stop) / MAP_STEP
    low = at.astype(int)
    part = (at - low).astype(np.float32)[:, None]
    return np.asarray(lines[:, low] * (1 - part) + lines[:, low + 1] * part)


def _paint(
    photos: Sequence[Photo],
    wall: JoinedWall,
    grids: Sequence[tuple[Array, Array]],
    evening: Sequence[Array],
    frames: tuple[_Frame, _Frame],
    rows: slice,
    pixels: PixelsRgb,
    source: NDArray[np.int8],
) -> None:
    """Paint some rows of the picture, each pixel from the photo that it lies furthest inside."""
    coarse, frame = frames
    step = frame.mm_per_px / coarse.mm_per_px
    best = np.zeros((rows.stop - rows.start, frame.width), np.float32)
    for k, photo in enumerate(photos):
        columns = _columns_shown(grids[k][1], rows, frame.width)
        if columns.start == columns.stop:
            continue
        at = _between(grids[k][0], rows, columns)
        width, height = wall.sizes_px[k]
        inner = np.minimum(at, np.array([width - 1, height - 1], np.float32) - at)
        border = np.minimum(inner[..., 0], inner[..., 1])
        shown = _between(grids[k][1][..., None], rows, columns)[..., 0] > 0
        here = shown & (border > best[:, columns])
        if not here.any():
            continue
        best[:, columns][here] = border[here]
        seen = cv2.remap(photo.pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
        x, y = np.meshgrid(
            np.arange(columns.start, columns.stop) * step, np.arange(rows.start, rows.stop) * step
        )
        factor = cv2.remap(
            evening[k], x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        even = to_pixels(to_linear(np.asarray(seen, np.uint8)) * factor)
        pixels[rows, columns][here] = even[here]
        source[rows, columns][here] = k


def _straight_plane(wall: JoinedWall, frame: _Frame) -> WallPlane:
    """Give the picture's wall: a camera square to it, with the joined wall's covariance."""
    middle = np.array([(frame.width - 1) / 2, (frame.height - 1) / 2])
    focal = AHEAD_MM / frame.mm_per_px
    x_mm = frame.left_mm + middle[0] * frame.mm_per_px
    y_mm = frame.top_mm - middle[1] * frame.mm_per_px
    first = wall.photos[wall.first]
    plane = WallPlane(
        lens=Lens(focal, float(middle[0]), float(middle[1])),
        rotation=FLIP,
        translation_mm=np.array([-x_mm, y_mm, AHEAD_MM]),
        reference_corners_px=np.zeros((4, 2)),
        reference_tilt_deg=wall.reference_tilt_deg,
        parameter_covariance=np.eye(CAMERA_SIZE),
        findings=wall.findings,
        level_sigma_deg=first.level_sigma_deg,
        flatness_sigma_mm=0.0,
    )
    columns = np.linspace(0, frame.width - 1, 9)
    rows = np.linspace(0, frame.height - 1, 5)
    covariance, left_over_mm = _carried_covariance(wall, plane, frame.points(columns, rows))
    return replace(
        plane,
        reference_corners_px=plane.to_photo(first.to_wall(first.reference_corners_px)),
        parameter_covariance=covariance,
        left_over_px=left_over_mm / frame.mm_per_px,
    )


def _carried_covariance(
    wall: JoinedWall, plane: WallPlane, points: PointsMm
) -> tuple[Matrix, float]:
    """Find the parameters' covariance (11, 11) that gives points nearly that of the joined wall.

    Pose and lens of one camera cannot bend as a chain of photos does: what is left over, mm, is
    added everywhere, so that no point is stated better than the photos know it.
    """
    slopes = plane.sensitivity(points)[0].reshape(-1, CAMERA_SIZE)
    scale = np.linalg.norm(slopes, axis=0)
    inverse = np.linalg.pinv(slopes / scale, rcond=1e-6) / scale[:, None]
    covariance = inverse @ wall.joint_covariance(points) @ inverse.T
    given = slopes.reshape(-1, 2, CAMERA_SIZE)
    short = wall.covariance(points) - given @ covariance @ given.swapaxes(1, 2)
    left_over = max(float(np.linalg.eigvalsh(short).max()), 0.0)
    return np.asarray(covariance), float(np.sqrt(left_over))
