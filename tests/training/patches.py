"""Draw flat things as square textures: sheets and cards to be found, and what is mistaken for them.

Each texture is square uint8 (TEXTURE, TEXTURE, 4), sRGB with coverage, stretched; ``Patch`` carries
the true ratio of its sides. The number of a patch is its seed: a bank is the same anywhere.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

SIDE = 256
TEXTURE = 384  # a page is drawn 2 * SIDE tall: sheets that fill a photograph are sharp
Picture = NDArray[np.uint8]
Canvas = NDArray[np.float32]
Rng = np.random.Generator

SHEET, CARD, DECOY, TAPE, OCCLUDER, SURFACE = range(6)


@dataclass(frozen=True)
class Materials:
    """Pictures to print on sheets and to hang on walls, fonts, and words."""

    pictures: tuple[Picture, ...]
    fonts: tuple[Path, ...]
    words: tuple[str, ...]


@dataclass(frozen=True)
class Patch:
    """One flat thing: texture, long side over short side, and how it stands off its wall."""

    texture: Picture
    ratio: float
    corner_radius: float  # share of the short side
    thickness: float  # share of the long side; its side face and its shadow show


def uniform(rng: Rng, low: float, high: float) -> float:
    """Draw one number."""
    return float(low + (high - low) * rng.random())


def colour(rng: Rng, saturation: float, value: float) -> Canvas:
    """Draw a colour of any hue, BGR 0 to 255."""
    hsv = np.array([[[rng.integers(180), 255 * min(1, saturation), 255 * min(1, value)]]], np.uint8)
    return cv2.cvtColor(hsv, cv2.COLOR_HSV2BGR)[0, 0].astype(np.float32)


def grey(level: float) -> Canvas:
    """Give a neutral colour."""
    return np.full(3, level, np.float32)


def tuple_of(values: Canvas) -> tuple[float, ...]:
    """Give a colour as OpenCV's drawing functions take it."""
    return tuple(float(v) for v in values)


def cloud(rng: Rng, height: int, width: int, cells: tuple[int, ...], stretch: float = 1) -> Canvas:
    """Draw smooth noise of unit size: a sum of enlarged white noises."""
    out = np.zeros((height, width), np.float32)
    for n in cells:
        small = rng.standard_normal((max(2, n), max(2, int(n * stretch)))).astype(np.float32)
        out += cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC) / np.sqrt(n)
    return out


def cutout(rng: Rng, picture: Picture, width: int, height: int) -> Canvas:
    """Cut a piece of a picture to a size."""
    rows, cols = picture.shape[:2]
    scale = max(width / cols, height / rows) * uniform(rng, 1, 1.8)
    w, h = min(cols, int(width / scale) + 1), min(rows, int(height / scale) + 1)
    x, y = int(rng.integers(0, cols - w + 1)), int(rng.integers(0, rows - h + 1))
    piece = cv2.resize(picture[y : y + h, x : x + w], (width, height), interpolation=cv2.INTER_AREA)
    return piece.astype(np.float32)


def some_picture(rng: Rng, materials: Materials, width: int, height: int) -> Canvas:
    """Cut a piece of some picture to a size."""
    chosen = materials.pictures[int(rng.integers(len(materials.pictures)))]
    return cutout(rng, chosen, max(4, width), max(4, height))


# ------------------------------------------------------------------------------------- printing


def paper_colour(rng: Rng) -> Canvas:
    """Draw a paper: mostly white, some cream, grey or tinted."""
    k = rng.random()
    if k < 0.68:
        return grey(uniform(rng, 228, 255))
    if k < 0.83:
        return np.array([uniform(rng, 0.8, 0.96), uniform(rng, 0.92, 1), 1], np.float32) * uniform(
            rng, 220, 253
        )
    if k < 0.93:
        return grey(uniform(rng, 185, 228)) + rng.uniform(-6, 6, 3).astype(np.float32)
    return colour(rng, uniform(rng, 0.05, 0.3), uniform(rng, 0.85, 1))


def ink_colour(rng: Rng, paper: Canvas) -> Canvas:
    """Draw an ink: mostly dark, else strong."""
    if rng.random() < 0.75:
        return paper * uniform(rng, 0.05, 0.4)
    return colour(rng, uniform(rng, 0.5, 1), uniform(rng, 0.2, 0.9))


def text(
    rng: Rng, page: Canvas, box: tuple[int, int, int, int], size: int, ink: Canvas,
    materials: Materials,
) -> None:  # fmt: skip
    """Set lines of words into a box."""
    x0, y0, x1, y1 = box
    if x1 - x0 < 8 or y1 - y0 < size:
        return
    path = materials.fonts[int(rng.integers(len(materials.fonts)))]
    font = ImageFont.truetype(str(path), max(5, size))
    mask = Image.new("L", (x1 - x0, y1 - y0), 0)
    draw = ImageDraw.Draw(mask)
    y, leading = 0.0, size * uniform(rng, 1.15, 1.9)
    per_line = max(1, int((x1 - x0) / (size * 3.1)))
    while y < y1 - y0:
        if rng.random() < 0.92:
            n = per_line if rng.random() < 0.75 else int(rng.integers(1, per_line + 1))
            words = " ".join(materials.words[i] for i in rng.integers(0, len(materials.words), n))
            draw.text((0, y), words, fill=255, font=font)
        y += leading
    share = np.asarray(mask, np.float32)[..., None] / 255
    part = page[y0:y1, x0:x1]
    part += share * (ink - part)


def bars_of_text(rng: Rng, page: Canvas, box: tuple[int, int, int, int], ink: Canvas) -> None:
    """Draw lines of text too small to read."""
    x0, y0, x1, y1 = box
    tall = max(1, int(uniform(rng, 0.006, 0.018) * page.shape[0]))
    gap, y = uniform(rng, 1.6, 2.8), float(y0)
    while y < y1 - tall:
        if rng.random() < 0.9:
            end = x1 if rng.random() < 0.75 else x0 + (x1 - x0) * uniform(rng, 0.2, 0.9)
            x = float(x0)
            while x < end:
                wide = uniform(rng, 1, 7) * tall
                low, high = (int(x), int(y)), (int(min(x + wide, end)), int(y) + tall - 1)
                cv2.rectangle(page, low, high, tuple_of(ink), -1)
                x += wide + tall * 0.8
        y += tall * gap


