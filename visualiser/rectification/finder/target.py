"""The printed target: a chessboard whose white squares carry markers, so that parts suffice.

Its inner corners are saddle points between black and white: blur and exposure, which shift the edge
of a white sheet, move them in no direction. The markers tell which corner is which, at any turn
and when a hand or a plant covers some.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.geometry import PointsMm, PointsPx, Rect
from visualiser.photo.photo import Photo
from visualiser.rectification.kinds import TARGETS
from visualiser.rectification.reference import Reference

Array = NDArray[np.float64]

CHECK_BAR_MM = 100.0
"""Length of the bar printed below the board, to measure the printer by."""
BAR_LIMITS_MM = (80.0, 120.0)
"""A bar outside these was measured in another unit, or is another line."""
MAX_RESIDUAL_PX = 1.5
"""A corner further than this from where a plane would have it is no corner of the board."""
MIN_CORNERS = 4
PRINT_SIGMA = 0.001
"""Relative standard uncertainty of a print's size, once the bar has been measured to 0.2 mm."""


@dataclass(frozen=True, slots=True)
class TargetBoard:
    """Layout of a board.

    Parameters
    ----------
    paper
        Paper it is printed on.
    first_marker
        Number of its first marker: each paper has its own, so that they cannot be mixed up.
    columns, rows
        Squares across and down.
    square_mm, marker_mm
        Sides of a square and of the marker inside.
    """

    paper: str
    first_marker: int
    columns: int = 4
    rows: int = 5
    square_mm: float = 40.0
    marker_mm: float = 30.0

    @property
    def width_mm(self) -> float:
        """Across all squares."""
        return self.columns * self.square_mm

    @property
    def height_mm(self) -> float:
        """Down all squares."""
        return self.rows * self.square_mm

    def painted(self) -> list[tuple[Rect, bool]]:
        """Rectangles to paint one over the other, and whether each is black.

        In mm from the board's lower left corner, y up.
        """
        board = _opencv_board(self)
        shapes: list[tuple[Rect, bool]] = []
        squares = {(c, r) for c in range(self.columns) for r in range(self.rows)}
        dictionary = _dictionary()
        modules = dictionary.markerSize + 2
        size = self.marker_mm / modules
        markers = zip(np.ravel(board.getIds()), board.getObjPoints(), strict=True)
        for number, corners in markers:
            left, top = (float(v) for v in np.asarray(corners).reshape(4, 3)[0, :2])
            squares.discard((int(left // self.square_mm), int(top // self.square_mm)))
            bits = np.asarray(dictionary.generateImageMarker(int(number), modules)) > 127
            shapes.append((self._box(left, top, self.marker_mm, self.marker_mm), True))
            shapes += [
                (self._box(left + c * size, top + r * size, size, size), False)
                for r, c in zip(*np.nonzero(bits), strict=True)
            ]
        black = [
            (
                self._box(c * self.square_mm, r * self.square_mm, self.square_mm, self.square_mm),
                True,
            )
            for c, r in sorted(squares)
        ]
        return black + shapes

    def _box(self, left: float, top: float, width: float, height: float) -> Rect:
        return Rect(float(left), float(self.height_mm - top - height), float(width), float(height))


def target_board(kind: str) -> TargetBoard:
    """Board of a kind of target, ``target`` or ``target-letter``.

    Raises
    ------
    ValueError
        If the kind is no target.
    """
    if kind not in TARGETS:
        raise ValueError(f"expected one of {', '.join(TARGETS)}, got {kind!r}")
    return TargetBoard(TARGETS[kind], first_marker=10 * list(TARGETS).index(kind))


def find_target(photo: Photo, kind: str, measured_bar_mm: float = CHECK_BAR_MM) -> list[Reference]:
    """Look for a printed target at any turn, also partly covered.

    Parameters
    ----------
    photo
        The photo.
    kind
        ``target`` or ``target-letter``.
    measured_bar_mm
        What the printed check bar of 100 mm measures on the page as printed.

    Returns
    -------
    The target, its inner corners as marks, or nothing.

    Raises
    ------
    MeasurementError
        If the bar's length cannot be right.
    """
    if not BAR_LIMITS_MM[0] <= measured_bar_mm <= BAR_LIMITS_MM[1]:
        raise MeasurementError(
            f"A check bar of {measured_bar_mm:g} mm cannot be right: it is drawn 100 mm long.",
            hint="Measure the bar under the board in millimetres, end mark to end mark.",
        )
    board = target_board(kind)
    points_px, numbers = _detect(photo, board)
    if len(numbers) < MIN_CORNERS:
        return []
    scale = measured_bar_mm / CHECK_BAR_MM
    points_mm = _inner_corners(board)[numbers] * scale
    fitted = _homography(points_mm, points_px)
    if fitted is None:
        return []
    to_photo, good = fitted
    if good.sum() < MIN_CORNERS:
        return []
    width, height = board.width_mm * scale, board.height_mm * scale
    outline = np.array([[-1.0, 1], [1, 1], [1, -1], [-1, -1]]) * [width / 2, height / 2]
    corners = _map(to_photo, outline)
    # Corners go by how they are seen, so a board hung on its side has its top elsewhere.
    turn = _top_left(corners)
    marks_mm = points_mm[good]
    for _ in range(turn):
        marks_mm = np.c_[-marks_mm[:, 1], marks_mm[:, 0]]
    if turn % 2:
        width, height = height, width
    share = float(good.mean()) * min(1.0, good.sum() / 6)
    return [
        Reference(
            kind,
            np.roll(corners, -turn, axis=0),
            width,
            height,
            confidence=0.9 + 0.09 * share,
            marks_px=points_px[good],
            marks_mm=marks_mm,
            size_sigma_mm=PRINT_SIGMA * max(width, height),
        )
    ]


@cache
def _dictionary() -> Any:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


@cache
def _opencv_board(board: TargetBoard) -> Any:
    count = board.columns * board.rows // 2
    numbers = np.arange(board.first_marker, board.first_marker + count, dtype=np.int32)
    return cv2.aruco.CharucoBoard(
        (board.columns, board.rows), board.square_mm, board.marker_mm, _dictionary(), numbers
    )


def _inner_corners(board: TargetBoard) -> PointsMm:
    """Inner corners in OpenCV's order, mm from the board's centre, y up."""
    corners = np.asarray(_opencv_board(board).getChessboardCorners(), float).reshape(-1, 3)
    return np.asarray(
        np.c_[corners[:, 0] - board.width_mm / 2, board.height_mm / 2 - corners[:, 1]]
    )


def _detect(photo: Photo, board: TargetBoard) -> tuple[PointsPx, NDArray[np.int64]]:
    """Inner corners seen, (N, 2) px, and their numbers; enlarged when the board is small."""
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
    settings = cv2.aruco.CharucoParameters()
    settings.minMarkers = 1  # one marker beside a corner is enough: a plane through all is checked
    detector = cv2.aruco.CharucoDetector(_opencv_board(board), settings)
    best: tuple[PointsPx, NDArray[np.int64]] = np.empty((0, 2)), np.empty(0, np.int64)
    for zoom in (1.0, 2.0):
        if zoom > 1 and grey.size * zoom**2 > 5e7:
            break
        seen = grey if zoom == 1 else cv2.resize(grey, None, fx=zoom, fy=zoom)
        corners, numbers, _, _ = detector.detectBoard(seen)
        if corners is not None and numbers is not None and len(numbers) > len(best[1]):
            points = (np.asarray(corners, float).reshape(-1, 2) + 0.5) / zoom - 0.5
            best = points, np.ravel(numbers).astype(np.int64)
        if len(best[1]) >= MIN_CORNERS + 2:
            break
    return best


def _homography(points_mm: PointsMm, points_px: PointsPx) -> tuple[Array, NDArray[np.bool_]] | None:
    if np.linalg.matrix_rank(points_mm - points_mm.mean(axis=0), tol=1.0) < 2:
        return None
    # OpenCV gives None where no plane fits, whatever its types say.
    found: Any = cv2.findHomography(points_mm, points_px, cv2.RANSAC, MAX_RESIDUAL_PX)[0]
    if found is None:
        return None
    matrix = np.asarray(found, np.float64)
    off = np.linalg.norm(_map(matrix, points_mm) - points_px, axis=1)
    return matrix, np.asarray(off < MAX_RESIDUAL_PX)


def _map(matrix: Array, points: Array) -> Array:
    mapped = np.c_[points, np.ones(len(points))] @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:], np.float64)


def _top_left(corners: PointsPx) -> int:
    """Which corner is top-left as seen: from it a side runs most nearly rightwards."""
    run = np.roll(corners, -1, axis=0) - corners
    return int(np.argmax(run[:, 0] / np.hypot(*run.T)))
