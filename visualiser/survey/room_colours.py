"""The room's colours, read from the surveyed photo: wall paint, floor, furniture and textiles.

The light is balanced by the sheet on the wall. The paint is read right beside the sheet, where
both get the same light; so its lightness is measured against the paper's, not guessed from the
exposure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.colour.balancing import (
    Balance,
    PaperWhite,
    balance_by_neutral,
    balance_by_sheet,
    unbalanced,
)
from visualiser.colour.extraction import extract_palette
from visualiser.colour.names import colour_name, colour_word
from visualiser.colour.palette import Palette, palette_from_lab
from visualiser.colour.theme import overall_palette
from visualiser.errors import ColourError
from visualiser.findings import Finding
from visualiser.geometry import PointsMm, PointsPx
from visualiser.photo.linear_light import to_linear
from visualiser.photo.photo import Photo
from visualiser.raster import resized_px
from visualiser.statistics import COVERAGE_95
from visualiser.survey.paper_light import polygon_light
from visualiser.survey.survey import Furniture, Survey

_TEXTILES = frozenset({"sofa", "bed", "cot", "chair"})
_WORKING_PX = 640
_CLIPPED = 250
_PROCESSING_SIGMA = (2.0, 1.2, 1.8)
"""What a phone's own toning and colouring may add, L* a* b*. Common practice, no source."""
_WALL_MOST = 0.6
"""Most of the room's palette that the wall takes, however large it is. Ours."""
_LEAST_PX = 150
"""A part seen on fewer reduced pixels than this says nothing."""


@dataclass(frozen=True, slots=True)
class Paint:
    """Colour of the wall's paint, measured.

    Parameters
    ----------
    lab
        CIELAB, D65.
    half_width
        95 % half-widths of L*, a*, b*.
    name
        ISCC-NBS name.
    """

    lab: tuple[float, float, float]
    half_width: tuple[float, float, float]
    name: str

    @property
    def word(self) -> str:
        """What a stylist calls it."""
        return colour_word(self.lab)

    def __str__(self) -> str:
        parts = (
            f"{n} {v:.0f} ± {h:.0f}".replace("-", "\N{MINUS SIGN}")
            for n, v, h in zip(("L*", "a*", "b*"), self.lab, self.half_width, strict=True)
        )
        return f"{self.word} ({self.name}: {', '.join(parts)})"


@dataclass(frozen=True, slots=True, eq=False)
class RoomColours:
    """What a surveyed photo says of the room's colours.

    Parameters
    ----------
    wall
        Its paint.
    parts
        Palettes by name: ``wall``, ``floor``, ``furniture``, ``textiles``; those that are seen.
    palette
        All of them in one.
    balance
        How the light was undone.
    findings
        What limits it.
    """

    wall: Paint
    parts: tuple[tuple[str, Palette], ...]
    palette: Palette
    balance: Balance
    findings: tuple[Finding, ...] = ()


