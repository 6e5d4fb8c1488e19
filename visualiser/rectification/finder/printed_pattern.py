"""Register a printed black-and-white pattern of known geometry to a photo.

A pattern has edges from black to white and from white to black. Blur, exposure and tone curve shift
the two kinds by the same amount in opposite directions, so that the place of a patch holding both
is found without bias, which that of a white sheet's side is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, PointsPx, Rect
from visualiser.photo.linear_light import decoding_16
from visualiser.photo.photo import Photo

Array = NDArray[np.float64]
Grey = NDArray[np.float32]

RASTER_MM = 0.25
"""Pixel of the pattern's own raster. Its modules are whole multiples of it on the target."""
CELL_SIDES_PX = 18.0
"""Smallest side in the photo of a patch that is placed by itself: below it too few edges cross."""
CELL_COUNTS = (4, 3, 2)
"""How many patches the pattern may be cut into along its shorter side, finest first: of more, some
would hold edges of one kind alone, whose place the tone curve shifts."""
BLURS_PX = (0.3, 0.5, 0.8, 1.2, 1.8, 2.7)
"""Standard deviations of blur that are tried (from a shrunk or drawn picture to a shaken one)."""
LEAST_LIKENESS = 0.85
"""Correlation with the photo below which a patch is covered, or another thing. Photos drawn with
blur, noise and JPEG of quality 70 stay above 0.93; what else a marker is read in, below 0.75."""
WORSE_THAN_OTHERS = 2.5
"""How many times noisier than the page's quieter patches one may be before it counts as covered."""
COVERED_SHARE = 0.25
"""Share of the contrast by which a pixel of a covered corner misfits; an edge that is in its place
to a tenth of a pixel stays under a tenth."""
NEARLY_ALIGNED_PX = 0.25
"""Last step from which on misfits are covered pixels and not edges on their way."""
LEAST_NOISE = 0.015
"""Share of contrast that misfits in the cleanest photo: tone, sharpening and 8-bit steps."""
LARGEST_EXTENT_PX = 450.0
"""A pattern larger than this is looked at smaller: more pixels add time and hardly any sureness."""
FARTHEST_PX = 3.0
"""A patch that would have to move further lies outside what the first guess can be off by."""
SMALLEST_SIGMA_PX = 0.03
"""Floor of a patch's uncertainty: what sharpening and compression leave, however many edges."""
CORRELATED = 2.0
"""Residuals of neighbouring pixels go together (sharpening, JPEG), so that as many count as this
many times fewer; measured on drawn photos, where errors over stated sigmas are 0.8 to 1.2."""
MAX_SIGMA_PX = 0.35
"""A patch less surely placed adds nothing."""
WORST_CONDITION = 1e4
"""Ratio of what the photo says of a patch's place along and across its edges: beyond it, the patch
slides along a single edge."""
LENS_BEND = 0.004
"""How far a lens may bend the board off a plane, as a share of the board's extent."""
_ROUNDS, _STEPS = 4, 6


@dataclass(frozen=True, eq=False)
class PrintedPattern:
    """Black shapes on white, in mm, x right, y up, with the origin at the pattern's own centre.

    Parameters
    ----------
    outline
        The part of the plane that is known, white included.
    shapes
        Rectangles to paint one over the other, and whether each is black.
    raster_mm
        Pixel of the pattern's own raster, a whole part of its modules.
    """

    outline: Rect
    shapes: tuple[tuple[Rect, bool], ...]
    raster_mm: float = RASTER_MM

    @cached_property
    def raster(self) -> Grey:
        """The pattern drawn at `raster_mm`: white 1, black 0, top row first."""
        size = (self.outline.height_mm, self.outline.width_mm)
        height, width = (max(1, round(side / self.raster_mm)) for side in size)
        # Drawn finer and averaged: an edge between two pixels of the raster keeps its place.
        fine = 4
        drawn = np.ones((height * fine, width * fine), np.float32)
        step = self.raster_mm / fine
        for rect, black in self.shapes:
            x0, x1 = (
                round((x - self.outline.left_mm) / step) for x in (rect.left_mm, rect.right_mm)
            )
            y0, y1 = (
                round((self.outline.top_mm - y) / step) for y in (rect.top_mm, rect.bottom_mm)
            )
            drawn[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = 0.0 if black else 1.0
        shrunk = cv2.resize(drawn, (width, height), interpolation=cv2.INTER_AREA)
        return np.asarray(shrunk, np.float32)

    @property
    def raster_to_mm(self) -> Array:
        """Affine map (3, 3) from the raster's pixels to mm."""
        half = self.raster_mm / 2
        return np.array(
            [
                [self.raster_mm, 0.0, self.outline.left_mm + half],
                [0.0, -self.raster_mm, self.outline.top_mm - half],
                [0.0, 0.0, 1.0],
            ]
        )


class Registration(NamedTuple):
    """Where a pattern lies in a photo.

    ``to_photo`` is the homography (3, 3) from mm to px; ``marks_mm`` and ``marks_px`` (N, 2) are
    the middles of the patches that were placed, each with its standard uncertainty in px (N,).
    ``likeness`` is the correlation of all of them with the photo, and ``seen`` the share that was
    seen of those that lie in the picture.
    """

    to_photo: Array
    marks_mm: PointsMm
    marks_px: PointsPx
    sigma_px: Array
    likeness: float
    seen: float

    @property
    def information(self) -> float:
        """Sum of the marks' weights, 1/px²: of two registrations the surer has more."""
        return float((self.sigma_px**-2.0).sum())


def map_points(matrix: Array, points: Array) -> Array:
    """Map points (N, 2) by a homography (3, 3)."""
    mapped = np.c_[points, np.ones(len(points))] @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:], np.float64)


