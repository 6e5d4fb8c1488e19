"""Register a printed pattern of known geometry to a photo.

A pattern has edges from black to white and from white to black. Blur, exposure and tone curve shift
the two kinds by the same amount in opposite directions, so that the place of a patch holding both
is found without bias, which that of a white sheet's side is not.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import cv2
import numpy as np

from visualiser.geometry import PointsMm, PointsPx, Rect
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.patch_placing import (
    LEAST_NOISE,
    PatternView,
    place_patch,
)
from visualiser.rectification.finder.printed_pattern import (
    Array,
    PrintedPattern,
    cells_of,
    corners_of,
    map_points,
)

CELL_SIDES_PX = 18.0
"""Smallest side in the photo of a patch that is placed by itself: below it too few edges cross."""
CELL_COUNTS = (4, 3, 2)
"""How many patches the pattern may be cut into along its shorter side, finest first: of more, some
would hold edges of one kind alone, whose place the tone curve shifts."""
BLURS_PX = (0.3, 0.5, 0.8, 1.2, 1.8, 2.7)
"""Standard deviations of blur that are tried (from a shrunk or drawn picture to a shaken one)."""
WORSE_THAN_OTHERS = 2.5
"""How many times noisier than the page's quieter patches one may be before it counts as covered."""
LARGEST_EXTENT_PX = 450.0
"""A pattern larger than this is looked at smaller: more pixels add time and hardly any sureness."""
LENS_BEND = 0.004
"""How far a lens may bend the board off a plane, as a share of the board's extent."""
_ROUNDS = 4


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


def turned_as_seen(corners_px: PointsPx, marks_mm: PointsMm) -> tuple[PointsPx, PointsMm, int]:
    """Start corners at the top-left as seen, and turn marks (y up, about the middle) with them.

    Returns
    -------
    Corners, marks, and by how many quarters.
    """
    run = np.roll(corners_px, -1, axis=0) - corners_px
    turn = int(np.argmax(run[:, 0] / np.hypot(*run.T)))
    for _ in range(turn):
        marks_mm = np.c_[-marks_mm[:, 1], marks_mm[:, 0]]
    return np.roll(corners_px, -turn, axis=0), marks_mm, turn


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
    outline_px = map_points(to_photo, corners_of(pattern.outline))
    shrink = int(_extent_px(outline_px) // LARGEST_EXTENT_PX)
    if shrink > 1:
        return _register_smaller(photo, pattern, to_photo, shrink)
    blur = None
    best: Registration | None = None
    for cells in (cells_of(pattern, CELL_COUNTS[-1]), cells_of(pattern, _count(pattern, to_photo))):
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
        if _shortest_side_px(cells_of(pattern, count), to_photo) >= CELL_SIDES_PX
    )
    return next(fitting, CELL_COUNTS[-1])


def _shortest_side_px(cells: list[Rect], to_photo: Array) -> float:
    sides = []
    for cell in cells:
        corners = map_points(to_photo, corners_of(cell))
        sides.append(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min())
    return float(np.median(sides))


def _extent_px(points: Array) -> float:
    return float(np.hypot(*np.ptp(points, axis=0)))


def _place_all(
    photo: Photo, pattern: PrintedPattern, cells: list[Rect], to_photo: Array, blur_px: float
) -> _Placed:
    """Place every patch that lies in the picture and agrees with it."""
    size = np.array([photo.width_px, photo.height_px])
    shown = [(cell, map_points(to_photo, corners_of(cell))) for cell in cells]
    shown = [(c, px) for c, px in shown if (px >= 2).all() and (px <= size - 3).all()]
    if not shown:
        return _Placed(blur_px, *(np.empty((0, 2)),) * 2, *(np.empty(0),) * 3, 0)
    view = PatternView.of(
        photo, pattern, np.concatenate([px for _, px in shown]), to_photo, blur_px
    )
    rows = []
    for cell, corners in shown:
        placed = place_patch(view, corners)
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
