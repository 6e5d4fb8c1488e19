"""Photographs of walls drawn exactly, fast, with everything about them known.

Every border is a straight edge in space. Its signed distance to each pixel is worked out through
the lens, and the step across it is a Gaussian's integral: so edges lie where the camera model puts
them, to a thousandth of a pixel, whatever the blur. Light, noise, tone and JPEG come after.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from scipy.interpolate import RectBivariateSpline
from scipy.special import ndtr

A4_MM = (210.0, 297.0)
PAPER_RGB = (0.80, 0.80, 0.82)
PIXEL_SIGMA_PX = np.sqrt(1 / 12)
"""Standard deviation of a square pixel's own blur."""
FRAME_PARTS = ((1.0, (0.05, 0.04, 0.03)), (0.9, (0.6, 0.58, 0.5)), (0.6, (0.2, 0.1, 0.3)))
"""Moulding, mat and print: share of the outer size and colour."""


@dataclass(frozen=True)
class Scene:
    """One photo's truth. Wall mm: origin at the sheet's centre, x right, y up, z to the viewer."""

    width_px: int
    height_px: int
    focal_px: float
    centre_px: tuple[float, float]
    k1: float
    k2: float
    rotation: np.ndarray
    translation_mm: np.ndarray
    sheet_tilt_deg: float
    sheet_mm: tuple[float, float]
    floor_y_mm: float
    ceiling_y_mm: float
    left_x_mm: float
    right_x_mm: float
    lines: bool
    door_x_mm: float | None
    frames: tuple[tuple[float, float, float, float, float], ...] = ()
    """Pictures on the wall as (x, y, width, height, tilt in degrees)."""
    second_sheet_mm: tuple[float, float, float] | None = None
    """Centre and tilt of another sheet of the same size."""
    wall_rgb: tuple[float, float, float] = (0.35, 0.35, 0.35)
    blur_px: float = 0.7
    noise: float = 0.004
    shot_noise: float = 0.012
    sharpen: float = 0.2
    jpeg_quality: int = 90
    light: tuple[float, float] = (0.0, 0.0)
    focal_stated: float | None = None
    bloom_px: float = 0.0
    """How far bright paper spreads over its edges."""
    stand_off_mm: float = 0.0
    """How far the paper hangs off the wall."""
    seed: int = 0
    extra: dict = field(default_factory=dict)

    @property
    def position_mm(self):
        return -self.rotation.T @ self.translation_mm

    def project(self, xyz_mm):
        """Room points (N, 3) to photo px (N, 2): pinhole and Brown's k1, k2."""
        p = np.atleast_2d(xyz_mm) @ self.rotation.T + self.translation_mm
        ray = p[:, :2] / p[:, 2:]
        r2 = (ray**2).sum(axis=1, keepdims=True)
        return ray * (1 + self.k1 * r2 + self.k2 * r2**2) * self.focal_px + self.centre_px

    def to_photo(self, points_mm):
        points_mm = np.atleast_2d(points_mm)
        return self.project(np.c_[points_mm, np.zeros(len(points_mm))])

    def undistort(self, points_px):
        """Photo px (N, 2) to pinhole rays (N, 2), by fixed-point iteration."""
        target = (np.asarray(points_px, float) - self.centre_px) / self.focal_px
        ray = target.copy()
        for _ in range(60):
            r2 = (ray**2).sum(axis=1, keepdims=True)
            ray = target / (1 + self.k1 * r2 + self.k2 * r2**2)
        return ray

    def turned(self, x, y, width, height, degrees):
        """Corners (4, 2) of a turned rectangle: top-left, top-right, bottom-right, bottom-left."""
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        local = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * [width / 2, height / 2]
        return local @ np.array([[c, s], [-s, c]]) + [x, y]

    @property
    def sheet_corners_mm(self):
        return self.turned(0, 0, *self.sheet_mm, self.sheet_tilt_deg)

    @property
    def sheet_corners_px(self):
        return self.to_photo(self.sheet_corners_mm)

    @property
    def second_corners_mm(self):
        x, y, tilt = self.second_sheet_mm
        return self.turned(x, y, *self.sheet_mm, tilt)

    def grid_mm(self, spacing=100.0):
        """Wall points inside the picture and on the wall."""
        xs = np.arange(np.ceil(self.left_x_mm / spacing), self.right_x_mm / spacing) * spacing
        ys = np.arange(np.ceil(self.floor_y_mm / spacing), self.ceiling_y_mm / spacing) * spacing
        points = np.array([(x, y) for x in xs for y in ys])
        flat = np.c_[points, np.zeros(len(points))] @ self.rotation.T + self.translation_mm
        ray = flat[:, :2] / flat[:, 2:]
        px = self.to_photo(points)
        inside = (px > 0).all(axis=1) & (px < [self.width_px - 1, self.height_px - 1]).all(axis=1)
        return points[inside & (flat[:, 2] > 200) & (np.abs(ray) < 1.2).all(axis=1)]


