"""Light on a photographed picture: reflections that hide it, and paper made neutral."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.photo.photo import PixelsRgb

_PAPER_LIGHT = 0.86  # what a white border is brought to: paper, not the screen's white


def glare_share(pixels: PixelsRgb) -> float:
    """Share of a picture lost in bright reflections: clipped, roundish and soft at their rim."""
    scale = min(1.0, 500 / max(pixels.shape[:2]))
    size = (max(round(pixels.shape[1] * scale), 1), max(round(pixels.shape[0] * scale), 1))
    least = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA).min(axis=2)
    clipped = (least >= 250).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(clipped)
    lost = 0
    for k in range(1, count):
        x, y, w, h, area = stats[k][:5]
        touches = x == 0 or y == 0 or x + w == size[0] or y + h == size[1]
        if area < 12 or touches or area > 0.2 * clipped.size:
            continue
        blob = (labels == k).astype(np.uint8)
        near = cv2.dilate(blob, np.ones((3, 3), np.uint8)) - blob
        beyond = cv2.dilate(blob, np.ones((9, 9), np.uint8)) - blob - near
        # A reflection fades out; white paint or paper ends.
        if least[near > 0].mean() > 215 and least[beyond > 0].mean() > 180:
            lost += int(area)
    return float(lost / clipped.size)


def border_white(pixels: PixelsRgb) -> NDArray[np.float32] | None:
    """Linear light (3,) of an even, bright border of unprinted paper; None without one."""
    rows, columns = pixels.shape[:2]
    deep = max(2, round(0.02 * min(rows, columns)))
    inner = deep // 2  # the very rim holds a trace of what lies behind
    strips = [
        pixels[inner : inner + deep, inner : columns - inner],
        pixels[rows - inner - deep : rows - inner, inner : columns - inner],
        pixels[inner : rows - inner, inner : inner + deep],
        pixels[inner : rows - inner, columns - inner - deep : columns - inner],
    ]
    light = [to_linear(np.ascontiguousarray(strip)).reshape(-1, 3) for strip in strips]
    whites = np.array([np.median(strip, axis=0) for strip in light])
    every = np.concatenate(light)
    middle = np.median(every, axis=0)
    even = np.abs(every - middle).max(axis=1) < 0.12 * middle.max()
    alike = np.abs(whites / middle - 1).max() < 0.15
    coloured = middle.max() / max(float(middle.min()), 1e-3) > 1.7
    if even.mean() < 0.9 or not alike or coloured or middle.mean() < 0.25:
        return None
    return np.asarray(middle, np.float32)


def neutralised(pixels: PixelsRgb, white: NDArray[np.float32]) -> PixelsRgb:
    """Picture whose paper, of the given linear light, becomes neutral paper white."""
    gain = np.float32(_PAPER_LIGHT) / np.maximum(white, 1e-3)
    return to_pixels(to_linear(np.ascontiguousarray(pixels)) * gain.astype(np.float32))
