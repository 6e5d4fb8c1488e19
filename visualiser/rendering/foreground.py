"""What stands before the wall stays in front: a lamp, a plant, a sofa's back, a door ajar.

A person outlines it roughly, and may add strokes that surely belong to it or surely do not;
GrabCut finds the true outline between. Only the points are kept with the job: the same photo and
points give the same matte again.

References
----------
C. Rother, V. Kolmogorov, A. Blake, "GrabCut: interactive foreground extraction using iterated
graph cuts", ACM TOG 23(3), 2004.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import PixelsRgb
from visualiser.rendering.sight_lines import Region

_WORKING_SIDE_PX = 420
_STROKE_PX = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Foreground:
    """Something that stands before the wall, as a person marked it in the photo.

    Parameters
    ----------
    outline_px
        (N, 2) polygon around it; a little too large is right.
    inside_px, outside_px
        Strokes, each (N, 2), over what surely belongs to it and what surely does not.
    exact
        Take the outline as it is, without seeking the edge.
    """

    outline_px: PointsPx
    inside_px: tuple[PointsPx, ...] = ()
    outside_px: tuple[PointsPx, ...] = ()
    exact: bool = False

    def __post_init__(self) -> None:
        for points in (self.outline_px, *self.inside_px, *self.outside_px):
            if np.ndim(points) != 2 or np.shape(points)[1] != 2:
                raise ValueError(f"expected points of shape (N, 2), got {np.shape(points)}")
        if len(self.outline_px) < 3:
            raise ValueError(f"an outline needs three points, got {len(self.outline_px)}")

    def mapped(self, move: Callable[[PointsPx], PointsPx]) -> Foreground:
        """Mark the same thing in another view of the photo."""
        return Foreground(
            move(self.outline_px),
            tuple(move(stroke) for stroke in self.inside_px),
            tuple(move(stroke) for stroke in self.outside_px),
            self.exact,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Matte:
    """How far each pixel of a region belongs to the foreground, (H, W) 0 to 1."""

    region: Region
    share: NDArray[np.float32]


def foreground_matte(pixels: PixelsRgb, foreground: Foreground) -> Matte:
    """Find the outline of what was marked.

    Returns
    -------
    The matte; where GrabCut finds nothing inside the outline, the outline itself.
    """
    outline = np.asarray(foreground.outline_px, float)
    span = float(np.ptp(outline, axis=0).max())
    region = Region.around(outline, 0.12 * span + 4, pixels.shape)
    if region.empty:
        return Matte(region, np.zeros((0, 0), np.float32))
    drawn = _filled(outline, region, 1.0)
    if foreground.exact:
        return Matte(region, drawn)
    scale = min(1.0, _WORKING_SIDE_PX / max(region.width, region.height))
    size = (max(round(region.width * scale), 1), max(round(region.height * scale), 1))
    small = cv2.resize(pixels[region.slices], size, interpolation=cv2.INTER_AREA)
    inside = cv2.resize(drawn, size, interpolation=cv2.INTER_AREA) > 0.5
    if inside.sum() < 20 or inside.all():
        return Matte(region, drawn)
    labels = _start(inside, foreground, region, scale)
    cv2.setRNGSeed(0)
    try:
        cv2.grabCut(
            cv2.cvtColor(small, cv2.COLOR_RGB2BGR), labels, (0, 0, 1, 1),
            np.zeros((1, 65)), np.zeros((1, 65)), 5, cv2.GC_INIT_WITH_MASK,
        )  # fmt: skip
    except cv2.error:  # too few pixels of one kind to model
        return Matte(region, drawn)
    found = ((labels == cv2.GC_FGD) | (labels == cv2.GC_PR_FGD)).astype(np.float32)
    if found.sum() < 0.02 * inside.sum():
        return Matte(region, drawn)
    soft = cv2.GaussianBlur(found, (0, 0), 0.8)
    full = cv2.resize(soft, (region.width, region.height), interpolation=cv2.INTER_LINEAR)
    # A little inwards: the outermost pixels hold half a wall.
    share = np.clip((np.asarray(full, np.float32) - 0.5) * 2.5 + 0.4, 0, 1)
    return Matte(region, np.asarray(share, np.float32))


def _start(
    inside: NDArray[np.bool_], foreground: Foreground, region: Region, scale: float
) -> NDArray[np.uint8]:
    """Label what is sure and what is likely, for GrabCut to start from."""
    labels = np.where(inside, cv2.GC_PR_FGD, cv2.GC_BGD).astype(np.uint8)
    # The rim of the outline was drawn too large on purpose: likely wall.
    deep = max(2, round(0.03 * max(inside.shape)))
    core = cv2.erode(inside.astype(np.uint8), np.ones((2 * deep + 1, 2 * deep + 1), np.uint8))
    labels[inside & (core == 0)] = cv2.GC_PR_BGD
    for strokes, label in (
        (foreground.inside_px, cv2.GC_FGD),
        (foreground.outside_px, cv2.GC_BGD),
    ):
        for stroke in strokes:
            local = ((np.asarray(stroke, float) - [region.x, region.y]) * scale).round()
            line = [local.astype(np.int32)]
            width = max(1, round(_STROKE_PX * scale))
            cv2.polylines(labels, line, False, int(label), width)
    return labels


def _filled(outline: PointsPx, region: Region, value: float) -> NDArray[np.float32]:
    mask = np.zeros((region.height, region.width), np.uint8)
    local = np.round((outline - [region.x, region.y]) * 16).astype(np.int32)
    cv2.fillPoly(mask, [local], 255, cv2.LINE_AA, 4)
    return mask.astype(np.float32) * np.float32(value / 255)


def put_in_front(pixels: NDArray[np.uint8], original: PixelsRgb, mattes: tuple[Matte, ...]) -> None:
    """Lay the photo's own foreground over drawn pixels, in place."""
    for matte in mattes:
        if matte.region.empty:
            continue
        index = matte.region.slices
        share = matte.share[..., None]
        drawn = pixels[index].astype(np.float32)
        mixed = drawn + share * (original[index].astype(np.float32) - drawn)
        np.copyto(pixels[index], np.round(mixed).astype(np.uint8), where=share > 0)
