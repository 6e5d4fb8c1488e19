"""Whether two photographs of a wall fit together in one place only: papers and bricks repeat.

Both are laid onto the wall's plane, as straight-on pictures with their light and contrast evened.
Where moving one of them along the wall by a pattern's period lets them fit as well, nothing in the
pattern says which is right; what hangs on the wall once, and both show, does.

References
----------
D. Padfield, "Masked object registration in the Fourier domain", IEEE Trans. Image Processing 21,
2012: the correlation of two pictures at all shifts, each place counted only where both show it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.photo import Photo
from visualiser.rectification.camera.observation import on_wall
from visualiser.rectification.camera.projection import CameraState

Array = NDArray[np.float64]
Picture = NDArray[np.float32]
Likeness = dict[tuple[int, int], float]
"""Correlation of patches, by the row and column where each begins."""

STEP_MM = 5.0
"""Pixels of the straight-on pictures."""
REACH_MM = 1400.0
"""How far above and below the first sheet the wall is looked at."""
ASIDE_MM = 6000.0
"""How far aside of the camera."""
EVENED_MM = 60.0
"""Light and contrast are evened over this much wall."""
FAINT_LEVELS = 2.0
"""Contrast that is as much noise as pattern, of 255."""
PATCH, STRIDE = 24, 12
"""Side of the patches that are compared, and from one to the next, px: 120 and 60 mm."""
SLACK = 3
"""How far patches may be aside, px: frames before the wall, plaster, strips hung unevenly."""
TEXTURED = 0.35
"""Evened contrast from which a patch shows something."""
LIKE, UNLIKE = 0.7, 0.3
"""Patches that correlate so well show the same; by so much less, something else."""
LEAST_NEAR_MM = 50.0
"""Shifts smaller than this are no other place."""
MOST_UP_MM = 1000.0
"""Nobody holds the phone higher by more from one photo to the next."""
LEAST_ALIKE = 0.3
"""Correlation of the whole shared views from which a shift is looked at."""
MOST_SHIFTS = 30
LEAST_SHARED = 8
"""Shifts that leave less to compare than so many patches side by side tell nothing."""
REPEATS = 0.4
"""Share of the patches that fit at a shift, from which the pattern is held to repeat there."""
WORSE = 0.2
"""A shift at which a share of patches fits that is smaller by this is no rival."""
LEAST_OWN = 8
"""So many patches that fit where they are and nowhere else settle it: a note or two. (Drawn papers
put wrong by a period or two: none to 2.)"""
HIDDEN = 3
"""What stands before the wall hides it from one of the photos: so many times as many patches may
fit elsewhere only."""


class Rival(NamedTuple):
    """Another place where two photos fit: shift, mm, and the share of patches that fit there.

    ``only_there`` counts those that fit there and not where the photos were put, ``only_here``
    those that fit where they were put and at no shift that runs as this one does, along the wall
    or up it.
    """

    shift_mm: Array
    share: float
    only_there: int
    only_here: int


class Fit(NamedTuple):
    """How two photos fit where they were put: the share of patches; and where else they might."""

    share: float
    rivals: tuple[Rival, ...]

    @property
    def settled(self) -> bool:
        """Whether they fit nowhere else as well, or what does not repeat says where."""
        return all(
            one.share < self.share - WORSE
            or (one.only_here >= LEAST_OWN and HIDDEN * one.only_here > one.only_there)
            for one in self.rivals
        )


def fit_in_place(photos: Sequence[Photo], cameras: Sequence[CameraState]) -> Fit:
    """Compare two photos where their cameras put them, and where a repeat would put the second.

    Parameters
    ----------
    photos, cameras
        The two photos, and where each was taken from, in the wall's mm.
    """
    box = _box(photos, cameras)
    one, other = (_View.of(*seen, box) for seen in zip(photos, cameras, strict=True))
    here = _likeness(one, other, (0, 0))
    fitting = {place for place, like in here.items() if like >= LIKE}
    if not fitting:
        return Fit(0.0, ())
    places = [_Place.of(one, other, here, shift) for shift in _likely_shifts(one, other)]
    places = [place for place in places if place.share >= REPEATS]
    rivals = []
    for place in places:
        # What stands on the floor hides the pattern from shifts up the wall.
        alike = [one for one in places if one.along == place.along]
        looked = fitting & {where for one in alike for where in one.looked}
        own = looked - {where for one in alike for where in one.same}
        moved = np.array([place.shift[0], -place.shift[1]]) * STEP_MM
        rivals.append(Rival(moved, place.share, place.only, len(own)))
    return Fit(len(fitting) / len(here), tuple(rivals))


class _Place(NamedTuple):
    """How two views fit a shift apart.

    The share of patches that do, how many fit there only; and of the first view's patches those
    that could be compared there, and those that look as much the same there.
    """

    shift: tuple[int, int]
    share: float
    only: int
    looked: set[tuple[int, int]]
    same: set[tuple[int, int]]

    @property
    def along(self) -> bool:
        """Whether the shift runs along the wall, rather than up it."""
        return abs(self.shift[0]) >= abs(self.shift[1])

    @classmethod
    def of(cls, one: _View, other: _View, here: Likeness, shift: tuple[int, int]) -> _Place:
        """Compare two views a shift apart, with how they compare where they are."""
        there = _likeness(one, other, shift)
        fits = sum(like >= LIKE for like in there.values())
        if len(there) < LEAST_SHARED * (PATCH // STRIDE) ** 2 or fits < REPEATS * len(there):
            return cls(shift, 0.0, 0, set(), set())
        back = _likeness(other, one, (-shift[0], -shift[1]))
        only = sum(
            like >= LIKE and here.get(place, like) < like - UNLIKE for place, like in there.items()
        )
        same = {
            place
            for seen in (there, back)
            for place, like in seen.items()
            if place in here and like > here[place] - UNLIKE
        }
        return cls(shift, fits / len(there), only, there.keys() | back.keys(), same)


class _View(NamedTuple):
    """Evened straight-on picture (H, W) of the wall, and which of it the photo shows."""

    picture: Picture
    shown: Picture

    @classmethod
    def of(cls, photo: Photo, camera: CameraState, box: Array) -> _View:
        """Lay a photo onto the wall's plane, within left, right, low and high, mm."""
        left, right, low, high = box
        x, y = np.arange(left, right, STEP_MM), np.arange(high, low, -STEP_MM)
        places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        ahead = camera.to_camera(np.c_[places, np.zeros(len(places))])
        away = ahead[:, 2]
        nearest = 0.1 * abs(float(camera.translation_mm[2]))
        pixels = camera.lens.to_pixels(ahead[:, :2] / np.maximum(away, nearest)[:, None])
        inside = ((pixels >= 1) & (pixels <= [photo.width_px - 2, photo.height_px - 2])).all(axis=1)
        shown = (inside & (away > nearest)).reshape(len(y), len(x))
        grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
        if shown.any():
            # What is finer than a step would turn into a pattern of its own.
            step_px = camera.lens.focal_px * STEP_MM / float(np.median(away[shown.ravel()]))
            if step_px > 1:
                grey = cv2.GaussianBlur(grey, (0, 0), 0.4 * step_px)
        at = pixels.reshape(len(y), len(x), 2).astype(np.float32)
        seen = cv2.remap(grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR).astype(np.float32)
        return cls(_evened(seen, shown.astype(np.float32)), shown.astype(np.float32))


