"""Draw overlapping photographs of one wall, with everything about them known.

Every pixel's ray meets the wall, the floor, the ceiling or a face of a box (a picture's frame, a
sideboard, a skirting board), each with a picture or a grain on it. The light falls off across the
wall; exposure and white balance change from photo to photo; blur, noise and JPEG follow. This is
drawn, not path-traced: no light goes from one thing to another.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from visualiser.photo.linear_light import decode_srgb, encode_srgb
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.observation import on_plane
from visualiser.rectification.camera.projection import FLIP, CameraState, Lens, rotation_from_vector
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.reference import Reference

SHEET_MM = np.array([[-105, 148.5], [105, 148.5], [105, -148.5], [-105, -148.5]])
SHEET_SIGMA_MM = 0.3
"""How far a sheet is cut off its size: as `Reference` expects."""
FLOOR_MM, CEILING_MM = -1450.0, 1150.0
TILE = 2048


@dataclass(frozen=True)
class Face:
    """A rectangle in the room: a corner, two edges (mm), its picture (sRGB), how far it bulges."""

    corner: np.ndarray
    across: np.ndarray
    up: np.ndarray
    picture: np.ndarray
    on_wall: bool = False
    bulge_mm: float = 0.0


@dataclass(frozen=True)
class Relief:
    """How far plaster stands out of its plane (mm): a few broad waves."""

    amplitude_mm: np.ndarray
    wave: np.ndarray
    phase: np.ndarray

    @classmethod
    def of(cls, rng, sigma_mm: float) -> Relief:
        """Waves 0.6 to 3 m long, whose sum has this standard deviation."""
        long_mm = rng.uniform(600, 3000, 12)
        way = rng.uniform(0, 2 * np.pi, 12)
        wave = 2 * np.pi / long_mm[:, None] * np.stack([np.cos(way), np.sin(way)], axis=1)
        size = rng.normal(0, 1, 12)
        size *= sigma_mm * np.sqrt(2) / np.linalg.norm(size)
        return cls(size, wave, rng.uniform(0, 2 * np.pi, 12))

    def at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Height at places of the wall."""
        out = np.zeros(np.shape(x), np.float32)
        for size, (across, up), start in zip(self.amplitude_mm, self.wave, self.phase, strict=True):
            out += np.float32(size) * np.sin(
                np.float32(across) * x + np.float32(up) * y + np.float32(start)
            )
        return out


@dataclass(frozen=True)
class Strip:
    """The wall that a sheet darkens beside it, as it stands off by ``gap_mm``.

    Under an even sky a half-plane hides ``(1 - x / hypot(x, gap)) / 2`` of the light at a distance
    x beside it (closed form); what paper and wall throw back leaves less of that dark: ``dark``,
    for each side, instead of 1/2.
    """

    middle: np.ndarray
    turn: np.ndarray
    size: np.ndarray
    gap_mm: float
    dark: np.ndarray

    def light(self, x: np.ndarray, y: np.ndarray, pixel_mm: float) -> np.ndarray:
        """Share of the light left at places of the wall, each averaged over a pixel."""
        local = np.stack([x - self.middle[0], y - self.middle[1]], axis=-1) @ self.turn
        out = np.ones(np.shape(x), np.float32)
        half = self.size / 2
        # Top, right, bottom, left.
        for side, (axis, sign) in enumerate(((1, 1), (0, 1), (1, -1), (0, -1))):
            beyond = sign * local[..., axis] - half[axis]
            within = np.abs(local[..., 1 - axis]) < half[1 - axis]
            near = within & (beyond > 0) & (beyond < 40 * self.gap_mm + 2 * pixel_mm)
            if not near.any():
                continue
            at = beyond[near]
            # The first pixel beside the edge has all from the edge on.
            low = np.where(at < pixel_mm, 0.0, at - pixel_mm / 2)
            high = at + pixel_mm / 2
            hidden = (high - np.hypot(high, self.gap_mm)) - (low - np.hypot(low, self.gap_mm))
            out[near] *= np.maximum(1 - self.dark[side] * hidden / pixel_mm, 0.05)
        return out


