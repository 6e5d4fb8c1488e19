"""From light at the lens to a phone's JPEG: blur, vignetting, noise, white balance, tone, Exif."""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import cv2
import numpy as np
from light import linear_to_srgb
from numpy.typing import NDArray
from PIL import Image

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sensor:
    """Everything between the light at the lens and the stored file.

    All values are recorded in the truth.
    """

    exposure: float = 1.0  # multiplies the metered exposure
    wb_gain: tuple[float, float, float] = (
        1.0,
        1.0,
        1.0,
    )  # residual white-balance error, the colour cast
    electrons_at_white: float = 4000.0  # shot noise
    read_noise: float = 0.0015  # fraction of white
    chroma_blur_px: float = 1.5  # phone noise reduction: chroma noise is smoothed
    blur_px: float = 0.55  # optics, focus and demosaicing (Gaussian sigma)
    vignette: float = 0.3  # light lost in the corner
    lateral_colour: float = 0.0  # relative magnification of red against blue
    local_tone: float = 0.2  # 0: one tone curve for the whole picture
    contrast: float = 0.25  # 0: plain sRGB, 1: full S-curve
    saturation: float = 1.06
    sharpen: float = 0.45
    sharpen_px: float = 1.1
    jpeg_quality: int = 90
    orientation: int = 1  # EXIF tag 0x0112
    focal_35mm: int | None = 26  # EXIF FocalLengthIn35mmFilm; None: tag absent
    focal_mm: float | None = 5.6
    seed: int = 0
    extra: dict[str, str] = field(default_factory=dict)


def meter(linear: NDArray[np.float32], subject_px: Array | None = None) -> float:
    """Exposure gain a phone would choose: the middle to mid-grey, highlights in check.

    `subject_px` (N, 2) outlines what the photographer tapped on (the reference); it is kept just
    below clipping.
    """
    luma = linear @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    h, w = luma.shape
    middle = luma[h // 6 : -h // 6, w // 6 : -w // 6]
    gains = [
        0.34 / float(np.exp(np.log(np.maximum(middle, 1e-4)).mean())),
        0.9 / float(np.percentile(middle, 88)),
    ]
    if subject_px is not None:
        (x0, y0), (x1, y1) = subject_px.min(0).astype(int), subject_px.max(0).astype(int) + 1
        gains.append(0.86 / float(np.percentile(luma[max(y0, 0) : y1, max(x0, 0) : x1], 90)))
    return min(gains)


def local_tone(linear: NDArray[np.float32], strength: float) -> NDArray[np.float32]:
    """Phone-style local tone mapping by a smooth gain.

    Lifts large dark areas and holds back large bright ones.
    """
    h, w = linear.shape[:2]
    luma = linear @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    small = cv2.resize(
        np.log(np.clip(luma, 0.01, 4)), (w // 16, h // 16), interpolation=cv2.INTER_AREA
    )
    base = cv2.resize(
        cv2.GaussianBlur(small, (0, 0), w / 16 / 14), (w, h), interpolation=cv2.INTER_LINEAR
    )
    return np.asarray(linear * np.exp(-strength * (base - np.log(0.4)))[..., None], np.float32)


def develop(linear: NDArray[np.float32], sensor: Sensor, gain: float) -> NDArray[np.uint8]:
    """Linear scene light (H, W, 3), already lens-warped, to an 8-bit sRGB picture.

    `gain` is the metered exposure, as `meter` gives it.
    """
    rng = np.random.default_rng(sensor.seed)
    h, w = linear.shape[:2]
    img = np.minimum(linear * (gain * sensor.exposure), 6.0)
    img = cv2.GaussianBlur(img, (0, 0), sensor.blur_px)
    if sensor.lateral_colour:
        for channel, sign in ((0, 0.5), (2, -0.5)):
            s = 1 + sign * sensor.lateral_colour
            m = np.array([[s, 0, (1 - s) * (w - 1) / 2], [0, s, (1 - s) * (h - 1) / 2]])
            img[..., channel] = cv2.warpAffine(
                np.ascontiguousarray(img[..., channel]),
                m,
                (w, h),
                flags=cv2.INTER_CUBIC,
                borderMode=cv2.BORDER_REPLICATE,
            )
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    r2 = ((x - w / 2) ** 2 + (y - h / 2) ** 2) / ((w / 2) ** 2 + (h / 2) ** 2)
    img *= (1 - sensor.vignette * r2 * (0.6 + 0.4 * r2))[..., None]

    sigma = np.sqrt(np.maximum(img, 0) / sensor.electrons_at_white + sensor.read_noise**2)
    grain = rng.standard_normal(img.shape, dtype=np.float32) * sigma.astype(np.float32)
    luma_grain = grain.mean(axis=2, keepdims=True)
    chroma_grain = cv2.GaussianBlur(grain - luma_grain, (0, 0), sensor.chroma_blur_px)
    img = img + luma_grain + chroma_grain

    img = np.clip(img * np.asarray(sensor.wb_gain, np.float32), 0, None)
    img = local_tone(img, sensor.local_tone)
    img = np.where(
        img > 0.8, 0.8 + 0.2 * (1 - np.exp(-(img - 0.8) / 0.2)), img
    )  # highlight shoulder
    luma = img @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    img = np.clip(luma[..., None] + sensor.saturation * (img - luma[..., None]), 0, 1)
    out = linear_to_srgb(img).astype(np.float32)
    out = out + sensor.contrast * (out * out * (3 - 2 * out) - out)
    luma = out @ np.array([0.299, 0.587, 0.114], np.float32)
    detail = luma - cv2.GaussianBlur(luma, (0, 0), sensor.sharpen_px)
    out = out + sensor.sharpen * np.clip(detail, -0.12, 0.12)[..., None]
    return np.asarray(np.clip(np.round(out * 255), 0, 255), np.uint8)


# EXIF orientation -> quarter turns (counter-clockwise) from the upright picture to the stored one.
STORED_TURNS = {1: 0, 3: 2, 6: 1, 8: 3}


def to_jpeg(upright: NDArray[np.uint8], sensor: Sensor) -> bytes:
    """Encode as JPEG with phone-like EXIF; Make and Model are left blank."""
    stored = np.ascontiguousarray(np.rot90(upright, STORED_TURNS[sensor.orientation]))
    exif = Image.Exif()
    exif[0x010F] = ""  # Make
    exif[0x0110] = ""  # Model
    exif[0x0112] = sensor.orientation
    exif[0x0132] = "2024:05:14 10:00:00"
    details = exif.get_ifd(0x8769)
    details[0x9003] = "2024:05:14 10:00:00"
    details[0xA002], details[0xA003] = stored.shape[1], stored.shape[0]
    if sensor.focal_mm is not None:
        details[0x920A] = sensor.focal_mm
    if sensor.focal_35mm is not None:
        details[0xA405] = sensor.focal_35mm
    buffer = io.BytesIO()
    Image.fromarray(stored).save(
        buffer, "JPEG", quality=sensor.jpeg_quality, exif=exif.tobytes(), subsampling=2
    )
    return buffer.getvalue()
