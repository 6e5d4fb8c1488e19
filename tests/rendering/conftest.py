"""A wall seen at an angle through a distorting lens, built by hand."""

import numpy as np
import pytest

from visualiser.geometry import Polygon, Rect
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.survey.survey import Survey


def look(
    yaw_deg, pitch_deg, position_mm, width, height, focal_px, k1=0.0, k2=0.0, sheet=(210, 297)
):
    """Survey of a bare wall, 6 x 2.6 m, floor at y = 0, photographed from a position."""
    yaw, pitch = np.radians([yaw_deg, pitch_deg])
    forward = np.array([np.sin(yaw) * np.cos(pitch), np.sin(pitch), -np.cos(yaw) * np.cos(pitch)])
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    rotation = np.array([right, -np.cross(right, forward), forward])
    lens = Lens(focal_px, (width - 1) / 2 + 1.6, (height - 1) / 2 - 2.6, k1, k2)
    # The plane's origin is the sheet's centre, 0.9 m to the left of the group, 1.45 m up.
    origin = np.array([-900.0, 1450.0, 0.0])
    translation = -rotation @ (np.asarray(position_mm, float) - origin)
    half = np.array(sheet) / 2
    corners_mm = half * [[-1, 1], [1, 1], [1, -1], [-1, -1]]
    blank = WallPlane(lens, rotation, translation, np.zeros((4, 2)), 0.0, np.eye(11))
    plane = WallPlane(lens, rotation, translation, blank.to_photo(corners_mm), 0.0, np.eye(11))
    outline = Polygon.from_rect(Rect(-3000, 0, 6000, 2600))
    return Survey(outline=outline, plane=plane, datum_mm=(900.0, -1450.0))


@pytest.fixture(scope="session")
def oblique():
    """32 degrees from the side, slightly from below, wide lens with barrel distortion."""
    return look(32, 3, (-1900, 1350, 2900), 800, 600, 575, k1=-0.06, k2=0.01)


@pytest.fixture(scope="session")
def frontal():
    return look(0, 0, (0, 1450, 3000), 800, 600, 575)


def paint_wall(survey, shape, albedo=(0.62, 0.58, 0.5), noise=0.0, seed=0):
    """Photo of the bare wall with a sheet on it, lit more from the left, in pixels."""
    from visualiser.photo.linear_light import to_pixels

    height, width = shape
    gy, gx = np.mgrid[0:height, 0:width].astype(float)
    wall = survey.to_wall(np.c_[gx.ravel(), gy.ravel()])
    light = 0.75 * np.exp(-wall[:, 0] / 4000)
    linear = light[:, None] * np.asarray(albedo)
    x, y = (wall + survey.datum_mm).T
    on_sheet = (np.abs(x) < 105) & (np.abs(y) < 148.5)
    linear[on_sheet] = light[on_sheet, None] * 0.88
    linear = linear.reshape(height, width, 3).astype(np.float32)
    if noise:
        grain = np.random.default_rng(seed).standard_normal(linear.shape)
        linear = linear + (noise * np.sqrt(linear) * grain).astype(np.float32)
    return Photo(to_pixels(linear))


@pytest.fixture(scope="session")
def painted():
    made = {}

    def paint(survey, noise=0.0, albedo=(0.62, 0.58, 0.5)):
        key = (id(survey), noise, albedo)
        if key not in made:
            made[key] = paint_wall(survey, (600, 800), albedo, noise)
        return made[key]

    return paint
