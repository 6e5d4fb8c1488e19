"""Feet of walls painted through a known camera: where floors are, and nothing that is not one.

A phone is held between chest and eyes, a sheet taped at eye height, skirting boards are 45 to
240 mm high and stand 15 mm off the wall: common practice, no source.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from visualiser import Photo, WallPlane
from visualiser.geometry import Rect
from visualiser.rectification.lens import Lens
from visualiser.rectification.projection import rotation_from_vector
from visualiser.survey.floor import skirting_floor

WIDTH, HEIGHT = 1600, 1200
SHEET_UP_MM, CAMERA_UP_MM = 1500.0, 1450.0
OAK, CREAM, WHITE, NAVY = (120, 88, 58), (206, 198, 182), (226, 226, 222), (52, 64, 92)


def plane_at(yaw_deg):
    """A camera 3 m off the wall; the wall's millimetres have the sheet's middle at (0, 0)."""
    flip = np.diag([1.0, -1.0, -1.0])
    rotation = rotation_from_vector(np.array([0.12, np.radians(yaw_deg), 0.01])) @ flip
    centre = np.array([200.0 + 3000 * np.tan(np.radians(yaw_deg)), CAMERA_UP_MM - SHEET_UP_MM, 3e3])
    plane = WallPlane(
        Lens(1100.0, 799.5, 599.5, 0.0),
        rotation,
        -rotation @ centre,
        np.zeros((4, 2)),
        0.0,
        np.eye(11) * 1e-8,
    )
    sheet = Rect.from_centre(0.0, 0.0, 210.0, 297.0)
    return replace(plane, reference_corners_px=plane.to_photo(sheet.corners()))


def paint(plane, quads, grain=2.0):
    """Fill four-cornered shapes in space (x, y up from the floor, z off the wall) in turn."""
    pixels = np.full((HEIGHT, WIDTH, 3), 128, np.uint8)
    for corners, rgb in quads:
        world = np.array(corners, float) - [0.0, SHEET_UP_MM, 0.0]
        camera = plane.camera_mm
        # Through the eye onto the wall: where it is seen on the wall's own plane.
        seen = camera + (world - camera) * (camera[2] / (camera[2] - world[:, 2]))[:, None]
        px = np.round(plane.to_photo(seen[:, :2]) * 64).astype(np.int32)
        cv2.fillConvexPoly(pixels, px, rgb, cv2.LINE_AA, 6)
    light = cv2.GaussianBlur(pixels.astype(np.float32), (0, 0), 0.8)
    light += np.random.default_rng(4).normal(0, grain, light.shape)
    return Photo(np.clip(np.round(light), 0, 255).astype(np.uint8))


def upright(x0, x1, y0, y1, z=0.0):
    return [(x0, y1, z), (x1, y1, z), (x1, y0, z), (x0, y0, z)]


def lying(x0, x1, z0, z1):
    return [(x0, 0, z0), (x1, 0, z0), (x1, 0, z1), (x0, 0, z1)]


def boards(tones, wide_mm=120.0):
    """A floor of boards that run along the wall, each of its own tone, dark joints between."""
    out = []
    for k, tone in enumerate(tones):
        rgb = tuple(int(c * tone) for c in OAK)
        out.append((lying(-4000, 4000, k * wide_mm, (k + 1) * wide_mm - 4), rgb))
    return [(lying(-4000, 4000, 0, 1900), (60, 44, 30)), *out]


FLOOR = boards(np.random.default_rng(2).uniform(0.88, 1.12, 15))
RUG = [(lying(-900, 900, 700, 1500), (190, 176, 150)), (lying(-820, 820, 760, 1440), (96, 58, 52))]


def room(wall, skirting=(WHITE, 110.0), things=()):
    board = []
    if skirting is not None:
        rgb, high = skirting
        board = [(upright(-4000, 4000, 0, high, 15.0), rgb)]
    sheet = (upright(-105, 105, SHEET_UP_MM - 148.5, SHEET_UP_MM + 148.5), (238, 240, 244))
    back = (upright(-4000, 4000, 0, 3000), wall)
    return [back, *FLOOR, *RUG, *board, sheet, *things]


SOFA = [(upright(-1000, 1100, 60, 800, 700.0), (74, 104, 96))]


def error_mm(floor):
    """How far off the floor is; its height is the sheet's own below the plane's zero."""
    return floor.y_mm + SHEET_UP_MM


@pytest.mark.parametrize("yaw_deg", [0.0, 18.0])
@pytest.mark.parametrize("wall", [NAVY, CREAM, WHITE])
def test_the_floor_below_a_board_and_not_a_board_of_the_floor(wall, yaw_deg):
    plane = plane_at(yaw_deg)
    floor = skirting_floor(paint(plane, room(wall)), plane)
    assert floor is not None
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm
    assert floor.sigma_mm < 12


@pytest.mark.parametrize("high_mm", [70.0, 180.0])
def test_boards_of_other_heights(high_mm):
    plane = plane_at(10.0)
    floor = skirting_floor(paint(plane, room(NAVY, (WHITE, high_mm))), plane)
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm


def test_a_wall_without_a_board():
    plane = plane_at(10.0)
    floor = skirting_floor(paint(plane, room(CREAM, None)), plane)
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm


def test_beside_a_sofa_and_under_a_picture():
    plane = plane_at(0.0)
    picture = (upright(900, 1500, 1000, 1700, 20.0), (30, 30, 30))
    floor = skirting_floor(paint(plane, room(NAVY, things=[*SOFA, picture])), plane)
    assert abs(error_mm(floor)) < 2 * floor.sigma_mm


def test_nothing_where_furniture_hides_it_or_the_photo_ends_above_it():
    plane = plane_at(0.0)
    wide = [(upright(-4000, 4000, 0, 830, 600.0), (120, 90, 60))]
    cushions = [(upright(-4000, 4000, 0, 640, 620.0), (96, 72, 48))]
    assert skirting_floor(paint(plane, room(CREAM, things=[*wide, *cushions])), plane) is None
    whole = paint(plane, room(NAVY))
    cut = int(plane.to_photo(np.array([[0.0, 300.0 - SHEET_UP_MM]]))[0, 1])
    assert skirting_floor(Photo(whole.pixels[:cut]), plane) is None


def test_not_the_floor_of_one_who_lies_on_it():
    """A plinth as high as a table, with the phone above it, would put the camera at the knee."""
    plane = plane_at(0.0)
    shelf = [
        (upright(-4000, 4000, 0, 900, 1.0), OAK),
        (upright(-4000, 4000, 900, 1010, 15.0), WHITE),
    ]
    assert skirting_floor(paint(plane, room(NAVY, None, things=shelf)), plane) is None