def register(photo: Photo, pattern: PrintedPattern, to_photo: Array) -> Registration | None:
    """Place a pattern in a photo to a few hundredths of a pixel.

    Patches of it are moved, one by one, to where they agree best with the photo in linear light;
    light and its fall-off are fitted in each. A patch that agrees nowhere near is left out, so that
    a part of the pattern is enough.

    Parameters
    ----------
    photo
        The photo.
    pattern
        What was printed.
    to_photo
        First guess of the homography from the pattern's mm to photo px, good to about 3 px.

    Returns
    -------
    The registration, or None where fewer than four patches agree, or all on one line.
    """
    outline_px = map_points(to_photo, _corners(pattern.outline))
    shrink = int(_extent_px(outline_px) // LARGEST_EXTENT_PX)
    if shrink > 1:
        return _register_smaller(photo, pattern, to_photo, shrink)
    blur = None
    best: Registration | None = None
    for cells in (_cells(pattern, CELL_COUNTS[-1]), _cells(pattern, _count(pattern, to_photo))):
        for attempt in range(_ROUNDS):
            # How blurred it is shows only where it lies right, so that is settled after moving.
            blurs = _blurs(blur, near=attempt == 1)
            tried = [_place_all(photo, pattern, cells, to_photo, b) for b in blurs]
            placed = max(tried, key=lambda p: float((p.noise**-2.0).sum()))
            if len(placed.marks_mm) < 4:
                break
            fitted = _fit_plane(placed.marks_mm, placed.marks_px, placed.sigma_px)
            if fitted is None:
                break
            blur = placed.blur_px
            seen = map_points(fitted, placed.marks_mm)
            off = np.linalg.norm(seen - placed.marks_px, axis=1)
            # A lens bends the plane by little over a sheet; what strays further was mistaken.
            good = off < np.maximum(4 * placed.sigma_px, LENS_BEND * _extent_px(seen)) + 0.3
            if good.sum() < 4:
                break
            # Marks that contradict each other are as unsure as they differ.
            freedom = max(2 * int(good.sum()) - 8, 1)
            misfit = float(((off[good] / placed.sigma_px[good]) ** 2).sum()) / freedom
            best = Registration(
                fitted,
                placed.marks_mm[good],
                placed.marks_px[good],
                placed.sigma_px[good] * max(1.0, np.sqrt(misfit)),
                float(placed.likeness[good].mean()),
                float(good.sum() / placed.in_view),
            )
            moved = np.abs(seen - map_points(to_photo, placed.marks_mm)).max()
            to_photo = fitted
            if moved < 0.02 and attempt > 0:
                break
    return best


def _register_smaller(
    photo: Photo, pattern: PrintedPattern, to_photo: Array, shrink: int
) -> Registration | None:
    """Register in a photo shrunk by a whole number, and bring the result back to its pixels."""
    size = (photo.width_px // shrink, photo.height_px // shrink)
    whole = photo.pixels[: size[1] * shrink, : size[0] * shrink]
    small = Photo(np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), np.uint8))
    back = np.array([[shrink, 0, (shrink - 1) / 2], [0, shrink, (shrink - 1) / 2], [0, 0, 1.0]])
    found = register(small, pattern, np.linalg.inv(back) @ to_photo)
    if found is None:
        return None
    return found._replace(
        to_photo=back @ found.to_photo,
        marks_px=map_points(back, found.marks_px),
        sigma_px=found.sigma_px * shrink,
    )