@dataclass
class DrawnWall:
    """Photos of a wall, their cameras and sheets, in wall mm about the first sheet's centre."""

    photos: list[Photo]
    cameras: list[CameraState]
    sheets_mm: list[np.ndarray]
    left_mm: float
    right_mm: float
    relief: Relief | None = None
    notes: dict = field(default_factory=dict)

    def references(self) -> list[list[Reference]]:
        """References at the sheets' true corners, in every photo that shows all of one."""
        out = []
        for photo, camera in zip(self.photos, self.cameras, strict=True):
            seen = []
            for corners in self.sheets_mm:
                px = camera.project(np.c_[corners, np.zeros(4)])[0]
                size = np.array([photo.width_px, photo.height_px])
                if ((px > 12) & (px < size - 13)).all():
                    seen.append(Reference.from_corners(px, 210.0, 297.0, "a4"))
            out.append(seen)
        return out

    def seen_at(self, k: int, pixels: np.ndarray) -> np.ndarray:
        """Wall mm (N, 2) that pixels of photo k look at, the plaster's waves included."""
        camera = self.cameras[k]
        at = on_plane(camera, pixels, 2, 0.0)
        if self.relief is None:
            return at[:, :2]
        centre = -camera.rotation.T @ camera.translation_mm
        ray = at - centre
        for _ in range(3):
            out = self.relief.at(at[:, 0], at[:, 1])
            at = at + ((out - at[:, 2]) / ray[:, 2])[:, None] * ray
        return at[:, :2]

    def shown(self, k: int, points_mm: np.ndarray) -> np.ndarray:
        """Which wall points photo k shows."""
        px = self.cameras[k].project(np.c_[points_mm, np.zeros(len(points_mm))])[0]
        size = np.array([self.photos[k].width_px, self.photos[k].height_px])
        return ((px >= 0) & (px <= size - 1)).all(axis=1)


