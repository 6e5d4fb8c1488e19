"""Find a hung frame near where it should be: position, tilt and how sure, from its known sizes.

The neighbourhood is looked at straight-on in the plane of the frame's front. For each tilt the
signed gradient is summed along the four sides of a rectangle of the frame's very size, at every
shift. Texture cancels in the sum, a straight edge adds up; and since four sides must agree at
their known distances, neither the mat's edge nor a shadow passes for the frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.hanging.frame_box import HungFrame
from visualiser.photo.photo import PixelsRgb
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float32]

STEP_MM = 2.0
TILT_STEP_DEG = 1.0
WITHIN_WEIGHT = 0.5
"""An edge inside the frame counts half: mouldings and mats are measured less carefully."""
AGREED = 0.6
"""Share of outline, moulding and mat that has to be seen where no picture tells a piece."""
SAME = 0.5
"""Correlation from which a picture counts as recognised."""
AMBIGUOUS = 0.9
"""A second place that scores this share of the best one leaves the place in doubt."""


@dataclass(frozen=True, slots=True)
class Inset:
    """A rectangle within a frame's outline: how far in on each side, and how far off its back."""

    top_mm: float
    sides_mm: float
    bottom_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Located:
    """Where a frame was found, and the evidence.

    ``frame`` is the best place and ``second`` the next best that is not the same place again.
    ``support`` (top, right, bottom, left) is the share of each side along which a coherent edge
    stands out, 0 to 1. ``score`` sums it up with the edges inside; ``runner_up`` is the best score
    of another place, and ``agreement`` the score's share of the most there could be.
    """

    frame: HungFrame
    support: tuple[float, float, float, float]
    score: float
    runner_up: float
    agreement: float
    second: HungFrame

    @property
    def convincing(self) -> bool:
        """Three sides well supported and the fourth not contradicting, or four fairly."""
        ordered = sorted(self.support)
        return bool(ordered[1] > 0.5 and sum(ordered) > 2.2)

    @property
    def clear(self) -> bool:
        """Convincing inside and out, and at no other place as well."""
        alone = self.runner_up < AMBIGUOUS * self.score
        return self.convincing and self.agreement > AGREED and alone


def locate(
    pixels: PixelsRgb,
    plane: WallPlane,
    expected: HungFrame,
    *,
    reach_mm: float = 80.0,
    reach_deg: float = 5.0,
    insets: Sequence[Inset] = (),
    picture: tuple[Inset, NDArray[np.float64]] | None = None,
) -> Located | None:
    """Search for a frame around where it is expected.

    Parameters
    ----------
    pixels
        Photo, (H, W, 3) uint8.
    plane
        A coarse plane is enough.
    expected
        Frame as planned, in the plane's wall mm.
    reach_mm, reach_deg
        How far it may hang from there.
    insets
        Rectangles within the frame whose edges are evidence as well: the moulding's inner edge and
        the mat's window.
    picture
        The picture's window, and what shows in it, (H, W, 3) at `STEP_MM` a sample. Where it is
        recognised it speaks for a place as much as the four sides do: an outline alone is as well
        found one moulding's width, or one side face, beside the frame.

    Returns
    -------
    The best place, or None when the neighbourhood is not in the picture.
    """
    patch, valid = _straight_on(pixels, plane, expected, reach_mm + 8)
    if valid < 0.7:
        return None
    best: tuple[float, float, int, int] | None = None
    scores: list[float] = []
    tilts = np.arange(-reach_deg, reach_deg + 1e-9, TILT_STEP_DEG)
    size = (expected.width_mm / STEP_MM, expected.height_mm / STEP_MM)
    reach = int(reach_mm / STEP_MM)
    within = [_within(plane, expected, inset) for inset in insets]
    for tilt in tilts:
        sides, total = _side_maps(_turned(patch, -tilt), size, reach, within)
        row, column = divmod(int(total.argmax()), total.shape[1])
        scores.append(float(total[row, column]))
        if best is None or scores[-1] > best[0]:
            best = (scores[-1], float(tilt), row, column)
            support, best_map = sides[:, row, column], total
            runner_up, next_row, next_column = _elsewhere(total, row, column)
    assert best is not None
    score, tilt, row, column = best
    most = 4 * (1 + WITHIN_WEIGHT * len(within))
    if picture is not None:
        turned = _turned(patch, -tilt)
        window, shown = picture
        match = _picture_match(
            turned, _within(plane, expected, window).middle, reach, np.asarray(shown, np.float32)
        )
        if float(match.max()) > SAME:
            sides, total = _side_maps(turned, size, reach, within)
            best_map, most = total + 4 * np.maximum(match, 0), most + 4
            row, column = divmod(int(best_map.argmax()), best_map.shape[1])
            support, score = sides[:, row, column], float(best_map[row, column])
            runner_up, next_row, next_column = _elsewhere(best_map, row, column)
    tilt += TILT_STEP_DEG * _peak(np.array(scores), round((tilt + reach_deg) / TILT_STEP_DEG))
    down, across = row + _peak(best_map[:, column], row), column + _peak(best_map[row], column)

    def placed(at_row: float, at_column: float) -> HungFrame:
        # Shifts were made in the turned picture; turn them back.
        dx, dy = (at_column - reach) * STEP_MM, (reach - at_row) * STEP_MM
        c, s = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
        x, y = float(expected.x_mm + c * dx - s * dy), float(expected.y_mm + s * dx + c * dy)
        return replace(expected, x_mm=x, y_mm=y, tilt_deg=float(tilt))

    top, right, bottom, left = (float(v) for v in support)
    return Located(
        placed(down, across),
        (top, right, bottom, left),
        score,
        runner_up,
        score / most,
        placed(next_row, next_column),
    )