class _Placed(NamedTuple):
    blur_px: float
    marks_mm: Array
    marks_px: Array
    sigma_px: Array
    likeness: Array
    noise: Array
    in_view: int


def _blurs(blur_px: float | None, *, near: bool) -> tuple[float, ...]:
    """Choose the blurs to try: every other one at first, then those beside the best."""
    if blur_px is None:
        return BLURS_PX[::2]
    at = BLURS_PX.index(blur_px)
    return BLURS_PX[max(at - 1, 0) : at + 2] if near else (blur_px,)


def _count(pattern: PrintedPattern, to_photo: Array) -> int:
    """How many patches fit along the shorter side so that each is large enough in the photo."""
    fitting = (
        count
        for count in CELL_COUNTS
        if _shortest_side_px(_cells(pattern, count), to_photo) >= CELL_SIDES_PX
    )
    return next(fitting, CELL_COUNTS[-1])


def _cells(pattern: PrintedPattern, count: int) -> list[Rect]:
    """Cut the pattern into nearly square patches, ``count`` along its shorter side."""
    box = pattern.outline
    side = min(box.width_mm, box.height_mm) / count
    columns, rows = max(1, round(box.width_mm / side)), max(1, round(box.height_mm / side))
    width, height = box.width_mm / columns, box.height_mm / rows
    return [
        Rect(box.left_mm + c * width, box.bottom_mm + r * height, width, height)
        for r in range(rows)
        for c in range(columns)
    ]


def _corners(rect: Rect) -> Array:
    return np.array(
        [
            [rect.left_mm, rect.top_mm],
            [rect.right_mm, rect.top_mm],
            [rect.right_mm, rect.bottom_mm],
            [rect.left_mm, rect.bottom_mm],
        ]
    )


def _shortest_side_px(cells: list[Rect], to_photo: Array) -> float:
    sides = []
    for cell in cells:
        corners = map_points(to_photo, _corners(cell))
        sides.append(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min())
    return float(np.median(sides))


def _extent_px(points: Array) -> float:
    return float(np.hypot(*np.ptp(points, axis=0)))


def _place_all(
    photo: Photo, pattern: PrintedPattern, cells: list[Rect], to_photo: Array, blur_px: float
) -> _Placed:
    """Place every patch that lies in the picture and agrees with it."""
    size = np.array([photo.width_px, photo.height_px])
    shown = [(cell, map_points(to_photo, _corners(cell))) for cell in cells]
    shown = [(c, px) for c, px in shown if (px >= 2).all() and (px <= size - 3).all()]
    if not shown:
        return _Placed(blur_px, *(np.empty((0, 2)),) * 2, *(np.empty(0),) * 3, 0)
    view = _View.of(photo, pattern, np.concatenate([px for _, px in shown]), to_photo, blur_px)
    rows = []
    for cell, corners in shown:
        placed = _place(view, corners)
        if placed is not None:
            centre = np.array([cell.centre_mm])
            rows.append((centre[0], map_points(to_photo, centre)[0] + placed[0], *placed[1:]))
    # A patch that is partly covered still resembles itself, but fits worse than its neighbours.
    quiet = np.quantile([r[4] for r in rows], 0.25) if rows else 0.0
    quiet = max(quiet, LEAST_NOISE)
    rows = [r for r in rows if r[4] <= WORSE_THAN_OTHERS * quiet]
    return _Placed(
        blur_px,
        np.array([r[0] for r in rows]).reshape(-1, 2),
        np.array([r[1] for r in rows]).reshape(-1, 2),
        # Until all lie right, covered corners show only as more noise: they may not pull the rest.
        np.array([r[2] * max(1.0, r[4] / quiet) ** 2 for r in rows]),
        np.array([r[3] for r in rows]),
        np.array([max(r[4], LEAST_NOISE) for r in rows]),
        len(shown),
    )


