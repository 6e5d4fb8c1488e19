"""Flat pictures: sheets, cards, the colour chart and prints, in linear-light RGB (H, W, 3)."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from light import hex_linear, srgb_to_linear
from numpy.typing import NDArray
from surfaces import noise

Rng = np.random.Generator
Array = NDArray[np.float64]


def sheet(rng: Rng, white: Array, printed: bool, aspect: float) -> Array:
    """Office paper, blank or with grey lines of mock text."""
    h = 1200
    w = int(h * aspect)
    ink = np.ones((h, w))
    if printed:
        for y in range(120, 1080, 34):
            x = 110.0
            while x < w - 130:
                step = float(rng.uniform(14, 70))
                cv2.rectangle(ink, (int(x), y), (int(min(x + step, w - 110)), y + 11), 0.25, -1)
                x += step + 10
    fibre = 1 + 0.003 * noise(rng, h, w, 0.8)
    return np.clip(white * (ink * fibre)[..., None], 0, 0.95)


def marker_card(marker_id: int, card_mm: float, marker_mm: float, white: Array) -> Array:
    """ArUco marker (DICT_5X5_50) centred on a white card, 4 texels per mm."""
    scale = 4
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)
    modules = cv2.aruco.generateImageMarker(
        dictionary, marker_id, 7
    )  # 5 data modules and the border
    side = round(marker_mm * scale)
    marker = cv2.resize(modules, (side, side), interpolation=cv2.INTER_NEAREST) / 255.0
    n = round(card_mm * scale)
    out = np.ones((n, n))
    start = (n - side) // 2
    out[start : start + side, start : start + side] = 0.05 + 0.95 * marker
    return white * out[..., None]


def bank_card(rng: Rng) -> Array:
    """Nameless payment-style card: two-tone ground, chip, stripes; no lettering."""
    h, w = 540, 856
    a, b = [
        (hex_linear("#16324f"), hex_linear("#2f6f8f")),
        (hex_linear("#3b2a3f"), hex_linear("#8a4f6d")),
        (hex_linear("#e8e6e1"), hex_linear("#c9d2cf")),
        (hex_linear("#22302a"), hex_linear("#5e8c61")),
    ][int(rng.integers(4))]
    y, x = np.mgrid[0:h, 0:w]
    t = np.clip((x / w + 0.3 * np.sin(y / h * 3.0)) * 0.9, 0, 1)[..., None]
    out = np.ascontiguousarray(a * (1 - t) + b * t)
    cv2.rectangle(out, (90, 200), (210, 290), [float(c) for c in hex_linear("#c9ab62")], -1)
    for k in range(4):
        x0 = 90 + k * 180
        cv2.rectangle(
            out, (x0, 350), (x0 + 140, 380), [float(c) for c in np.clip(b * 1.6 + 0.1, 0, 0.8)], -1
        )
    cv2.rectangle(
        out, (90, 440), (420, 465), [float(c) for c in np.clip(b * 1.4 + 0.08, 0, 0.8)], -1
    )
    return np.asarray(out)


# Our own 24 flat colours (8-bit sRGB): six hues in three depths, then six greys.
CHART_SRGB: NDArray[np.uint8] = np.array(
    [
        [196, 62, 58],
        [214, 138, 52],
        [206, 190, 70],
        [84, 148, 80],
        [64, 110, 172],
        [128, 78, 150],
        [128, 46, 48],
        [146, 92, 40],
        [128, 122, 48],
        [48, 92, 62],
        [40, 62, 112],
        [82, 52, 98],
        [226, 168, 160],
        [234, 200, 152],
        [230, 222, 170],
        [168, 204, 164],
        [156, 186, 218],
        [196, 170, 212],
        [240, 240, 238],
        [200, 200, 200],
        [160, 160, 160],
        [120, 120, 120],
        [82, 82, 82],
        [46, 46, 46],
    ],
    np.uint8,
)


def chart(rows: int = 4, columns: int = 6, margin: float = 0.12) -> tuple[Array, Array]:
    """(texture filling uv 0..1, patch rectangles (24, 4) as left, top, right, bottom fractions)."""
    h, w = rows * 160, columns * 160
    out = np.tile(srgb_to_linear(np.array([0.93, 0.93, 0.92])), (h, w, 1))
    boxes = []
    for i, colour in enumerate(CHART_SRGB):
        r, c = divmod(i, columns)
        left, top = (c + margin) / columns, (r + margin) / rows
        right, bottom = (c + 1 - margin) / columns, (r + 1 - margin) / rows
        boxes.append([left, top, right, bottom])
        out[round(top * h) : round(bottom * h), round(left * w) : round(right * w)] = (
            srgb_to_linear(colour / 255.0)
        )
    return out, np.array(boxes)


def colour_blocks(
    rng: Rng, colours: Sequence[Array], height: int = 600, width: int = 450
) -> tuple[Array, list[float]]:
    """Flat overlapping shapes in linear `colours`, the first being the ground.

    Returns also each colour's share of the area.
    """
    index = np.zeros((height, width), np.uint8)
    for k in range(1, len(colours)):
        centre = (int(rng.uniform(0.2, 0.8) * width), int(rng.uniform(0.15, 0.85) * height))
        if k % 2:
            cv2.circle(index, centre, int(rng.uniform(0.16, 0.3) * width), k, -1)
        else:
            dx, dy = int(rng.uniform(0.15, 0.35) * width), int(rng.uniform(0.08, 0.22) * height)
            cv2.rectangle(
                index, (centre[0] - dx, centre[1] - dy), (centre[0] + dx, centre[1] + dy), k, -1
            )
    shares = [float((index == k).mean()) for k in range(len(colours))]
    return np.array(colours)[index], shares


def landscape(rng: Rng, height: int = 600, width: int = 450) -> Array:
    """Layered hills under a graded sky."""
    hue = hex_linear(["#3f5f6f", "#7a5a4a", "#556b4f", "#5d4f73"][int(rng.integers(4))])
    sky = hex_linear(["#e8d9c4", "#cfdde4", "#efe3d6"][int(rng.integers(3))])
    t = np.linspace(0, 1, height)[:, None, None]
    out = np.broadcast_to(sky * (1 - 0.25 * t), (height, width, 3)).copy()
    x = np.arange(width)
    for k in range(5):
        ridge = (
            height * (0.38 + 0.12 * k)
            + 28 * noise(rng, 4, width, 2.6)[0]
            + 20 * np.sin(x / 70 + 2 * k)
        )
        below = np.arange(height)[:, None] > ridge[None, :]
        out[below] = sky * 0.7 * (1 - (k + 1) / 6) + hue * (k + 1) / 5
    return out


def botanical(rng: Rng, height: int = 600, width: int = 450) -> Array:
    """Line drawing of a stem on cream paper."""
    out = np.tile(hex_linear("#f2ecdf"), (height, width, 1)).astype(np.float64)
    ink = [float(c) for c in hex_linear(["#2f4538", "#3a3a3a", "#6b4a3a"][int(rng.integers(3))])]
    lean = float(rng.uniform(-60, 60))
    for i in range(60):
        t = i / 60
        p = np.array([width / 2 + lean * t * t, height * (0.92 - 0.78 * t)])
        if i % 5 == 2:
            for side in (-1, 1):
                size = 95 * (1 - 0.7 * t)
                axes = (int(size / 2), int(size / 5))
                centre = p + [side * size * 0.5, -size * 0.25]
                cv2.ellipse(
                    out,
                    (int(centre[0]), int(centre[1])),
                    axes,
                    -side * 28,
                    0,
                    360,
                    ink,
                    -1,
                    cv2.LINE_AA,
                )
        cv2.circle(out, (int(p[0]), int(p[1])), 4, ink, -1, cv2.LINE_AA)
    return out


def artwork(rng: Rng, aspect: float) -> Array:
    """Draw a random print of the given width / height."""
    height = 640
    width = int(height * aspect)
    pick = int(rng.integers(3))
    if pick == 0:
        palette = [
            hex_linear(c)
            for c in rng.permutation(
                ["#ece4d4", "#2f4858", "#c2703d", "#d9b44a", "#7b8f6a", "#8c4a4a"]
            )
        ]
        return colour_blocks(rng, palette, height, width)[0]
    return landscape(rng, height, width) if pick == 1 else botanical(rng, height, width)
