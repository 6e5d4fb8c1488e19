"""Draw a photograph of two walls that meet in a corner, with everything about them known.

Rays, light and noise are those of `tests.rectification.joined.drawn_walls`: drawn, not path-traced.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.rectification.joined.drawn_walls import (
    CEILING_MM,
    FLOOR_MM,
    SHEET_MM,
    Face,
    _photograph,
    box,
    picture,
    plain,
    textured,
)
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import FLIP, CameraState, Lens, rotation_from_vector
from visualiser.rectification.reference import Reference

LENGTH_MM = 3400.0


@dataclass(frozen=True)
class DrawnCorner:
    """The photo, and the truth: camera, corner, and the second wall's axes in the first's mm."""

    photo: Photo
    camera: CameraState
    side: str
    corner_mm: float
    off_square_deg: float
    axes: np.ndarray
    """(3, 3) columns: the second wall's x, y and z."""
    far_sheet_mm: np.ndarray | None

    def beyond(self, points_mm):
        """Room points (N, 3) of places (N, 2) on the second wall."""
        points = np.asarray(points_mm, float)
        return np.c_[points, np.zeros(len(points))] @ self.axes.T + [self.corner_mm, 0, 0]

    def corner_px(self):
        """Both ends of the corner's edge, as a person would click them."""
        ends = [[self.corner_mm, CEILING_MM - 250, 0], [self.corner_mm, FLOOR_MM + 350, 0]]
        return self.camera.project(np.array(ends))[0] + [[2.0, 0.0], [-1.5, 0.0]]

    def references(self):
        """Sheets at their true corners, the first wall's first."""
        outlines = [np.c_[SHEET_MM, np.zeros(4)]]
        if self.far_sheet_mm is not None:
            outlines.append(self.beyond(self.far_sheet_mm))
        return [
            Reference.from_corners(self.camera.project(o)[0], 210.0, 297.0, "a4") for o in outlines
        ]


def draw_corner(
    seed: int, *, side: str = "right", far_sheet: bool = False, long_px: int = 1600
) -> DrawnCorner:
    """Draw a furnished corner, its second wall as little off square as walls are."""
    rng = np.random.default_rng(seed)
    sign = 1.0 if side == "right" else -1.0
    corner = sign * rng.uniform(900, 1500)
    off = float(np.radians(rng.normal(0, 0.4)))
    out = np.array([np.sin(off), 0.0, np.cos(off)])
    axes = np.column_stack([sign * out, [0, 1, 0], np.cross(sign * out, [0, 1, 0])])
    colours = rng.choice([[214, 208, 196], [186, 196, 190], [226, 222, 214]], 2)
    skins = [textured(rng, c, 0.012) for c in colours]
    high = CEILING_MM - FLOOR_MM
    left = corner - LENGTH_MM if sign > 0 else corner
    faces = [Face(np.array([left, FLOOR_MM, 0]), np.array([LENGTH_MM, 0, 0]),
                  np.array([0, high, 0]), skins[0])]  # fmt: skip
    boards = textured(rng, [150, 116, 84], 0.02)
    for k in range(0, len(boards), 90):
        boards[k : k + 3] = (boards[k : k + 3] * 0.5).astype(np.uint8)
    for y, skin in ((FLOOR_MM, boards), (CEILING_MM, plain([238, 238, 236]))):
        faces.append(Face(np.array([left - 300, y, 0]), np.array([LENGTH_MM + 600, 0, 0]),
                          np.array([0, 0, 4500.0]), skin))  # fmt: skip
    faces += box(left, FLOOR_MM, LENGTH_MM, 90, 15, plain([240, 240, 238]), plain([225] * 3))
    near = left if sign > 0 else corner
    for k in range(3):
        x = near + 200 + k * 950 + rng.uniform(0, 250)
        width, height = rng.uniform(250, 420, 2)
        if abs(x + width / 2) > 110 + width / 2 + 40:
            faces += box(
                x, rng.uniform(-100, 400), width, height, 20, picture(rng), plain([60] * 3)
            )
    faces.append(Face(np.array([-105, -148.5, 0.3]), np.array([210.0, 0, 0]),
                      np.array([0, 297.0, 0]), plain([246, 247, 247])))  # fmt: skip
    # The second wall's things in its own mm, then turned to where it stands.
    start = 0.0 if sign > 0 else -LENGTH_MM
    there = [Face(np.array([start, FLOOR_MM, 0]), np.array([LENGTH_MM, 0, 0]),
                  np.array([0, high, 0]), skins[1])]  # fmt: skip
    there += box(start, FLOOR_MM, LENGTH_MM, 90, 15, plain([240, 240, 238]), plain([225] * 3))
    for k in range(2):
        x = sign * (350 + k * 800 + rng.uniform(0, 200)) - 150
        there += box(x, rng.uniform(200, 450), 300, 350, 20, picture(rng), plain([60] * 3))
    sheet = None
    if far_sheet:
        sheet = SHEET_MM + [sign * rng.uniform(500, 900), rng.uniform(-150, 0)]
        there.append(Face(np.array([*sheet[3], 0.3]), np.array([210.0, 0, 0]),
                          np.array([0, 297.0, 0]), plain([246, 247, 247])))  # fmt: skip
    faces += [
        replace(f, corner=axes @ f.corner + [corner, 0, 0], across=axes @ f.across, up=axes @ f.up)
        for f in there
    ]
    size = (long_px, long_px * 3 // 4)
    middle = (np.array(size) - 1) / 2 + rng.normal(0, 0.003 * long_px, 2)
    lens = Lens(0.72 * long_px, float(middle[0]), float(middle[1]), k1=rng.normal(0, 0.015))
    yaw, pitch, roll = np.radians([sign * rng.uniform(16, 26), rng.normal(0, 2), rng.normal(0, 1)])
    rotation = rotation_from_vector(np.array([0, 0, roll]))
    rotation = rotation @ rotation_from_vector(np.array([pitch, 0, 0]))
    rotation = rotation @ rotation_from_vector(np.array([0, -yaw, 0])) @ FLIP
    stood = np.array([corner - sign * rng.uniform(1700, 2100), rng.uniform(-150, 50), 3100.0])
    camera = CameraState(rotation, -rotation @ stood, lens)
    pixels = _photograph(rng, faces, camera, size, 0.05, np.ones(3), corner)
    stated = lens.focal_px * float(np.exp(rng.normal(0, 0.012)))
    photo = Photo(pixels, stated, 0.015, camera="drawn")
    return DrawnCorner(photo, camera, side, corner, float(np.degrees(off)), axes, sheet)
