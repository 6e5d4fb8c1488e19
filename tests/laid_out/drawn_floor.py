"""Draw photographs of framed pictures on a floor or wall, with everything about them known.

Frames are boxes with mitred rails, a mat and a picture behind their lip, seen through a camera with
a lens; they cast shadows on boards, carpet, tiles or a rug. Light falls off from a window, a person
stands at the lower rim. Everything is drawn in linear light, blurred, given noise and coded as
JPEG. This is drawn, not path-traced: no light goes from one thing to another.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import decode_srgb, encode_srgb
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import FLIP, Lens, rotation_from_vector
from visualiser.rectification.quadrilaterals import clockwise
from visualiser.rectification.reference import Reference

Array = NDArray[np.float64]
Image = NDArray[np.float32]

FINISHES = {
    "black": (28, 27, 27), "white": (236, 234, 228), "oak": (193, 154, 107),
    "walnut": (92, 64, 45), "brass": (178, 146, 84), "silver": (172, 172, 174),
    "blue": (52, 74, 110), "green": (70, 96, 74),
}  # fmt: skip
SIZES_MM = (
    (150, 200), (180, 240), (200, 250), (210, 300), (240, 300), (250, 250), (300, 300),
    (300, 400), (320, 420), (400, 500), (400, 400), (500, 500), (500, 700), (600, 800),
)  # fmt: skip
"""Outside sizes in whole and odd centimetres, as frames come."""
SUPER = 4
"""Outlines are drawn so many times finer than the photo, then averaged."""


@dataclass(frozen=True)
class DrawnPiece:
    """One framed picture: its true sizes and where it lies (mm; tilt counter-clockwise)."""

    width_mm: float
    height_mm: float
    depth_mm: float
    rail_mm: float
    mat_mm: float
    x_mm: float
    y_mm: float
    tilt_deg: float
    colour: tuple[int, int, int]
    art: NDArray[np.uint8]
    mat_colour: tuple[int, int, int] = (240, 238, 232)
    kind: str = "framed"
    glare: float = 0.0

    def corners(self, inset_mm: float = 0.0) -> Array:
        """Corners (4, 2) of an inner rectangle on the floor: top-left first, clockwise."""
        w, h = self.width_mm / 2 - inset_mm, self.height_mm / 2 - inset_mm
        c, s = np.cos(np.radians(self.tilt_deg)), np.sin(np.radians(self.tilt_deg))
        local = np.array([[-w, h], [w, h], [w, -h], [-w, -h]])
        return local @ np.array([[c, -s], [s, c]]).T + [self.x_mm, self.y_mm]


@dataclass(frozen=True)
class Camera:
    """A pose over the floor and a lens."""

    rotation: Array
    translation_mm: Array
    lens: Lens
    size: tuple[int, int]

    def project(self, xyz: Array) -> Array:
        camera = xyz @ self.rotation.T + self.translation_mm
        return self.lens.to_pixels(camera[:, :2] / camera[:, 2:])

    @property
    def centre(self) -> Array:
        return -self.rotation.T @ self.translation_mm


@dataclass(frozen=True)
class DrawnFloor:
    """A photograph and its truth."""

    photo: Photo
    camera: Camera
    pieces: tuple[DrawnPiece, ...]
    sheet_px: PointsPx
    sheet_mm: Array
    """(4, 2) corners of the sheet on the floor."""
    floor: str
    notes: dict = field(default_factory=dict)


def sheet_reference(floor: DrawnFloor) -> Reference:
    """Reference at the drawn sheet's true corners, for the edges between them to be sampled."""
    corners = clockwise(floor.sheet_px[None])[0]
    first = int(np.abs(floor.sheet_px - corners[0]).sum(axis=1).argmin())
    mm = np.roll(floor.sheet_mm, -first, axis=0)
    width, height = np.linalg.norm(mm[1] - mm[0]), np.linalg.norm(mm[2] - mm[1])
    return Reference.from_corners(corners, float(width), float(height), "a4")


