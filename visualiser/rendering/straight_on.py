"""The wall seen square on, to scale, with a scale bar and dimension lines."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from visualiser.arrangement.arrangement import Arrangement
from visualiser.geometry import Rect
from visualiser.photo.photo import Photo
from visualiser.raster import interpolated, node_places
from visualiser.rectification.camera.projection import Lens
from visualiser.rendering.compositing import render_mockup
from visualiser.rendering.mockup import Mockup, MockupOptions
from visualiser.survey.survey import Survey
from visualiser.units import Unit, format_length

_VIEW_DISTANCE_MM = 12_000.0
"""From so far that frames hardly show their sides."""
_INK, _HALO = (28, 32, 38), (255, 255, 255)


def straighten(
    photo: Photo, survey: Survey, area: Rect, mm_per_px: float | None = None
) -> tuple[Photo, Survey]:
    """Photo and survey of part of the wall as a camera far off and square to it would see it.

    Parameters
    ----------
    photo, survey
        The wall as photographed.
    area
        Part of the wall, survey mm.
    mm_per_px
        Size of a pixel; about the photo's own (at most 3 000 px a side) when None.
    """
    if survey.plane is None:
        raise ValueError("this survey was typed, it has no photo to straighten")
    x, y = area.centre_mm
    if mm_per_px is None:
        px = survey.to_photo(np.array([[x - 1, y], [x + 1, y], [x, y - 1], [x, y + 1]]))
        density = max(math.dist(px[0], px[1]), math.dist(px[2], px[3])) / 2
        mm_per_px = max(1 / density, max(area.width_mm, area.height_mm) / 3000)
    width = max(round(area.width_mm / mm_per_px), 16)
    height = max(round(area.height_mm / mm_per_px), 16)
    lens = Lens(_VIEW_DISTANCE_MM / mm_per_px, (width - 1) / 2, (height - 1) / 2)
    rotation = np.diag([1.0, -1.0, -1.0])
    # The area's middle, in the plane's own mm, goes to the picture's middle.
    aim = np.array([x + survey.datum_mm[0], y + survey.datum_mm[1], 0.0])
    translation = -rotation @ aim + [0, 0, _VIEW_DISTANCE_MM]
    flat = replace(survey.plane, lens=lens, rotation=rotation, translation_mm=translation)
    corners = flat.to_photo(survey.plane.to_wall(survey.plane.reference_corners_px))
    flat = replace(flat, reference_corners_px=corners)
    straight = replace(survey, plane=flat)

    step = 8
    gx, gy = np.meshgrid(node_places(width, step), node_places(height, step))
    nodes = survey.to_photo(straight.to_wall(np.c_[gx.ravel(), gy.ravel()])).reshape(*gx.shape, 2)
    at = interpolated(nodes, step, width, height)
    pixels = cv2.remap(
        photo.pixels, at[..., 0], at[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return Photo(np.asarray(pixels, np.uint8)), straight


def render_straight_on(
    photo: Photo,
    survey: Survey,
    arrangement: Arrangement,
    options: MockupOptions | None = None,
    *,
    margin_mm: float = 300.0,
    mm_per_px: float | None = None,
    unit: Unit | None = "mm",
) -> Mockup:
    """Draw a mock-up as seen square on, with a scale bar and dimension lines.

    Parameters
    ----------
    photo, survey, arrangement, options
        As for ``render_mockup``; outlines of the options refer to the photo as taken.
    margin_mm
        Wall shown around the group.
    mm_per_px
        Size of a pixel on the wall; about the photo's own when None.
    unit
        Of the dimensions; None leaves them and the scale bar out.
    """
    options = options or MockupOptions()
    area = arrangement.bounds.grown(margin_mm) if arrangement.placements else survey.outline.bounds
    straight_photo, straight = straighten(photo, survey, area, mm_per_px)

    def carried(points: np.ndarray) -> np.ndarray:
        return straight.to_photo(survey.to_wall(np.asarray(points, float)))

    options = replace(
        options,
        max_side_px=None,
        paint_out_px=tuple(carried(outline) for outline in options.paint_out_px),
        foreground=tuple(thing.mapped(carried) for thing in options.foreground),
        wall_taps=tuple(tap.mapped(carried) for tap in options.wall_taps),
    )
    mockup = render_mockup(straight_photo, straight, arrangement, options)
    assert straight.plane is not None
    size = _VIEW_DISTANCE_MM / straight.plane.lens.focal_px
    pixels = mockup.pixels
    if unit is not None and arrangement.placements:
        pixels = _dimensioned(mockup, straight, arrangement, size, unit)
    return replace(mockup, pixels=pixels, mm_per_px=size)


def _dimensioned(
    mockup: Mockup, survey: Survey, arrangement: Arrangement, mm_per_px: float, unit: Unit
) -> np.ndarray:
    """Draw the group's width and height, each piece's size, and a scale bar."""
    image = Image.fromarray(mockup.pixels)
    draw = ImageDraw.Draw(image)
    text_px = max(11.0, min(image.size) / 38)
    font = ImageFont.load_default(text_px)
    bounds = arrangement.bounds
    outer = survey.to_photo(bounds.corners())
    (left, top), (right, bottom) = outer.min(axis=0), outer.max(axis=0)
    gap = 1.6 * text_px
    _dimension(draw, font, (left, top - gap), (right, top - gap), bounds.width_mm, unit)
    _dimension(draw, font, (left - gap, bottom), (left - gap, top), bounds.height_mm, unit)
    rects = arrangement.rects()
    for piece_id, rect in rects.items():
        width = format_length(rect.width_mm, unit).removesuffix(f" {unit}")
        label = f"{width} x {format_length(rect.height_mm, unit)}"
        at = survey.to_photo(np.array([[rect.centre_mm[0], rect.bottom_mm]]))[0]
        if draw.textlength(label, font) + 0.8 * text_px < rect.width_mm / mm_per_px:
            # Below the piece, or at its foot where the next hangs too close.
            high = 1.6 * text_px * mm_per_px
            below = Rect(rect.left_mm, rect.bottom_mm - high, rect.width_mm, high)
            crowded = any(below.overlaps(other) for i, other in rects.items() if i != piece_id)
            _label(draw, font, (at[0], at[1] + (-0.9 if crowded else 0.9) * text_px), label)
    _scale_bar(draw, font, image.size, mm_per_px, unit)
    return np.asarray(image, np.uint8)


def _dimension(
    draw: ImageDraw.ImageDraw,
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont,
    start: tuple[float, float],
    end: tuple[float, float],
    length_mm: float,
    unit: Unit,
) -> None:
    """Line between two ticks with the length in its middle, as on a drawing (ISO 129-1)."""
    level = abs(start[1] - end[1]) < abs(start[0] - end[0])
    across = (0.0, 6.0) if level else (6.0, 0.0)
    for colour, width in ((_HALO, 4), (_INK, 2)):
        draw.line([start, end], fill=colour, width=width)
        for x, y in (start, end):
            ends = [(x - across[0], y - across[1]), (x + across[0], y + across[1])]
            draw.line(ends, fill=colour, width=width)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    label = format_length(length_mm, unit)
    if not level:  # beside its line, away from what is measured
        middle = (middle[0] - draw.textlength(label, font) / 2 - 8.0, middle[1])
    _label(draw, font, middle, label)


def _label(
    draw: ImageDraw.ImageDraw,
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont,
    at: tuple[float, float],
    text: str,
) -> None:
    left, top, right, bottom = draw.textbbox(at, text, font=font, anchor="mm")
    pad = 0.2 * (bottom - top) + 2
    plate = (left - 2 * pad, top - pad, right + 2 * pad, bottom + pad)
    draw.rounded_rectangle(plate, radius=2 * pad, fill=_HALO)
    draw.text(at, text, fill=_INK, font=font, anchor="mm")


def _scale_bar(
    draw: ImageDraw.ImageDraw,
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont,
    size: tuple[int, int],
    mm_per_px: float,
    unit: Unit,
) -> None:
    """Bar of a round length, at most a quarter of the picture's width, bottom right."""
    step = 304.8 if unit in ("in", "ft") else 100.0
    most = size[0] * mm_per_px / 4
    length_mm = step * max(1, math.floor(most / step))
    length_px, margin = length_mm / mm_per_px, 0.03 * min(size)
    right, base = size[0] - margin, size[1] - margin
    _dimension(draw, font, (right - length_px, base), (right, base), length_mm, unit)
