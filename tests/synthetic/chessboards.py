"""Photographs of chessboards by other people: a small block as the reference, the rest predicted.

OpenCV's sample pictures left01…14 and right01…14 come with Debian's ``opencv-doc`` (Apache 2
licence); where the package is absent the tests that need it are skipped.
"""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from visualiser.photo.photo import Photo
from visualiser.rectification.camera.lens_calibration import calibrate_lens
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.fit import fit_wall_plane
from visualiser.rectification.marks import DrawnLine, Marks
from visualiser.rectification.reference import Reference

OPENCV_SAMPLES = Path("/usr/share/doc/opencv-doc/examples/data")
SQUARE_MM = 25.0


@dataclass(frozen=True)
class Board:
    """One photo of a board: its inner corners in the photo and on the board."""

    name: str
    photo: Photo
    rows: int
    columns: int
    corners_px: np.ndarray

    @property
    def corners_mm(self):
        """(N, 2) x right along a row, y up, as the board is seen."""
        return np.array(
            [(c * SQUARE_MM, -r * SQUARE_MM) for r in range(self.rows) for c in range(self.columns)]
        )

    def block(self):
        """Indices (3, 3) of the corners of 2 x 2 squares at the board's first corner."""
        return np.arange(3)[:, None] * self.columns + np.arange(3)


def oriented(name, photo, rows, columns, corners_px):
    """Board with its corners running clockwise from its own top-left as seen."""
    grid = np.asarray(corners_px, float).reshape(rows, columns, 2)
    across, down = grid[0, -1] - grid[0, 0], grid[-1, 0] - grid[0, 0]
    if across[0] * down[1] - across[1] * down[0] < 0:
        grid = grid[:, ::-1]
    return Board(name, photo, rows, columns, grid.reshape(-1, 2))


def located(grey, grid_px):
    """Corners (N, 2) of a board located in its photo, from a grid (rows, columns, 2) near them.

    The window reaches a quarter of a square, so that no neighbour's edges are in it.
    """
    steps = [np.linalg.norm(np.diff(grid_px, axis=axis), axis=2).min() for axis in (0, 1)]
    reach = int(np.clip(min(steps) / 4, 2, 8))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 50, 1e-4)
    start = np.asarray(grid_px, np.float32).reshape(-1, 1, 2).copy()
    found = cv2.cornerSubPix(grey, start, (reach, reach), (-1, -1), stop)
    return found.reshape(-1, 2).astype(float)


def opencv_boards(side, columns=9, rows=6):
    """Boards found in one camera's sample pictures."""
    boards = []
    for path in sorted(OPENCV_SAMPLES.glob(f"{side}[01][0-9].jpg")):
        grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        found, corners = cv2.findChessboardCorners(grey, (columns, rows))
        if not found:
            continue
        corners = located(grey, np.reshape(corners, (rows, columns, 2)))
        photo = Photo(np.repeat(grey[..., None], 3, axis=2), camera=f"sample {side}")
        boards.append(oriented(path.stem, photo, rows, columns, corners))
    return boards


def block_reference(board):
    """The first block of 2 x 2 squares as a reference with nine marks."""
    index = board.block()
    outer = index[[0, 0, -1, -1], [0, -1, -1, 0]]
    marks = board.corners_mm[index.ravel()]
    return Reference(
        "custom",
        board.corners_px[outer],
        2 * SQUARE_MM,
        2 * SQUARE_MM,
        marks_px=board.corners_px[index.ravel()],
        marks_mm=marks - marks.mean(axis=0),
        size_sigma_mm=0.0,
    )


def relative_errors(board, predicted_mm):
    """Error of each predicted corner as a share of its distance from the block's centre."""
    index = board.block().ravel()
    centre = board.corners_mm[index].mean(axis=0)
    rest = np.setdiff1d(np.arange(len(board.corners_mm)), index)
    true = board.corners_mm[rest] - centre
    return np.hypot(*(predicted_mm[rest] - true).T) / np.hypot(*true.T)


def textbook(board):
    """Corners predicted by a plain homography of the block's four outer corners."""
    index = board.block()
    outer = index[[0, 0, -1, -1], [0, -1, -1, 0]]
    marks = board.corners_mm - board.corners_mm[index.ravel()].mean(axis=0)
    matrix = cv2.getPerspectiveTransform(
        board.corners_px[outer].astype(np.float32), marks[outer].astype(np.float32)
    )
    return cv2.perspectiveTransform(board.corners_px[None].astype(np.float64), matrix)[0]


def in_block_axes(plane, points_px):
    """Wall mm of photo points, turned from level to the reference's own axes."""
    turn = np.radians(plane.reference_tilt_deg)
    c, s = np.cos(turn), np.sin(turn)
    return plane.to_wall(points_px) @ np.array([[c, -s], [s, c]])


UNCORRECTED = ModelTerms(
    k1_sigma=0.2,
    k2_sigma=0.15,
    mark_sigma_px=0.15,
    stand_off_sigma_mm=0.0,
    flatness_sigma_mm=0.0,
    tilt_sigma_deg=180.0,
)
"""A plain camera whose pictures nobody corrected; a board turned any way; marks on the board."""


def outer_rows(board, sigma_px):
    """The board's four outer rows of corners, known to be straight and nothing more."""
    grid = board.corners_px.reshape(board.rows, board.columns, 2)
    rows = [grid[0], grid[-1], grid[:, 0], grid[:, -1]]
    return Marks(
        lines=tuple(
            DrawnLine(tuple(r[0]), tuple(r[-1]), "straight", tuple(map(tuple, r[1:-1])), sigma_px)
            for r in rows
        ),
        find_lines=False,
    )


def profile_from(boards):
    """Lens profile from several boards of one camera."""
    height, width = boards[0].photo.pixels.shape[:2]
    views = [(b.corners_mm, b.corners_px) for b in boards]
    return calibrate_lens(views, width, height, boards[0].photo.camera)


CHI_SQUARE_95 = 5.991
"""95 % point of chi-square with two degrees of freedom (any table)."""


def share_inside(board, plane):
    """Share of the other corners inside their 95 % regions, in the block's own axes."""
    index = board.block().ravel()
    rest = np.setdiff1d(np.arange(len(board.corners_mm)), index)
    true = board.corners_mm[rest] - board.corners_mm[index].mean(axis=0)
    off = in_block_axes(plane, board.corners_px)[rest] - true
    turn = np.radians(plane.reference_tilt_deg)
    c, s = np.cos(turn), np.sin(turn)
    axes = np.array([[c, s], [-s, c]])
    spread = plane.covariance(plane.to_wall(board.corners_px)[rest], frame="reference")
    spread = axes @ spread @ axes.T
    inside = np.einsum("ni,nij,nj->n", off, np.linalg.inv(spread), off) <= CHI_SQUARE_95
    return float(inside.mean())


def planes(board, profile, sigma_px=0.15):
    """The board's plane with a profile, and from the single photo."""
    reference = block_reference(board)
    known = fit_wall_plane(
        board.photo, [reference], Marks(find_lines=False), terms=UNCORRECTED, lens_profile=profile
    )
    single = fit_wall_plane(
        board.photo, [reference], outer_rows(board, sigma_px), terms=UNCORRECTED
    )
    return known, single


def mean_errors(board, profile, sigma_px=0.15):
    """Mean relative error of the textbook way, with a profile, and from the single photo."""
    known, single = planes(board, profile, sigma_px)
    return [
        relative_errors(board, predicted).mean()
        for predicted in (
            textbook(board),
            in_block_axes(known, board.corners_px),
            in_block_axes(single, board.corners_px),
        )
    ]
