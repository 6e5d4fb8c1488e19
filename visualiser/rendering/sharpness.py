"""How sharp a photo is: what its lens blurred and its camera sharpened again.

A camera's own sharpening leaves a bright and a dark line along every edge. Drawn pixels that are
blurred alone look soft beside it, so both are measured, on the sides of the reference, and both
are given to what is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import decode_srgb, encode_srgb
from visualiser.photo.photo import Photo
from visualiser.rendering.sight_lines import Field, Region
from visualiser.statistics import robust_sigma

HALO_PX = 1.0
"""Gaussian sigma of the blurred picture that sharpening takes away: common practice, no source."""
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)
"""Luma of encoded red, green and blue (ITU-R BT.601-7, clause 2.5.1)."""
_LEAST_BLUR_PX, _MOST_BLUR_PX, _MOST_HALO = 0.1, 6.0, 1.5
_LEAST_SIDE_PX, _LEAST_STEP, _MOST_SAMPLES = 24, 2.0, 400
_LEAST_PLAIN, _PATTERNED = 20, 0.35
"""Pixels that make a plateau; and levels between the lowest and the highest tenth of it, as a share
of the step, that are a pattern."""
_PART_PX, _PART_CLEAR = 12.0, 6.0
"""Length of a part of a side beside a pattern, and how many times its noise it must step by."""
_GRID_STEP_PX, _REACH_PX = 0.05, 8.0


@dataclass(frozen=True, slots=True)
class Sharpness:
    """A photo's sharpness.

    Parameters
    ----------
    blur_px
        Gaussian sigma of its edges in linear light, the pixel's own breadth included.
    halo
        Strength of its sharpening: the part of the difference from a blurred copy (Gaussian
        sigma ``HALO_PX``) that was added to the encoded luma. 0 is none.
    """

    blur_px: float = 0.65
    halo: float = 0.4


TYPICAL = Sharpness()
"""A focused phone photo at its own size, when no edge tells better."""
_TYPICAL_SPREAD = 0.3
"""By how much (standard deviation, of both) focused phone photos differ from that."""
_Table = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
"""Where to look up, and the table's places and levels."""


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """Pixels across one side: distances outward, places along (-0.5 to 0.5), levels; plateaus."""

    distance_px: NDArray[np.float64]
    along: NDArray[np.float64]
    levels: NDArray[np.float64]
    inner: float
    outer: float


def measure_sharpness(photo: Photo, corners_px: PointsPx) -> Sharpness:
    """Blur and sharpening of a photo, from the four sides of its reference.

    The model of an edge is a step blurred by a Gaussian in linear light, encoded, then sharpened
    and clipped. It is fitted by least squares with a robust loss to all pixels near the sides,
    each side's line free to move; faint sides leave it near what is typical.

    Parameters
    ----------
    photo
        The photo.
    corners_px
        (4, 2) corners of the reference in it.

    Returns
    -------
    The sharpness; ``TYPICAL`` where no side can be read.
    """
    found = _fitted(_sides_of(photo, corners_px, _REACH_PX))
    if found is not None and 4 * (found.blur_px + 1) > _REACH_PX:
        found = _fitted(_sides_of(photo, corners_px, 4 * (found.blur_px + 1))) or found
    return found or TYPICAL


def _sides_of(photo: Photo, corners_px: PointsPx, reach_px: float) -> list[_Side]:
    """Collect the pixels within reach of each side that is long and plain enough to be read."""
    sides = []
    centre = corners_px.mean(axis=0)
    for start, end in zip(corners_px, np.roll(corners_px, -1, axis=0), strict=True):
        sides += _parts(photo, start, end, centre, reach_px)
    return sides