def grain(rng, size, amount, broad=6.0):
    """Even colour with a fine and a broad variation, (size, size) about 1."""
    fine = cv2.GaussianBlur(rng.normal(0, 1, (size, size)).astype(np.float32), (0, 0), 1.0)
    wide = cv2.GaussianBlur(rng.normal(0, 1, (size // 8, size // 8)).astype(np.float32), (0, 0), 3)
    wide = cv2.resize(wide, (size, size), interpolation=cv2.INTER_CUBIC)
    return 1 + amount * (fine * 3.0 + broad * wide)


def picture(rng, width=300, height=300):
    """An invented picture with plenty of corners."""
    image = np.full((height, width, 3), rng.uniform(40, 220, 3), np.float32)
    for _ in range(40):
        a = rng.uniform(0, 1, 2) * (width, height)
        b = a + rng.uniform(0.03, 0.3, 2) * (width, height)
        colour = rng.uniform(10, 245, 3).tolist()
        cv2.rectangle(image, a.astype(int).tolist(), b.astype(int).tolist(), colour, -1)
    return np.clip(image, 4, 250).astype(np.uint8)


def plain(colour):
    return np.full((4, 4, 3), colour, np.uint8)


def textured(rng, colour, amount, size=TILE):
    tone = grain(rng, size, amount)
    return np.clip(tone[..., None] * np.float32(colour), 0, 255).astype(np.uint8)


def box(x, y, width, height, depth, front, side, foot=0.0, rise=0.0):
    """Faces of a box on the wall, from ``foot`` to ``foot + depth`` before it.

    Its level edges rise by ``rise`` a mm.
    """
    rising = width * rise
    out = [Face(np.array([x, y, foot + depth]), np.array([width, rising, 0.0]),
                np.array([0, height, 0.0]), front)]  # fmt: skip
    for corner, across, up in (
        ([x, y, foot], [0, 0, depth], [0, height, 0]),
        ([x + width, y, foot], [0, 0, depth], [0, height, 0]),
        ([x, y + height, foot], [width, rising, 0], [0, 0, depth]),
        ([x, y, foot], [width, rising, 0], [0, 0, depth]),
    ):
        out.append(
            Face(np.array(corner, float), np.array(across, float), np.array(up, float), side)
        )
    return out


def laid(rng, boards):
    """Cut rows of boards into pieces 0.5 to 2 m long of unlike tone, with joints and knots."""
    out = boards.astype(np.float32)
    for k in range(0, TILE, 90):
        at = -int(rng.integers(0, 900))
        while at < TILE:
            end = at + int(rng.integers(250, 1000))
            low, high = max(at, 0), min(end, TILE)
            if high > low:
                out[k : k + 90, low:high] *= np.exp(rng.normal(0, 0.1))
                out[k : k + 90, max(high - 1, 0) : high] *= 0.55
            for _ in range(int(rng.integers(0, 4))):
                x, y = int(rng.integers(at, end)), int(rng.integers(k + 8, k + 82))
                if 0 < x < TILE and y < TILE:
                    axes = int(rng.integers(4, 14)), int(rng.integers(2, 6))
                    tone = (np.array([150, 116, 84]) * rng.uniform(0.45, 0.8)).tolist()
                    cv2.ellipse(out, (x, y), axes, 0, 0, 360, tone, -1, cv2.LINE_AA)
            at = end
    return np.clip(out, 0, 255).astype(np.uint8)


def draw_wall(
    seed: int,
    *,
    length_mm: float = 5500.0,
    photos: int = 3,
    long_px: int = 1400,
    overlap: float = 0.35,
    wall: str = "pictures",
    sheet_photo: int = 0,
    far_sheet: bool = False,
    turned_deg: float = 6.0,
    step_aside: bool = True,
    true_to_life: bool = False,
    recess_mm: float = 0.0,
    upright: bool = False,
    skin: np.ndarray | None = None,
) -> DrawnWall:
    """Draw a wall of this length in so many photos.

    ``wall`` is ``pictures`` (painted, with framed pictures and sockets), ``paper`` (a printed
    wallpaper) or ``plain`` (painted; furniture, skirting and ceiling alone). ``true_to_life``: the
    plaster has waves, the sheet is cut, taped and bulges as sheets do, and the lens bends as
    phones' do, each as far as `ModelTerms` expects. From where the second photo begins the wall may
    stand back by ``recess_mm``, over the same floor. ``upright``: the phone is held upright, so
    that floor and ceiling show. ``skin``: what is on the wall instead, 2 mm a sample, `TILE` rows.
    """
    rng = np.random.default_rng(seed)
    own = np.random.default_rng([seed, 1])  # all else is drawn as without it
    terms = ModelTerms()
    life = 1.0 if true_to_life else 0.0
    off_level = np.tan(np.radians(life * own.normal(0, terms.building_sigma_deg, 2)))
    focal = 0.72 * long_px
    share = (length_mm / (1 + (photos - 1) * (1 - overlap))) if photos > 1 else length_mm
    distance = share * focal / (long_px * 3 // 4 if upright else long_px)
    sheet_x = share * (0.5 + sheet_photo * (1 - overlap)) + rng.uniform(-0.15, 0.15) * share
    left, right = -sheet_x, length_mm - sheet_x
    faces: list[Face] = []
    amount = {"pictures": 0.012, "paper": 0.03, "plain": 0.003}[wall]
    base = np.array(rng.choice([[214, 208, 196], [186, 196, 190], [226, 222, 214]]))
    drawn_skin = textured(rng, base, amount)
    if wall == "paper":
        for _ in range(900):
            at = rng.integers(0, TILE, 2)
            cv2.circle(drawn_skin, at.tolist(), int(rng.integers(2, 9)),
                       (base * rng.uniform(0.8, 0.97)).tolist(), -1, cv2.LINE_AA)  # fmt: skip
    skin = drawn_skin if skin is None else skin
    wide, high = right - left + 2400, CEILING_MM - FLOOR_MM
    bend = left + share * (1 - overlap)  # where the second photo's view begins
    stretches = [(left - 1200, right + 1200, 0.0)]
    if recess_mm:
        stretches = [(left - 1200, bend, 0.0), (bend, right + 1200, -recess_mm)]
    for start, end, z in stretches:
        faces.append(Face(np.array([start, FLOOR_MM, z]), np.array([end - start, 0, 0]),
                          np.array([0, high, 0]), skin, on_wall=True))  # fmt: skip
    boards = textured(rng, [150, 116, 84], 0.02)
    if true_to_life:
        boards = laid(np.random.default_rng([seed, 3]), boards)
    for k in range(0, TILE, 90):
        boards[k : k + 3] = (boards[k : k + 3] * 0.5).astype(np.uint8)
    faces.append(Face(np.array([left - 1200, FLOOR_MM, -recess_mm]), np.array([wide, 0, 0]),
                      np.array([0, 0, 4000.0]), boards))  # fmt: skip
    faces.append(Face(np.array([left - 1200, CEILING_MM, 0]),
                      np.array([wide, wide * off_level[0], 0]),
                      np.array([0, 0, 4000.0]), plain([238, 238, 236])))  # fmt: skip
    for start, end, z in stretches:
        skirting = plain([240, 240, 238]), plain([225] * 3)
        faces += box(start, FLOOR_MM, end - start, 90, 15, *skirting, z, off_level[1])
    x = left + rng.uniform(100, 500)
    while x < right - 900:  # sideboards and boxes on the floor before the wall
        width, height = rng.uniform(700, 1300), rng.uniform(450, 800)
        front = textured(rng, rng.uniform(60, 170, 3), 0.05, 256)
        faces += box(x, FLOOR_MM, width, height, rng.uniform(300, 450), front,
                     plain(rng.uniform(60, 150, 3)), foot=20)  # fmt: skip
        for _ in range(3):  # things on top
            side = rng.uniform(80, 200)
            faces += box(x + rng.uniform(0, width - side), FLOOR_MM + height, side,
                         rng.uniform(100, 300), side, picture(rng, 80, 80),
                         plain(rng.uniform(40, 200, 3)), foot=rng.uniform(40, 150))  # fmt: skip
        x += width + rng.uniform(150, 700)
    if wall == "pictures":
        x = left + rng.uniform(0, 300)
        while x < right - 300:
            width, height = rng.uniform(250, 500), rng.uniform(250, 500)
            y = rng.uniform(250, 600)
            if abs(x + width / 2) > 105 + width / 2 + 60 or y > 220:
                faces += box(x, y, width, height, 20, picture(rng), plain([60, 50, 40]))
            x += width + rng.uniform(80, 350)
        for _ in range(int(length_mm / 350)):  # notes, stickers, marks on the wall itself
            at = [rng.uniform(left, right - 80), rng.uniform(-500, 200)]
            if abs(at[0] + 40) < 200:
                continue
            faces.append(Face(np.array([*at, 0.1]), np.array([80.0, 0, 0]), np.array([0, 80.0, 0]),
                              picture(rng, 60, 60), on_wall=True))  # fmt: skip
    sheets = [SHEET_MM]
    strips = []
    shade = np.random.default_rng([seed, 2])
    if far_sheet:
        far = SHEET_MM + [right - 0.35 * share if sheet_photo == 0 else 0.0, 40.0]
        sheets.append(far)
    taped = []
    for corners in sheets:
        wide, tall = np.array([210.0, 297.0]) + life * own.normal(0, SHEET_SIGMA_MM, 2)
        off = 0.3 + life * abs(own.normal(0, terms.stand_off_sigma_mm))
        tilt = np.radians(life * own.normal(0, terms.tilt_sigma_deg))
        turn = np.array([[np.cos(tilt), -np.sin(tilt)], [np.sin(tilt), np.cos(tilt)]])
        middle = corners.mean(axis=0)
        taped.append((corners - middle) @ turn.T + middle)
        across, up = turn @ [wide, 0.0], turn @ [0.0, tall]
        low = middle - (across + up) / 2
        if true_to_life:
            dark = shade.uniform(0.12, 0.3) * np.exp(shade.normal(0, 0.4, 4))
            size_mm = np.array([wide, tall])
            strips.append(Strip(middle, turn, size_mm, max(off - 0.1, 0.05), dark))
        faces.append(Face(np.array([*low, off]), np.array([*across, 0.0]), np.array([*up, 0.0]),
                          plain([246, 247, 247]), on_wall=True,
                          bulge_mm=life * abs(own.normal(0, terms.bulge_sigma_mm))))  # fmt: skip
    sheets = taped
    size = (long_px * 3 // 4, long_px) if upright else (long_px, long_px * 3 // 4)
    centre, k1 = rng.normal(0, 0.003 * long_px, 2), rng.normal(0, 0.015)
    k2 = 0.0
    if true_to_life:
        centre = own.normal(0, terms.centre_sigma * long_px, 2)
        k1, k2 = own.normal(0, [terms.k1_sigma, terms.k2_sigma])
    lens = Lens(focal, (size[0] - 1) / 2 + centre[0], (size[1] - 1) / 2 + centre[1], k1=k1, k2=k2)
    relief = Relief.of(own, terms.flatness_sigma_mm) if true_to_life else None
    out, cameras = [], []
    fall = rng.uniform(0.03, 0.12)
    for k in range(photos):
        aim = left + share * (0.5 + k * (1 - overlap)) if photos > 1 else (left + right) / 2
        yaw, pitch, roll = np.radians(rng.normal(0, [turned_deg, 2.5, 1.2]))
        rotation = rotation_from_vector(np.array([0, 0, roll]))
        rotation = rotation @ rotation_from_vector(np.array([pitch, 0, 0]))
        rotation = rotation @ rotation_from_vector(np.array([0, yaw, 0])) @ FLIP
        ahead = rotation.T @ np.array([0, 0, 1.0])
        stood = np.array([aim, -100.0 + rng.uniform(-60, 60), distance * rng.uniform(0.94, 1.06)])
        if step_aside:
            stood = stood - [ahead[0] / -ahead[2] * stood[2], ahead[1] / -ahead[2] * stood[2], 0]
        camera = CameraState(rotation, -rotation @ stood, lens)
        gain = np.exp(rng.normal(0, 0.15)) * np.array([1 + rng.normal(0, 0.02), 1.0,
                                                       1 + rng.normal(0, 0.03)])  # fmt: skip
        pixels = _photograph(
            rng, faces, camera, size, fall, gain, (left + right) / 2, relief, strips
        )
        stated = focal * float(np.exp(rng.normal(0, 0.012)))
        out.append(Photo(pixels, stated, 0.015, camera="drawn"))
        cameras.append(camera)
    return DrawnWall(out, cameras, sheets, left, right, relief)


def _photograph(rng, faces, camera, size, fall, gain, middle, relief=None, strips=()):
    width, height = size
    fine = 2
    xs = (np.arange(width * fine) + 0.5) / fine - 0.5
    ys = (np.arange(height * fine) + 0.5) / fine - 0.5
    step = 16
    gx = np.linspace(xs[0], xs[-1], width * fine // step + 1)
    gy = np.linspace(ys[0], ys[-1], height * fine // step + 1)
    grid = np.stack(np.meshgrid(gx, gy), axis=-1).reshape(-1, 2)
    rays = camera.lens.to_rays(grid).reshape(len(gy), len(gx), 2).astype(np.float32)
    seen_from, seen_to = rays.reshape(-1, 2).min(axis=0), rays.reshape(-1, 2).max(axis=0)
    mx = np.linspace(0, len(gx) - 1, len(xs), dtype=np.float32)
    my = np.linspace(0, len(gy) - 1, len(ys), dtype=np.float32)
    rays = cv2.remap(rays, *np.meshgrid(mx, my), cv2.INTER_LINEAR)
    r = camera.rotation.astype(np.float32)
    along = rays @ r[:2] + r[2]
    centre = -camera.rotation.T @ camera.translation_mm
    nearest = np.full(along.shape[:2], np.inf, np.float32)
    light = np.zeros(along.shape, np.float32)
    for face in faces:
        normal = np.cross(face.across, face.up)
        normal = normal / np.linalg.norm(normal)
        corners = np.array(
            [
                face.corner,
                face.corner + face.across,
                face.corner + face.across + face.up,
                face.corner + face.up,
            ]
        )
        at = corners @ camera.rotation.T + camera.translation_mm
        low, high = np.zeros(2, int), np.array(size) * fine
        if (at[:, 2] > 30).all():
            # Only where it can be seen. Beyond the frame a lens's polynomial may fold back.
            seen = np.clip(at[:, :2] / at[:, 2:], seen_from, seen_to)
            box = np.array([seen.min(axis=0), seen.max(axis=0)])
            around = np.stack(np.meshgrid(*box.T), axis=-1).reshape(-1, 2)
            px = camera.lens.to_pixels(around)
            low = np.clip(np.floor(px.min(axis=0)).astype(int) - 8, 0, size) * fine
            high = np.clip(np.ceil(px.max(axis=0)).astype(int) + 9, 0, size) * fine
            if (box[1] - box[0] <= 0).any():
                continue
        if (high <= low).any():
            continue
        part = slice(low[1], high[1]), slice(low[0], high[0])
        direction = along[part]
        with np.errstate(divide="ignore", invalid="ignore"):
            far = np.float32(normal @ (face.corner - centre)) / (
                direction @ normal.astype(np.float32)
            )
        far = np.where(np.isfinite(far), far, -1.0).astype(np.float32)
        hit = direction * far[..., None] + (centre - face.corner).astype(np.float32)
        u = hit @ (face.across / (face.across @ face.across)).astype(np.float32)
        v = hit @ (face.up / (face.up @ face.up)).astype(np.float32)
        if face.on_wall and (relief is not None or face.bulge_mm):
            for _ in range(2):  # where the ray meets what stands out of the plane
                out = 0.0 if relief is None else relief.at(
                    hit[..., 0] + np.float32(face.corner[0]),
                    hit[..., 1] + np.float32(face.corner[1]),
                )  # fmt: skip
                if face.bulge_mm:
                    t = np.clip(u, 0, 1)
                    out = out + np.float32(4 * face.bulge_mm) * t * (1 - t)
                with np.errstate(divide="ignore", invalid="ignore"):
                    further = (out - hit[..., 2]) / direction[..., 2]
                further = np.where(np.isfinite(further), further, 0).astype(np.float32)
                far = far + further
                hit = hit + direction * further[..., None]
                u = hit @ (face.across / (face.across @ face.across)).astype(np.float32)
                v = hit @ (face.up / (face.up @ face.up)).astype(np.float32)
        inside = (far > 1) & (far < nearest[part]) & (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1)
        if not inside.any():
            continue
        rows, columns = face.picture.shape[:2]
        if rows == TILE:  # a grain, 2 mm a sample, mirrored on and on
            su = np.linalg.norm(face.across) / 2
            sv = np.linalg.norm(face.up) / 2
            seen = cv2.remap(face.picture, np.float32(u * su), np.float32(v * sv), cv2.INTER_LINEAR,
                             borderMode=cv2.BORDER_REFLECT)  # fmt: skip
        else:
            seen = cv2.remap(face.picture, np.float32(u * (columns - 1)),
                             np.float32((1 - v) * (rows - 1)), cv2.INTER_LINEAR,
                             borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
        shade = 0.75 + 0.25 * abs(normal[2]) + 0.1 * normal[1]
        lit = decode_srgb(seen).astype(np.float32) * np.float32(shade)
        x_mm = hit[..., 0] + np.float32(face.corner[0] - middle)
        lit = lit * np.clip(1 + fall * x_mm / 2000, 0.4, 1.6)[..., None]
        if rows == TILE and face.on_wall:
            pixel_mm = float(np.median(far[inside])) / camera.lens.focal_px / fine
            where = hit[inside][:, :2] + face.corner[:2].astype(np.float32)
            for strip in strips:
                lit[inside] *= strip.light(where[:, 0], where[:, 1], pixel_mm)[:, None]
        light[part][inside] = lit[inside]
        nearest[part][inside] = far[inside]
    light = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(light, (0, 0), 0.5) * (0.6 * gain).astype(np.float32)
    light += rng.normal(0, 1, light.shape).astype(np.float32) * np.sqrt(
        np.maximum(light, 0) * 4e-5 + 1e-6
    ).astype(np.float32)
    pixels = encode_srgb(np.clip(light, 0, 1))
    pixels = np.clip(np.rint(pixels * (255 if pixels.max() <= 1.001 else 1)), 0, 255)
    data = cv2.imencode(".jpg", pixels.astype(np.uint8)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 93])
    return np.ascontiguousarray(cv2.imdecode(data[1], cv2.IMREAD_COLOR)[..., ::-1])
