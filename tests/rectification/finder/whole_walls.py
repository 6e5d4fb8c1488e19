"""Photographs of whole walls with a printed page on them, drawn through pictures of rooms."""

from __future__ import annotations

import io

import cv2
import numpy as np
from PIL import Image

from visualiser.photo.linear_light import decode_srgb, encode_srgb
from visualiser.photo.photo import Photo


def wall_photo(
    page: np.ndarray,
    page_mm: tuple[float, float],
    background: np.ndarray,
    *,
    view_mm: float,
    yaw_deg: float,
    turn_deg: float,
    at: tuple[float, float],
    light: float,
    blur_px: float,
    noise: float,
    quality: int,
    rng: np.random.Generator,
) -> tuple[Photo, np.ndarray]:
    """A photo that shows ``view_mm`` of wall, and the homography from the page's own mm to px.

    The page's mm start at its middle, x right, y up. Light is spread by the lens and averaged by
    the pixels in linear light; then come noise and JPEG, as a phone makes them.
    """
    height, width = background.shape[:2]
    focal = 0.75 * width
    a, b = np.radians(turn_deg), np.radians(yaw_deg)
    spin = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    tilt = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    turn = np.diag([1.0, -1, -1]) @ tilt @ spin
    camera = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1]])
    place = [at[0] * view_mm, at[1] * view_mm, view_mm / width * focal]
    to_photo = camera @ np.c_[turn[:, :2], place]
    rows, columns = page.shape
    per_mm = columns / page_mm[0]
    to_mm = np.array(
        [
            [1 / per_mm, 0, (0.5 - columns / 2) / per_mm],
            [0, -1 / per_mm, (rows / 2 - 0.5) / per_mm],
            [0, 0, 1],
        ]
    )
    half = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * np.array(page_mm) / 2
    seen = np.c_[half, np.ones(4)] @ to_photo.T
    corners = seen[:, :2] / seen[:, 2:]
    x0, y0 = np.floor(corners.min(axis=0)).astype(int) - 8
    x1, y1 = np.ceil(corners.max(axis=0)).astype(int) + 9
    fine = 4
    part = np.array([[fine, 0, -fine * x0 + 1.5], [0, fine, -fine * y0 + 1.5], [0, 0, 1.0]])
    # The page is drawn finer than it will be seen: average first, or its modules are skipped.
    per_pixel = per_mm / (fine * focal / place[2])
    linear = decode_srgb(page).astype(np.float32)
    if per_pixel > 1:
        linear = cv2.GaussianBlur(linear, (0, 0), 0.45 * per_pixel)
    size = ((x1 - x0) * fine, (y1 - y0) * fine)
    drawn = cv2.warpPerspective(linear, part @ to_photo @ to_mm, size)
    cover = cv2.warpPerspective(np.ones_like(linear), part @ to_photo @ to_mm, size)
    behind = decode_srgb(background[y0:y1, x0:x1]).astype(np.float32)
    behind = cv2.resize(behind, size, interpolation=cv2.INTER_LINEAR)
    mixed = behind * (1 - cover[..., None]) + light * drawn[..., None]
    mixed = cv2.GaussianBlur(mixed, (0, 0), fine * blur_px)
    small = cv2.resize(mixed, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA)
    picture = background.astype(np.float64)
    picture[y0:y1, x0:x1] = 255 * encode_srgb(small)
    picture += rng.normal(0, noise, picture.shape)
    file = io.BytesIO()
    Image.fromarray(np.clip(np.rint(picture), 0, 255).astype(np.uint8)).save(
        file, "JPEG", quality=quality
    )
    with Image.open(file) as opened:
        return Photo(np.array(opened.convert("RGB")), focal_px=focal), to_photo