def _evened(seen: Picture, shown: Picture) -> Picture:
    """Take away broad light and differences of contrast."""
    broad = EVENED_MM / STEP_MM

    def mean(values: Picture) -> Picture:
        near = cv2.GaussianBlur(values * shown, (0, 0), broad)
        return np.asarray(near / np.maximum(cv2.GaussianBlur(shown, (0, 0), broad), 1e-3))

    rest = (seen - mean(seen)) * shown
    contrast = np.sqrt(mean(rest * rest) + FAINT_LEVELS**2)
    return np.asarray(np.clip(rest / contrast, -2.5, 2.5) * shown, np.float32)


def _box(photos: Sequence[Photo], cameras: Sequence[CameraState]) -> Array:
    """Left, right, low and high, mm, of the wall that two photos show."""
    ends = []
    for photo, camera in zip(photos, cameras, strict=True):
        rim = np.linspace(0, 1, 9)
        sides = [np.c_[rim, 0 * rim + k] for k in (0, 1)]
        edge = np.concatenate([*sides, *(side[:, ::-1] for side in sides)])
        points = on_wall(camera, edge * [photo.width_px - 1, photo.height_px - 1])
        stood = float(camera.centre_mm[0])
        x = np.clip(points[:, 0], stood - ASIDE_MM, stood + ASIDE_MM)
        y = np.clip(points[:, 1], -REACH_MM, REACH_MM)
        ends.append([x.min(), x.max(), y.min(), y.max()])
    low, high = np.min(ends, axis=0), np.max(ends, axis=0)
    return np.array([low[0], high[1], low[2], high[3]])


