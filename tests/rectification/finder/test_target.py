"""The printed target is found in a drawn photo, at any turn and partly covered."""

import cv2
import numpy as np
import pytest

from visualiser.errors import MeasurementError
from visualiser.photo.linear_light import decode_srgb, encode_srgb
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.find import find_references
from visualiser.rectification.finder.target import TargetBoard, find_target, target_board
from visualiser.rectification.reference import Reference
from visualiser.sizes import paper_size

PX_PER_MM = 4.0
FOCAL_PX, SIZE_PX = 1100.0, (1200, 900)


def drawn(board: TargetBoard) -> np.ndarray:
    """The board on white paper, 20 mm around, painted from its own rectangles."""
    height, width = (int((s + 40) * PX_PER_MM) for s in (board.height_mm, board.width_mm))
    page = np.full((height, width), 235, np.uint8)
    for rect, black in board.painted():
        x0, x1 = (round((x + 20) * PX_PER_MM) for x in (rect.left_mm, rect.right_mm))
        y0, y1 = (
            round((board.height_mm - y + 20) * PX_PER_MM) for y in (rect.top_mm, rect.bottom_mm)
        )
        page[y0:y1, x0:x1] = 25 if black else 235
    return page


def photographed(board, turn_deg=0.0, yaw_deg=25.0, distance_mm=900.0, cover=()):
    """A photo of the board and the homography from its own mm (centre, y up) to px."""
    a, b = np.radians(turn_deg), np.radians(yaw_deg)
    spin = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    tilt = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    turn = np.diag([1.0, -1, -1]) @ tilt @ spin
    camera = np.array(
        [[FOCAL_PX, 0, (SIZE_PX[0] - 1) / 2], [0, FOCAL_PX, (SIZE_PX[1] - 1) / 2], [0, 0, 1]]
    )
    to_photo = camera @ np.c_[turn[:, :2], [0, 0, distance_mm]]
    page = drawn(board)
    for x0, y0, x1, y1 in cover:
        page[y0:y1, x0:x1] = 120
    height, width = page.shape
    # Page px to board mm: the centre of the first pixel is half a pixel in.
    to_mm = np.array(
        [
            [1 / PX_PER_MM, 0, (0.5 - width / 2) / PX_PER_MM],
            [0, -1 / PX_PER_MM, (height / 2 - 0.5) / PX_PER_MM],
            [0, 0, 1],
        ]
    )
    # Drawn at four times the size and averaged, as lens and sensor average light.
    larger = np.array([[4, 0, 1.5], [0, 4, 1.5], [0, 0, 1.0]])
    light = decode_srgb(page).astype(np.float32)
    big = cv2.warpPerspective(
        light,
        larger @ to_photo @ to_mm,
        (4 * SIZE_PX[0], 4 * SIZE_PX[1]),
        borderValue=float(decode_srgb(150 / 255)),
    )
    small = cv2.GaussianBlur(cv2.resize(big, SIZE_PX, interpolation=cv2.INTER_AREA), (0, 0), 0.7)
    noisy = 255 * encode_srgb(small) + np.random.default_rng(3).normal(0, 2, small.shape)
    pixels = np.clip(np.rint(noisy), 0, 255).astype(np.uint8)
    return Photo(np.dstack([pixels] * 3), focal_px=FOCAL_PX), to_photo


def mapped(matrix, points):
    shown = np.c_[points, np.ones(len(points))] @ matrix.T
    return shown[:, :2] / shown[:, 2:]


@pytest.mark.parametrize("turn_deg", [0, 37, 90, 180, 251])
@pytest.mark.parametrize("kind", ["target", "target-letter"])
def test_marks_lie_where_they_were_drawn_at_any_turn(kind, turn_deg):
    board = target_board(kind)
    photo, to_photo = photographed(board, turn_deg)
    (found,) = find_references(photo, kind)
    assert len(found.marks_px) >= 9
    # Between a tenth of a pixel and a few hundredths, as its own sigmas say.
    assert off_px(board, to_photo, found).max() < 0.15
    run = found.corners_px[1] - found.corners_px[0]
    assert run[0] > abs(run[1])


def off_px(board: TargetBoard, to_photo: np.ndarray, found: Reference) -> np.ndarray:
    """How far each mark lies from where it was drawn, (N,).

    Its own mm may be turned by quarter turns against the drawing: the photo decides what is up.
    """
    page = paper_size(board.paper)
    aside = [0.0, board.bottom_mm + board.height_mm / 2 - page.height_mm / 2]
    marks = found.marks_mm
    tried = []
    for _ in range(4):
        tried.append(np.linalg.norm(mapped(to_photo, marks - aside) - found.marks_px, axis=1))
        marks = np.c_[-marks[:, 1], marks[:, 0]]
    return min(tried, key=np.max)


@pytest.mark.parametrize(
    "cover",
    [(0, 0, 400, 1056), (0, 0, 896, 300), (0, 750, 896, 1056), (600, 0, 896, 1056)],
    ids=["left", "top", "bottom", "right"],
)
def test_a_part_of_the_page_is_enough(cover):
    board = target_board("target")
    photo, to_photo = photographed(board, cover=[cover])
    (found,) = find_references(photo, "target")
    assert 4 <= len(found.marks_px) < 20
    assert off_px(board, to_photo, found).max() < 0.3


def test_one_paper_s_board_is_not_taken_for_the_other_s():
    photo, _ = photographed(target_board("target-letter"))
    assert find_references(photo, "target") == []


def test_its_corners_are_the_page_s():
    """Heights are measured to the page's lower edge, so that is where its lower corners are."""
    board = target_board("target")
    photo, to_photo = photographed(board)
    (found,) = find_references(photo, "target")
    page = paper_size("a4")
    assert (found.width_mm, found.height_mm) == (page.width_mm, page.height_mm)
    # On the page's middle axis, as far below the board's middle as the paper reaches.
    low = -board.height_mm / 2 - board.bottom_mm
    drawn_px = mapped(to_photo, np.array([[page.width_mm / 2, low], [-page.width_mm / 2, low]]))
    assert found.corners_px[2:] == pytest.approx(drawn_px, abs=0.2)


def test_a_page_printed_small_is_measured_by_its_bar():
    photo, _ = photographed(target_board("target"))
    (full,), (small,) = find_target(photo, "target"), find_target(photo, "target", 98.6)
    assert small.marks_mm == pytest.approx(0.986 * full.marks_mm)
    # The paper itself keeps its size.
    assert small.width_mm == full.width_mm


def test_a_bar_measured_in_inches_is_refused():
    photo, _ = photographed(target_board("target"))
    with pytest.raises(MeasurementError, match="100 mm"):
        find_target(photo, "target", 3.94)
