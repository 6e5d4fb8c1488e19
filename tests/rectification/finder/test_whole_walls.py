"""The printed target and lone markers on photographs of whole walls, six metres across."""

from itertools import product
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest

import visualiser as vis
from tests.rectification.finder.whole_walls import wall_photo
from visualiser.errors import SizeError
from visualiser.printing.target import target_pdf
from visualiser.sizes import paper_size

ROOMS = Path(__file__).resolve().parents[3] / "sample_photos" / "photos"
VIEWS = [  # long side px, metres of wall it shows
    (4000, 6000.0),
    (1632, 4000.0),
    (4000, 3500.0),
]
PLACES = [(-0.2, 0.05, 12.0, 1.0), (0.05, -0.03, -28.0, 92.0), (0.25, 0.08, 20.0, 181.0)]


def room(name: str, long_side: int) -> np.ndarray:
    pixels = vis.load_photo((ROOMS / f"{name}.jpg").read_bytes()).pixels
    zoom = long_side / max(pixels.shape)
    return cv2.resize(pixels, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)


def page(paper: str) -> np.ndarray:
    document = pypdfium2.PdfDocument(target_pdf(paper))
    grey = np.array(document[0].render(scale=200 / 72).to_numpy()[..., 0])
    document.close()
    return np.clip(grey, 20, 235)


def over_two_metres_mm(plane, to_photo) -> float:
    """Largest error of a length of two metres, left, right, up and down from the page."""
    ends = np.array([[0.0, 0], [2000, 0], [-2000, 0], [0, 1000], [0, -1000]])
    shown = np.c_[ends, np.ones(5)] @ to_photo.T
    measured = plane.to_wall(shown[:, :2] / shown[:, 2:])
    lengths = np.linalg.norm(measured[1:] - measured[0], axis=1)
    return float(np.abs(lengths - np.linalg.norm(ends[1:], axis=1)).max())


def marks_off_px(reference, to_photo) -> np.ndarray:
    """How far each mark lies from where it was drawn (N,), whichever way up it was taken."""
    marks, tried = reference.marks_mm, []
    for _ in range(4):
        shown = np.c_[marks, np.ones(len(marks))] @ to_photo.T
        off = shown[:, :2] / shown[:, 2:] - reference.marks_px
        tried.append(np.linalg.norm(off, axis=1))
        marks = np.c_[-marks[:, 1], marks[:, 0]]
    return min(tried, key=np.max)


@pytest.mark.slow
@pytest.mark.parametrize(("view", "place"), list(product(VIEWS, PLACES)))
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_target_is_found_across_a_whole_wall(paper, view, place):
    check_target(paper, view, place)


@pytest.mark.parametrize(
    ("paper", "view", "place"),
    [("a4", VIEWS[0], PLACES[0]), ("letter", VIEWS[1], PLACES[1])],
)
def test_the_target_is_found_six_metres_and_four_metres_across(paper, view, place):
    check_target(paper, view, place)


def check_target(paper, view, place):
    (long_side, view_mm), (x, y, yaw, turn) = view, place
    size = paper_size(paper)
    rng = np.random.default_rng(round(1000 * x + yaw + long_side))
    photo, to_photo = wall_photo(
        page(paper),
        (size.width_mm, size.height_mm),
        room(["boot-room", "reading-room", "landing"][long_side % 3], long_side),
        view_mm=view_mm,
        yaw_deg=yaw,
        turn_deg=turn,
        at=(x, y),
        light=rng.uniform(0.45, 0.95),
        blur_px=0.8,
        noise=2.5,
        quality=85,
        rng=rng,
    )
    kind = "target" if paper == "a4" else "target-letter"
    found = vis.find_references(photo, kind)
    assert found
    assert found[0].confidence > 0.9
    # Only the camera and the page: the room's own lines belong to another wall than the drawn one.
    plane = vis.fit_wall_plane(photo, found, vis.Marks(find_lines=False))
    stated = np.sqrt(np.linalg.eigvalsh(plane.covariance(np.array([[2000.0, 0]])))[0, -1])
    # A page of 0.2 m alone carries two metres to a few centimetres at best; the ± says so.
    assert over_two_metres_mm(plane, to_photo) < 1.96 * stated
    assert over_two_metres_mm(plane, to_photo) < 40.0
    # What it rests on is known to a few hundredths of a pixel, as each mark's sigma says.
    off_px = marks_off_px(found[0], to_photo)
    assert np.sqrt(np.mean((off_px / found[0].marks_sigma_px) ** 2)) < 2.0
    assert off_px.max() < 0.15


@pytest.mark.parametrize(
    "name",
    ["DICT_4X4_50", "DICT_6X6_250", "DICT_APRILTAG_16h5", "DICT_APRILTAG_36h11"],
)
def test_a_published_marker_of_a_typed_size_is_a_reference(name):
    """Markers as OpenCV draws them from the dictionaries that ArUco and AprilTag published."""
    marker = cv2.aruco.generateImageMarker(
        cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, name)), 7, 900
    )
    sheet = np.pad(np.clip(marker, 20, 235), 150, constant_values=235)  # 120 mm of 160 mm
    rng = np.random.default_rng(2)
    photo, to_photo = wall_photo(
        sheet,
        (160.0, 160.0),
        room("boot-room", 1632),
        view_mm=2500.0,
        yaw_deg=18.0,
        turn_deg=95.0,
        at=(0.1, 0.02),
        light=0.8,
        blur_px=0.8,
        noise=2.0,
        quality=88,
        rng=rng,
    )
    (found,) = vis.find_references(photo, "marker 120 mm")
    assert found.width_mm == 120.0
    half = np.array([[-60.0, 60], [60, 60], [60, -60], [-60, -60]])
    shown = np.c_[half, np.ones(4)] @ to_photo.T
    true_px = shown[:, :2] / shown[:, 2:]
    off = [
        np.linalg.norm(np.roll(true_px, k, axis=0) - found.corners_px, axis=1).max()
        for k in range(4)
    ]
    assert min(off) < 0.15


def test_no_marker_is_read_in_a_room_without_one():
    photo = vis.load_photo((ROOMS / "reading-room.jpg").read_bytes())
    assert vis.find_references(photo, "marker 100 mm") == []
    assert vis.find_references(photo, "target") == []


@pytest.mark.parametrize("typed", ["marker 5 mm", "marker 9 m"])
def test_a_marker_too_small_or_large_is_refused(typed):
    photo = vis.load_photo((ROOMS / "reading-room.jpg").read_bytes())
    with pytest.raises(SizeError, match="cannot be measured from"):
        vis.find_references(photo, typed)