@dataclass(frozen=True, slots=True)
class _Within:
    """An inner rectangle as it is seen on the plane of the front: size and middle in samples."""

    size: tuple[float, float]
    middle: tuple[float, float]


def _within(plane: WallPlane, frame: HungFrame, inset: Inset) -> _Within:
    """See an inner rectangle, which lies deeper, through the plane of the frame's outer edge."""
    camera = -plane.rotation.T @ plane.translation_mm
    deeper = frame.depth_mm - inset.height_mm
    towards = (camera[:2] - [frame.x_mm, frame.y_mm]) / max(camera[2] - inset.height_mm, 1.0)
    x, y = deeper * towards / STEP_MM
    width = frame.width_mm - 2 * inset.sides_mm
    height = frame.height_mm - inset.top_mm - inset.bottom_mm
    down = 0.5 * (inset.top_mm - inset.bottom_mm) / STEP_MM
    return _Within((width / STEP_MM, height / STEP_MM), (float(x), float(down - y)))


def _elsewhere(total: Array, row: int, column: int) -> tuple[float, int, int]:
    """Score and place of the best that is not the same place again: how unique is it."""
    rest = total.copy()
    rest[max(row - 8, 0) : row + 9, max(column - 8, 0) : column + 9] = 0
    return float(rest.max(initial=0.0)), *divmod(int(rest.argmax()), rest.shape[1])


def _picture_match(patch: Array, middle: tuple[float, float], reach: int, picture: Array) -> Array:
    """Correlation of what is seen in the window with its picture at every shift, (S, S), -1 to 1.

    Channels count by the contrast that the picture has in them; a lamp's colour cancels in each.
    """
    rows, columns = picture.shape[:2]
    left = round((patch.shape[1] - columns) / 2 + middle[0]) - reach
    upper = round((patch.shape[0] - rows) / 2 + middle[1]) - reach
    part = patch[
        max(upper, 0) : max(upper, 0) + rows + 2 * reach,
        max(left, 0) : max(left, 0) + columns + 2 * reach,
    ]
    side = 2 * reach + 1
    match = np.zeros((side, side), np.float32)
    contrast = picture.std(axis=(0, 1))
    for channel in range(3):
        if contrast[channel] > 0:
            one = cv2.matchTemplate(
                np.ascontiguousarray(part[..., channel]),
                np.ascontiguousarray(picture[..., channel]),
                cv2.TM_CCOEFF_NORMED,
            )
            match[: one.shape[0], : one.shape[1]] += (
                contrast[channel] / contrast.sum() * np.nan_to_num(one)
            )
    return match


def _peak(values: NDArray[np.floating], at: int) -> float:
    """Where between samples a parabola through the largest and its neighbours peaks."""
    if not 0 < at < len(values) - 1:
        return 0.0
    before, top, after = (float(v) for v in values[at - 1 : at + 2])
    bend = before - 2 * top + after
    return float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend < 0 else 0.0


