"""Seamless surfaces of the room: linear-light RGB (H, W, 3), row 0 at the top."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from light import hex_linear
from numpy.typing import NDArray

Rng = np.random.Generator
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Tile:
    """Seamless texture: reflectance, height map (m) and the size it covers (m)."""

    reflectance: Array
    size_m: tuple[float, float]
    height_m: Array | None = None


def noise(rng: Rng, height: int, width: int, beta: float, stretch: float = 1.0) -> Array:
    """Seamless noise of power spectrum 1/f^beta, zero mean and unit variance.

    `stretch` lengthens it along x.
    """
    fy = np.fft.fftfreq(height)[:, None]
    fx = np.fft.rfftfreq(width)[None, :] * stretch
    f = np.hypot(fy, fx)
    f[0, 0] = np.inf
    out = np.fft.irfft2(
        np.fft.rfft2(rng.standard_normal((height, width))) / f ** (beta / 2), s=(height, width)
    )
    return np.asarray((out - out.mean()) / out.std())


def paint(rng: Rng, colour: Array) -> Tile:
    """Emulsion paint: faint roller mottling and stipple."""
    mottling = 1 + 0.0015 * noise(rng, 512, 512, 1.6)
    stipple = np.asarray(cv2.GaussianBlur(noise(rng, 512, 512, 0.6), (0, 0), 1.2), float)
    return Tile(colour * mottling[..., None], (0.9, 0.9), 0.00009 * stipple / stipple.std())


def brick(rng: Rng, whitewashed: bool) -> Tile:
    """Running-bond brick, 215 x 65 mm with 10 mm joints, 8 x 12 to the tile.

    The usual metric brick.
    """
    px = 1100.0  # texels per metre
    pitch_x, pitch_y = 0.225, 0.075
    nx, ny = 8, 12
    w, h = int(nx * pitch_x * px), int(ny * pitch_y * px)
    y, x = np.mgrid[0:h, 0:w] / px
    row = np.floor(y / pitch_y).astype(int)
    xs = x + 0.5 * pitch_x * (row % 2)
    column = np.floor(xs / pitch_x).astype(int) % nx
    wobble = 0.0012 * noise(rng, h, w, 2.0)
    inside = (
        np.minimum(
            np.minimum(xs % pitch_x, pitch_x - xs % pitch_x),
            np.minimum(y % pitch_y, pitch_y - y % pitch_y),
        )
        - 0.005
        + wobble
    )
    face = np.clip(inside / 0.003, 0, 1)
    tone = rng.normal(0, 1, (ny, nx, 1))[row, column]
    hue = rng.normal(0, 1, (ny, nx, 1))[row, column]
    speckle = noise(rng, h, w, 1.2)[..., None]
    if whitewashed:
        body = np.array([0.70, 0.68, 0.64]) * (1 + 0.05 * tone + 0.05 * speckle)
        joint = np.array([0.60, 0.58, 0.54]) * (1 + 0.05 * speckle)
    else:
        body = (
            np.array([0.34, 0.14, 0.085])
            * (1 + 0.22 * tone + 0.12 * speckle)
            * (1 + np.array([0.0, 0.12, 0.18]) * hue)
        )
        joint = np.array([0.45, 0.41, 0.36]) * (1 + 0.08 * speckle)
    colour = joint + (body - joint) * face[..., None]
    relief = 0.006 * face + 0.0005 * noise(rng, h, w, 1.6)
    return Tile(np.clip(colour, 0.01, 0.9), (nx * pitch_x, ny * pitch_y), relief)


def wallpaper(rng: Rng, pattern: str) -> Tile:
    """Wallpaper in one of three repeats: 'trellis', 'leaves' or 'stripes'."""
    size = 1060
    ground, ink, accent = [
        (hex_linear("#e9e4d8"), hex_linear("#9aa894"), hex_linear("#c9b68f")),
        (hex_linear("#dfe5e6"), hex_linear("#5f7f8c"), hex_linear("#b08968")),
        (hex_linear("#f0e6df"), hex_linear("#c08a80"), hex_linear("#7d8c76")),
    ][int(rng.integers(3))]
    mask = np.zeros((size, size), np.uint8)
    second = np.zeros_like(mask)

    def stroke(target: NDArray[np.uint8], points: Array, thickness: int) -> None:
        for dx in (-size, 0, size):  # draw the neighbours too, so that the repeat has no seam
            for dy in (-size, 0, size):
                p = np.round((points + [dx, dy]) * 16).astype(np.int32)
                if thickness > 0:
                    cv2.polylines(target, [p], False, 255, thickness, cv2.LINE_AA, 4)
                else:
                    cv2.fillPoly(target, [p], 255, cv2.LINE_AA, 4)

    if pattern == "trellis":
        t = np.linspace(0, 1, 80)
        half = size / 4
        for i in range(4):
            for j in range(4):
                for sx in (-1, 1):
                    x = (i + 0.5) * half + sx * (half / 2) * np.sin(np.pi * t) ** 1.3
                    stroke(mask, np.c_[x, (j + t) * half], 7)
                star = np.linspace(0, 2 * np.pi, 60)
                radius = 16 + 12 * np.cos(4 * star)
                stroke(
                    second,
                    np.c_[i * half + radius * np.cos(star), j * half + radius * np.sin(star)],
                    -1,
                )
    elif pattern == "leaves":
        for k in range(16):  # one sprig in each cell of a jittered 4 x 4 grid
            cell = np.array([k % 4, k // 4]) * size / 4
            x0, y0 = cell + rng.uniform(0, 0.6 * size / 4, 2)
            turn = rng.uniform(0, 2 * np.pi)
            t = np.linspace(0, 1, 60)
            along = 250 * t
            sway = 35 * np.sin(3.0 * t)
            c, s = np.cos(turn), np.sin(turn)
            stem = np.c_[x0 + c * along - s * sway, y0 + s * along + c * sway]
            target = mask if k % 3 else second
            stroke(target, stem, 5)
            for i in range(8, 58, 9):
                for side in (-1, 1):
                    direction = turn + side * 0.9 + 0.3 * np.cos(3 * t[i])
                    a = np.linspace(0, np.pi, 24)
                    blade = np.r_[
                        np.c_[np.linspace(0, 60, 24), 13 * np.sin(a)],
                        np.c_[np.linspace(60, 0, 24), -13 * np.sin(a)],
                    ]
                    cd, sd = np.cos(direction), np.sin(direction)
                    stroke(target, stem[i] + blade @ np.array([[cd, sd], [-sd, cd]]), -1)
    else:
        for i in range(5):
            mask[:, int(i * size / 5) : int(i * size / 5 + size / 10)] = 255
            second[:, int(i * size / 5 + size * 0.14) : int(i * size / 5 + size * 0.155)] = 255
    m, s2 = mask[..., None] / 255.0, second[..., None] / 255.0
    colour = ground * (1 - m) + ink * m
    colour = colour * (1 - s2) + accent * s2
    colour *= 1 + 0.012 * noise(rng, size, size, 1.0)[..., None]
    return Tile(np.clip(colour, 0, 0.9), (0.53, 0.53))  # 0.53 m: the usual European roll width


def wood(rng: Rng, colour: Array, planks: bool) -> Tile:
    """Timber with grain along x.

    As floor boards (2.4 m x 1.2 m, eight boards) or as a plain board face.
    """
    w, h = (1600, 800) if planks else (1024, 512)
    size = (2.4, 1.2) if planks else (1.6, 0.8)
    grain = noise(rng, h, w, 1.7, stretch=28)
    fine = noise(rng, h, w, 0.8, stretch=60)
    figure = np.sin(9 * noise(rng, h, w, 3.0, stretch=9))
    tone = 0.10 * grain + 0.06 * fine + 0.05 * figure
    relief = None
    if planks:
        board = h // 8
        y = np.arange(h) // board
        tone += rng.normal(0, 0.10, 8)[y][:, None]
        relief = np.zeros((h, w))
        for i in range(8):
            rows = slice(i * board, (i + 1) * board)
            tone[rows] = np.roll(tone[rows], int(rng.integers(w)), axis=1)
            relief[i * board : i * board + 2] = -1
            joint = int(rng.integers(w))
            relief[rows, joint : joint + 2] = -1
        tone += 0.3 * relief
        relief = 0.0003 * np.asarray(
            cv2.GaussianBlur(relief, (0, 0), 1.0), float
        )  # eased edges: a hard groove glints
    return Tile(
        np.clip(colour * np.exp(tone[..., None] * [0.9, 1.0, 1.15]), 0.005, 0.85), size, relief
    )


def fabric(rng: Rng, colour: Array) -> Tile:
    """Plain weave with slubs; 12 cm repeat."""
    n = 480
    y, x = np.mgrid[0:n, 0:n]
    weave = np.sin(2 * np.pi * x / 8) * np.sin(2 * np.pi * y / 8)
    slub = noise(rng, n, n, 1.0, 6) + noise(rng, n, n, 1.0, 6).T
    tone = 0.06 * weave + 0.05 * slub
    return Tile(np.clip(colour * (1 + tone[..., None]), 0.005, 0.9), (0.12, 0.12), 0.0002 * weave)


def rug(rng: Rng, colour: Array) -> Array:
    """Bordered rug filling uv 0..1."""
    h, w = 500, 750
    y, x = np.mgrid[0:h, 0:w]
    edge = np.minimum(np.minimum(x, w - 1 - x), np.minimum(y, h - 1 - y))
    out = np.tile(colour, (h, w, 1))
    out[(edge > 22) & (edge < 34)] = colour * 0.35
    diamonds = (np.abs((x % 62) - 31) + np.abs((y % 62) - 31)) < 13
    out[diamonds & (edge > 55)] = np.clip(colour * 1.9, 0, 0.75)
    return out * (1 + 0.08 * noise(rng, h, w, 0.7)[..., None])


def outdoors(rng: Rng) -> Array:
    """Soft view through a window: bright sky over blurred foliage.

    Relative radiance, about 1 in the sky.
    """
    h, w = 200, 160
    t = np.linspace(0, 1, h)[:, None, None]
    sky = np.array([0.86, 0.95, 1.08]) * (1.1 - 0.25 * t) * np.ones((h, w, 1))
    green = np.array([0.25, 0.33, 0.17]) * (1 + 0.3 * noise(rng, h, w, 2.0)[..., None])
    line = 0.66 + 0.05 * noise(rng, 4, w, 2.0)[0]
    mask = (t[..., 0] > line[None, :]).astype(float)[..., None]
    return np.clip(cv2.GaussianBlur(sky * (1 - mask) + green * mask, (0, 0), 3.0), 0.02, 2)