def draw_scene(seed, *, lines=True, long_side=2000, tilt_sigma_deg=1.5, second=False, clutter=True):
    """Draw one scene's truth from a seed."""
    rng = np.random.default_rng([2024, seed])
    portrait = rng.random() < 0.3
    width, height = (long_side * 3 // 4, long_side) if portrait else (long_side, long_side * 3 // 4)
    focal_35mm = rng.uniform(24, 28)
    focal = focal_35mm / 43.267 * np.hypot(width, height)
    while True:
        distance = rng.uniform(2300, 3800)
        yaw, pitch, roll = np.radians(rng.uniform([-32, -10, -3], [32, 10, 3]))
        # Where the optical axis meets the wall, seen from the sheet.
        aim = rng.normal(0, [450, 200])
        forward = np.array(
            [np.sin(yaw) * np.cos(pitch), np.sin(pitch), -np.cos(yaw) * np.cos(pitch)]
        )
        right = np.cross(forward, [0, 1.0, 0])
        right /= np.linalg.norm(right)
        up = np.cross(right, forward)
        right, up = (
            np.cos(roll) * right - np.sin(roll) * up,
            np.cos(roll) * up + np.sin(roll) * right,
        )
        rotation = np.array([right, -up, forward])
        position = np.array([*aim, 0.0]) - forward * distance / -forward[2]
        position[2] = distance
        k1, k2 = rng.uniform(-0.08, 0.08), rng.uniform(-0.015, 0.015)
        scene = Scene(
            width, height, focal,
            tuple(np.array([width - 1, height - 1]) / 2 + rng.normal(0, 0.003 * width, 2)),
            k1, k2, rotation, -rotation @ position,
            sheet_tilt_deg=float(rng.normal(0, tilt_sigma_deg)),
            sheet_mm=A4_MM if rng.random() < 0.7 else A4_MM[::-1],
            floor_y_mm=-rng.uniform(1300, 1650), ceiling_y_mm=rng.uniform(900, 1200),
            left_x_mm=-rng.uniform(1400, 2600), right_x_mm=rng.uniform(1400, 2600),
            lines=lines,
            door_x_mm=rng.choice([-1, 1]) * rng.uniform(900, 1500) if rng.random() < 0.5 else None,
            frames=tuple(
                (*rng.uniform([-900, 420], [900, 580]), 320.0, 420.0, rng.normal(0, 1.0))
                for _ in range(int(rng.integers(0, 3)))
            ) if clutter else (),
            second_sheet_mm=(rng.choice([-1, 1]) * 1300, *rng.normal(0, [60, 1.5]))
            if second else None,
            wall_rgb=tuple(rng.choice([0.06, 0.2, 0.4]) * rng.uniform(0.8, 1.2, 3)),
            blur_px=rng.uniform(0.55, 0.95), noise=rng.uniform(0.002, 0.006),
            shot_noise=rng.uniform(0.006, 0.018), sharpen=rng.uniform(0.0, 0.3),
            jpeg_quality=int(rng.integers(86, 95)),
            light=tuple(rng.uniform(-0.15, 0.15, 2)), seed=seed,
            focal_stated=focal * (1 + rng.normal(0, 0.015)),
        )  # fmt: skip
        corners = scene.sheet_corners_px
        if second:
            corners = np.r_[corners, scene.to_photo(scene.second_corners_mm)]
        margin = 0.04 * long_side
        if (corners > margin).all() and (corners < [width - margin, height - margin]).all():
            return scene


class _Canvas:
    """Pixels' rays, and painting of regions bounded by straight edges in space."""

    def __init__(self, scene):
        self.scene = scene
        h, w = scene.height_px, scene.width_px
        ys, xs = np.linspace(0, h - 1, h // 24), np.linspace(0, w - 1, w // 24)
        gy, gx = np.meshgrid(ys, xs, indexing="ij")
        rays = scene.undistort(np.c_[gx.ravel(), gy.ravel()])
        self.x, self.y = (
            RectBivariateSpline(ys, xs, rays[:, i].reshape(gx.shape))(np.arange(h), np.arange(w))
            .astype(np.float64) for i in (0, 1)
        )  # fmt: skip
        self.light = np.empty((h, w, 3), np.float32)

    def inside(self, point, direction, towards, box=np.s_[:, :]):
        """Share of each pixel on the side of a space line where another point lies."""
        s = self.scene
        p, t = (s.rotation @ np.asarray(v, float) + s.translation_mm for v in (point, towards))
        normal = np.cross(p, s.rotation @ np.asarray(direction, float))
        normal = normal * np.sign(normal @ t)
        value = normal[0] * self.x[box] + normal[1] * self.y[box] + normal[2]
        out = (value > 0).astype(np.float32)
        scale = np.hypot(normal[0], normal[1]) / s.focal_px
        sigma = np.hypot(s.blur_px, PIXEL_SIGMA_PX)
        near = np.abs(value) < 8 * sigma * scale
        near[[0, -1]] = near[:, [0, -1]] = False
        rows, columns = np.nonzero(near)
        slope_x = (value[rows, columns + 1] - value[rows, columns - 1]) / 2
        slope_y = (value[rows + 1, columns] - value[rows - 1, columns]) / 2
        gap = value[rows, columns] / np.hypot(slope_x, slope_y)
        out[rows, columns] = ndtr(gap / sigma)
        return out

    def paint(self, coverage, rgb, box=np.s_[:, :]):
        part = self.light[box]
        part += coverage[..., None] * (np.asarray(rgb, np.float32) - part)

    def polygon(self, corners_xyz, rgb):
        """Paint a convex polygon, all of it before the camera."""
        corners_xyz = np.asarray(corners_xyz, float)
        seen = self.scene.project(corners_xyz)
        size = [self.scene.width_px, self.scene.height_px]
        x0, y0 = np.clip(seen.min(0) - 12, 0, size).astype(int)
        x1, y1 = np.clip(seen.max(0) + 13, 0, size).astype(int)
        if x1 - x0 < 3 or y1 - y0 < 3:
            return
        box = np.s_[y0:y1, x0:x1]
        coverage = np.float32(1)
        for a, b in zip(corners_xyz, np.roll(corners_xyz, -1, axis=0), strict=True):
            coverage = coverage * self.inside(a, b - a, corners_xyz.mean(axis=0), box)
        self.paint(coverage, rgb, box)


def render(scene):
    """Pixels (H, W, 3) uint8 of a scene, JPEG-coded and back."""
    rng = np.random.default_rng([7, scene.seed])
    canvas = _Canvas(scene)
    canvas.light[:] = scene.wall_rgb
    if scene.lines:
        _room(canvas, scene)
    for x, y, w, h, tilt in scene.frames:
        for share, rgb in FRAME_PARTS:
            corners = scene.turned(x, y, w * share, h * share, tilt)
            canvas.polygon(np.c_[corners, np.full(4, 15.0)], rgb)
    sheets = [scene.sheet_corners_mm]
    if scene.second_sheet_mm:
        sheets.append(scene.second_corners_mm)
    for corners in sheets:
        seen = scene.to_photo(corners)
        mm_per_px = np.hypot(*(corners[1] - corners[0])) / np.hypot(*(seen[1] - seen[0]))
        middle = corners.mean(axis=0)
        grown = corners - middle
        grown = grown + np.sign(grown) * scene.bloom_px * mm_per_px + middle
        canvas.polygon(np.c_[grown, np.full(4, scene.stand_off_mm)], PAPER_RGB)
    return _develop(canvas.light, scene, rng)


def _room(canvas, scene):
    floor, top = scene.floor_y_mm, scene.ceiling_y_mm
    left, right = scene.left_x_mm, scene.right_x_mm
    out = np.array([0, 0, 1.0])
    wall_side = np.array([0.8, 0.8, 0.78], np.float32) * np.array(scene.wall_rgb, np.float32)
    for x, sign in ((left, -1), (right, 1)):
        beyond = (x + sign * 100, 0, 0)
        canvas.paint(canvas.inside((x, 0, 0), (0, 1, 0), beyond), wall_side)
    for y, sign, rgb in ((top, 1, (0.62, 0.62, 0.6)), (floor, -1, (0.22, 0.13, 0.07))):
        beyond = (0, y + sign * 100, 0)
        region = canvas.inside((0, y, 0), (1, 0, 0), beyond)
        for x in (left, right):
            # Past a corner the border is the depth line, not the wall's.
            past = canvas.inside((x, y, 0), (0, 1, 0), (2 * x, 0, 0))
            side = canvas.inside((x, y, 0), out, (0, y + sign * 100, 0))
            region = region * (1 - past) + side * past
        canvas.paint(region, rgb)
    canvas.polygon(upright(left, right, floor, floor + 110, 18), (0.7, 0.69, 0.66))
    ledge = [(left, 18), (right, 18), (right, 0), (left, 0)]
    canvas.polygon([(x, floor + 110, z) for x, z in ledge], (0.75, 0.74, 0.7))
    if scene.door_x_mm is not None:
        x, high = scene.door_x_mm, floor + 2040
        canvas.polygon(upright(x - 490, x + 490, floor, high + 70, 20), (0.66, 0.65, 0.62))
        canvas.polygon(upright(x - 420, x + 420, floor, high, 12), (0.5, 0.5, 0.5))


def upright(left, right, low, high, z):
    """Corners (4, 3) of a rectangle facing the viewer."""
    return [(left, low, z), (right, low, z), (right, high, z), (left, high, z)]


def _develop(light, scene, rng):
    """Light to JPEG: fall-off, noise, gentle sharpening after the tone curve, coding."""
    h, w = light.shape[:2]
    u = np.linspace(-1, 1, w, dtype=np.float32)[None, :, None]
    v = np.linspace(-1, 1, h, dtype=np.float32)[:, None, None]
    light = light * (1 + scene.light[0] * u + scene.light[1] * v - 0.1 * (u * u + v * v))
    sigma = np.sqrt(scene.noise**2 + (scene.shot_noise**2) * np.maximum(light, 0))
    light = light + sigma * rng.standard_normal(light.shape, np.float32)
    light = np.clip(light, 0, 1)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.power(light, 1 / 2.4) - 0.055)
    coded = coded.astype(np.float32)
    if scene.sharpen > 0:
        coded = coded + scene.sharpen * (coded - cv2.GaussianBlur(coded, (0, 0), 1.1))
    pixels = np.clip(np.round(coded * 255), 0, 255).astype(np.uint8)
    quality = [cv2.IMWRITE_JPEG_QUALITY, scene.jpeg_quality]
    ok, data = cv2.imencode(".jpg", pixels[..., ::-1], quality)
    assert ok
    return np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])