def _straight_on(
    pixels: PixelsRgb, plane: WallPlane, frame: HungFrame, margin_mm: float
) -> tuple[Array, float]:
    """Sample the neighbourhood in the plane of the front face; also the share inside the photo."""
    diagonal = 0.09 * max(frame.width_mm, frame.height_mm)  # a tilt of 5 degrees swings the corners
    half_w = frame.width_mm / 2 + margin_mm + diagonal
    half_h = frame.height_mm / 2 + margin_mm + diagonal
    columns = np.arange(-int(half_w / STEP_MM), int(half_w / STEP_MM) + 1) * STEP_MM
    rows = -np.arange(-int(half_h / STEP_MM), int(half_h / STEP_MM) + 1) * STEP_MM
    x, y = np.meshgrid(columns + frame.x_mm, rows + frame.y_mm)
    z = np.full(x.size, frame.depth_mm)
    px = plane.project(np.c_[x.ravel(), y.ravel(), z]).astype(np.float32).reshape(*x.shape, 2)
    height, width = pixels.shape[:2]
    inside = (px >= 0).all(axis=2) & (px[..., 0] <= width - 1) & (px[..., 1] <= height - 1)
    if not inside.any():
        return np.zeros((*x.shape, 3), np.float32), 0.0
    low = np.maximum(np.floor(px[inside].min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(px[inside].max(axis=0)).astype(int) + 3
    part: NDArray[Any] = pixels[low[1] : high[1], low[0] : high[0]]
    shrink = STEP_MM / float(plane.mm_per_px(np.array([[frame.x_mm, frame.y_mm]]))[0])
    if shrink > 1.5:  # several photo pixels to a sample: average them first
        part = cv2.GaussianBlur(part, (0, 0), 0.4 * shrink)
    local = px - low.astype(np.float32)
    patch = cv2.remap(
        part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(patch, np.float32), float(inside.mean())


def _turned(patch: Array, degrees: float) -> Array:
    """Turn a patch about its centre, counter-clockwise as seen."""
    height, width = patch.shape[:2]
    matrix = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), degrees, 1.0)
    return np.asarray(
        cv2.warpAffine(patch, matrix, (width, height), borderMode=cv2.BORDER_REPLICATE), np.float32
    )


def edge_votes(patch: Array, axis: int) -> Array:
    """Signed gradient, levelling off where an edge is clear beyond doubt: -1 to 1, (H, W, 3)."""
    smooth = cv2.GaussianBlur(patch, (0, 0), 0.8)
    gradient = np.zeros_like(smooth)
    if axis == 1:
        gradient[:, 1:-1] = smooth[:, 2:] - smooth[:, :-2]
    else:
        gradient[1:-1] = smooth[2:] - smooth[:-2]
    noise = 1.4826 * np.median(np.abs(gradient[::3, ::3]), axis=(0, 1))
    doubtful = np.maximum(3 * noise, 2.0).astype(np.float32)
    return np.asarray(gradient / (np.abs(gradient) + doubtful), np.float32)


def side_support(across: Array, down: Array, size: tuple[float, float]) -> Array:
    """Sum of the four sides' support for a rectangle of a size around every sample, 0 to 4.

    Parameters
    ----------
    across, down
        Votes (H, W, 3) of `edge_votes` along x and along y.
    size
        Width and height in samples.
    """
    height, width = across.shape[:2]
    w, h = size
    level, plumb = _level_and_plumb(across, down, size)
    # A tilted or shifted edge still counts within a sample.
    level, plumb = cv2.dilate(level, np.ones((3, 1))), cv2.dilate(plumb, np.ones((1, 3)))
    total = np.zeros((height, width), np.float32)
    for image, dx, dy in (
        (level, 0.0, -h / 2),
        (level, 0.0, h / 2),
        (plumb, -w / 2, 0.0),
        (plumb, w / 2, 0.0),
    ):
        matrix = np.array([[1, 0, -round(dx)], [0, 1, -round(dy)]], float)
        total += cv2.warpAffine(image, matrix, (width, height), flags=cv2.INTER_NEAREST)
    return total


def _level_and_plumb(
    across: Array, down: Array, size: tuple[float, float]
) -> tuple[NDArray[Any], NDArray[Any]]:
    """Coherent edge support of a level and of a plumb side centred on every sample, 0 to 1."""
    along_w, along_h = (max(round(0.94 * length), 1) for length in size)
    level = cv2.blur(down, (along_w, 1), borderType=cv2.BORDER_CONSTANT)
    plumb = cv2.blur(across, (1, along_h), borderType=cv2.BORDER_CONSTANT)
    return _strongest(level), _strongest(plumb)


def _strongest(votes: NDArray[Any]) -> NDArray[Any]:
    """Largest magnitude over the three channels."""
    red, green, blue = cv2.split(np.abs(votes))
    return np.asarray(cv2.max(cv2.max(red, green), blue))


def _side_maps(
    patch: Array, size: tuple[float, float], reach: int, within: Sequence[_Within]
) -> tuple[Array, Array]:
    """Support of each side at every shift, (4, S, S), and the score of every shift, (S, S)."""
    across, down = edge_votes(patch, 1), edge_votes(patch, 0)
    outer = _shifts(across, down, size, reach, (0.0, 0.0))
    total = outer.sum(axis=0)
    for inner in within:
        found = _shifts(across, down, inner.size, reach, inner.middle)
        total = total + WITHIN_WEIGHT * found.sum(axis=0)
    return outer, total


def _shifts(
    across: Array,
    down: Array,
    size: tuple[float, float],
    reach: int,
    middle: tuple[float, float],
) -> Array:
    """Support of top, right, bottom and left of a rectangle at every shift, (4, S, S)."""
    level, plumb = _level_and_plumb(across, down, size)
    middle_x = (across.shape[1] - 1) / 2 + middle[0]
    middle_y = (across.shape[0] - 1) / 2 + middle[1]
    w, h = size

    def window(image: NDArray[Any], dx: float, dy: float) -> NDArray[Any]:
        row, column = round(middle_y + dy) - reach, round(middle_x + dx) - reach
        return image[row : row + 2 * reach + 1, column : column + 2 * reach + 1]

    return np.stack(
        [
            window(level, 0, -h / 2),
            window(plumb, w / 2, 0),
            window(level, 0, h / 2),
            window(plumb, -w / 2, 0),
        ]
    )
