"""Rooms painted flat through a known camera: a wall, its skirting, a floor of boards and a rug."""

from dataclasses import replace

import cv2
import numpy as np

from visualiser import Photo, WallPlane
from visualiser.geometry import Rect
from visualiser.rectification.camera.projection import Lens, rotation_from_vector

WIDTH, HEIGHT = 1600, 1200
SHEET_UP_MM, CAMERA_UP_MM = 1500.0, 1450.0
OAK, CREAM, WHITE, NAVY = (120, 88, 58), (206, 198, 182), (226, 226, 222), (52, 64, 92)


def plane_at(yaw_deg, pitch=0.12):
    """A camera 3 m off the wall; the wall's millimetres have the sheet's middle at (0, 0)."""
    flip = np.diag([1.0, -1.0, -1.0])
    rotation = rotation_from_vector(np.array([pitch, np.radians(yaw_deg), 0.01])) @ flip
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
    back = (upright(-4000, 4000, 0, 6000), wall)
    return [back, *FLOOR, *RUG, *board, sheet, *things]
