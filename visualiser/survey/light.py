"""The wall's light: how bright and of what colour white would look at each place, and from where.

A wall is painted one colour (or papered with one repeat), so what varies smoothly over it in the
photo is the light, together with the lens's vignetting and the camera's local toning, which act
on anything hung there just the same. The sheet of paper on the wall says what white looks like.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.geometry import Polygon
from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb, shrink_linear
from visualiser.photo.photo import Photo
from visualiser.raster import interpolated, node_places, resized_px
from visualiser.survey.main_light import MainLight, main_light
from visualiser.survey.paper_light import CLIPPED, PAPER_REFLECTANCE, paper_white
from visualiser.survey.smooth_wall import smooth_wall
from visualiser.survey.survey import Survey

FALLBACK_WALL_REFLECTANCE = 0.6
"""Of a wall that nothing white hangs on: between pale paint (0.8) and mid tones (0.4)."""
_OVEREXPOSED = Finding(
    "advice",
    "The white sheet is overexposed, so the light's brightness and colour are only known roughly.",
    "Photograph the wall a little darker: tap on the sheet, or lower the exposure.",
    code="sheet-overexposed",
)
_WORKING_SIDE_PX = 320


@dataclass(frozen=True, slots=True, eq=False)
class WallLight:
    """Light on one photographed wall.

    Parameters
    ----------
    white
        (h, w, 3) linear light that a perfect white on the wall would send to the camera, over
        the whole photo at reduced size.
    step_px
        Photo pixels to one element of ``white``.
    wall_reflectance
        (3,) reflectance of the wall's paint (its mean, if patterned).
    main
        Main light.
    findings
        What was assumed.
    """

    white: LinearRgb
    step_px: float
    wall_reflectance: NDArray[np.float32]
    main: MainLight = field(default_factory=MainLight)
    findings: tuple[Finding, ...] = ()

    def white_in(self, x: int, y: int, width: int, height: int) -> LinearRgb:
        """Light of white at each photo pixel of a rectangle, (height, width, 3)."""
        return at_pixels(self.white, self.step_px, x, y, width, height)


def at_pixels(
    values: NDArray[np.float32], step_px: float, x: int, y: int, width: int, height: int
) -> NDArray[np.float32]:
    """Values of a map at reduced size at each pixel of a rectangle, (height, width, …).

    Parameters
    ----------
    values
        (h, w) or (h, w, 3) over the whole photo.
    step_px
        Photo pixels to one element.
    x, y, width, height
        The rectangle in the photo.
    """
    # Pixel p lies at element (p + 0.5) / step - 0.5.
    rows = ((np.arange(y, y + height) + 0.5) / step_px - 0.5).astype(np.float32)
    columns = ((np.arange(x, x + width) + 0.5) / step_px - 0.5).astype(np.float32)
    top, left = max(int(rows[0]) - 1, 0), max(int(columns[0]) - 1, 0)
    part = values[top : int(rows[-1]) + 3, left : int(columns[-1]) + 3]
    shape = (height, width)
    return np.asarray(
        cv2.remap(
            np.ascontiguousarray(part),
            np.broadcast_to(columns - left, shape).astype(np.float32),
            np.broadcast_to((rows - top)[:, None], shape).astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        np.float32,
    )


def inside_polygon(
    x_mm: NDArray[np.floating], y_mm: NDArray[np.floating], polygon: Polygon
) -> NDArray[np.bool_]:
    """Which points lie in a polygon (even-odd rule)."""
    inside = np.zeros(x_mm.shape, bool)
    points = list(polygon)
    for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1], strict=True):
        if y0 == y1:
            continue
        crosses = (y_mm < y0) != (y_mm < y1)
        inside ^= crosses & (x_mm < x0 + (y_mm - y0) * (x1 - x0) / (y1 - y0))
    return inside


def estimate_light(
    photo: Photo, survey: Survey, *, wall_reflectance: NDArray[np.float32] | None = None
) -> WallLight:
    """Estimate the light on the wall from the photo.

    Parameters
    ----------
    photo
        The bare (or partly hung) wall.
    survey
        Its survey, with the plane.
    wall_reflectance
        (3,) linear reflectance of the wall's paint where it is known; it then takes the place of
        the paper as the white reference.
    """
    scale = min(_WORKING_SIDE_PX / max(photo.width_px, photo.height_px), 1.0)
    width, height = (max(round(n * scale), 1) for n in (photo.width_px, photo.height_px))
    step = photo.width_px / width
    linear = shrink_linear(photo.pixels, width, height)

    x_mm, y_mm = _wall_grid(survey, width, height, step, photo.height_px / height)
    bare, ring, sheet = _bare_wall(survey, x_mm, y_mm)
    luminance = linear @ LUMINANCE_32
    usable = bare & (luminance > 1e-4) & (linear.max(axis=2) < CLIPPED)
    if usable.sum() < 50:
        usable = np.isfinite(luminance) & (luminance > 1e-4)
    usable &= np.isfinite(x_mm)
    if usable.sum() < 50:
        return _light_unknown(width, height, step)
    smooth, trusted, slope_per_m = smooth_wall(linear, x_mm, y_mm, usable, ring & usable)

    findings: list[Finding] = []
    # Light and vignetting differ between the sheet and the wall around it: the wall counts as the
    # surface gives it under the sheet, where the paper is seen.
    near = next(m for m in (sheet, ring & trusted, trusted) if m.sum() >= 8)
    wall_at_sheet = np.median(smooth[near], axis=0)
    paper = None if wall_reflectance is not None else paper_white(photo, survey)
    if wall_reflectance is None and paper is None:
        neutral = np.full(3, float(wall_at_sheet @ LUMINANCE_32), np.float32)
        wall_reflectance = FALLBACK_WALL_REFLECTANCE * wall_at_sheet / neutral
        findings.append(
            Finding(
                "advice",
                "Nothing white on the wall shows the brightness and colour of the light.",
                "Tape up a sheet of white paper, or give the wall's paint colour.",
                code="white-assumed",
            )
        )
    if paper is not None:
        wall_reflectance = wall_at_sheet / paper
        if (paper * PAPER_REFLECTANCE > CLIPPED).any():
            findings.append(_OVEREXPOSED)
    assert wall_reflectance is not None
    reflectance = np.clip(wall_reflectance, 0.01, 0.98).astype(np.float32)
    shape = _trusted_shape(smooth, wall_at_sheet, reflectance)
    return WallLight(
        white=(shape * (wall_at_sheet / reflectance)).astype(np.float32),
        step_px=step,
        wall_reflectance=reflectance,
        main=main_light(*slope_per_m),
        findings=tuple(findings),
    )


def _light_unknown(width: int, height: int, step: float) -> WallLight:
    """Even, neutral light, where the photo shows no wall to measure it on."""
    finding = Finding(
        "advice",
        "The photo shows too little wall to measure its light.",
        "Photograph more of the bare wall, in better light.",
        code="light-unknown",
    )
    white = np.full((height, width, 3), 0.8, np.float32)
    wall = np.full(3, FALLBACK_WALL_REFLECTANCE, np.float32)
    return WallLight(white, step, wall, findings=(finding,))


def _trusted_shape(
    smooth: LinearRgb, wall_at_sheet: NDArray[np.float32], reflectance: NDArray[np.float32]
) -> LinearRgb:
    """How light varies over the wall, 1 at the sheet: by channel only as far as paint allows.

    On a dark or strongly coloured wall the weak channels are mostly glare and the camera's toe;
    their variation would tint white things. There luminance alone gives the shape.
    """
    luminance = smooth @ LUMINANCE_32 / float(wall_at_sheet @ LUMINANCE_32)
    trust = float(np.clip(reflectance.min() / 0.3, 0, 1))
    common = luminance[..., None]
    return np.asarray(common * (smooth / wall_at_sheet / common) ** np.float32(trust), np.float32)


def _wall_grid(
    survey: Survey, width: int, height: int, step_x: float, step_y: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Wall mm at each element of the reduced photo; NaN beyond the wall's vanishing line."""
    every = 4  # solved at every fourth element and interpolated: mm do not matter here
    columns = resized_px(node_places(width, every), step_x)
    gx, gy = np.meshgrid(columns, resized_px(node_places(height, every), step_y))
    wall = survey.to_wall(np.c_[gx.ravel(), gy.ravel()])
    wall[np.abs(wall).max(axis=1) > 1e5] = np.nan
    at = interpolated(wall.reshape(*gx.shape, 2), every, width, height)
    return np.asarray(at[..., 0], float), np.asarray(at[..., 1], float)


def _bare_wall(
    survey: Survey, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Pixels that the survey says are bare wall; those of it around the sheet; the sheet itself."""
    assert survey.plane is not None
    corners = survey.to_wall(survey.plane.reference_corners_px)
    centre = corners.mean(axis=0)
    size = float(np.linalg.norm(corners[0] - corners[2]))
    ring_size = max(size, 250.0)

    def grown(by: float) -> Polygon:
        away = corners - centre
        away /= np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
        return Polygon(tuple((float(x), float(y)) for x, y in corners + away * by))

    bare = inside_polygon(x_mm, y_mm, survey.outline)
    bare &= ~inside_polygon(x_mm, y_mm, grown(0.25 * size))
    for zone in survey.zones:
        bare &= ~inside_polygon(x_mm, y_mm, zone.polygon)
    for thing in survey.furniture:
        bare &= ~inside_polygon(x_mm, y_mm, Polygon.from_rect(thing.rect.grown(20.0)))
    ring = bare & inside_polygon(x_mm, y_mm, grown(0.25 * size + ring_size))
    return bare, ring, inside_polygon(x_mm, y_mm, grown(0.0))
