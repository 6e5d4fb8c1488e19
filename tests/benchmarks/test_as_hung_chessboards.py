"""The as-hung check on real photographs: squares of a printed board as pieces of a group.

A printed chessboard is a plane with rectangles of known size at known places, so a plan that has
its squares where the board has them must be found hung as planned, within the half-widths told;
and a square planned elsewhere must be told to be off by just that. OpenCV's sample pictures come
with Debian's ``opencv-doc`` (Apache 2 licence); the lens is calibrated from the camera's other
pictures, the plane is fitted to 2 x 2 squares in the board's corner, none of which is checked.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.synthetic.chessboards import (
    OPENCV_SAMPLES,
    SQUARE_MM,
    UNCORRECTED,
    block_reference,
    opencv_boards,
    profile_from,
)
from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.as_hung.check import check_as_hung
from visualiser.errors import VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.rectification.fit import fit_wall_plane
from visualiser.rectification.marks import Marks

ENLARGED = 8.0
"""The board is taken for a wall this many times its size, as wide as a small group of frames."""
MOVED_MM = 30.0
"""Much less than a square, or the one beside it would be the nearer."""


def enlarged_plane(board, profile):
    """Plane of the board in its own axes, from 2 x 2 squares, as if all were ENLARGED."""
    plane = fit_wall_plane(
        board.photo,
        [block_reference(board)],
        Marks(find_lines=False),
        terms=UNCORRECTED,
        lens_profile=profile,
    )
    turn = np.radians(plane.reference_tilt_deg)
    c, s = np.cos(turn), np.sin(turn)
    scale = np.ones(len(plane.parameter_covariance))
    scale[3:6] = ENLARGED
    # The board's own edges are its level here: its turn about its normal is known from the block.
    across = np.eye(len(scale))
    across[:3, :3] -= np.outer(plane.rotation[:, 2], plane.rotation[:, 2])
    covariance = across @ plane.parameter_covariance @ across.T * np.outer(scale, scale)
    covariance[:3, :3] += 0.01**2 * np.outer(plane.rotation[:, 2], plane.rotation[:, 2])
    return replace(
        plane,
        rotation=plane.rotation @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]),
        translation_mm=plane.translation_mm * ENLARGED,
        parameter_covariance=covariance,
        level_sigma_deg=90.0,
        flatness_sigma_mm=0.0,
    )


def dark_squares(board):
    """Centres (N, 2) mm, enlarged, of the dark squares outside the block, from its centre."""
    grid = board.corners_px.reshape(board.rows, board.columns, 2)
    middles = (grid[:-1, :-1] + grid[1:, 1:]) / 2
    rows, columns = middles.shape[:2]
    level = np.array(
        [
            [board.photo.pixels[round(y), round(x), 0] for x, y in row]
            for row in middles
        ],
        float,
    )  # fmt: skip
    even = (np.add.outer(np.arange(rows), np.arange(columns)) % 2) == 0
    dark = even if level[even].mean() < level[~even].mean() else ~even
    return np.array(
        [
            ((c - 0.5) * SQUARE_MM, (0.5 - r) * SQUARE_MM)
            for r, c in np.argwhere(dark)
            if (r > 1 or c > 1) and (r + c) % 4 < 2
        ]
    ) * ENLARGED  # fmt: skip


def deviations(board, profile, moved=None):
    """What the check tells of the board's squares, (N, 3), and its half-widths (N, 3)."""
    size = SQUARE_MM * ENLARGED
    centres = dark_squares(board)
    pieces = tuple(
        Piece(f"S{k}", size, size, moulding=None, depth_mm=0.0) for k in range(len(centres))
    )
    if moved is not None:
        centres[moved, 0] += MOVED_MM
    plan = Arrangement(
        pieces,
        tuple(
            Placement(p.id, float(x), float(y)) for p, (x, y) in zip(pieces, centres, strict=True)
        ),
    )
    report = check_as_hung(board.photo, plan, plane=enlarged_plane(board, profile))
    seen = [p for p in report.pieces if np.isfinite(p.dx_mm)]
    told = np.array([[p.dx_mm, p.dy_mm, p.tilt_deg] for p in seen])
    half = np.array([[p.dx_half_width_mm, p.dy_half_width_mm, p.tilt_half_width_deg] for p in seen])
    still = np.array([p.piece_id != f"S{moved}" for p in seen])
    return told, half, still, len(pieces)


@pytest.mark.benchmark
@pytest.mark.timeout(1800)
@pytest.mark.skipif(not OPENCV_SAMPLES.is_dir(), reason="Debian's opencv-doc is not installed")
@pytest.mark.parametrize("side", ["left", "right"])
def test_squares_of_a_board_hang_as_printed(side):
    boards = opencv_boards(side)
    rest, widths, lost, planned = [], [], 0, 0
    shifts = []
    for board in boards:
        profile = profile_from([b for b in boards if b is not board])
        try:
            told, half, still, count = deviations(board, profile, moved=3)
        except VisualiserError as error:
            print(f"{board.name}: {error}")
            continue
        centred = told[still] - [*told[still, :2].mean(axis=0), np.median(told[still, 2])]
        shifts.append(
            float((told[~still, 0] - told[still, 0].mean())[0]) if (~still).any() else np.nan
        )
        rest.append(centred)
        widths.append(half[still])
        lost += count - len(told)
        planned += count
        mm_per_px = SQUARE_MM * ENLARGED / np.hypot(*(board.corners_px[1] - board.corners_px[0]))
        print(
            f"{board.name}: {len(told)}/{count} squares, {mm_per_px:.1f} mm a pixel, offset "
            f"median {np.median(np.abs(centred[:, :2])):.2f} mm, worst "
            f"{np.abs(centred[:, :2]).max():.2f}, half-width {np.median(half[:, :2]):.2f}, "
            f"moved {shifts[-1]:.1f} of {-MOVED_MM:.0f}"
        )
    off, half = np.abs(np.vstack(rest)), np.vstack(widths)
    held = (off <= half).mean(axis=0)
    print(
        f"{side}: {len(rest)} photos, {planned - lost} of {planned} squares; offset "
        f"{np.median(off[:, :2]):.2f} / {np.percentile(off[:, :2], 95):.2f} mm, tilt "
        f"{np.median(off[:, 2]):.2f} / {np.percentile(off[:, 2], 95):.2f} degrees; half-widths "
        f"hold {100 * held[:2].mean():.0f} % and {100 * held[2]:.0f} %"
    )
    assert len(rest) >= 10
    assert held[:2].mean() > 0.9
    assert np.nanmedian(np.abs(np.array(shifts) + MOVED_MM)) < 4.0
