"""The print as it is seen: fitted to its window, shrunk to the size it has in the photo."""

from __future__ import annotations

import weakref
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from visualiser.inventory.piece import Artwork, Piece
from visualiser.photo.linear_light import LinearRgb, shrink_linear, to_linear

PAPER = (0.86, 0.85, 0.82)
"""Linear reflectance of unprinted paper around or in place of a picture."""
_SMALL_SIDE_PX = 800
_SMALL_COPIES: dict[int, tuple[weakref.ref[NDArray[np.uint8]], NDArray[np.uint16]]] = {}


def visible_print(piece: Piece, pixels_per_mm: float) -> LinearRgb:
    """Reflectance of what shows in a piece's window.

    Parameters
    ----------
    piece
        The piece; without an artwork a blank print with its name stands in.
    pixels_per_mm
        Photo pixels to a millimetre where it is seen largest. The print comes at 1.5 times that
        (or its own resolution, when lower): fine enough to be looked up linearly, coarse enough
        not to alias.
    """
    width_mm, height_mm = piece.window_mm
    wanted_w = max(round(1.5 * pixels_per_mm * width_mm), 1)
    wanted_h = max(round(1.5 * pixels_per_mm * height_mm), 1)
    if piece.artwork is None:
        blank = _blank_print(piece.name or piece.id, width_mm, height_mm)
        rows, columns = blank.shape[:2]
        return shrink_linear(blank, min(wanted_w, columns), min(wanted_h, rows))
    if piece.artwork_fit == "whole":
        return _whole_on_paper(piece, pixels_per_mm)
    pixels = fitted(piece.artwork.pixels, width_mm / height_mm)
    rows, columns = pixels.shape[:2]
    if wanted_w >= columns and wanted_h >= rows:
        return to_linear(pixels)
    if max(wanted_w, wanted_h) <= _SMALL_SIDE_PX and max(rows, columns) > _SMALL_SIDE_PX:
        small = fitted(_small_copy(piece.artwork), width_mm / height_mm)
        if small.shape[0] >= wanted_h and small.shape[1] >= wanted_w:
            small = cv2.resize(small, (wanted_w, wanted_h), interpolation=cv2.INTER_AREA)
        return np.asarray(small, np.float32) / np.float32(65535)
    small = shrink_linear(pixels, min(wanted_w, columns), min(wanted_h, rows))
    return np.ascontiguousarray(small)


def _whole_on_paper(piece: Piece, pixels_per_mm: float) -> LinearRgb:
    """Whole picture in the middle of its window, with blank paper at two sides."""
    assert piece.artwork is not None
    width_mm, height_mm = piece.window_mm
    aspect = piece.artwork.aspect
    seen_w, seen_h = min(width_mm, height_mm * aspect), min(height_mm, width_mm / aspect)
    alone = Piece(piece.id, seen_w, seen_h, moulding=None, artwork=piece.artwork)
    picture = visible_print(alone, pixels_per_mm)
    rows, columns = picture.shape[:2]
    full_w, full_h = round(columns * width_mm / seen_w), round(rows * height_mm / seen_h)
    sheet = np.empty((max(full_h, rows), max(full_w, columns), 3), np.float32)
    sheet[:] = PAPER
    top, left = (sheet.shape[0] - rows) // 2, (sheet.shape[1] - columns) // 2
    sheet[top : top + rows, left : left + columns] = picture
    return sheet


def _small_copy(artwork: Artwork) -> NDArray[np.uint16]:
    """Small copy of a large picture in linear light, kept as long as the picture lives.

    Previews ask for it at every drag; its pixels are read-only, so it cannot go stale.
    """
    key = id(artwork.pixels)
    kept = _SMALL_COPIES.get(key)
    if kept is not None and kept[0]() is artwork.pixels:
        return kept[1]
    rows, columns = artwork.pixels.shape[:2]
    scale = _SMALL_SIDE_PX / max(rows, columns)
    size = (max(round(columns * scale), 1), max(round(rows * scale), 1))
    small = np.asarray(np.round(shrink_linear(artwork.pixels, *size) * 65535), np.uint16)
    _SMALL_COPIES[key] = (
        weakref.ref(artwork.pixels, lambda _: _SMALL_COPIES.pop(key, None)),
        small,
    )
    return small


def fitted(pixels: NDArray[Any], aspect: float) -> NDArray[Any]:
    """Picture cut evenly at two sides so that it has a window's aspect."""
    rows, columns = pixels.shape[:2]
    if columns > aspect * rows:
        keep = max(round(aspect * rows), 1)
        start = (columns - keep) // 2
        return pixels[:, start : start + keep]
    keep = max(round(columns / aspect), 1)
    start = (rows - keep) // 2
    return pixels[start : start + keep]


def _blank_print(name: str, width_mm: float, height_mm: float) -> NDArray[np.uint8]:
    """Cream print with a thin rule and the piece's name, 2 px to a mm at most 1200 px."""
    scale = min(2.0, 1200 / max(width_mm, height_mm))
    width, height = (max(round(v * scale), 8) for v in (width_mm, height_mm))
    image = Image.new("RGB", (width, height), "#efe9dc")
    draw = ImageDraw.Draw(image)
    edge = round(0.06 * min(width, height))
    draw.rectangle((edge, edge, width - 1 - edge, height - 1 - edge), outline="#b9b1a0", width=2)
    font = ImageFont.load_default(max(min(0.1 * height, 1.5 * width / max(len(name), 4)), 8))
    draw.text((width / 2, height / 2), name, fill="#6b6558", font=font, anchor="mm")
    return np.asarray(image, np.uint8)
