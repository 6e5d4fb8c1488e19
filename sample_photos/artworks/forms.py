"""Abstract and still-life pictures."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from painting import Picture, Rng, box, ellipse, noise, smooth

Pixels = NDArray[np.uint8]


def pebbles(rng: Rng) -> Pixels:
    """Balanced stones, cut-paper fashion; chalk, ochre, clay and charcoal."""
    p = Picture(1200, 1600, "#efe6d8", rng)
    stones = [
        (0.50, 1.090, 0.300, 0.105, -0.03, "#3b3a3a"),
        (0.46, 0.905, 0.225, 0.088, 0.06, "#b9703f"),
        (0.54, 0.755, 0.175, 0.070, -0.09, "#d8ccb8"),
        (0.49, 0.630, 0.130, 0.062, 0.10, "#c99a48"),
        (0.515, 0.520, 0.090, 0.052, -0.06, "#6f6a64"),
        (0.50, 0.435, 0.055, 0.037, 0.12, "#8fa3a0"),
    ]
    sun = ellipse(0.73, 0.30, 0.105, 0.105)
    p.opaque(p.shape(sun, 0.001), "#e2b9a0", 0.05)
    for x, y, rx, ry, turn, tone in stones:
        t = np.linspace(0, 2 * np.pi, 240, endpoint=False)
        squash = np.sign(np.sin(t)) * np.abs(np.sin(t)) ** 0.85
        swell = np.sign(np.cos(t)) * np.abs(np.cos(t)) ** 0.80
        local = np.c_[rx * swell, ry * squash]
        c, s = np.cos(turn), np.sin(turn)
        outline = local @ np.array([[c, s], [-s, c]]) + [x, y]
        p.opaque(p.shape(outline, 0.0025), tone, 0.06)
        for _ in range(70):  # speckles
            a, r = rng.uniform(0, 2 * np.pi), np.sqrt(rng.uniform(0, 0.86))
            spot = [x + rx * r * np.cos(a), y + ry * r * np.sin(a)]
            size = rng.uniform(0.0008, 0.0028)
            p.paint(
                ellipse(*spot, size, size, 0, 20),
                "#2c2a28" if tone != "#3b3a3a" else "#8c857b",
                0,
                0.35,
            )
    return p.finish(0.016)


def arches(rng: Rng) -> Pixels:
    """Nested arches; terracotta, sand, plum and blush."""
    p = Picture(1200, 1600, "#f2e7da", rng)

    def arch(x: float, foot: float, radius: float, high: float) -> NDArray[np.float64]:
        t = np.linspace(np.pi, 2 * np.pi, 120)
        top = np.c_[x + radius * np.cos(t), foot - high + radius * np.sin(t)]
        return np.vstack([[[x - radius, foot]], top, [[x + radius, foot]]])

    for x, foot, radii, high, tones in (
        (
            0.385,
            1.16,
            (0.265, 0.205, 0.145, 0.085),
            0.42,
            ("#b65a3c", "#f2e7da", "#d99a7c", "#6b2f3f"),
        ),
        (0.715, 1.16, (0.165, 0.120, 0.075), 0.16, ("#e3c49a", "#f2e7da", "#c77f5d")),
    ):
        for radius, tone in zip(radii, tones, strict=True):
            p.opaque(p.shape(arch(x, foot, radius, high), 0.0012), tone, 0.05)
    p.opaque(p.shape(ellipse(0.735, 0.46, 0.095, 0.095), 0.001), "#6b2f3f", 0.06)
    p.opaque(p.shape(box(0.10, 1.16, 0.90, 1.172), 0.0006), "#6b2f3f", 0.04)
    return p.finish(0.016)


def basket_weave(rng: Rng) -> Pixels:
    """Bands over and under; indigo and linen."""
    p = Picture(1200, 1200, "#ece4d3", rng)
    n = 10
    step = 0.84 / n
    warp = ["#27396b", "#3d558c", "#27396b", "#6d83ad"]
    weft = ["#f4eee0", "#d9cdb4", "#f4eee0", "#c3b391"]
    edge = 0.08

    def band(row: int, column: int, upright: bool) -> None:
        x, y = edge + column * step, edge + row * step
        inset = 0.09 * step
        tone = warp[column % 4] if upright else weft[row % 4]
        if upright:
            area = box(x + inset, y - 0.10 * step, x + step - inset, y + 1.10 * step)
        else:
            area = box(x - 0.10 * step, y + inset, x + 1.10 * step, y + step - inset)
        shadow = cv2.GaussianBlur(p.shape(area), (0, 0), 7)
        p.shade(shadow, 0.80)
        p.opaque(p.shape(area, 0.0005), tone, 0.04)
        for k in range(9):  # threads
            g = (k + 0.5) / 9
            if upright:
                at = x + inset + g * (step - 2 * inset)
                line = np.array([[at, y - 0.10 * step], [at, y + 1.10 * step]])
            else:
                at = y + inset + g * (step - 2 * inset)
                line = np.array([[x - 0.10 * step, at], [x + 1.10 * step, at]])
            p.stroke(line, 0.0010, "#1c2748" if upright else "#a9986f", 0.28)

    for upright in (True, False):
        for row in range(n):
            for column in range(n):
                if ((row + column) % 2 == 0) == upright:
                    band(row, column, upright)
    return p.finish(0.014)


def ripples(rng: Rng) -> Pixels:
    """Contour lines of two drops in water; navy on pale grey-blue."""
    p = Picture(1200, 1200, "#e6ebec", rng)
    y, x = np.mgrid[0 : p.h // 4, 0 : p.w // 4] * (4.0 / p.w)
    field = np.hypot(x - 0.36, 1.25 * (y - 0.42)) * 24
    other = np.hypot(x - 0.74, 1.25 * (y - 0.70)) * 24
    ground = 0.75 * noise(rng, p.h // 4, p.w // 4, 5.0)
    height = np.minimum(field, other + 3.1) + ground
    height = cv2.resize(height.astype(np.float32), (p.w, p.h), interpolation=cv2.INTER_CUBIC)
    gy, gx = np.gradient(height)
    slope = np.hypot(gx, gy) + 1e-6
    away = np.abs(height - np.round(height)) / slope  # px to the nearest line
    heavy = np.round(height) % 4 == 0
    width = np.where(heavy, 4.6, 2.3)
    lines = np.clip(width / 2 - away + 0.5, 0, 1)
    margin = p.shape(box(0.075, 0.075, 0.925, 0.925))
    deep = np.clip((9.0 - height) / 9.0, 0, 1) * margin
    p.wash(deep.astype(np.float32), "#9db8c4", 0.75, 0.0)
    p.opaque((lines * margin).astype(np.float32), "#1f3350", 0.0)
    return p.finish(0.012)


def pears_and_jug(rng: Rng) -> Pixels:
    """Still life of flat shapes; mustard, olive, dusty pink and grey-green."""
    p = Picture(1600, 1200, "#e9d3c6", rng)
    p.opaque(p.shape(box(-0.05, 0.50, 1.05, 0.80)), "#8d9a8b", 0.05)
    p.opaque(p.shape(box(-0.05, 0.497, 1.05, 0.503)), "#7a8779", 0.04)
    jug = smooth(
        [
            [0.245, 0.155],
            [0.262, 0.235],
            [0.205, 0.330],
            [0.188, 0.455],
            [0.225, 0.570],
            [0.345, 0.578],
            [0.425, 0.555],
            [0.452, 0.450],
            [0.432, 0.335],
            [0.375, 0.238],
            [0.385, 0.150],
            [0.320, 0.162],
        ],
        260,
    )
    handle = smooth(
        [[0.392, 0.215], [0.470, 0.215], [0.512, 0.300], [0.478, 0.400], [0.440, 0.430]], 120
    )
    p.stroke(handle, np.linspace(0.024, 0.020, len(handle)), "#f3ebdd")
    p.paint(jug, "#f3ebdd", 0.04)
    shade = smooth(
        [
            [0.375, 0.238],
            [0.432, 0.335],
            [0.452, 0.450],
            [0.425, 0.555],
            [0.345, 0.578],
            [0.390, 0.500],
            [0.400, 0.400],
            [0.378, 0.310],
        ],
        160,
    )
    p.paint(shade, "#d9cdbb", 0.04, 0.85)
    for k, stem in enumerate(
        (
            [[0.315, 0.16], [0.30, 0.085], [0.255, 0.035]],
            [[0.325, 0.16], [0.345, 0.09], [0.375, 0.045]],
            [[0.32, 0.16], [0.322, 0.09], [0.312, 0.025]],
        )
    ):
        curve = smooth(stem, 60)
        p.stroke(curve, 0.0040, "#5d6a3c")
        for g in (25, 40, 55):
            for side in (-1, 1):
                t = np.linspace(0, 1, 30)
                size = 0.050
                a = -np.pi / 2 + side * 0.9 + 0.15 * k
                spine = curve[g] + np.c_[np.cos(a) * t, np.sin(a) * t] * size
                normal = np.array([-np.sin(a), np.cos(a)])
                half = 0.009 * np.sin(np.pi * t)[:, None]
                p.paint(
                    np.r_[spine + half * normal, (spine - half * normal)[::-1]],
                    ["#6d7a45", "#85935a"][g % 2],
                    0.08,
                )

    def pear(x: float, foot: float, size: float, lean: float, tone: str, dark: str) -> None:
        half = np.array(
            [
                [0.0, -1.0],
                [0.13, -0.97],
                [0.20, -0.72],
                [0.33, -0.50],
                [0.45, -0.27],
                [0.36, -0.05],
                [0.12, 0.0],
                [0.0, -0.005],
            ]
        )
        right = smooth(half, 120)
        outline = np.r_[right, (right * [-1, 1])[::-1]]
        lit = np.r_[right, (right * [0.25, 1])[::-1]]
        c, s = np.cos(lean), np.sin(lean)
        turn = np.array([[c, s], [-s, c]]) * size
        p.paint(outline @ turn + [x, foot], tone, 0.06)
        p.paint(lit @ turn + [x, foot], dark, 0.06, 0.65)
        stalk = smooth([[0.0, -0.98], [0.03, -1.12], [0.10, -1.22]], 40)
        p.stroke(stalk @ turn + [x, foot], 0.008, "#5a4630")

    for x, foot, half in ((0.645, 0.612, 0.11), (0.815, 0.642, 0.10), (0.33, 0.583, 0.15)):
        p.paint(ellipse(x + 0.045, foot, half, 0.016), "#6f7d70", 0.03, 0.8)
    pear(0.640, 0.612, 0.235, 0.07, "#d3a53a", "#b1812b")
    pear(0.800, 0.640, 0.205, -0.16, "#a9a34f", "#85833a")
    return p.finish(0.016)


def half_rounds(rng: Rng) -> Pixels:
    """Half circles on a grid; mustard, teal, coral and bone."""
    p = Picture(1200, 1600, "#f3ecdd", rng)
    tones = ["#d9a441", "#1f6f6d", "#e2725b", "#23424a", "#f0b7a1"]
    step = 0.27
    left, top = 0.095, 0.125
    turns = [[0, 1, 0], [3, 2, 1], [0, 3, 2], [1, 0, 3]]
    picks = [[0, 1, 2], [3, 4, 0], [2, 1, 4], [1, 0, 3]]
    for r in range(4):
        for c in range(3):
            cx, cy = left + (c + 0.5) * step, top + (r + 0.5) * step
            t = np.linspace(0, np.pi, 120)
            half = np.c_[np.cos(t), -np.sin(t)] * (0.470 * step)
            a = turns[r][c] * np.pi / 2
            turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
            ink = tones[picks[r][c]]
            other = tones[(picks[r][c] + 2) % 5]
            for shift, tone, size in ((-0.03, other, 0.98), (0.47, ink, 1.0)):
                outline = (half * size + [0, shift * step]) @ turn + [cx, cy]
                p.opaque(p.shape(outline, 0.0007), tone, 0.05)
    return p.finish(0.016)


def reeds(rng: Rng) -> Pixels:
    """Brush strokes of reeds before a rust-red sun; ink on straw-coloured paper."""
    p = Picture(1000, 1500, "#efe3c8", rng)
    p.wash(p.shape(ellipse(0.60, 0.50, 0.175, 0.175), 0.0015), "#b5502f", 0.95, 0.3)
    for k in range(24):
        foot = np.array([0.06 + 0.88 * (k / 23) + rng.normal(0, 0.016), 1.47])
        high = rng.uniform(0.45, 1.05)
        sway = rng.normal(0.06, 0.10)
        curve = smooth(
            [
                foot,
                foot + [0.15 * sway, -0.4 * high],
                foot + [0.5 * sway, -0.75 * high],
                foot + [sway, -high],
            ],
            160,
        )
        taper = rng.uniform(0.006, 0.015) * np.linspace(1, 0.12, len(curve)) ** 0.8
        p.stroke(curve, taper, "#26261f", rng.uniform(0.55, 0.95))
        if k % 4 == 1 and high > 0.6:  # seed head
            tip = curve[-38:]
            p.stroke(
                tip, 0.020 * np.sin(np.linspace(0.3, np.pi - 0.3, len(tip))) ** 0.5, "#4a3524", 0.95
            )
    for y in (1.33, 1.385, 1.43):
        line = np.c_[
            np.linspace(0.08, 0.92, 100), y + 0.004 * np.sin(np.linspace(0, 9, 100) + 20 * y)
        ]
        p.stroke(line, 0.0035 * np.sin(np.linspace(0.05, np.pi - 0.05, 100)), "#26261f", 0.45)
    return p.finish(0.016)