def _parts(
    photo: Photo, start: PointsPx, end: PointsPx, centre: PointsPx, reach_px: float
) -> list[_Side]:
    """Collect the pixels of one side, whole where the wall beside it is plain, else in parts.

    Beside a striped wall the step differs from stripe to stripe, and the whole side would look
    blurred; between two stripes' edges it is as sharp as anywhere.
    """
    along = end - start
    length = float(np.linalg.norm(along))
    if length < _LEAST_SIDE_PX:
        return []
    along = along / length
    outward = np.array([along[1], -along[0]])
    if outward @ (start - centre) < 0:
        outward = -outward
    region = Region.around(np.array([start, end]), reach_px, photo.pixels.shape)
    if region.width < 2 or region.height < 2:
        return []
    x, y = np.meshgrid(
        np.arange(region.x, region.x + region.width),
        np.arange(region.y, region.y + region.height),
    )
    distance = (x - start[0]) * outward[0] + (y - start[1]) * outward[1]
    place = ((x - start[0]) * along[0] + (y - start[1]) * along[1]) / length - 0.5
    near = (np.abs(distance) < reach_px) & (np.abs(place) < 0.35)
    levels = (photo.pixels[region.slices][near].astype(np.float32) @ _LUMA).astype(float)
    pixels = _Pixels(distance[near], place[near], levels, 0.6 * reach_px)
    whole = pixels.side(1.0)
    if whole is None:
        return []
    if not pixels.patterned(whole):
        return [whole]
    count = max(int(length / _PART_PX), 1)
    number = np.floor((pixels.along + 0.5) * count)
    parts = []
    for some in (pixels.of(number == k) for k in range(count)):
        part = some.side(_PART_CLEAR)
        if part is not None and not some.patterned(part):
            parts.append(part)
    return parts


