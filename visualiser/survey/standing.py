"""What stands on the floor before the wall: how far it reaches left, right and up."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, Rect
from visualiser.statistics import robust_sigma
from visualiser.survey.face_on import FaceOn

COARSE_MM = 16.0
"""A piece of furniture needs no finer look."""
WIDTHS_MM, TOPS_MM = (700.0, 3200.0), (350.0, 1250.0)
"""Silhouettes of sofas, sideboards and beds lie between these."""
NEAR_WALL_SIGMAS, NEAR_WALL_LEAST = 5.0, 0.18
"""How far from the wall's own light and hue something must be to stand before it: in the wall's
variation, and in logarithms of light."""
PROBE_MM = 500.0
"""The wall shows its colour within this of the reference."""
PART_MM2, BRIDGED_MM = 8e4, 700.0
"""Parts of this size count, and gaps of this width between them: a cushion in the wall's colour
does not end a sofa."""
PEELED = 0.45
"""A column belongs to the thing if it reaches this share of the way up to its top."""


@dataclass(frozen=True, slots=True)
class Silhouette:
    """Rectangle of a thing as seen on the wall, and how sure it is (0 to 1)."""

    rect: Rect
    confidence: float


def standing_silhouettes(view: FaceOn, reference_mm: PointsMm) -> list[Silhouette]:
    """Find the large thing, if any, that stands on the floor before the wall."""
    factor = view.mm_per_px / COARSE_MM
    light = np.asarray(
        cv2.resize(view.light, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA),
        np.float32,
    )
    seen = cv2.resize(view.seen.astype(np.uint8), light.shape[1::-1], interpolation=cv2.INTER_AREA)
    mm = np.array([view.rect.width_mm / light.shape[1], view.rect.height_mm / light.shape[0]])
    x = view.rect.left_mm + (np.arange(light.shape[1]) + 0.5) * mm[0]
    y = view.rect.top_mm - (np.arange(light.shape[0]) + 0.5) * mm[1]
    other = _not_wall(light, x, y, reference_mm)
    if other is None:
        return []
    mask = (other & (seen > 0)).astype(np.uint8)
    opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    whole = cv2.morphologyEx(opened, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(np.asarray(whole, np.uint8))
    parts = []
    for i in range(1, count):
        left, top, width, height = stats[i, : cv2.CC_STAT_AREA]
        high, low = y[top], y[top + height - 1]
        if stats[i, cv2.CC_STAT_AREA] * mm.prod() > PART_MM2 and high > TOPS_MM[0] and low < 300:
            parts.append((int(left), int(left + width), i))
    parts.sort()
    groups: list[list[tuple[int, int, int]]] = []
    for part in parts:
        if groups and (part[0] - max(p[1] for p in groups[-1])) * mm[0] < BRIDGED_MM:
            groups[-1].append(part)
        else:
            groups.append([part])
    shapes = [_outlined(np.isin(labels, [p[2] for p in group]), x, y) for group in groups]
    # Where two neighbours are too much for one thing, each may still be one.
    for group, shape in zip(groups, list(shapes), strict=True):
        if shape is None and len(group) > 1:
            shapes += [_outlined(labels == p[2], x, y) for p in group]
    found = [shape for shape in shapes if shape is not None]
    return sorted(found, key=lambda shape: -shape.confidence * shape.rect.area_mm2)[:1]


def _not_wall(
    light: NDArray[np.float32],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    reference_mm: PointsMm,
) -> NDArray[np.bool_] | None:
    """Where (H, W) light or hue are not those of the wall around the reference."""
    low, high = reference_mm.min(axis=0), reference_mm.max(axis=0)
    out = np.maximum(low[0] - x, x - high[0])[None, :], np.maximum(low[1] - y, y - high[1])[:, None]
    away = np.maximum(*np.broadcast_arrays(*out))
    ring = (away > 40) & (away < PROBE_MM)
    if ring.sum() < 60:
        return None
    values = light[ring]
    middle = np.median(values, axis=0)
    spread = robust_sigma(values - middle, axis=0)
    shift = light - middle
    hues = np.stack([shift[..., 2] - shift[..., 1], shift[..., 0] - shift[..., 1]], axis=-1)
    own = np.stack([values[:, 2] - values[:, 1], values[:, 0] - values[:, 1]], axis=-1)
    hue_spread = robust_sigma(own - np.median(own, axis=0), axis=0)
    # A wall darkens towards the floor: light alone must differ by more than hue.
    limit = np.maximum(NEAR_WALL_SIGMAS * hue_spread, NEAR_WALL_LEAST)
    by_hue = (np.abs(hues) > limit).any(axis=-1)
    by_light = np.abs(shift).min(axis=-1) > max(NEAR_WALL_SIGMAS * float(spread.max()), 0.7)
    return np.asarray(by_hue | by_light)


def _outlined(
    mask: NDArray[np.bool_], x: NDArray[np.float64], y: NDArray[np.float64]
) -> Silhouette | None:
    """Rectangle of one region that stands on the floor, its spikes (plants, lamps) peeled off."""
    step = abs(float(y[1] - y[0]))
    reaches = np.where(mask.any(axis=0), y[mask.argmax(axis=0)] + step / 2, 0.0)
    low = np.where(mask.any(axis=0), y[mask.shape[0] - 1 - mask[::-1].argmax(axis=0)], np.inf)
    columns = (reaches > TOPS_MM[0]) & (low < 300)
    if not columns.any():
        return None
    top = float(np.quantile(reaches[columns], 0.8))
    if not TOPS_MM[0] < top < TOPS_MM[1]:
        return None
    wide = columns & (reaches > PEELED * top)
    runs = np.flatnonzero(np.diff(np.r_[0, wide.astype(int), 0])).reshape(-1, 2)
    groups: list[list[int]] = []
    for start, end in runs:
        if groups and (start - groups[-1][1]) * step < BRIDGED_MM:
            groups[-1][1] = int(end)
        else:
            groups.append([int(start), int(end)])
    first, last = max(groups, key=lambda r: r[1] - r[0])
    left, right = float(x[first] - step / 2), float(x[last - 1] + step / 2)
    if not WIDTHS_MM[0] < right - left < WIDTHS_MM[1]:
        return None
    # Cut off by the picture's rim it may be wider than it looks.
    inside = first > 2 and last < len(x) - 2
    even = float(np.mean((np.abs(reaches - top) < 0.25 * top)[first:last]))
    confidence = float(np.clip((0.5 + 0.35 * even) * (1.0 if inside else 0.75), 0, 0.9))
    return Silhouette(Rect(left, 0.0, right - left, top), confidence)
