"""Doubtful finds drawn into a small copy of the photo, each with its number."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo, PixelsRgb
from visualiser.raster import resized_px

LONG_SIDE_PX = 1200
"""Longer side of the picture."""
LINE, EDGE = (255, 255, 255), (20, 20, 20)
"""White lines with a dark edge stand out from any wall."""


def draw_guesses(photo: Photo, outlines_px: Sequence[PointsPx]) -> PixelsRgb:
    """Draw numbered outlines, the first with 1, into a small copy of the photo."""
    picture = Image.fromarray(photo.pixels)
    scale = min(1.0, LONG_SIDE_PX / max(picture.size))
    size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
    picture = picture.resize(size, Image.Resampling.LANCZOS)
    draw = ImageDraw.Draw(picture)
    unit = max(picture.size) / 300
    font = ImageFont.load_default(8 * unit)
    for number, corners in enumerate(outlines_px, start=1):
        points = [(float(x), float(y)) for x, y in resized_px(corners, scale)]
        for colour, width in ((EDGE, 1.6 * unit), (LINE, 0.7 * unit)):
            draw.line([*points, points[0]], fill=colour, width=max(1, round(width)))
        x, y = np.mean(points, axis=0)
        around = (x - 6 * unit, y - 6 * unit, x + 6 * unit, y + 6 * unit)
        draw.ellipse(around, fill=EDGE, outline=LINE, width=max(1, round(0.5 * unit)))
        draw.text((x, y), str(number), fill=LINE, font=font, anchor="mm")
    return np.asarray(picture, np.uint8)