def form(rng: Rng, page: Canvas, box: tuple[int, int, int, int], ink: Canvas) -> None:
    """Draw a table or a form: ruled rows and columns, some cells filled with text."""
    x0, y0, x1, y1 = box
    rows, cols = int(rng.integers(3, 26)), int(rng.integers(1, 9))
    xs = np.sort(np.r_[x0, rng.uniform(x0, x1, cols - 1), x1]).astype(int)
    ys = np.linspace(y0, y1, rows + 1).astype(int)
    thick = int(rng.integers(1, 3))
    for y in ys:
        cv2.line(page, (x0, int(y)), (x1, int(y)), tuple_of(ink), thick)
    for x in xs:
        if rng.random() < 0.8:
            cv2.line(page, (int(x), y0), (int(x), y1), tuple_of(ink), thick)
    for top, bottom in itertools.pairwise(ys):
        if rng.random() < 0.15:
            page[top:bottom, x0:x1] *= uniform(rng, 0.5, 0.9)
        if rng.random() < 0.5:
            left, right = sorted(rng.uniform(x0, x1, 2))
            mid = (top + bottom) // 2
            tall = max(1, (bottom - top) // 5)
            page[mid - tall : mid + tall, int(left) : int(right)] *= uniform(rng, 0.3, 0.7)


def blocks(rng: Rng, page: Canvas, box: tuple[int, int, int, int], ink: Canvas) -> None:
    """Draw dark squares in rows: chessboards, grids of squares or dots, tags, matrix codes."""
    x0, y0, x1, y1 = box
    k = rng.random()
    if k >= 0.8 and rng.random() < 0.5:  # a few large ones anywhere, some at the very edge
        tall, wide = page.shape[:2]
        for _ in range(int(rng.integers(1, 5))):
            w, h = int(uniform(rng, 0.12, 0.45) * wide), int(uniform(rng, 0.12, 0.45) * tall)
            x, y = (
                int(np.clip(uniform(rng, -0.15, 1.15) * room, 0, room))
                for room in (wide - w, tall - h)
            )
            cv2.rectangle(page, (x, y), (x + w, y + h), tuple_of(ink), -1)
        return
    if k < 0.55:
        cols, rows = int(rng.integers(2, 11)), int(rng.integers(2, 12))
        step_x, step_y = (x1 - x0) / cols, (y1 - y0) / rows
        share = uniform(rng, 0.4, 0.8) if k < 0.35 else 1.0
        for i in range(cols):
            for j in range(rows):
                if share == 1.0 and (i + j) % 2:
                    continue
                left, top = x0 + i * step_x, y0 + j * step_y
                low = (int(left), int(top))
                high = (int(left + share * step_x), int(top + share * step_y))
                if k < 0.08:
                    cv2.circle(page, low, int(step_x * share / 2), tuple_of(ink), -1, cv2.LINE_AA)
                else:
                    cv2.rectangle(page, low, high, tuple_of(ink), -1)
        return
    n = int(rng.integers(4, 9)) if k < 0.85 else int(rng.integers(12, 29))
    bits = (rng.random((n, n)) < 0.5).astype(np.float32)
    if k < 0.85:
        bits[0] = bits[-1] = bits[:, 0] = bits[:, -1] = 0
    side = int(min(x1 - x0, y1 - y0) * uniform(rng, 0.4, 1))
    x, y = int(uniform(rng, x0, x1 - side)), int(uniform(rng, y0, y1 - side))
    code = cv2.resize(bits, (side, side), interpolation=cv2.INTER_NEAREST)[..., None]
    part = page[y : y + side, x : x + side]
    part[:] = part * code + ink * (1 - code)


def scribble(rng: Rng, page: Canvas, box: tuple[int, int, int, int], ink: Canvas) -> None:
    """Draw by hand: lines, rings, boxes, loops of writing."""
    x0, y0, x1, y1 = box
    thick = int(max(1, uniform(rng, 0.002, 0.012) * page.shape[1]))
    for _ in range(int(rng.integers(2, 16))):
        a = (int(uniform(rng, x0, x1)), int(uniform(rng, y0, y1)))
        b = (int(uniform(rng, x0, x1)), int(uniform(rng, y0, y1)))
        k = rng.random()
        if k < 0.2:
            cv2.line(page, a, b, tuple_of(ink), thick, cv2.LINE_AA)
        elif k < 0.4:
            radius = int(uniform(rng, 0.03, 0.2) * page.shape[1])
            fill = thick if rng.random() < 0.75 else -1
            cv2.circle(page, a, radius, tuple_of(ink), fill, cv2.LINE_AA)
        elif k < 0.55:
            cv2.rectangle(page, a, b, tuple_of(ink), thick)
        else:
            steps = rng.normal([0.012, 0], [0.02, 0.02], (40, 2)) * page.shape[1]
            path = np.clip(np.cumsum(steps, 0) + a, [x0, y0], [x1, y1])
            cv2.polylines(page, [path.astype(np.int32)], False, tuple_of(ink), thick, cv2.LINE_AA)


def headline(
    rng: Rng, page: Canvas, box: tuple[int, int, int, int], ink: Canvas, materials: Materials
) -> None:
    """Set one or two big words, as a notice does."""
    x0, y0, x1, y1 = box
    top = int(uniform(rng, y0, y0 + (y1 - y0) * 0.5))
    size = int(uniform(rng, 0.07, 0.3) * page.shape[0])
    text(rng, page, (x0, top, x1, min(y1, top + int(size * 2.4))), size, ink, materials)


def creased(rng: Rng, page: Canvas) -> None:
    """Fold or crumple a page: shading along folds, and unevenness."""
    height, width = page.shape[:2]
    if rng.random() < 0.3:
        for _ in range(int(rng.integers(1, 4))):
            across = rng.random() < 0.5
            n = width if across else height
            place = n * (0.5 if rng.random() < 0.5 else uniform(rng, 0.2, 0.8))
            x = np.arange(n) - place
            shade = uniform(rng, 3, 22) * np.exp(-np.abs(x) / (n * uniform(rng, 0.02, 0.35)))
            shade = (shade * np.sign(x) * rng.choice([-1, 1])).astype(np.float32)
            page += (shade[None, :] if across else shade[:, None])[..., None]
    if rng.random() < 0.08:  # folded in the middle, one half turned to the light
        across, turned = rng.random() < 0.4, uniform(rng, 0.7, 0.97)
        half = page[:, : width // 2] if across else page[: height // 2]
        half *= turned
    if rng.random() < 0.4:
        page += (cloud(rng, height, width, (2, 4, 8)) * uniform(rng, 1, 9))[..., None]


def sheet(rng: Rng, materials: Materials) -> Patch:
    """Draw a sheet of paper, blank or with something on it."""
    k = rng.random()
    ratio = 2**0.5 if k < 0.5 else 11 / 8.5 if k < 0.85 else uniform(rng, 1.2, 1.62)
    tall = int(2 * SIDE)
    wide = int(tall / ratio)
    paper = paper_colour(rng)
    page = np.empty((tall, wide, 3), np.float32)
    page[:] = paper
    margin = uniform(rng, 0.02, 0.12) * wide
    sides = margin * rng.uniform(0.5, 1.4, 4)
    if rng.random() < 0.2:  # printed or written on up to a side or more
        sides[rng.random(4) < 0.45] = 0
    box = (int(sides[0]), int(sides[1]), int(wide - sides[2]), int(tall - sides[3]))
    x0, y0, x1, y1 = box
    ink, k = ink_colour(rng, paper), rng.random()
    if k < 0.33:
        pass
    elif k < 0.50:
        end = y0 + int((y1 - y0) * uniform(rng, 0.3, 1))
        if rng.random() < 0.5:
            bars_of_text(rng, page, (x0, y0, x1, end), ink)
        else:
            text(rng, page, (x0, y0, x1, end), int(rng.integers(8, 34)), ink, materials)
        if rng.random() < 0.4:
            w, h = int(uniform(rng, 0.2, 0.6) * wide), int(uniform(rng, 0.1, 0.35) * tall)
            x, y = int(uniform(rng, x0, x1 - w)), int(uniform(rng, y0, y1 - h))
            page[y : y + h, x : x + w] = some_picture(rng, materials, w, h)
    elif k < 0.60:
        form(rng, page, box, ink)
    elif k < 0.72:
        blocks(rng, page, box, ink)
    elif k < 0.80:
        scribble(rng, page, box, ink)
    elif k < 0.87:
        headline(rng, page, box, ink, materials)
        if rng.random() < 0.5:
            bars_of_text(rng, page, (x0, int(tall * 0.6), x1, y1), ink)
    else:  # a picture on part of it: one all over within an even border is a print (`poster`)
        w, h = int(uniform(rng, 0.3, 1) * (x1 - x0)), int(uniform(rng, 0.15, 0.55) * (y1 - y0))
        x, y = int(uniform(rng, x0, x1 - w)), int(uniform(rng, y0, y1 - h))
        page[y : y + h, x : x + w] = some_picture(rng, materials, w, h)
        if rng.random() < 0.5:
            bars_of_text(rng, page, (x0, min(y1, y + h + 8), x1, y1), ink)
    creased(rng, page)
    return Patch(finished(rng, page), ratio, 0.0, uniform(rng, 0.0, 0.003))


def card(rng: Rng, materials: Materials) -> Patch:
    """Draw a card of ISO/IEC 7810 ID-1 size, mostly printed to the edge."""
    wide, tall = 2 * SIDE, int(2 * SIDE * 53.98 / 85.6)
    page = np.empty((tall, wide, 3), np.float32)
    base = colour(rng, rng.random() ** 1.5, uniform(rng, 0.1, 1))
    page[:] = base
    k = rng.random()
    if k < 0.35:
        page[:] = some_picture(rng, materials, wide, tall)
        if rng.random() < 0.5:
            page[:] = page * uniform(rng, 0.4, 0.9) + base * uniform(rng, 0.1, 0.5)
    elif k < 0.6:
        angle, other = uniform(rng, 0, 6.28), colour(rng, rng.random(), uniform(rng, 0.1, 1))
        rows, cols = np.mgrid[0:tall, 0:wide].astype(np.float32)
        t = np.cos(angle) * (cols / wide - 0.5) + np.sin(angle) * (rows / tall - 0.5)
        t = np.clip(0.5 + 1.2 * t, 0, 1)[..., None]
        page[:] = base * t + other * (1 - t)
    elif k < 0.75:
        page[:] = paper_colour(rng)
    elif k < 0.85:
        cut = int(tall * uniform(rng, 0.15, 0.4))
        page[:] = paper_colour(rng)
        page[:cut] = base
    ink = grey(245) if page.mean() < 130 else grey(35)
    if rng.random() < 0.5:
        metal = np.sort(colour(rng, uniform(rng, 0.1, 0.5), uniform(rng, 0.6, 0.95)))
        x, y = int(wide * uniform(rng, 0.08, 0.15)), int(tall * uniform(rng, 0.33, 0.45))
        high = (x + int(wide * 0.14), y + int(tall * 0.2))
        cv2.rectangle(page, (x, y), high, tuple_of(metal), -1)
        mid = y + int(tall * 0.1)
        cv2.line(page, (x, mid), (high[0], mid), (70.0, 70.0, 70.0), 2)
    if rng.random() < 0.7:
        box = (int(wide * 0.08), int(tall * uniform(rng, 0.55, 0.7)), int(wide * 0.9), tall - 12)
        text(rng, page, box, int(rng.integers(16, 46)), ink, materials)
    if rng.random() < 0.5:
        left = int(wide * uniform(rng, 0.05, 0.6))
        box = (left, int(tall * 0.07), int(wide * 0.95), int(tall * 0.3))
        text(rng, page, box, int(rng.integers(20, 60)), ink, materials)
    if rng.random() < 0.3:
        x, y, radius = int(wide * 0.8), int(tall * uniform(rng, 0.2, 0.8)), int(tall * 0.13)
        for shift in (0, radius):
            hue = tuple_of(colour(rng, 0.8, 0.9))
            cv2.circle(page, (x + shift, y), radius, hue, -1, cv2.LINE_AA)
    if rng.random() < 0.2:
        top = int(tall * uniform(rng, 0.06, 0.2))
        page[top : top + int(tall * 0.2)] = 20
    if rng.random() < 0.25:
        x, y = int(wide * uniform(rng, 0.05, 0.7)), int(tall * uniform(rng, 0.2, 0.4))
        page[y : y + int(tall * 0.5), x : x + int(wide * 0.24)] = some_picture(
            rng, materials, int(wide * 0.24), int(tall * 0.5)
        )
    if rng.random() < 0.15:
        blocks(rng, page, (int(wide * 0.6), int(tall * 0.1), wide - 20, int(tall * 0.9)), ink)
    page = np.ascontiguousarray(np.rot90(page))  # long side upright, as sheets are
    return Patch(finished(rng, page), 85.6 / 53.98, 3.18 / 53.98, uniform(rng, 0.002, 0.012))


# --------------------------------------------------------------------- what is mistaken for them


def bevel(page: Canvas, thick: float, lit: float, dark: float) -> None:
    """Shade the four sides of a moulding."""
    t = max(1, int(thick))
    page[:t] += lit
    page[:, :t] += lit * 0.7
    page[-t:] -= dark
    page[:, -t:] -= dark * 0.7


def framed(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a framed picture, mostly with a mat."""
    tall, wide = page.shape[:2]
    short = min(tall, wide)
    moulding = int(uniform(rng, 0.012, 0.1) * short) + 1
    k = rng.random()
    if k < 0.3:
        page[:] = np.sort(colour(rng, uniform(rng, 0.3, 0.7), uniform(rng, 0.15, 0.6)))
    elif k < 0.5:
        page[:] = grey(uniform(rng, 6, 50))
    elif k < 0.8:
        page[:] = grey(uniform(rng, 195, 250))
    else:
        page[:] = np.array([60, 140, 190], np.float32) * uniform(rng, 0.6, 1.2)
    bevel(page, moulding * 0.3, uniform(rng, 0, 35), uniform(rng, 0, 35))
    inner = page[moulding:-moulding, moulding:-moulding]
    mat = rng.random() < 0.65
    inner[:] = paper_colour(rng) if mat else 0
    bevel(inner, moulding * 0.25, -uniform(rng, 5, 60), -uniform(rng, 0, 20))
    g = int(uniform(rng, 0.06, 0.3) * short) if mat else 0
    if min(inner.shape[:2]) > 2 * g + 8:
        window = inner[g : inner.shape[0] - g, g : inner.shape[1] - g]
        if rng.random() < 0.85:
            window[:] = some_picture(rng, materials, window.shape[1], window.shape[0])
        else:
            window[:] = ink_colour(rng, grey(240))
        if g > 4:
            bevel(window, 2, -25, -25)
    if rng.random() < 0.35:
        page[:] = page * uniform(rng, 0.7, 0.95) + uniform(rng, 10, 60)


def canvas_print(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a stretched canvas: blank or painted to the edge."""
    tall, wide = page.shape[:2]
    if rng.random() < 0.5:
        page[:] = paper_colour(rng) * uniform(rng, 0.86, 1)
        page += (rng.standard_normal((tall, wide)).astype(np.float32) * uniform(rng, 0, 5))[
            ..., None
        ]
    else:
        page[:] = some_picture(rng, materials, wide, tall)
    k, t = rng.random(), max(2, int(0.02 * min(tall, wide)))
    if k < 0.7:
        edge = uniform(rng, 0.35, 0.9)
        page[-t:] *= edge
        if rng.random() < 0.6:
            page[:, -t:] *= edge * 1.05
        else:
            page[:, :t] *= edge


def fitting(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a switch, socket, thermostat or meter."""
    tall, wide = page.shape[:2]
    short = min(tall, wide)
    tint = np.array([uniform(rng, 0.9, 1), uniform(rng, 0.95, 1), 1], np.float32)
    page[:] = grey(uniform(rng, 190, 250)) * tint
    bevel(page, short * uniform(rng, 0.02, 0.08), uniform(rng, 0, 25), uniform(rng, 10, 60))
    g = int(short * uniform(rng, 0.12, 0.3))
    inner = page[g : tall - g, g : wide - g]
    inner -= uniform(rng, -8, 20)
    bevel(inner, short * 0.02, -uniform(rng, 10, 70), -uniform(rng, 5, 60))
    if rng.random() < 0.6:
        mid = inner.shape[0] // 2
        inner[mid : mid + max(1, short // 100)] -= uniform(rng, 20, 90)
    if rng.random() < 0.4:
        for dx in (-0.12, 0.12):
            at = (int(wide * (0.5 + dx)), tall // 2)
            cv2.circle(page, at, max(2, int(short * 0.05)), (40.0, 40.0, 40.0), -1, cv2.LINE_AA)


def slats(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a vent, a radiator or a blind."""
    tall, wide = page.shape[:2]
    page[:] = grey(uniform(rng, 170, 250))
    n = int(rng.integers(5, 30))
    upright = rng.random() < 0.4
    for i in range(n):
        if upright:
            x = int(wide * (0.04 + 0.92 * i / n))
            page[int(tall * 0.03) : int(tall * 0.97), x : x + max(1, int(wide * 0.35 / n))] -= (
                uniform(rng, 25, 110)
            )
        else:
            y = int(tall * (0.04 + 0.92 * i / n))
            page[y : y + max(1, int(tall * 0.35 / n)), int(wide * 0.03) : int(wide * 0.97)] -= (
                uniform(rng, 25, 110)
            )


def window(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a window, bright or dark, with bars."""
    tall, wide = page.shape[:2]
    f = max(3, int(uniform(rng, 0.03, 0.1) * min(tall, wide)))
    page[:] = grey(uniform(rng, 80, 250))
    bevel(page, f * 0.3, uniform(rng, -10, 30), uniform(rng, -10, 30))
    pane = page[f:-f, f:-f]
    if rng.random() < 0.4:
        pane[:] = grey(uniform(rng, 225, 255))
    else:
        view = some_picture(rng, materials, pane.shape[1], pane.shape[0])
        pane[:] = view * uniform(rng, 0.2, 0.8) + uniform(rng, 0, 190)
    bar = page[0, 0].copy()
    for i in range(1, int(rng.integers(1, 4))):
        x = wide * i // 3
        page[:, x - f // 3 : x + f // 3 + 1] = bar
    for i in range(1, int(rng.integers(1, 4))):
        y = tall * i // 3
        page[y - f // 3 : y + f // 3 + 1] = bar


def door(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a door or a cupboard front: panels, mostly pale, and a knob."""
    tall, wide = page.shape[:2]
    page[:] = (
        grey(uniform(rng, 195, 252)) if rng.random() < 0.65
        else np.sort(colour(rng, uniform(rng, 0.2, 0.7), uniform(rng, 0.25, 0.8)))
    )  # fmt: skip
    if rng.random() < 0.4:
        page += (cloud(rng, tall, wide, (64, 128), 0.05) * uniform(rng, 2, 14))[..., None]
    rows, cols = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    for i in range(rows):
        for j in range(cols):
            y0, y1 = int(tall * (i + 0.12) / rows), int(tall * (i + 0.88) / rows)
            x0, x1 = int(wide * (j + 0.15) / cols), int(wide * (j + 0.85) / cols)
            panel = page[y0:y1, x0:x1]
            panel += uniform(rng, -10, 10)
            bevel(panel, wide * 0.012, -uniform(rng, 5, 45), -uniform(rng, 5, 35))
    if rng.random() < 0.6:
        at = (int(wide * rng.choice([0.07, 0.93])), tall // 2)
        cv2.circle(page, at, max(3, int(wide * 0.03)), (90.0, 130.0, 150.0), -1, cv2.LINE_AA)


def board(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a whiteboard, blackboard or screen."""
    tall, wide = page.shape[:2]
    f = max(2, int(uniform(rng, 0.012, 0.06) * min(tall, wide)))
    page[:] = grey(uniform(rng, 10, 190))
    bevel(page, f * 0.4, uniform(rng, 0, 30), uniform(rng, 0, 30))
    inner = page[f:-f, f:-f]
    k = rng.random()
    if k < 0.5:
        inner[:] = grey(uniform(rng, 225, 254))
        if rng.random() < 0.6:
            scribble(rng, page, (f + 4, f + 4, wide - f - 4, tall - f - 4), colour(rng, 0.8, 0.6))
    elif k < 0.8:
        inner[:] = grey(uniform(rng, 5, 60))
        if rng.random() < 0.5:
            inner += cloud(rng, *inner.shape[:2], (3, 5))[..., None] * 12
    else:
        inner[:] = some_picture(rng, materials, inner.shape[1], inner.shape[0])


def book(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a book cover, a box, a folder or a sticky note."""
    tall, wide = page.shape[:2]
    page[:] = colour(rng, uniform(rng, 0.2, 1), uniform(rng, 0.2, 1))
    ink = grey(240) if page.mean() < 130 else grey(30)
    if rng.random() < 0.7:
        headline(
            rng,
            page,
            (int(wide * 0.1), int(tall * 0.08), int(wide * 0.92), tall - 8),
            ink,
            materials,
        )
    if rng.random() < 0.5:
        w, h = int(wide * 0.7), int(tall * 0.4)
        page[int(tall * 0.45) : int(tall * 0.45) + h, int(wide * 0.15) : int(wide * 0.15) + w] = (
            some_picture(rng, materials, w, h)
        )
    if rng.random() < 0.5:
        page[:, : max(2, int(wide * 0.05))] *= 0.7


def tag(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a square paper tag or label: a code with a white border."""
    tall, wide = page.shape[:2]
    page[:] = paper_colour(rng)
    m = int(wide * uniform(rng, 0.05, 0.25))
    blocks(rng, page, (m, m, wide - m, tall - m), grey(uniform(rng, 5, 60)))


def tiles(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a patch of tiles, or a single tile with its joint."""
    tall, wide = page.shape[:2]
    page[:] = grey(uniform(rng, 150, 252)) + rng.uniform(-12, 12, 3).astype(np.float32)
    n, joint, t = int(rng.integers(1, 6)), uniform(rng, -90, 60), max(1, int(wide * 0.008))
    for i in range(n + 1):
        x, y = min(wide - 1, wide * i // n), min(tall - 1, tall * i // n)
        page[:, max(0, x - t) : x + t] += joint
        page[max(0, y - t) : y + t] += joint
    if rng.random() < 0.4:  # dark squares where four meet
        dark, half = grey(uniform(rng, 10, 90)), max(2, int(uniform(rng, 0.12, 0.3) * wide / n))
        for i, j in itertools.product(range(n + 1), repeat=2):
            x, y = wide * i // n, tall * j // n
            cv2.rectangle(page, (x - half, y - half), (x + half, y + half), tuple_of(dark), -1)


def poster(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a print that hangs without a frame: a field of colour, a picture; mostly in a border."""
    tall, wide = page.shape[:2]
    page[:] = paper_colour(rng) if rng.random() < 0.85 else grey(uniform(rng, 20, 90))
    border = 0.0 if rng.random() < 0.2 else uniform(rng, 0.025, 0.15) * min(tall, wide)
    foot = border * (uniform(rng, 1, 2.2) if rng.random() < 0.25 else 1)
    field = page[int(border) : tall - int(foot), int(border) : wide - int(border)]
    rows, cols = field.shape[:2]
    k = rng.random()
    if k < 0.3:
        field[:] = colour(rng, uniform(rng, 0.25, 1), uniform(rng, 0.15, 1))
    elif k < 0.42:
        field[:] = grey(uniform(rng, 15, 170))
    elif k < 0.54:
        one, other = (colour(rng, rng.random(), uniform(rng, 0.1, 1)) for _ in range(2))
        share = np.linspace(0, 1, rows, dtype=np.float32)[:, None, None]
        field[:] = one * share + other * (1 - share)
    else:
        field[:] = some_picture(rng, materials, cols, rows)
        if rng.random() < 0.3:
            field[:] = field.mean(axis=2, keepdims=True)
        if field.mean() > 170:  # white all over it would be a sheet with a drawing on it
            field *= uniform(rng, 0.4, 0.8)
    if k < 0.54 and rng.random() < 0.6:
        for _ in range(int(rng.integers(1, 7))):
            at = (int(uniform(rng, 0.1, 0.9) * cols), int(uniform(rng, 0.1, 0.9) * rows))
            axes = (int(uniform(rng, 0.03, 0.3) * cols), int(uniform(rng, 0.03, 0.3) * rows))
            hue = tuple_of(colour(rng, rng.random(), uniform(rng, 0.1, 1)))
            if rng.random() < 0.5:
                cv2.ellipse(field, at, axes, uniform(rng, 0, 180), 0, 360, hue, -1, cv2.LINE_AA)
            else:
                low = (at[0] - axes[0], at[1] - axes[1])
                cv2.rectangle(field, low, (at[0] + axes[0], at[1] + axes[1]), hue, -1)
    if rng.random() < 0.3:
        ink = grey(245) if field.mean() < 130 else grey(25)
        box = (int(0.15 * wide), int(0.1 * tall), int(0.85 * wide), int(0.9 * tall))
        headline(rng, page, box, ink, materials)


def game_board(rng: Rng, page: Canvas, materials: Materials) -> None:
    """Draw a board of light and dark fields with or without a rim, of wood, card or stone."""
    tall, wide = page.shape[:2]
    light = colour(rng, uniform(rng, 0.2, 0.6), uniform(rng, 0.6, 1))  # black on white is print
    if rng.random() < 0.7:
        light = np.sort(light)
    dark = light * uniform(rng, 0.08, 0.5) if rng.random() < 0.7 else colour(rng, 0.8, 0.5)
    page[:] = light * uniform(rng, 0.4, 0.9)
    rim = int(uniform(rng, 0.0, 0.12) * min(tall, wide)) if rng.random() < 0.7 else 0
    cols, rows = int(rng.integers(3, 11)), int(rng.integers(3, 11))
    xs, ys = (np.linspace(rim, n - rim, k + 1).astype(int) for n, k in ((wide, cols), (tall, rows)))
    for i, j in itertools.product(range(cols), range(rows)):
        page[ys[j] : ys[j + 1], xs[i] : xs[i + 1]] = dark if (i + j) % 2 else light
    page += (cloud(rng, tall, wide, (32, 128)) * uniform(rng, 0, 12))[..., None]


DecoyDrawer = Callable[[Rng, Canvas, Materials], None]
# drawer, weight, ratio from and to, thickness from and to
FLAT_DECOYS: tuple[tuple[DecoyDrawer, float, float, float, float, float], ...] = (
    (framed, 0.24, 1.0, 1.7, 0.01, 0.06),
    (canvas_print, 0.14, 1.0, 2.0, 0.02, 0.09),
    (fitting, 0.06, 1.0, 1.8, 0.02, 0.15),
    (slats, 0.04, 1.0, 3.0, 0.0, 0.06),
    (window, 0.08, 1.0, 2.0, 0.0, 0.04),
    (door, 0.08, 1.2, 2.6, 0.0, 0.02),
    (board, 0.08, 1.2, 2.0, 0.005, 0.03),
    (book, 0.08, 1.0, 1.8, 0.0, 0.12),
    (tag, 0.05, 1.0, 1.06, 0.0, 0.003),
    (tiles, 0.05, 1.0, 1.6, 0.0, 0.0),
    (poster, 0.16, 1.0, 1.7, 0.0, 0.004),
    (game_board, 0.06, 1.0, 1.5, 0.0, 0.03),
)


def soft_shape(rng: Rng, page: Canvas, materials: Materials) -> tuple[Picture, Canvas]:
    """Draw what is pale but no rectangle: lamp shade, cushion, plate, cloth, torn paper."""
    tall, wide = page.shape[:2]
    cover = np.zeros((tall, wide), np.uint8)
    rows, cols = np.mgrid[0:tall, 0:wide].astype(np.float32)
    u, v = cols / wide - 0.5, rows / tall - 0.5
    k = rng.random()
    if k < 0.3:  # lamp shade: a trapezium with an elliptic rim, lit from inside
        top, drop = uniform(rng, 0.25, 0.5), uniform(rng, 0.0, 0.07)
        body = np.array([[0.5 - top, 0.04], [0.5 + top, 0.04], [1, 0.94], [0, 0.94]]) * [wide, tall]
        cv2.fillConvexPoly(cover, body.astype(np.int32), 255, cv2.LINE_AA)
        for y, half in ((0.04, top), (0.94, 0.5)):
            at, axes = (wide // 2, int(tall * y)), (int(wide * half), int(tall * drop))
            cv2.ellipse(cover, at, axes, 0, 0, 360, 255, -1, cv2.LINE_AA)
        warm = np.array([uniform(rng, 0.55, 0.95), uniform(rng, 0.8, 1), 1], np.float32)
        glow = np.exp(-((u / 0.5) ** 2) * uniform(rng, 0.3, 2) - ((v - 0.1) / 0.6) ** 2)
        page[:] = (warm * uniform(rng, 170, 290)) * (1 - uniform(rng, 0.05, 0.5) * (1 - glow))[
            ..., None
        ]
    elif k < 0.55:  # cushion: pinched sides, round shading
        a = uniform(rng, 0.02, 0.1)
        t = np.linspace(-1, 1, 40)
        side = 0.5 - a * (1 - t**2)
        outline = np.concatenate(
            [
                np.c_[t * 0.5, -side],
                np.c_[side, t * 0.5],
                np.c_[-t * 0.5, side],
                np.c_[-side, -t * 0.5],
            ]
        )
        points = ((outline + 0.5) * [wide - 1, tall - 1]).astype(np.int32)
        cv2.fillPoly(cover, [points], 255, cv2.LINE_AA)
        page[:] = (
            paper_colour(rng) * uniform(rng, 0.75, 1)
            if rng.random() < 0.6
            else colour(rng, uniform(rng, 0.1, 0.8), uniform(rng, 0.3, 1))
        )
        page -= (uniform(rng, 40, 160) * (u**2 + v**2) + 30 * u * uniform(rng, -1, 1))[..., None]
        page += (cloud(rng, tall, wide, (4, 8)) * uniform(rng, 2, 12))[..., None]
    elif k < 0.67:  # plate, clock or bulb
        middle = (wide // 2, tall // 2)
        cv2.ellipse(cover, middle, (wide // 2 - 2, tall // 2 - 2), 0, 0, 360, 255, -1, cv2.LINE_AA)
        page[:] = paper_colour(rng)
        ring = np.abs(np.hypot(u, v) - uniform(rng, 0.25, 0.4)) < 0.01
        page[ring] -= uniform(rng, 10, 80)
    elif k < 0.85:  # cloth: wavy outline, wrinkles
        n = int(rng.integers(4, 9))
        angle = np.linspace(0, 2 * np.pi, n, endpoint=False) + np.pi / 4
        reach = rng.uniform(0.35, 0.62, n)
        points = np.c_[0.5 + reach * np.cos(angle), 0.5 + reach * np.sin(angle)]
        points = np.clip(points, 0.01, 0.99) * [wide, tall]
        cv2.fillPoly(cover, [points.astype(np.int32)], 255, cv2.LINE_AA)
        cover = cv2.GaussianBlur(cover, (0, 0), wide * 0.03)
        cover = np.clip((cover.astype(np.float32) - 110) * 8, 0, 255).astype(np.uint8)
        page[:] = paper_colour(rng) * uniform(rng, 0.7, 1)
        page += (cloud(rng, tall, wide, (4, 8, 16, 32)) * uniform(rng, 5, 25))[..., None]
    else:  # paper torn along one side or more, or a strip of it
        ragged = np.full((4,), 0.02)
        ragged[rng.integers(0, 4, int(rng.integers(1, 4)))] = uniform(rng, 0.08, 0.3)
        sides = []
        for i, amount in enumerate(ragged):
            t = np.linspace(0, 1, 60)
            wave = np.cumsum(rng.normal(0, 0.02 + amount * 0.2, 60)) * (0.05 + amount)
            depth = np.clip(amount / 2 + wave - wave.mean(), 0.0, 0.45) if amount > 0.05 else t * 0
            sides.append([(t, depth), (1 - depth, t), (1 - t, 1 - depth), (depth, 1 - t)][i])
        points = np.concatenate([np.c_[x, y] for x, y in sides]) * [wide - 1, tall - 1]
        cv2.fillPoly(cover, [points.astype(np.int32)], 255, cv2.LINE_AA)
        page[:] = paper_colour(rng)
        if rng.random() < 0.5:
            bars_of_text(rng, page, (20, 20, wide - 20, tall - 20), grey(60))
    return cover, page


def decoy(rng: Rng, materials: Materials) -> Patch:
    """Draw something that a finder takes for a sheet and must not."""
    if rng.random() < 0.2:
        ratio = uniform(rng, 1, 1.8)
        page = np.zeros((2 * SIDE, int(2 * SIDE / ratio), 3), np.float32)
        wide_first = rng.random() < 0.5
        if wide_first:
            page = np.zeros((int(2 * SIDE / ratio), 2 * SIDE, 3), np.float32)
        cover, page = soft_shape(rng, page, materials)
        if wide_first:
            page, cover = (
                np.ascontiguousarray(np.rot90(page)),
                np.ascontiguousarray(np.rot90(cover)),
            )
        return Patch(finished(rng, page, cover), ratio, 0.0, uniform(rng, 0, 0.06))
    weights = np.array([d[1] for d in FLAT_DECOYS])
    drawer, _, low, high, thin, thick = FLAT_DECOYS[
        int(rng.choice(len(weights), p=weights / weights.sum()))
    ]
    # the hardest have a sheet's ratio
    ratio = (
        float(rng.choice([2**0.5, 11 / 8.5]))
        if rng.random() < (0.65 if drawer is poster else 0.3) and drawer is not tag
        else uniform(rng, low, high)
    )
    shape = (2 * SIDE, max(24, int(2 * SIDE / ratio)))
    lying = rng.random() < 0.5
    page = np.zeros((*(shape[::-1] if lying else shape), 3), np.float32)
    drawer(rng, page, materials)
    if lying:
        page = np.ascontiguousarray(np.rot90(page))
    return Patch(finished(rng, page), ratio, 0.0, uniform(rng, thin, thick))


# ------------------------------------------------------------------------ over a sheet, and behind


def tape(rng: Rng, materials: Materials) -> Patch:
    """Draw a strip of tape, clear or masking, a pin or a magnet; coverage says how much shows."""
    page = np.empty((SIDE, SIDE, 3), np.float32)
    cover = np.full((SIDE, SIDE), 255, np.uint8)
    k = rng.random()
    ratio = uniform(rng, 1.3, 4)
    if k < 0.4:  # clear: a veil that lightens, with a sheen and edges
        page[:] = grey(uniform(rng, 190, 255))
        cover[:] = int(uniform(rng, 12, 80))
        cover[: SIDE // 30] = cover[-(SIDE // 30) :] = int(uniform(rng, 40, 150))
        if rng.random() < 0.5:
            at, width = uniform(rng, 0, SIDE), uniform(rng, 5, 60)
            sheen = np.exp(-(((np.arange(SIDE) - at) / width) ** 2)) * uniform(rng, 20, 160)
            cover[:] = np.clip(cover + sheen[:, None], 0, 255).astype(np.uint8)
    elif k < 0.8:  # masking, washi, insulating
        page[:] = (
            np.array([110, 185, 225], np.float32) * uniform(rng, 0.6, 1.1) if rng.random() < 0.4
            else colour(rng, rng.random() ** 2, uniform(rng, 0.2, 1))
        )  # fmt: skip
        page += (cloud(rng, SIDE, SIDE, (32, 64)) * uniform(rng, 2, 20))[..., None]
        cover[:] = int(uniform(rng, 150, 255))
    else:  # pin, magnet, putty
        ratio = 1.0
        cover[:] = 0
        cv2.circle(cover, (SIDE // 2, SIDE // 2), SIDE // 2 - 3, 255, -1, cv2.LINE_AA)
        rows, cols = np.mgrid[0:SIDE, 0:SIDE] / SIDE - 0.5
        shade = 1 - np.hypot(rows + 0.15, cols + 0.15)
        page[:] = colour(rng, rng.random(), uniform(rng, 0.2, 1)) * shade[..., None]
    return Patch(finished(rng, page, cover), ratio, 0.0, 0.0)


def occluder(rng: Rng, materials: Materials) -> Patch:
    """Draw what comes over a side: fingers, a hand, a foot, a plant, something lying on it.

    It reaches in from the bottom of its texture.
    """
    page = np.empty((SIDE, SIDE, 3), np.float32)
    cover = np.zeros((SIDE, SIDE), np.uint8)
    k = rng.random()
    if k < 0.55:  # fingers or a foot
        many = rng.random() < 0.6
        n = int(rng.integers(2, 6)) if many else 1
        width = SIDE * uniform(rng, 0.05, 0.09) if many else SIDE * uniform(rng, 0.12, 0.24)
        for i in range(n):
            x = SIDE * (0.5 + (i - (n - 1) / 2) * 0.17) + rng.normal(0, 5)
            tip = SIDE * uniform(rng, 0.08, 0.45)
            lean = rng.normal(0, 20)
            for t in np.linspace(0, 1, 30):
                at = (int(x + lean * t), int(tip + width + (SIDE - tip) * t))
                cv2.circle(cover, at, int(width * (0.85 + 0.3 * t)), 255, -1, cv2.LINE_AA)
        if many:
            palm = (SIDE // 2, int(SIDE * 0.95))
            cv2.ellipse(
                cover, palm, (int(SIDE * 0.48), int(SIDE * 0.3)), 0, 0, 360, 255, -1, cv2.LINE_AA
            )
        skin = np.array(
            [uniform(rng, 70, 175), uniform(rng, 95, 195), uniform(rng, 130, 245)], np.float32
        )
        page[:] = (
            skin * uniform(rng, 0.4, 1.1)
            if rng.random() < 0.75
            else colour(rng, rng.random(), uniform(rng, 0.1, 0.9))
        )
        round_off = cv2.GaussianBlur(cover, (0, 0), width * 0.5).astype(np.float32) / 255
        page *= (0.5 + 0.55 * round_off)[..., None]
        page += (cloud(rng, SIDE, SIDE, (8, 16, 32)) * uniform(rng, 2, 12))[..., None]
    elif k < 0.75:  # leaves
        page[:] = np.array([50, 120, 70], np.float32) * uniform(rng, 0.4, 1.5)
        page += (cloud(rng, SIDE, SIDE, (8, 32, 64)) * 25)[..., None]
        for _ in range(int(rng.integers(3, 12))):
            at = (int(uniform(rng, 0.1, 0.9) * SIDE), int(uniform(rng, 0.2, 1) * SIDE))
            axes = (int(uniform(rng, 0.08, 0.3) * SIDE), int(uniform(rng, 0.02, 0.09) * SIDE))
            cv2.ellipse(cover, at, axes, uniform(rng, 0, 180), 0, 360, 255, -1, cv2.LINE_AA)
            cv2.line(cover, at, (SIDE // 2, SIDE), 255, 3, cv2.LINE_AA)
    else:  # a thing: cut out of a picture, or plain
        n = int(rng.integers(4, 11))
        angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
        reach = rng.uniform(0.3, 0.5, n)
        points = (np.c_[np.cos(angle), np.sin(angle)] * reach[:, None] + 0.5) * SIDE
        cv2.fillPoly(cover, [points.astype(np.int32)], 255, cv2.LINE_AA)
        cover = cv2.GaussianBlur(cover, (0, 0), 8)
        cover = np.clip((cover.astype(np.float32) - 100) * 5, 0, 255).astype(np.uint8)
        page[:] = (
            some_picture(rng, materials, SIDE, SIDE)
            if rng.random() < 0.6
            else colour(rng, rng.random(), rng.random())
        )
    return Patch(finished(rng, page, cover), uniform(rng, 1, 1.6), 0.0, uniform(rng, 0.0, 0.1))


def surface(rng: Rng, materials: Materials) -> Patch:
    """Draw a wall, a floor or a table top, upright: paint, plaster, wood, brick, siding, tile, cloth."""  # noqa: E501
    n = 2 * SIDE
    pale = rng.random() < 0.5
    base = (
        colour(rng, rng.random() ** 2 * 0.25, uniform(rng, 0.75, 1)) if pale
        else colour(rng, rng.random() ** 1.5 * 0.7, uniform(rng, 0.15, 0.9))
    )  # fmt: skip
    page = np.empty((n, n, 3), np.float32)
    page[:] = base
    grain = np.zeros((n, n), np.float32)
    k = rng.random()
    if k < 0.3:  # paint and plaster
        grain += cloud(rng, n, n, (64, 128, 256)) * uniform(rng, 0, 30)
    elif k < 0.52:  # wood, boards, veneered doors
        page[:] = np.sort(colour(rng, uniform(rng, 0.15, 0.7), uniform(rng, 0.2, 1)))
        grain += cloud(rng, n, n, (64, 128, 256), uniform(rng, 0.01, 0.08)) * uniform(rng, 20, 160)
        boards = int(rng.integers(1, 14))
        for i in range(boards):
            x0, x1 = n * i // boards, n * (i + 1) // boards
            grain[:, x0:x1] += uniform(rng, -18, 18)
            if boards > 1:
                grain[:, x0 : x0 + int(rng.integers(1, 4))] -= uniform(rng, 5, 70)
    elif k < 0.66:  # brick and block
        rows = int(rng.integers(5, 24))
        tall = n // rows
        wide, joint = int(tall * uniform(rng, 1, 3.4)), max(2, int(tall * uniform(rng, 0.05, 0.2)))
        mortar = uniform(rng, -60, 60)
        for i in range(rows + 1):
            shift = (i % 2) * wide // 2
            for x in range(-shift, n, max(4, wide)):
                grain[i * tall : (i + 1) * tall, max(0, x) : max(0, x + wide)] += rng.normal(0, 9)
                grain[i * tall : (i + 1) * tall, max(0, x) : max(0, x) + joint] = mortar
            grain[i * tall : i * tall + joint] = mortar
        grain += cloud(rng, n, n, (64, 256)) * uniform(rng, 10, 80)
    elif k < 0.75:  # siding, wainscot, blinds: a shadow under each lap
        laps = int(rng.integers(4, 22))
        phase = (np.arange(n) * laps / n) % 1
        lap = -uniform(rng, 8, 80) * np.exp(-phase / uniform(rng, 0.02, 0.12))
        grain += (lap + uniform(rng, -25, 25) * phase)[:, None].astype(np.float32)
        grain += cloud(rng, n, n, (128, 256)) * uniform(rng, 0, 30)
    elif k < 0.85:  # tiles
        count = int(rng.integers(2, 12))
        step, joint = n // count + 1, int(rng.integers(1, 7))
        depth = uniform(rng, -80, 50)
        for i in range(0, n, step):
            grain[:, i : i + joint] += depth
        for i in range(0, n, max(6, int(step * uniform(rng, 0.5, 1.2)))):
            grain[i : i + joint] += depth
        grain += cloud(rng, n, n, (16, 64)) * uniform(rng, 0, 30)
    elif k < 0.93:  # carpet, cloth, woodchip
        rough = rng.standard_normal((n, n)).astype(np.float32) * uniform(rng, 6, 60)
        grain += cv2.GaussianBlur(rough, (0, 0), uniform(rng, 0.5, 2))
    else:  # stone, patterned paper
        grain += cloud(rng, n, n, (4, 8, 16, 32, 64, 128), uniform(rng, 0.3, 3)) * uniform(
            rng, 10, 45
        )
    if rng.random() < 0.35:
        grain = np.ascontiguousarray(grain.T)
    page += grain[..., None]
    return Patch(
        np.dstack([np.clip(page, 0, 255).astype(np.uint8), np.full((n, n), 255, np.uint8)]),
        1.0, 0.0, 0.0,
    )  # fmt: skip


def finished(rng: Rng, page: Canvas, cover: Picture | None = None) -> Picture:
    """Bring a page to its square texture with coverage."""
    levels = np.clip(page, 0, 255).astype(np.uint8)
    small = cv2.resize(levels, (TEXTURE, TEXTURE), interpolation=cv2.INTER_AREA)
    if cover is None:
        shown = np.full((TEXTURE, TEXTURE), 255, np.uint8)
    else:
        shown = cv2.resize(cover, (TEXTURE, TEXTURE), interpolation=cv2.INTER_AREA)
    return np.dstack([small, shown])


DRAWERS: dict[int, Callable[[Rng, Materials], Patch]] = {
    SHEET: sheet, CARD: card, DECOY: decoy, TAPE: tape, OCCLUDER: occluder, SURFACE: surface,
}  # fmt: skip


def draw(kind: int, number: int, materials: Materials, seed: int) -> Patch:
    """Draw one patch of a kind; the same number gives the same patch."""
    cv2.setNumThreads(1)
    return DRAWERS[kind](np.random.default_rng([seed, kind, number]), materials)
