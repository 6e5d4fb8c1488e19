"""Pictures of water, hills and plants."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from painting import Picture, Rng, blade, ellipse, noise, rgb, smooth

Pixels = NDArray[np.uint8]


def _ridge(p: Picture, level: float, height: float, beta: float = 2.4) -> NDArray[np.float32]:
    """Skyline (1, w): heights of a ridge about a level."""
    profile = noise(p.rng, 4, p.w // 4, beta)[0]
    smooth_profile = cv2.GaussianBlur(profile[None, :], (0, 0), 6)
    line = cv2.resize(smooth_profile, (p.w, 1), interpolation=cv2.INTER_CUBIC)
    return np.asarray(level + height * line, np.float32)


def _below(p: Picture, line: NDArray[np.float32], soft: float = 0.001) -> NDArray[np.float32]:
    return np.asarray(np.clip((p.rows() - line) / soft + 0.5, 0, 1), np.float32)


def lake_at_dawn(rng: Rng) -> Pixels:
    """Layered hills in mist, mirrored in still water; rose, slate and blue-grey."""
    p = Picture(1600, 1200, "#f3e3d5", rng)
    t = (p.rows() / p.bottom)[..., None]
    sky = np.clip(t / 0.52, 0, 1)
    p.pixels[:] = rgb("#c9d3dc") * (1 - sky) + rgb("#f6dfcd") * sky
    sun = ellipse(0.66, 0.275, 0.036, 0.036)
    glow = cv2.GaussianBlur(p.shape(sun), (0, 0), p.w / 22)
    p.pixels += 0.9 * glow[..., None] * (rgb("#fff0dc") - p.pixels)
    p.opaque(p.shape(sun), "#fdf3e4", 0.0)
    shore = 0.455
    tones = ["#c3c4cd", "#a5afbd", "#8697a8", "#63798d", "#3f566b"]
    for k, tone in enumerate(tones):
        line = _ridge(p, 0.29 + 0.034 * k, 0.020 - 0.002 * k)
        mist = np.clip(1 - (p.rows() - line) / 0.115, 0.12, 1)
        p.opaque(_below(p, line) * (p.rows() < shore) * mist, tone, 0.02)
    trees = _ridge(p, shore - 0.008, 0.004, 1.0)
    p.opaque(_below(p, trees) * (p.rows() < shore), "#2d4153", 0.02)
    edge = int(shore * p.w)
    depth = p.h - edge
    above = p.pixels[edge - depth : edge][::-1].copy()
    mirror = cv2.GaussianBlur(above, (0, 0), sigmaX=14, sigmaY=5)
    fade = np.linspace(0, 1, depth, dtype=np.float32)[:, None, None]
    p.pixels[edge:] = mirror * (1 - 0.45 * fade) + rgb("#b9c6cf") * 0.45 * fade
    ripples = noise(rng, depth // 4, p.w // 40, 1.2)
    ripples = cv2.resize(ripples, (p.w, depth), interpolation=cv2.INTER_CUBIC)
    p.pixels[edge:] *= 1 + 0.018 * ripples[..., None] * (0.3 + fade)
    p.stroke(np.array([[0.0, shore], [1.0, shore]]), 0.0022, "#e9e3dc")
    return p.finish(0.010)


def night_water(rng: Rng) -> Pixels:
    """Pale moon and its path over a dark lake; midnight blue and old gold."""
    p = Picture(1200, 1600, "#16263d", rng)
    t = (p.rows() / p.bottom)[..., None]
    p.pixels[:] = rgb("#0f1c30") * (1 - t) + rgb("#29496a") * t
    p.pixels *= 1 + 0.05 * p.mottle[..., None]
    horizon = 0.80
    moon = ellipse(0.60, 0.36, 0.135, 0.135, n=300)
    p.pixels += (
        0.55
        * cv2.GaussianBlur(p.shape(moon), (0, 0), p.w / 14)[..., None]
        * (rgb("#7f93a3") - p.pixels)
    )
    p.opaque(p.shape(moon, 0.0008), "#efdcae", 0.05)
    for x, y, r in ((0.56, 0.33, 0.030), (0.64, 0.40, 0.024), (0.62, 0.31, 0.014)):
        spot = cv2.GaussianBlur(p.shape(ellipse(x, y, r, r)), (0, 0), 10)
        p.opaque(spot * 0.35, "#d8bd84", 0)
    p.opaque(_below(p, _ridge(p, horizon - 0.06, 0.022)) * (p.rows() < horizon), "#0c1726", 0.06)
    p.opaque(_below(p, _ridge(p, horizon - 0.022, 0.011)) * (p.rows() < horizon), "#091220", 0.06)
    water = (p.rows() > horizon).astype(np.float32) * np.ones((1, p.w), np.float32)
    p.opaque(water, "#1d3a57", 0.06)
    for _ in range(300):
        depth = rng.uniform(0, 1) ** 1.35
        y = horizon + 0.006 + depth * (p.bottom - horizon - 0.03)
        spread = 0.055 + 0.15 * depth
        x = 0.60 + rng.normal(0, spread * 0.55)
        half = rng.uniform(0.010, 0.042) * (0.5 + depth)
        stroke = np.c_[
            np.linspace(x - half, x + half, 24), y + 0.0010 * np.sin(np.linspace(0, 5, 24))
        ]
        widths = (0.0018 + 0.0034 * depth) * np.sin(np.linspace(0.05, np.pi - 0.05, 24))
        strength = 0.85 * np.exp(-(((x - 0.60) / (spread * 1.1)) ** 2))
        p.stroke(stroke, widths, "#e3c98d", strength)
    return p.finish(0.012)


def sails(rng: Rng) -> Pixels:
    """Three boats on a green lake under a wide sky; teal, white and coral."""
    p = Picture(1600, 1200, "#eef0e6", rng)
    t = p.rows() / p.bottom
    p.pixels[:] = rgb("#dfe9e4") * (1 - t[..., None]) + rgb("#f7efe0") * t[..., None]
    for _ in range(6):
        cloud = np.zeros((p.h, p.w), np.float32)
        cx, cy = rng.uniform(0, 1), rng.uniform(0.06, 0.27)
        for _ in range(7):
            x, y = cx + rng.normal(0, 0.07), cy + rng.normal(0, 0.010)
            cloud = np.maximum(cloud, p.shape(ellipse(x, y, rng.uniform(0.04, 0.09), 0.013)))
        p.opaque(cv2.GaussianBlur(cloud, (0, 0), 22) * 0.55, "#fbf8f0", 0)
    horizon = 0.40
    hills = _ridge(p, horizon - 0.032, 0.010)
    p.wash(_below(p, hills) * (p.rows() < horizon), "#7fa8a6", 0.8, 0.2)
    tones = ["#8fbdb8", "#6fa9a6", "#4f9293", "#357a80", "#22636c", "#174f5a"]
    for k, tone in enumerate(tones):
        level = horizon + (p.bottom - horizon) * (k / len(tones)) ** 1.25
        x = p.columns()
        wave = level + (0.0016 + 0.0032 * k / 5) * np.sin(x * (60 - 6 * k) + 2.1 * k)
        wave = wave + 0.002 * np.sin(x * 17 + k) * (k > 0)
        p.opaque(_below(p, wave.astype(np.float32)), tone, 0.05)
    for x, foot, size, main, second in (
        (0.30, 0.520, 0.255, "#fdfaf3", "#ee8a72"),
        (0.585, 0.445, 0.130, "#fbf6ea", "#e9e2d2"),
        (0.745, 0.424, 0.078, "#ee8a72", "#fdfaf3"),
    ):
        mast = x
        top = foot - size
        jib = [[0.016, 0], [0.30, 0.64], [0.40, 0.86], [0.016, 0.88]]
        mainsail = [[-0.012, 0.10], [-0.15, 0.62], [-0.26, 0.87], [-0.012, 0.85]]
        for sail, tone in ((jib, main), (mainsail, second)):
            p.paint(smooth(np.array(sail) * size + [mast, top], 90), tone, 0.03)
        pole = np.array([[mast, top - 0.006], [mast, foot - size * 0.05]])
        p.stroke(pole, size * 0.012, "#3a4a4d")
        hull = [[-0.30, -0.085], [-0.22, 0], [0.26, 0], [0.43, -0.10]]
        p.paint(smooth(np.array(hull) * size + [x, foot], 80), "#2b3f46", 0.03)
        for k in range(7):  # broken reflection
            y = foot + size * (0.03 + 0.055 * k)
            half = size * (0.26 - 0.030 * k)
            sway = size * 0.03 * np.sin(2.3 * k)
            stroke = np.c_[np.linspace(x - half, x + half, 30) + sway, np.full(30, y)]
            widths = size * 0.016 * np.sin(np.linspace(0.05, np.pi - 0.05, 30))
            p.stroke(stroke, widths, "#eaf0ea" if k else "#2b3f46", 0.7)
    return p.finish(0.014)


def fern(rng: Rng) -> Pixels:
    """One fern frond in green ink on cream."""
    p = Picture(1200, 1600, "#f5efe1", rng)
    spine = smooth([[0.44, 1.24], [0.45, 0.98], [0.49, 0.66], [0.545, 0.36], [0.60, 0.15]], 300)
    heading = np.unwrap(np.arctan2(*np.gradient(spine, axis=0).T[::-1]))
    greens = ["#4d7a57", "#5f8a5f", "#3b6549", "#6f9a6c"]
    n = 27
    for k in range(n):
        f = (k + 0.5) / n
        at = int((0.16 + 0.83 * f) * (len(spine) - 1))
        reach = 0.30 * (np.sin(np.pi * (0.16 + 0.84 * f) ** 1.0) ** 0.75) + 0.02
        for side in (-1, 1):
            turn = heading[at] + side * (1.28 - 0.55 * f)
            wide = 0.034 * (reach / 0.3) ** 0.5
            leaf = blade(spine[at], turn, reach, wide, -side * (0.40 + 0.1 * rng.random()))
            p.paint(leaf, greens[(k + (side > 0)) % 4], 0.10)
            rib = (leaf[:40] + leaf[40:][::-1]) / 2
            p.stroke(rib[:36], np.linspace(0.0020, 0.0008, 36), "#e6ead6", 0.55)
    p.paint(blade(spine[-4], heading[-1], 0.07, 0.02), greens[0], 0.1)
    p.stroke(spine, np.linspace(0.0085, 0.0022, len(spine)), "#2f4a35")
    return p.finish(0.012)


def alder_twig(rng: Rng) -> Pixels:
    """Twig with round leaves and catkins, watercolour and pen; olive, sepia and ochre."""
    p = Picture(1200, 1600, "#f6f1e6", rng)
    stem = smooth([[0.22, 1.20], [0.33, 0.95], [0.42, 0.70], [0.55, 0.46], [0.70, 0.20]], 300)
    p.stroke(stem, np.linspace(0.016, 0.004, len(stem)), "#5b4632")
    greens = ["#8a9655", "#75854a", "#a3a35c", "#667a4c", "#b5a65e"]
    spots = (0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.985)
    for k, f in enumerate(spots):
        here = stem[int(f * (len(stem) - 1))]
        side = 1 if k % 2 else -1
        heading = -1.05 + side * (0.95 - 0.25 * f) if f < 0.95 else -1.0
        size = 0.27 * (1.12 - 0.55 * f)
        foot = here + 0.045 * np.array([np.cos(heading), np.sin(heading)])
        p.stroke(smooth([here, (here + foot) / 2 + [0.004, 0.004], foot], 20), 0.0045, "#6a5a3a")
        t = np.linspace(0, 2 * np.pi, 200)
        rim = 1 + 0.018 * np.sin(26 * t) + 0.012 * np.sin(11 * t + k)
        outline = np.c_[0.5 - 0.5 * np.cos(t) * rim, 0.40 * np.sin(t) * rim]
        c, s = np.cos(heading), np.sin(heading)
        leaf = outline * size @ np.array([[c, s], [-s, c]]) + foot
        p.wash(p.shape(leaf), greens[k % 5], 0.95, 0.55)
        rib = np.c_[np.linspace(0, 0.95, 40), 0.02 * np.sin(np.linspace(0, 3, 40))] * size
        rib = rib @ np.array([[c, s], [-s, c]]) + foot
        p.stroke(rib, np.linspace(0.0034, 0.0012, 40), "#4c5630", 0.8)
        for g in np.linspace(0.16, 0.80, 6):
            spot = rib[int(g * 39)]
            for turn in (-1, 1):
                a = heading + turn * 0.75
                reach = size * 0.40 * np.sin(np.pi * (0.12 + 0.86 * g)) ** 0.7
                steps = np.linspace(0, 1, 20)
                bow = a - turn * 0.25 * steps
                vein = spot + np.c_[np.cumsum(np.cos(bow)), np.cumsum(np.sin(bow))] * reach / 20
                p.stroke(vein, np.linspace(0.0019, 0.0007, 20), "#4c5630", 0.6)
    for x, y, long in ((0.565, 0.465, 0.20), (0.605, 0.395, 0.17), (0.345, 0.925, 0.19)):
        for j in range(30):
            g = j / 29
            px = x + 0.020 * np.sin(2.2 * g) + 0.03 * g
            py = y + 0.02 + long * g
            half = 0.0125 * np.sin(np.pi * (0.10 + 0.86 * g)) ** 0.6
            p.paint(
                ellipse(px, py, half, 0.0058, 0.2, 40),
                ["#b98a3d", "#a06f32", "#8a5a2c"][j % 3],
                0.1,
            )
    return p.finish(0.012)