class _View(NamedTuple):
    """The part of the photo that holds the pattern, and the pattern as it would be seen there."""

    seen: Grey
    drawn: Grey
    slopes: tuple[Grey, Grey]
    origin_px: Array

    @classmethod
    def of(
        cls, photo: Photo, pattern: PrintedPattern, around: Array, to_photo: Array, blur_px: float
    ) -> _View:
        margin = int(np.ceil(FARTHEST_PX + 3 * blur_px)) + 1
        low = np.maximum(np.floor(around.min(axis=0)).astype(int) - margin, 0)
        high = np.ceil(around.max(axis=0)).astype(int) + margin + 1
        high = np.minimum(high, [photo.width_px, photo.height_px])
        part = np.ascontiguousarray(photo.pixels[low[1] : high[1], low[0] : high[0]])
        linear = cv2.LUT(part, decoding_16()).astype(np.float32).mean(axis=2) / np.float32(65535)
        drawn = _drawn(pattern, to_photo, (int(low[0]), int(low[1])), linear.shape, blur_px)
        down, across = np.gradient(drawn)
        slopes = np.asarray(across, np.float32), np.asarray(down, np.float32)
        return cls(np.asarray(linear, np.float32), drawn, slopes, low.astype(float))


def _place(view: _View, corners_px: Array) -> tuple[Array, float, float, float] | None:
    """Move one patch: shift (2,) px, sigma, likeness, noise by contrast; None if it disagrees."""
    local = corners_px - view.origin_px
    reach = int(np.ceil(FARTHEST_PX)) + 2
    size = np.array(view.seen.shape[::-1])
    low = np.clip(np.floor(local.min(axis=0)).astype(int) - reach, 0, size - 1)
    high = np.clip(np.ceil(local.max(axis=0)).astype(int) + reach + 1, low + 1, size)
    part = np.s_[low[1] : high[1], low[0] : high[0]]
    seen, layers = view.seen[part], (view.drawn[part], *(s[part] for s in view.slopes))
    inside = np.zeros(seen.shape, np.uint8)
    cv2.fillConvexPoly(inside, np.round(local - low).astype(np.int32), 1)
    where = inside > 0
    if where.sum() < 60 or np.ptp(layers[0][where]) < 0.3:
        return None
    down, across = (v.astype(np.float64) - v.mean() for v in np.nonzero(where))
    seen_here = seen[where].astype(np.float64)
    shift = np.zeros(2)
    weight = np.ones(len(seen_here))
    for _ in range(_STEPS):
        model, by_x, by_y = (_moved(one, shift)[where].astype(np.float64) for one in layers)
        # A tone curve makes black swell or shrink: half-levels are free, so that it moves nothing.
        light = np.c_[np.ones_like(model), across, down, model, model * (1 - model)]
        moved = np.c_[-by_x, -by_y]
        gains, residual = (v[..., 0] for v in _without(light, seen_here[:, None], weight))
        # Light is fitted with the shift, so that a shadow's edge is not taken for a movement.
        slope = (gains[3] + gains[4] * (1 - 2 * model))[:, None]
        moved = slope * moved
        free = _without(light, moved, weight)[1]
        normal = (weight[:, None] * free).T @ free
        if gains[3] <= 0 or np.linalg.cond(normal) > WORST_CONDITION:
            return None
        step = np.linalg.solve(normal, free.T @ (weight * residual))
        # What lies over a corner of the patch misfits by more than any aligned edge does.
        if np.abs(step).max() < NEARLY_ALIGNED_PX:
            weight = 1 / (1 + (residual / (COVERED_SHARE * gains[3])) ** 2) ** 2
        shift = shift + np.clip(step, -1.0, 1.0)
        if np.abs(shift).max() > FARTHEST_PX:
            return None
        if np.abs(step).max() < 0.005:
            break
    spread = float(np.sqrt((weight * residual**2).sum() / weight.sum()))
    whole = float(np.std(residual))
    total = float(np.std(seen_here - light[:, :3] @ gains[:3]))
    likeness = float(np.sqrt(max(0.0, 1 - (whole / max(total, 1e-9)) ** 2)))
    if likeness < LEAST_LIKENESS:
        return None
    # However clean a photo, tone and sharpening misfit by so much, and along the same edges.
    misfit = max(spread, 2 * LEAST_NOISE * float(gains[3]))
    covariance = np.linalg.inv(normal) * misfit**2 * CORRELATED**2
    sigma = float(np.hypot(np.sqrt(np.trace(covariance) / 2), SMALLEST_SIGMA_PX))
    noise = whole / max(float(gains[3]), 1e-9)
    return (shift, sigma, likeness, noise) if sigma <= MAX_SIGMA_PX else None


