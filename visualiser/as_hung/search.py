"""Find a hung frame near where it should be: position, tilt and how sure, from its known sizes.

The neighbourhood is looked at straight-on in the plane of the frame's front. For each tilt the
signed gradient is summed along the four sides of a rectangle of the frame's very size, at every
shift. Texture cancels in the sum, a straight edge adds up; and since four sides must agree at
their known distances, neither the mat's edge nor a shadow passes for the frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.straight_on import WITHIN_WEIGHT, Within, side_maps, straight_on
from visualiser.photo.peaks import peak_offset
from visualiser.photo.photo import PixelsRgb
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float32]
STEP_MM = 2.0
TILT_STEP_DEG = 1.0
ROUGH = 2
"""A tilt is found by a picture reduced so many times; a place is not."""
AGREED = 0.6
"""Share of outline, moulding and mat that has to be seen where no picture identifies a piece."""
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
        recognised it supports a place as much as the four sides do: an outline alone is as well
        found one moulding's width, or one side face, beside the frame.

    Returns
    -------
    The best place, or None when the neighbourhood is not in the picture.
    """
    patch, valid = straight_on(pixels, plane, expected, reach_mm + 8, STEP_MM)
    if valid < 0.7:
        return None
    size = (expected.width_mm / STEP_MM, expected.height_mm / STEP_MM)
    reach = int(reach_mm / STEP_MM)
    within = [within_on_front(plane, expected, inset) for inset in insets]
    tilts = np.arange(-reach_deg, reach_deg + 1e-9, TILT_STEP_DEG)
    looks = _Looks(patch, tilts, size, reach, within)
    at = looks.best()
    sides, total = looks.at(at)
    most = 4 * (1 + WITHIN_WEIGHT * len(within))
    if picture is not None:
        window, shown = picture
        match = _picture_match(
            turned(patch, -tilts[at]),
            within_on_front(plane, expected, window).middle,
            reach,
            np.asarray(shown, np.float32),
        )
        if float(match.max()) > SAME:
            total, most = total + 4 * np.maximum(match, 0), most + 4
    row, column = divmod(int(total.argmax()), total.shape[1])
    score, support = float(total[row, column]), sides[:, row, column]
    runner_up, next_row, next_column = _elsewhere(total, row, column)
    tilt = float(tilts[at]) + TILT_STEP_DEG * looks.peak(at)
    down, across = (
        row + peak_offset(total[:, column], row),
        column + peak_offset(total[row], column),
    )

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


class _Looks:
    """The support of every shift at every tilt, worked out only where it is asked for."""

    def __init__(
        self,
        patch: Array,
        tilts: NDArray[np.float64],
        size: tuple[float, float],
        reach: int,
        within: Sequence[Within],
    ) -> None:
        self.patch, self.tilts = patch, tilts
        self.size, self.reach, self.within = size, reach, within
        self.known: dict[int, tuple[Array, Array]] = {}

    def at(self, number: int) -> tuple[Array, Array]:
        """Support of each side at every shift, (4, S, S), and the score, at one tilt."""
        if number not in self.known:
            patch = turned(self.patch, -float(self.tilts[number]))
            self.known[number] = side_maps(patch, self.size, self.reach, self.within)
        return self.known[number]

    def best(self) -> int:
        """Find the tilt that scores highest: from a reduced picture, then uphill in the whole."""
        at = int(np.argmax(self._rough()))
        while True:
            near = [k for k in (at, at - 1, at + 1) if 0 <= k < len(self.tilts)]
            better = max(near, key=self._score)
            if better == at:
                return at
            at = better

    def peak(self, number: int) -> float:
        """Where between tilts the score is highest, in steps from the best one."""
        if not 0 < number < len(self.tilts) - 1:
            return 0.0
        return peak_offset(np.array([self._score(k) for k in (number - 1, number, number + 1)]), 1)

    def _score(self, number: int) -> float:
        return float(self.at(number)[1].max())

    def _rough(self) -> list[float]:
        """Score every tilt in a picture reduced by `ROUGH`."""
        rows, columns = self.patch.shape[:2]
        smaller = (columns // ROUGH, rows // ROUGH)
        small = cv2.resize(self.patch, smaller, interpolation=cv2.INTER_AREA).astype(np.float32)
        width, height = self.size
        size = (width / ROUGH, height / ROUGH)
        within = [w.reduced(ROUGH) for w in self.within]
        maps = (
            side_maps(turned(small, -float(tilt)), size, self.reach // ROUGH, within)
            for tilt in self.tilts
        )
        return [float(total.max()) for _, total in maps]


def within_on_front(plane: WallPlane, frame: HungFrame, inset: Inset) -> Within:
    """See an inner rectangle, which lies deeper, through the plane of the frame's outer edge."""
    camera = -plane.rotation.T @ plane.translation_mm
    deeper = frame.depth_mm - inset.height_mm
    towards = (camera[:2] - [frame.x_mm, frame.y_mm]) / max(camera[2] - inset.height_mm, 1.0)
    x, y = deeper * towards / STEP_MM
    width = frame.width_mm - 2 * inset.sides_mm
    height = frame.height_mm - inset.top_mm - inset.bottom_mm
    down = 0.5 * (inset.top_mm - inset.bottom_mm) / STEP_MM
    return Within((width / STEP_MM, height / STEP_MM), (float(x), float(down - y)))


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


def turned(patch: Array, degrees: float) -> Array:
    """Turn a patch about its centre, counter-clockwise as seen."""
    height, width = patch.shape[:2]
    matrix = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), degrees, 1.0)
    return np.asarray(
        cv2.warpAffine(patch, matrix, (width, height), borderMode=cv2.BORDER_REPLICATE), np.float32
    )