@dataclass(frozen=True, slots=True, eq=False)
class _Pixels:
    """Pixels near a side: as a `_Side`, and from which distance on they are clear of its blur."""

    distance_px: NDArray[np.float64]
    along: NDArray[np.float64]
    levels: NDArray[np.float64]
    clear_px: float

    def of(self, chosen: NDArray[np.bool_]) -> _Pixels:
        """Take some of them."""
        return _Pixels(
            self.distance_px[chosen], self.along[chosen], self.levels[chosen], self.clear_px
        )

    def side(self, noises: float) -> _Side | None:
        """Call them a side; None where its plateaus differ by less than so much noise."""
        within = self.levels[self.distance_px < -self.clear_px]
        beyond = self.levels[self.distance_px > self.clear_px]
        if min(len(within), len(beyond)) < _LEAST_PLAIN:
            return None
        inner, outer = float(np.median(within)), float(np.median(beyond))
        if abs(inner - outer) < max(_LEAST_STEP, noises * self._noise):
            return None
        stride = max(1, len(self.levels) // _MOST_SAMPLES)
        cut = slice(None, None, stride)
        return _Side(self.distance_px[cut], self.along[cut], self.levels[cut], inner, outer)

    def patterned(self, side: _Side) -> bool:
        """Whether the wall beside them is of more than one level.

        A tenth of other wall may be tape or a fleck; more of it is a pattern.
        """
        beyond = self.levels[self.distance_px > self.clear_px]
        low, high = np.quantile(beyond, (0.1, 0.9))
        step = abs(side.inner - side.outer)
        return bool(high - low > max(_PATTERNED * step, 4 * self._noise))

    @property
    def _noise(self) -> float:
        within = self.levels[self.distance_px < -self.clear_px]
        return float(robust_sigma(within - np.median(within)))


def _fitted(sides: list[_Side]) -> Sharpness | None:
    """Fit the model of an edge to all sides; None without any."""
    from scipy.optimize import least_squares
    from threadpoolctl import threadpool_limits

    if not sides:
        return None

    moves = 2 * len(sides)
    start = np.r_[TYPICAL.blur_px, TYPICAL.halo, np.zeros(moves)]
    low = np.r_[_LEAST_BLUR_PX, 0, np.full(moves, -2.0)]
    high = np.r_[_MOST_BLUR_PX, _MOST_HALO, np.full(moves, 2.0)]
    noise = 4.0
    for _ in range(2):  # once to learn the noise, once to weigh the edges by it
        model = _Edges(sides, noise)
        # A matrix this small is no work to share: threads waiting for each other cost more.
        with threadpool_limits(1, user_api="blas"):
            fit = least_squares(
                model.misfit,
                start,
                model.slopes,
                (low, high),
                loss="soft_l1",
                x_scale=0.3,
                ftol=1e-3,
                xtol=1e-3,
            )
        start = fit.x
        rest = model.misfit(fit.x)[:-2] * noise
        # Neighbouring pixels share their noise: twice the spread counts it about fourfold.
        noise = max(2 * float(robust_sigma(rest)), 1.0)
    return Sharpness(float(fit.x[0]), float(fit.x[1]))


class _Edges:
    """All sides under one blur and halo, each with a shift and a turn of its own line."""

    def __init__(self, sides: list[_Side], noise: float) -> None:
        self._sides, self._noise = sides, noise
        self._ends = np.cumsum([0, *(len(side.levels) for side in sides)])

    def misfit(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Levels of the model over those seen, by the noise; last, what is unusual of the two."""
        return self._misfit(values, list(self._looked_up(values)))

    def _misfit(
        self, values: NDArray[np.float64], looked_up: list[tuple[_Side, _Table]]
    ) -> NDArray[np.float64]:
        parts = [np.interp(*args) - side.levels for side, args in looked_up]
        usual = (values[:2] - [TYPICAL.blur_px, TYPICAL.halo]) / _TYPICAL_SPREAD
        return np.concatenate([*(part / self._noise for part in parts), usual])

    def slopes(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Jacobian of the misfit (samples + 2, values)."""
        jacobian = np.zeros((self._ends[-1] + 2, len(values)))
        looked_up = list(self._looked_up(values))
        base = self._misfit(values, looked_up)
        for column in range(2):
            moved = values.copy()
            moved[column] += 1e-4
            jacobian[:, column] = (self.misfit(moved) - base) / 1e-4
        for k, (side, (at, grid, levels)) in enumerate(looked_up):
            rows = slice(self._ends[k], self._ends[k + 1])
            slope = np.interp(at, grid, np.gradient(levels, _GRID_STEP_PX)) / self._noise
            jacobian[rows, 2 + 2 * k] = -slope
            jacobian[rows, 3 + 2 * k] = -slope * side.along
        return jacobian

    def _looked_up(self, values: NDArray[np.float64]) -> Iterator[tuple[_Side, _Table]]:
        blur, halo, *moves = values
        for side, shift, turn in zip(self._sides, moves[::2], moves[1::2], strict=True):
            grid, levels = _edge(blur, halo, side.inner, side.outer)
            yield side, (side.distance_px - shift - turn * side.along, grid, levels)


def _edge(
    blur_px: float, halo: float, inner: float, outer: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Levels (0 to 255) across an edge from ``inner`` to ``outer``, and where they are, px."""
    from scipy.special import ndtr

    reach = 6 * max(blur_px, HALO_PX)
    grid = np.arange(-reach, reach, _GRID_STEP_PX)
    light_in, light_out = decode_srgb(np.array([inner, outer]) / 255)
    levels = 255 * encode_srgb(light_in + (light_out - light_in) * ndtr(grid / blur_px))
    levels = levels + halo * (levels - _smooth(levels, HALO_PX / _GRID_STEP_PX))
    return grid, np.asarray(np.clip(levels, 0, 255), np.float64)


def _smooth(values: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    line = np.ascontiguousarray(values[None])
    return np.asarray(
        cv2.GaussianBlur(line, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)[0], np.float64
    )


def halo_of(mixed: Field, cover: Field, behind: Field) -> Field:
    """Give what sharpening adds to what is drawn, and to the wall beside it.

    The wall was sharpened by the camera; only what the drawn pixels change is added there.

    Parameters
    ----------
    mixed
        (H, W) encoded luma with what is drawn.
    cover
        (H, W) share of each pixel that is drawn over.
    behind
        (H, W) encoded luma of the photo.

    Returns
    -------
    (H, W) difference, for a strength of 1.
    """
    sigma = (0, 0), HALO_PX
    detail = mixed - cv2.GaussianBlur(mixed, *sigma)
    kept = behind - cv2.GaussianBlur(behind, *sigma)
    return np.asarray(detail - (1 - cover) * kept, np.float32)