def room_colours(
    photo: Photo,
    survey: Survey,
    *,
    neutral_px: Sequence[float] | None = None,
    balance: Balance | None = None,
    paper: PaperWhite | None = None,
) -> RoomColours:
    """Read the room's colours.

    Parameters
    ----------
    photo
        The photo that was surveyed.
    survey
        Its survey; windows, doors and the reference are left out, and lamps by their brightness.
    neutral_px
        (x, y) of a clicked grey or white spot, instead of the sheet.
    balance
        Made already, from a chart for instance, instead of both.
    paper
        What the sheet's paper is like.

    Raises
    ------
    ColourError
        If the survey has no photo, or nothing of the bare wall can be seen.
    """
    if survey.plane is None:
        raise ColourError(
            "This wall was typed, not photographed.",
            hint="Survey a photo of the wall to read its colours.",
        )
    findings: list[Finding] = []
    sheet = _sheet_light(photo, survey)
    if balance is None:
        balance = _balance(photo, sheet, neutral_px, paper, findings)
    if not findings:  # else why there is no balance has been said, and more to the point
        findings.extend(balance.findings)

    step = max(max(photo.width_px, photo.height_px) / _WORKING_PX, 1.0)
    size = (round(photo.width_px / step), round(photo.height_px / step))
    small = np.asarray(cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    lit = small.max(axis=2) < _CLIPPED
    masks = _masks(survey, size, step)
    wall, ring = masks["wall"] & lit, masks["ring"] & lit
    if wall.sum() < _LEAST_PX:
        raise ColourError(
            "Too little of the bare wall is seen to read its colour.",
            hint="Step back, or mark the wall's outline and what stands before it.",
        )
    linear = to_linear(small).astype(np.float64)
    beside = linear[ring] if ring.sum() >= _LEAST_PX else linear[wall]
    paint = _paint(beside, balance)
    parts: list[tuple[str, Palette, float]] = [
        ("wall", palette_from_lab([paint.lab], [1.0]), float(masks["wall"].mean()))
    ]
    balanced = balance.pixels(small)
    if not survey.furniture:
        masks["furniture"] = _unmarked(linear, balance, paint, masks["wall"])
    for name in ("floor", "furniture", "textiles"):
        seen = masks[name] & lit
        if seen.sum() >= _LEAST_PX:
            palette = extract_palette(balanced, mask=seen, trim=False)
            parts.append((name, Palette(palette.swatches), float(seen.mean())))
    return RoomColours(
        paint,
        tuple((name, palette) for name, palette, _ in parts),
        _whole([p for _, p, _ in parts], [a for _, _, a in parts], balance),
        balance,
        tuple(findings),
    )


def _balance(
    photo: Photo,
    sheet: NDArray[np.float64] | None,
    neutral_px: Sequence[float] | None,
    paper: PaperWhite | None,
    findings: list[Finding],
) -> Balance:
    """Balance by the clicked neutral, else by the sheet, else leave it and say so."""
    if neutral_px is not None:
        x, y = (round(float(v)) for v in neutral_px)
        reach = max(round(max(photo.width_px, photo.height_px) / 400), 2)
        spot = photo.pixels[max(y - reach, 0) : y + reach + 1, max(x - reach, 0) : x + reach + 1]
        if not spot.size:
            raise ColourError("The clicked neutral lies outside the photo.", hint="Click again.")
        return balance_by_neutral(to_linear(spot))
    if sheet is None:
        return unbalanced()
    try:
        return balance_by_sheet(sheet, paper)
    except ColourError as error:
        findings.append(Finding("advice", error.message, error.hint, "balance-sheet-unusable"))
        return unbalanced()


def _sheet_light(photo: Photo, survey: Survey) -> NDArray[np.float64] | None:
    """Linear light (N, 3) of the reference's paper; None where it is too small to be a sheet."""
    assert survey.plane is not None
    corners = survey.plane.reference_corners_px
    wall = survey.to_wall(corners)
    if np.linalg.norm(wall[0] - wall[2]) < 130:  # a bank card may have any colour
        return None
    middle = corners.mean(axis=0)
    light = polygon_light(photo, middle + 0.75 * (corners - middle))
    if light is None:
        return None
    tone = light.mean(axis=1)
    # What is printed on it is darker than the paper.
    return np.asarray(light[tone >= np.percentile(tone, 60)], np.float64)


def _paint(light: NDArray[np.float64], balance: Balance) -> Paint:
    """Median colour of the bare wall, with the ± of white, camera and unevenness together."""
    lab = balance.lab(light)
    middle = np.median(lab, axis=0)
    # Half the spread between the quartiles: shading around the sheet, not the noise of a pixel.
    uneven = np.diff(np.percentile(lab, [25, 75], axis=0), axis=0)[0] / 2
    sigma = np.sqrt(np.square(balance.sigma_lab) + np.square(_PROCESSING_SIGMA) + np.square(uneven))
    if balance.source == "camera":
        sigma[0] = max(sigma[0], 8.0)  # exposure and paint cannot be separated
    lightness, red, yellow = (float(v) for v in middle)
    wide = tuple(float(COVERAGE_95 * v) for v in sigma)
    return Paint((lightness, red, yellow), (wide[0], wide[1], wide[2]), colour_name(middle))


def _unmarked(
    linear: NDArray[np.float64],
    balance: Balance,
    paint: Paint,
    wall: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Find what stands before the wall and was not marked: it is not of the paint's colour.

    Shading makes paint lighter and darker, not another hue: so chroma and hue count strictly,
    lightness only when it is far off.
    """
    lab = balance.lab(linear)
    tint = np.hypot(lab[:, :, 1] - paint.lab[1], lab[:, :, 2] - paint.lab[2])
    # A shaded paint has less chroma, in proportion to its light.
    allowed = 10 + 0.35 * float(np.hypot(*paint.lab[1:]))
    other = wall & ((tint > allowed) | (np.abs(lab[:, :, 0] - paint.lab[0]) > 35))
    kernel = np.ones((5, 5), np.uint8)
    return np.asarray(cv2.morphologyEx(other.astype(np.uint8), cv2.MORPH_OPEN, kernel) > 0)


def _whole(palettes: list[Palette], areas: list[float], balance: Balance) -> Palette:
    """One palette of all parts by area, the wall held to its most, like colours joined."""
    weights = np.array(areas)
    rest = weights[1:].sum()
    if rest > 0:
        weights[0] = min(weights[0], rest * _WALL_MOST / (1 - _WALL_MOST))
    mixed = overall_palette(palettes, weights)
    doubts = tuple(f for f in balance.findings if f.severity == "advice")
    return palette_from_lab(mixed.lab, mixed.shares, findings=doubts)


def _masks(survey: Survey, size: tuple[int, int], step: float) -> dict[str, NDArray[np.bool_]]:
    """Where (h, w), in the reduced photo, each part of the room is seen."""
    assert survey.plane is not None

    def drawn(points_px: PointsPx) -> NDArray[np.bool_]:
        mask = np.zeros(size[::-1], np.uint8)
        corners = np.clip(resized_px(points_px, 1 / step), -30_000, 30_000)
        cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], 1)
        return mask.astype(bool)

    def on_wall(points_mm: PointsMm) -> NDArray[np.bool_]:
        return drawn(survey.to_photo(_dense(points_mm)))

    corners = survey.to_wall(survey.plane.reference_corners_px)
    middle = corners.mean(axis=0)
    reference = on_wall(middle + 1.25 * (corners - middle))
    around = on_wall(middle + 2.5 * (corners - middle))
    outline = on_wall(np.array(list(survey.outline)))
    things = {name: np.zeros(size[::-1], bool) for name in ("furniture", "textiles")}
    for thing in survey.furniture:
        things[_kind(thing)] |= on_wall(thing.rect.corners())
    openings = np.zeros(size[::-1], bool)
    for zone in survey.zones:
        openings |= on_wall(np.array(list(zone.polygon)))
    standing = things["furniture"] | things["textiles"]
    wall = outline & ~reference & ~standing & ~openings
    floor = np.zeros(size[::-1], bool)
    if survey.floor_known:
        bounds = survey.outline.bounds
        line = survey.to_photo(_dense(np.array([[bounds.left_mm, 0.0], [bounds.right_mm, 0.0]])))
        bottom = np.array([[line[-1, 0], size[1] * step], [line[0, 0], size[1] * step]])
        floor = drawn(np.vstack([line, bottom])) & ~standing & ~outline
    return {"wall": wall, "ring": wall & around, "floor": floor, **things}


def _kind(thing: Furniture) -> str:
    return "textiles" if thing.kind in _TEXTILES else "furniture"


def _dense(points_mm: PointsMm, pieces: int = 12) -> PointsMm:
    """Polygon's or line's corners with points between, so that the lens may bend its sides."""
    points = np.asarray(points_mm, float)
    following = np.roll(points, -1, axis=0)
    along = np.linspace(0, 1, pieces, endpoint=False)
    dense = points[:, None] + along[None, :, None] * (following - points)[:, None]
    flat = dense.reshape(-1, 2)
    return flat if len(points) > 2 else np.vstack([flat[:pieces], points[1:]])