def _without(light: Array, values: Array, weight: Array) -> tuple[Array, Array]:
    """Fit columns of light to values (N, K) by weight: coefficients, and what is left."""
    weighted = light * weight[:, None]
    tied = weighted.T @ light + 1e-9 * np.eye(light.shape[1])
    gains = np.asarray(np.linalg.solve(tied, weighted.T @ values), np.float64)
    return gains, values - light @ gains


def _drawn(
    pattern: PrintedPattern,
    to_photo: Array,
    origin: tuple[int, int],
    shape: tuple[int, ...],
    blur_px: float,
) -> Grey:
    """Draw the pattern as the photo would show it: pixels average light, and blur spreads it."""
    fine = 4 if max(shape) < 250 else 2 if max(shape) < 1600 else 1
    matrix = to_photo @ pattern.raster_to_mm
    to_part = np.array(
        [
            [fine, 0, -fine * origin[0] + (fine - 1) / 2],
            [0, fine, -fine * origin[1] + (fine - 1) / 2],
            [0, 0, 1.0],
        ]
    )
    scale = np.sqrt(abs(np.linalg.det((to_part @ matrix)[:2, :2])) / abs(matrix[2, 2]) ** 2)
    raster = pattern.raster
    if scale < 0.5:
        # Each raster pixel would be skipped by the warp: average first.
        shrink = int(np.floor(1 / scale))
        height, width = raster.shape
        size = (max(1, width // shrink), max(1, height // shrink))
        raster = np.asarray(cv2.resize(raster, size, interpolation=cv2.INTER_AREA), np.float32)
        ratio = np.array([width / size[0], height / size[1]])
        matrix = matrix @ np.array(
            [[ratio[0], 0, (ratio[0] - 1) / 2], [0, ratio[1], (ratio[1] - 1) / 2], [0, 0, 1.0]]
        )
    large = cv2.warpPerspective(
        raster,
        to_part @ matrix,
        (shape[1] * fine, shape[0] * fine),
        flags=cv2.INTER_LINEAR,
        borderValue=1.0,
    )
    large = cv2.GaussianBlur(large, (0, 0), blur_px * fine)
    return np.asarray(
        cv2.resize(large, (shape[1], shape[0]), interpolation=cv2.INTER_AREA), np.float32
    )


def _moved(layer: Grey, shift: Array) -> Grey:
    """Shift a drawing by (x, y) px, between pixels by cubic convolution."""
    height, width = layer.shape
    across, down = np.meshgrid(
        np.arange(width, dtype=np.float32) - np.float32(shift[0]),
        np.arange(height, dtype=np.float32) - np.float32(shift[1]),
    )
    moved = cv2.remap(layer, across, down, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(moved, np.float32)


def _fit_plane(points_mm: Array, points_px: Array, sigma_px: Array) -> Array | None:
    """Fit a homography by robust least squares, the surer patches counting more."""
    if np.linalg.matrix_rank(points_mm - points_mm.mean(axis=0), tol=1.0) < 2:
        return None
    # OpenCV gives None where no plane fits, whatever its types say.
    found: Any = cv2.findHomography(points_mm, points_px, cv2.RANSAC, 1.5)[0]
    if found is None:
        return None
    matrix = np.asarray(found, np.float64)
    for _ in range(4):
        matrix = matrix / matrix[2, 2]
        mapped = np.c_[points_mm, np.ones(len(points_mm))] @ matrix.T
        seen = mapped[:, :2] / mapped[:, 2:]
        residual = points_px - seen
        size = np.linalg.norm(residual, axis=1) / sigma_px
        weight = np.minimum(1.0, 3.0 / np.maximum(size, 1e-9)) / sigma_px**2
        ones = np.c_[points_mm, np.ones(len(points_mm))]
        zero = np.zeros_like(ones)
        by_x = np.c_[ones, zero, -seen[:, :1] * ones] / mapped[:, 2:]
        by_y = np.c_[zero, ones, -seen[:, 1:] * ones] / mapped[:, 2:]
        rows = np.stack([by_x, by_y], axis=1).reshape(-1, 9)[:, :8]
        root = np.repeat(np.sqrt(weight), 2)
        column = np.linalg.norm(rows, axis=0)
        step = np.linalg.lstsq(
            rows / column * root[:, None], residual.reshape(-1) * root, rcond=None
        )[0]
        matrix = matrix + np.append(step / column, 0.0).reshape(3, 3)
    return matrix