def camera_over(
    aim_mm: PointsPx, distance_mm: float, pitch_deg: float, roll_deg: float, long_px: int,
    *, focal: float = 0.75, k1: float = 0.0, turn_deg: float = 0.0, portrait: bool = False,
) -> Camera:  # fmt: skip
    """Place a camera that looks at a floor point from so far, leaning back from straight down."""
    size = (long_px, long_px * 3 // 4)
    if portrait:
        size = size[::-1]
    lens = Lens(focal * long_px, (size[0] - 1) / 2, (size[1] - 1) / 2, k1=k1)
    rotation = (
        rotation_from_vector(np.array([0, 0, np.radians(roll_deg)]))
        @ rotation_from_vector(np.array([-np.radians(pitch_deg), 0, 0]))
        @ FLIP
        @ rotation_from_vector(np.array([0, 0, np.radians(turn_deg)]))
    )
    ahead = rotation.T @ np.array([0, 0, 1.0])
    centre = np.array([*aim_mm, 0.0]) - distance_mm * ahead
    return Camera(rotation, -rotation @ centre, lens, size)


def random_art(rng: np.random.Generator, width: int, height: int) -> NDArray[np.uint8]:
    """Invent a picture: stripes, blobs, a landscape of bands, or strokes on paper."""
    kind = rng.integers(4)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    base = rng.uniform(30, 225, 3)
    image = np.ones((height, width, 3), np.float32) * base
    if kind == 0:
        for _ in range(rng.integers(4, 12)):
            centre = rng.uniform(0, 1, 2) * (width, height)
            radius = rng.uniform(0.05, 0.35) * max(width, height)
            inside = np.exp(-((((x - centre[0]) ** 2 + (y - centre[1]) ** 2) / radius**2) ** 2))
            image += inside[..., None] * (rng.uniform(10, 245, 3) - image)
    elif kind == 1:
        edge = np.sort(rng.uniform(0.1, 0.95, rng.integers(2, 6))) * height
        for start in edge:
            slope = rng.uniform(-0.15, 0.15)
            wave = 0.02 * height * np.sin(x / width * rng.uniform(3, 20) + rng.uniform(0, 6))
            below = 1 / (1 + np.exp(-(y - start - slope * x - wave) / 2))
            image += below[..., None] * (rng.uniform(15, 235, 3) - image)
    elif kind == 2:
        image[:] = rng.uniform(205, 240, 3)
        for _ in range(rng.integers(5, 25)):
            points = rng.uniform(0.08, 0.92, (4, 2)) * (width, height)
            cv2.polylines(
                image, [points.astype(np.int32)], False, rng.uniform(10, 160, 3).tolist(),
                int(rng.integers(1, max(3, width // 40))), cv2.LINE_AA,
            )  # fmt: skip
    else:
        for _ in range(rng.integers(3, 9)):
            a, b = np.sort(rng.uniform(0, 1, (2, 2)), axis=0) * (width, height)
            cv2.rectangle(
                image, a.astype(int).tolist(), b.astype(int).tolist(),
                rng.uniform(10, 245, 3).tolist(), -1,
            )  # fmt: skip
    grain = cv2.GaussianBlur(rng.normal(0, 14, image.shape).astype(np.float32), (0, 0), 1.5)
    return np.clip(image + grain, 4, 250).astype(np.uint8)


def floor_texture(rng: np.random.Generator, kind: str, size_mm: int = 5000) -> NDArray[np.uint8]:
    """Texture of a floor, 2 mm a sample, its middle under the group's."""
    n = size_mm // 2
    y, x = np.mgrid[0:n, 0:n].astype(np.float32) * 2
    noise = rng.normal(0, 1, (n, n)).astype(np.float32)
    if kind == "carpet":
        base = np.array(rng.choice([[150, 140, 128], [96, 100, 104], [176, 168, 150]]))
        fine = cv2.GaussianBlur(noise, (0, 0), 1.2) * 3.0
        broad = cv2.GaussianBlur(noise, (0, 0), 40) * 60
        tone = 1 + 0.07 * fine + 0.03 * broad
        return np.clip(tone[..., None] * base, 0, 255).astype(np.uint8)
    if kind == "tiles":
        side = float(rng.choice([200, 300, 333, 600]))
        turn = np.radians(rng.uniform(-45, 45))
        u, v = x * np.cos(turn) + y * np.sin(turn), -x * np.sin(turn) + y * np.cos(turn)
        i, j = np.floor(u / side).astype(int), np.floor(v / side).astype(int)
        tones = rng.uniform(0.92, 1.06, (257, 257))
        tone = tones[i % 257, j % 257].astype(np.float32)
        marble = cv2.GaussianBlur(noise, (0, 0), 12) * 14
        base = np.array(rng.choice([[205, 200, 190], [120, 112, 104], [176, 120, 92]]))
        image = (tone * (1 + 0.05 * marble))[..., None] * base
        near = np.minimum(
            np.minimum(u % side, side - u % side), np.minimum(v % side, side - v % side)
        )
        grout = np.clip((3.5 - near) / 1.5, 0, 1)[..., None]
        image += grout * (np.array([110, 105, 98]) * rng.uniform(0.5, 1.5) - image)
        return np.clip(image, 0, 255).astype(np.uint8)
    # Boards: rows of planks with a grain along them, and dark joints.
    turn = np.radians(rng.choice([0, 90, 45, rng.uniform(0, 180)]) + rng.uniform(-4, 4))
    u, v = x * np.cos(turn) + y * np.sin(turn), -x * np.sin(turn) + y * np.cos(turn)
    broad = float(rng.choice([70, 120, 180]))
    row = np.floor(v / broad).astype(int)
    starts = rng.uniform(0, 1500, 4001)[row % 4001]
    length = float(rng.choice([600, 1200, 1900]))
    column = np.floor((u + starts) / length).astype(int)
    tones = rng.normal(1, 0.08, (4001, 61)).astype(np.float32)
    tone = tones[row % 4001, column % 61]
    grain = cv2.GaussianBlur(rng.normal(0, 1, (900, 900)).astype(np.float32), (0, 0), 1.0)
    map_u, map_v = (
        (u / 26 % 896).astype(np.float32),
        ((v / 2.2 + 37 * row) % 896).astype(np.float32),
    )
    streak = cv2.remap(grain, map_u, map_v, cv2.INTER_LINEAR)
    base = np.array(rng.choice([[186, 146, 104], [128, 90, 60], [208, 186, 156], [110, 104, 98]]))
    image = (tone * (1 + 0.09 * streak))[..., None] * base
    joint = np.minimum(
        np.minimum(v % broad, broad - v % broad),
        np.minimum((u + starts) % length, length - (u + starts) % length),
    )
    image *= (1 - 0.55 * np.clip(2.0 - joint, 0, 1))[..., None]
    if kind == "rug":
        half = rng.uniform((500, 400), (1300, 1000))
        centre = size_mm / 2 + rng.uniform(-300, 300, 2)
        turn = np.radians(rng.uniform(-6, 6))
        dx, dy = x - centre[0], y - centre[1]
        p = np.abs(dx * np.cos(turn) + dy * np.sin(turn))
        q = np.abs(-dx * np.sin(turn) + dy * np.cos(turn))
        inset = np.minimum(half[0] - p, half[1] - q)
        field_colour, border, line = (rng.uniform(40, 200, 3) for _ in range(3))
        rug = np.ones_like(image) * field_colour
        figure = np.sin(p / 45) * np.sin(q / 45) > 0.35
        rug[figure] = border
        rug[inset < 160] = border
        rug[(inset < 150) & (inset > 135)] = line
        rug[(inset < 30)] = line
        rug *= (1 + 0.08 * cv2.GaussianBlur(noise, (0, 0), 1.0) * 2)[..., None]
        image = np.where((inset > 0)[..., None], rug, image)
    return np.clip(image, 0, 255).astype(np.uint8)


def lay_out(rng: np.random.Generator, count: int, most_mm: float) -> list[DrawnPiece]:
    """Lay pieces in rows, gaps of 30 to 110 mm, each a little askew, within a width."""
    rows: list[list[DrawnPiece]] = [[]]
    width = 0.0
    gap = rng.uniform(35, 100)
    common = rng.uniform() < 0.4
    finish = str(rng.choice(list(FINISHES)))
    for _ in range(count):
        w, h = SIZES_MM[rng.integers(len(SIZES_MM) - (count > 8) * 2)]
        if rng.uniform() < 0.5:
            w, h = h, w
        w, h = w + rng.uniform(-4, 4), h + rng.uniform(-4, 4)
        if width + w > most_mm and rows[-1]:
            rows.append([])
            width = 0.0
        rail = rng.uniform(10, 36)
        spare = min(w, h) - 2 * rail
        mat = rng.uniform(0.1, 0.25) * spare if rng.uniform() < 0.65 else 0.0
        art_w, art_h = (int(max(v - 2 * (rail + mat), 20)) for v in (w, h))
        colour = np.array(FINISHES[finish if common else str(rng.choice(list(FINISHES)))])
        colour = np.clip(colour * rng.uniform(0.92, 1.08, 3), 0, 250)
        mats = [(240, 238, 232), (226, 220, 204), (40, 40, 42), (170, 178, 170)]
        rows[-1].append(
            DrawnPiece(
                w, h, rng.uniform(12, 42), rail, mat, width + w / 2, 0.0,
                float(np.clip(rng.normal(0, 1.0), -3, 3)), tuple(int(v) for v in colour),
                random_art(rng, art_w, art_h), mats[rng.choice(4, p=[0.6, 0.2, 0.1, 0.1])],
                glare=float(rng.uniform(0, 0.06)) if rng.uniform() < 0.5 else 0.0,
            )
        )  # fmt: skip
        width += w + gap + rng.uniform(-6, 25)
    placed, top = [], 0.0
    for row in rows:
        high = max(p.height_mm for p in row)
        shift = -row[-1].x_mm / 2 - row[-1].width_mm / 4
        for piece in row:
            off = rng.uniform(-8, 8) + (high - piece.height_mm) * rng.choice([-0.5, 0.0, 0.5])
            placed.append(replace(piece, x_mm=piece.x_mm + shift, y_mm=top - high / 2 + off))
        top -= high + gap + rng.uniform(10, 30)
    bounds = np.concatenate([p.corners() for p in placed])
    middle = (bounds.min(axis=0) + bounds.max(axis=0)) / 2
    return [replace(p, x_mm=p.x_mm - middle[0], y_mm=p.y_mm - middle[1]) for p in placed]


class _Canvas:
    """A photo in the making: linear light (H, W, 3), and the ray of every pixel."""

    def __init__(self, camera: Camera) -> None:
        self.camera = camera
        width, height = camera.size
        step = 16
        xs, ys = np.arange(0, width + step, step), np.arange(0, height + step, step)
        grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2).astype(float)
        rays = camera.lens.to_rays(grid).reshape(len(ys), len(xs), 2).astype(np.float32)
        ax, ay = np.meshgrid(
            np.arange(width, dtype=np.float32) / step, np.arange(height, dtype=np.float32) / step
        )
        self.rays = cv2.remap(rays, ax, ay, cv2.INTER_LINEAR)
        self.light = np.zeros((height, width, 3), np.float32)

    def on_plane(self, z_mm: float, box: tuple[slice, slice] = (slice(None), slice(None))) -> Image:
        """Floor mm (h, w, 2) under each pixel, on a plane so high."""
        camera = self.camera
        r = camera.rotation.astype(np.float32)
        centre = camera.centre.astype(np.float32)
        rays = self.rays[box]
        x, y = rays[..., 0], rays[..., 1]
        direction = [x * r[0, k] + y * r[1, k] + r[2, k] for k in range(3)]
        far = (np.float32(z_mm) - centre[2]) / direction[2]
        return np.stack([centre[0] + far * direction[0], centre[1] + far * direction[1]], axis=-1)

    def coverage(self, polygon_xyz: Array) -> tuple[tuple[slice, slice], Image] | None:
        """Box and share (h, w) of its pixels that a polygon in the room covers."""
        closed = np.concatenate([polygon_xyz, polygon_xyz[:1]])
        t = np.linspace(0, 1, 13)[:-1, None, None]
        dense = (closed[None, :-1] * (1 - t) + closed[None, 1:] * t).transpose(1, 0, 2)
        px = self.camera.project(dense.reshape(-1, 3))
        height, width = self.light.shape[:2]
        low = np.clip(np.floor(px.min(axis=0)).astype(int) - 1, 0, [width, height])
        high = np.clip(np.ceil(px.max(axis=0)).astype(int) + 2, 0, [width, height])
        if (high <= low).any():
            return None
        w, h = high - low
        fine = np.zeros((h * SUPER, w * SUPER), np.uint8)
        at = ((px - low + 0.5) * SUPER - 0.5) * 256
        cv2.fillPoly(fine, [np.rint(at).astype(np.int32)], 255, shift=8)
        mask = cv2.resize(fine, (int(w), int(h)), interpolation=cv2.INTER_AREA)
        return (slice(low[1], high[1]), slice(low[0], high[0])), mask.astype(np.float32) / 255

    def fill(self, polygon_xyz: Array, light: object, clip: Array | None = None) -> None:
        """Lay an even or pictured (callable of the box) light over a polygon."""
        covered = self.coverage(polygon_xyz)
        if covered is None:
            return
        box, mask = covered
        if clip is not None:
            other = self.coverage(clip)
            if other is None:
                return
            whole = np.zeros(self.light.shape[:2], np.float32)
            whole[other[0]] = other[1]
            mask = mask * whole[box]
        value = light(box) if callable(light) else np.asarray(light, np.float32)
        part = self.light[box]
        part += mask[..., None] * (value - part)


def draw_floor(
    rng: np.random.Generator, pieces: list[DrawnPiece], camera: Camera, floor: str,
    *, sheet_at: tuple[float, float, float] | None = None, person: bool = True,
    texture: Array | None = None, sheet_size: tuple[float, float] = (210.0, 297.0),
) -> DrawnFloor:  # fmt: skip
    """Photograph pieces on a floor; ``sheet_at`` is the sheet's centre and turn, or nothing."""
    canvas = _Canvas(camera)
    texture = floor_texture(rng, floor) if texture is None else texture
    middle = texture.shape[0]
    on = canvas.on_plane(0.0)
    linear = decode_srgb(texture).astype(np.float32)
    # Average what several texture samples share a pixel.
    scale = camera.centre[2] / camera.lens.focal_px / 2
    if scale > 1:
        linear = cv2.GaussianBlur(linear, (0, 0), 0.5 * scale)
    reflect = cv2.remap(
        linear, on[..., 0] / 2 + middle / 2, middle / 2 - on[..., 1] / 2,
        cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT,
    )  # fmt: skip
    # Window light: falls off across the floor, and its colour.
    azimuth = rng.uniform(0, 2 * np.pi)
    towards = np.array([np.cos(azimuth), np.sin(azimuth)])
    fall = rng.uniform(0.0, 0.35)
    white = np.array([1.0, rng.uniform(0.93, 1.0), rng.uniform(0.78, 1.0)])
    white = white / white.max() * rng.uniform(0.75, 0.95)

    def lit(xy: Image) -> Image:
        slope = 1 + fall * (xy[..., 0] * towards[0] + xy[..., 1] * towards[1]) / 1000
        return (np.clip(slope, 0.25, 1.7)[..., None] * white * 0.9).astype(np.float32)

    shade = np.ones(canvas.light.shape[:2], np.float32)
    strength, slant = rng.uniform(0.15, 0.55), rng.uniform(0.3, 1.2)
    for piece in pieces:
        for reach, soft, dark in ((slant, 0.25, strength), (0.0, 0.45, 0.35)):
            shift = -towards * piece.depth_mm * reach
            shadow = np.concatenate([piece.corners(), piece.corners() + shift])
            hull = cv2.convexHull(shadow.astype(np.float32))[:, 0]
            covered = canvas.coverage(np.c_[hull, np.zeros(len(hull))].astype(float))
            if covered is None:
                continue
            mask = np.zeros_like(shade)
            mask[covered[0]] = covered[1]
            px = soft * piece.depth_mm / max(scale * 2, 1e-6)
            box = tuple(
                slice(max(s.start - int(3 * px), 0), s.stop + int(3 * px)) for s in covered[0]
            )
            shade[box] *= 1 - dark * cv2.GaussianBlur(mask[box], (0, 0), max(px, 0.5))
    height, width = shade.shape
    if person:
        feet = np.array([width * rng.uniform(0.3, 0.7), height * 1.02])
        mask = np.zeros((height // 8, width // 8), np.float32)
        cv2.ellipse(
            mask, (feet / 8).astype(int).tolist(),
            (width // 40, int(height * rng.uniform(0.1, 0.25)) // 8),
            rng.uniform(-20, 20), 0, 360, 1.0, -1,
        )  # fmt: skip
        mask = cv2.GaussianBlur(mask, (0, 0), width / 8 * 0.03)
        shade *= 1 - 0.5 * cv2.resize(mask, (width, height), interpolation=cv2.INTER_LINEAR)
    canvas.light = reflect * lit(on) * shade[..., None]

    def shaded(colour: object, z_mm: float, factor: float = 1.0) -> object:
        albedo = decode_srgb(np.asarray(colour, np.uint8)).astype(np.float32) * np.float32(factor)
        return lambda box: albedo * lit(canvas.on_plane(z_mm, box))

    sheet_mm = np.empty((0, 2))
    if sheet_at is not None:
        cx, cy, turn = sheet_at
        sheet = DrawnPiece(
            *sheet_size, 0, 0, 0, cx, cy, turn, (244, 245, 246), np.zeros((1, 1, 3), np.uint8)
        )
        sheet_mm = sheet.corners()
        canvas.fill(np.c_[sheet_mm, np.zeros(4)], shaded(sheet.colour, 0.0))
    nadir = camera.centre[:2]
    order = sorted(pieces, key=lambda p: -np.hypot(p.x_mm - nadir[0], p.y_mm - nadir[1]))
    for piece in order:
        _draw_piece(canvas, piece, shaded, lit, towards, rng)
    if person:
        for side in (-1, 1):
            ends = feet + [side * width * 0.045, 0]
            axes = (int(width * 0.028), int(height * rng.uniform(0.06, 0.1)))
            mask = np.zeros((height, width), np.uint8)
            cv2.ellipse(
                mask, ends.astype(int).tolist(), axes, side * 8, 0, 360, 255, -1, cv2.LINE_AA
            )
            shoe = decode_srgb(np.uint8(rng.uniform(20, 120, 3))).astype(np.float32)
            canvas.light += mask[..., None].astype(np.float32) / 255 * (shoe - canvas.light)
    pixels = _developed(canvas.light, rng, camera)
    sheet_px = (
        camera.project(np.c_[sheet_mm, np.zeros(len(sheet_mm))]) if len(sheet_mm) else sheet_mm
    )
    photo = Photo(pixels, camera.lens.focal_px * float(np.exp(rng.normal(0, 0.01))))
    return DrawnFloor(
        photo, camera, tuple(pieces), sheet_px, sheet_mm, floor, {"white": white, "fall": fall}
    )


def _draw_piece(canvas, piece, shaded, lit, towards, rng) -> None:  # type: ignore[no-untyped-def]
    foot, d = piece.corners(), piece.depth_mm
    top = np.c_[foot, np.full(4, d)]
    inner = np.c_[piece.corners(piece.rail_mm), np.full(4, d)]
    for i in range(4):
        j = (i + 1) % 4
        edge = foot[j] - foot[i]
        outward = np.array([-edge[1], edge[0]]) / np.hypot(*edge)
        facing = 0.45 + 0.3 * max(float(outward @ towards), -0.4)
        side = np.array([[*foot[i], 0], [*foot[j], 0], top[j], top[i]])
        canvas.fill(side, shaded(piece.colour, d / 2, facing))
    canvas.fill(top, shaded(piece.colour, d))
    if piece.kind == "canvas":
        _fill_picture(canvas, top, None, piece, lit, d, 0.0)
        return
    for i in range(4):
        j = (i + 1) % 4
        tone = 1.0 + 0.06 * np.cos(i * np.pi / 2 + rng.uniform(-0.5, 0.5))
        canvas.fill(np.array([top[i], top[j], inner[j], inner[i]]), shaded(piece.colour, d, tone))
    canvas.fill(inner, shaded(piece.colour, d, 0.4))  # inner faces of the lip
    deep = max(d - 5.0, 1.0)
    under = np.c_[piece.corners(piece.rail_mm - 4), np.full(4, deep)]
    if piece.mat_mm > 0:
        canvas.fill(under, shaded(piece.mat_colour, deep), clip=inner)
        window = np.c_[piece.corners(piece.rail_mm + piece.mat_mm), np.full(4, deep)]
        _fill_picture(canvas, window, inner, piece, lit, deep - 1.5, piece.rail_mm + piece.mat_mm)
    else:
        _fill_picture(canvas, under, inner, piece, lit, deep, piece.rail_mm)
    if piece.glare:
        t = rng.uniform(-0.3, 0.3)
        a = piece.corners(piece.rail_mm)
        blob = np.array(
            [
                a[0] + (a[1] - a[0]) * (0.4 + t),
                a[0] + (a[1] - a[0]) * (0.6 + t),
                a[3] + (a[2] - a[3]) * (0.5 + t),
                a[3] + (a[2] - a[3]) * (0.3 + t),
            ]
        )
        blob = blob * 0.6 + a.mean(axis=0) * 0.4
        covered = canvas.coverage(np.c_[blob, np.full(4, d)])
        if covered is not None:
            soft = cv2.GaussianBlur(covered[1], (0, 0), max(covered[1].shape[1] * 0.05, 1))
            canvas.light[covered[0]] += (piece.glare * soft)[..., None]


def _fill_picture(canvas, polygon, clip, piece, lit, z, inset) -> None:  # type: ignore[no-untyped-def]
    art = decode_srgb(piece.art).astype(np.float32)
    rows, columns = art.shape[:2]
    c, s = np.cos(np.radians(piece.tilt_deg)), np.sin(np.radians(piece.tilt_deg))
    w, h = piece.width_mm - 2 * inset, piece.height_mm - 2 * inset

    def seen(box: tuple[slice, slice]) -> Image:
        xy = canvas.on_plane(z, box)
        dx, dy = xy[..., 0] - piece.x_mm, xy[..., 1] - piece.y_mm
        u, v = (dx * c + dy * s) / w + 0.5, 0.5 - (-dx * s + dy * c) / h
        mm_px = float(np.hypot(*(xy[0, -1] - xy[0, 0]))) / max(xy.shape[1], 1)
        blur = mm_px * columns / w
        source = cv2.GaussianBlur(art, (0, 0), 0.5 * blur) if blur > 1.2 else art
        colour = cv2.remap(
            source, (u * columns - 0.5).astype(np.float32), (v * rows - 0.5).astype(np.float32),
            cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        return colour * lit(xy)

    canvas.fill(polygon, seen, clip)


def _developed(light: Image, rng: np.random.Generator, camera: Camera) -> NDArray[np.uint8]:
    """Blur, vignetting, noise, coding."""
    height, width = light.shape[:2]
    light = cv2.GaussianBlur(
        light, (0, 0), float(rng.uniform(0.5, 0.9)) * max(width, height) / 4000 + 0.25
    )
    r2 = (canvas_radius2(width, height)).astype(np.float32)
    light = light * (1 - rng.uniform(0, 0.12) * r2)[..., None]
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    light += noise * np.sqrt(np.maximum(light, 0) * 4e-5 + 4e-6)
    pixels = (encode_srgb(np.clip(light, 0, 1)) * 255 + 0.5).astype(np.uint8)
    done, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    assert done
    return np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])


def canvas_radius2(width: int, height: int) -> Array:
    """Squared distance from the middle, 1 in the corners."""
    x, y = np.linspace(-1, 1, width), np.linspace(-1, 1, height)
    return (x[None] ** 2 + y[:, None] ** 2) / 2


def random_floor(seed: int, long_px: int = 4000) -> DrawnFloor:
    """Draw one floor of the family: everything from the seed."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 16))
    pieces = lay_out(rng, count, rng.uniform(0.9, 1.5) * 420 * np.sqrt(count))
    bounds = np.concatenate([p.corners() for p in pieces])
    turn = rng.uniform(-6, 6)
    pitch = rng.uniform(0, 35)
    # The sheet lies beside the group, on any side of it.
    half = (bounds.max(axis=0) - bounds.min(axis=0)) / 2
    side = rng.integers(4)
    along = rng.uniform(-0.6, 0.6)
    offset = 190 + rng.uniform(0, 80)
    sheet = [
        (half[0] + offset, along * half[1]), (-half[0] - offset, along * half[1]),
        (along * half[0], half[1] + offset), (along * half[0], -half[1] - offset),
    ][side]  # fmt: skip
    sheet_at = (*sheet, rng.uniform(-12, 12) + 90 * rng.integers(2))
    reach = np.concatenate([bounds, np.array([sheet]) + [[-170, -170], [170, 170]]])
    low, high = reach.min(axis=0), reach.max(axis=0)
    aim = (low + high) / 2 + rng.uniform(-40, 40, 2)
    portrait = bool(high[1] - low[1] > high[0] - low[0])
    for distance in np.arange(1300, 4000, 50.0):
        camera = camera_over(
            aim, distance, pitch, rng.uniform(-3, 3), long_px, turn_deg=turn, portrait=portrait
        )  # fmt: skip
        px = camera.project(np.c_[reach, np.full(len(reach), 40.0)])
        margin = 0.03 * long_px
        if (px > margin).all() and (px < np.array(camera.size) - margin).all():
            break
    k1 = rng.normal(0, 0.02)
    camera = replace(
        camera,
        lens=replace(
            camera.lens,
            k1=k1,
            centre_x_px=camera.lens.centre_x_px + rng.normal(0, 0.004 * long_px),
            centre_y_px=camera.lens.centre_y_px + rng.normal(0, 0.004 * long_px),
        ),
    )
    floor = str(rng.choice(["boards", "carpet", "rug", "tiles"]))
    return draw_floor(rng, pieces, camera, floor, sheet_at=sheet_at)