def _likely_shifts(one: _View, other: _View) -> list[tuple[int, int]]:
    """Find the shifts (columns, rows) at which two views are alike, the most alike first."""
    rows, columns = one.picture.shape
    size = [cv2.getOptimalDFTSize(2 * rows), cv2.getOptimalDFTSize(2 * columns)]

    def spectrum(values: Picture) -> NDArray[np.complex128]:
        return np.asarray(np.fft.rfft2(values, size))

    def summed(first: NDArray[np.complex128], second: NDArray[np.complex128]) -> Array:
        return np.asarray(np.fft.irfft2(np.conj(first) * second, size))

    a, b = spectrum(one.picture), spectrum(other.picture)
    shown_a, shown_b = spectrum(one.shown), spectrum(other.shown)
    power = summed(spectrum(one.picture**2), shown_b), summed(shown_a, spectrum(other.picture**2))
    alike = summed(a, b) / np.sqrt(np.maximum(power[0], 1.0) * np.maximum(power[1], 1.0))
    alike[summed(shown_a, shown_b) < LEAST_SHARED * PATCH**2] = -1.0
    middle = size[0] // 2, size[1] // 2
    alike = np.roll(alike, middle, (0, 1))
    top = cv2.dilate(alike, np.ones((15, 15)))
    y, x = np.nonzero((alike == top) & (alike > LEAST_ALIKE))
    far = np.hypot(y - middle[0], x - middle[1]) * STEP_MM > LEAST_NEAR_MM
    far &= np.abs(y - middle[0]) * STEP_MM < MOST_UP_MM
    y, x = y[far], x[far]
    order = np.argsort(-alike[y, x])[:MOST_SHIFTS]
    return [(int(x[k] - middle[1]), int(y[k] - middle[0])) for k in order]


def _likeness(one: _View, other: _View, shift: tuple[int, int]) -> Likeness:
    """Correlate patches of one view with the other a shift away, by the patch's row and column."""
    found: Likeness = {}
    rows, columns = one.picture.shape
    for y in range(0, rows - PATCH, STRIDE):
        for x in range(0, columns - PATCH, STRIDE):
            top, left = y + shift[1] - SLACK, x + shift[0] - SLACK
            if min(top, left) < 0:
                continue
            patch = slice(y, y + PATCH), slice(x, x + PATCH)
            about = (
                slice(top, top + PATCH + 2 * SLACK),
                slice(left, left + PATCH + 2 * SLACK),
            )
            if about[0].stop > rows or about[1].stop > columns:
                continue
            if not one.shown[patch].all() or not other.shown[about].all():
                continue
            if one.picture[patch].std() < TEXTURED:
                continue
            score = cv2.matchTemplate(
                other.picture[about], one.picture[patch], cv2.TM_CCOEFF_NORMED
            )
            found[y, x] = float(score.max())
    return found
