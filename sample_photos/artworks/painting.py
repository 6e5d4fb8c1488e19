"""Paper, washes, opaque shapes and ink lines: what the procedural artworks are painted with.

Coordinates are fractions of the picture's width, y down; a picture of aspect a reaches y = 1/a.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Rng = np.random.Generator
Array = NDArray[np.float64]
Image = NDArray[np.float32]

_SHIFT = 4  # fractional bits of OpenCV's drawing functions


def rgb(code: str) -> Image:
    """'#rrggbb' as sRGB in 0..1."""
    return np.array([int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)], np.float32)


def noise(rng: Rng, height: int, width: int, beta: float) -> Image:
    """Noise of power spectrum 1/f^beta, zero mean and unit variance."""
    fy, fx = np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None, :]
    f = np.hypot(fy, fx)
    f[0, 0] = np.inf
    spectrum = np.fft.rfft2(rng.standard_normal((height, width))) / f ** (beta / 2)
    out = np.fft.irfft2(spectrum, s=(height, width))
    return np.asarray((out - out.mean()) / out.std(), np.float32)


class Picture:
    """A picture in the making, painted at twice its size and reduced at the end.

    Parameters
    ----------
    width, height
        Final size in pixels.
    ground
        Paper colour.
    rng
        Source of every irregularity.
    """

    def __init__(self, width: int, height: int, ground: str, rng: Rng) -> None:
        self.rng = rng
        self.final = (width, height)
        self.w, self.h = 2 * width, 2 * height
        self.bottom = height / width
        self.pixels: Image = np.broadcast_to(rgb(ground), (self.h, self.w, 3)).copy()
        self.mottle = self._soft_noise(2.2)

    def _soft_noise(self, beta: float) -> Image:
        small = noise(self.rng, self.h // 4, self.w // 4, beta)
        return np.asarray(cv2.resize(small, (self.w, self.h), interpolation=cv2.INTER_CUBIC))

    def rows(self) -> Image:
        """Height of every pixel row, (h, 1)."""
        return (np.arange(self.h, dtype=np.float32)[:, None] + 0.5) / self.w

    def columns(self) -> Image:
        """Position of every pixel column, (1, w)."""
        return (np.arange(self.w, dtype=np.float32)[None, :] + 0.5) / self.w

    def _fixed(self, points: Array) -> NDArray[np.int32]:
        scaled = np.asarray(points) * self.w * (1 << _SHIFT)
        return np.round(scaled).astype(np.int32)

    def shape(self, points: Array, wobble: float = 0.0) -> Image:
        """Coverage (h, w) of a polygon; `wobble` makes its outline hand-cut."""
        if wobble:
            points = roughened(points, self.rng, wobble)
        mask = np.zeros((self.h, self.w), np.uint8)
        cv2.fillPoly(mask, [self._fixed(points)], 255, cv2.LINE_AA, _SHIFT)
        return np.asarray(mask, np.float32) / 255

    def paint(
        self,
        points: Array,
        colour: str,
        texture: float = 0.03,
        opacity: float = 1.0,
        wobble: float = 0.0,
    ) -> None:
        """Cover a small polygon with body colour; works in its bounding box only."""
        low = np.floor(np.min(points, axis=0) * self.w).astype(int) - 3
        high = np.ceil(np.max(points, axis=0) * self.w).astype(int) + 4
        left, top = np.clip(low, 0, [self.w, self.h])
        right, bottom = np.clip(high, 0, [self.w, self.h])
        if right <= left or bottom <= top:
            return
        if wobble:
            points = roughened(points, self.rng, wobble)
        mask = np.zeros((bottom - top, right - left), np.uint8)
        local = self._fixed(points) - np.array([left, top], np.int32) * (1 << _SHIFT)
        cv2.fillPoly(mask, [local], 255, cv2.LINE_AA, _SHIFT)
        part = self.pixels[top:bottom, left:right]
        tone = rgb(colour) * (1 + texture * self.mottle[top:bottom, left:right, None])
        part += (opacity / 255) * mask[..., None].astype(np.float32) * (tone - part)

    def stroke(
        self, points: Array, widths: Array | float, colour: str, opacity: float = 1.0
    ) -> None:
        """Draw a line whose width may change along it."""
        points = np.asarray(points, float)
        widths = np.broadcast_to(np.asarray(widths, float), (len(points),))
        along = np.gradient(points, axis=0)
        along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
        across = np.c_[-along[:, 1], along[:, 0]] * widths[:, None] / 2
        self.paint(np.r_[points + across, (points - across)[::-1]], colour, 0.0, opacity)

    def opaque(self, mask: Image, colour: str, texture: float = 0.03) -> None:
        """Cover with body colour, slightly uneven."""
        tone = rgb(colour) * (1 + texture * self.mottle[..., None])
        self.pixels += mask[..., None] * (tone - self.pixels)

    def wash(self, mask: Image, colour: str, strength: float = 0.9, edge: float = 0.35) -> None:
        """Glaze with transparent colour that pools at its edges, as watercolour does."""
        soft = cv2.GaussianBlur(mask, (0, 0), self.w / 160)
        density = mask * (1 + edge * np.clip(1.6 * (mask - soft), 0, 1))
        density *= strength * (1 + 0.16 * self.mottle + 0.05 * self._soft_noise(1.2))
        self.pixels *= np.exp(np.clip(density, 0, 1.6)[..., None] * np.log(rgb(colour) + 1e-3))

    def shade(self, mask: Image, factor: Image | float) -> None:
        """Multiply brightness inside a mask."""
        self.pixels *= 1 + mask[..., None] * (np.asarray(factor, np.float32)[..., None] - 1)

    def finish(self, grain: float = 0.012) -> NDArray[np.uint8]:
        """Paper grain, reduction to the final size, 8 bits."""
        tooth = cv2.GaussianBlur(noise(self.rng, self.h, self.w, 0.3), (0, 0), 1.6)
        light = self.pixels * (1 + grain * (tooth / tooth.std())[..., None])
        out = cv2.resize(light, self.final, interpolation=cv2.INTER_AREA)
        return np.asarray(np.clip(np.rint(out * 255), 0, 255), np.uint8)


def roughened(points: Array, rng: Rng, wobble: float) -> Array:
    """Outline as cut by hand: moved in and out by about `wobble`."""
    outward = points - points.mean(0)
    outward = outward / np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-9)
    return np.asarray(points + outward * noise(rng, 2, len(points), 2.0)[0][:, None] * wobble)


def ellipse(x: float, y: float, rx: float, ry: float, turn: float = 0.0, n: int = 160) -> Array:
    """Outline (n, 2) of an ellipse, turned by radians."""
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    p = np.c_[rx * np.cos(t), ry * np.sin(t)]
    c, s = np.cos(turn), np.sin(turn)
    return p @ np.array([[c, s], [-s, c]]) + [x, y]


def box(left: float, top: float, right: float, bottom: float, per_side: int = 40) -> Array:
    """Outline of a rectangle with points along its sides, so that it can wobble."""
    t = np.linspace(0, 1, per_side, endpoint=False)[:, None]
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return np.vstack(
        [a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    )


def blade(start: Array, direction: float, length: float, width: float, bend: float = 0.0) -> Array:
    """Outline of a pointed leaf from its stalk; `bend` curves it, radians."""
    t = np.linspace(0, 1, 40)
    angle = direction + bend * t
    spine = np.c_[np.cumsum(np.cos(angle)), np.cumsum(np.sin(angle))] * length / len(t)
    normal = np.c_[-np.sin(angle), np.cos(angle)]
    half = (0.5 * width * np.sin(np.pi * t**0.85) ** 0.9)[:, None]
    return np.r_[spine + half * normal, (spine - half * normal)[::-1]] + np.asarray(start)


def smooth(points: Array, n: int = 200) -> Array:
    """Curve through a few points (Catmull-Rom)."""
    p = np.asarray(points, float)
    p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    segments = len(p) - 3
    out = []
    for k in range(segments):
        a, b, c, d = p[k : k + 4]
        u = np.linspace(0, 1, max(2, n // segments))[:, None]
        out.append(
            0.5
            * (
                2 * b
                + (c - a) * u
                + (2 * a - 5 * b + 4 * c - d) * u**2
                + (3 * b - a - 3 * c + d) * u**3
            )
        )
    return np.vstack(out)
