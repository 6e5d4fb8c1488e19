"""Several photographs of one wall through one lens, as one observation of the adjustment.

The first photo's camera is the adjustment's own. Every other one brings its pose, and how far its
focus has changed the focal length, as own parameters; what is seen in it (references, lines) and
what ties it to others follows from these. A reference seen in several photos is one reference.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.observation import (
    Block,
    Groups,
    Linearised,
    Observation,
    in_one,
)
from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    LENS,
    CameraState,
    cross_matrix,
    rotation_from_vector,
)
from visualiser.rectification.camera.tie_points import WAVES_MM, TiePoints

Array = NDArray[np.float64]

OWN_POSE = 7
"""Parameters of a further photo: turn (rad, 3) and shift (mm, 3) from its start, log focal."""
FOCUS_SIGMA = 0.002
"""How much focusing changes the focal length from photo to photo: phones, from memory."""


@dataclass(frozen=True, slots=True, eq=False)
class SeenIn:
    """What is seen in one photo.

    Parameters
    ----------
    photo
        Which, counted from zero.
    observation
        A reference or lines, as in a photo alone.
    same_as
        Index of an earlier entry that is the same thing: the first ``shared`` own parameters are
        then one with its.
    shared
        How many own parameters are the thing's, not the photo's.
    """

    photo: int
    observation: Observation
    same_as: int | None = None
    shared: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class PhotosObservation:
    """Everything seen in several photos.

    Parameters
    ----------
    starts
        First pose of every photo, the first's included, all with the shared lens.
    seen
        What is seen in each.
    ties
        What ties them.
    """

    starts: tuple[CameraState, ...]
    seen: tuple[SeenIn, ...]
    ties: tuple[TiePoints, ...]
    places: tuple[NDArray[np.intp], ...] = field(init=False)
    """Places of each entry's own parameters among all."""
    own_size: int = field(init=False)
    """Number of own parameters."""
    tie_places: tuple[int, ...] = field(init=False)
    """Place of each set of ties' stand-off; there is one floor, whichever photos show it."""
    patch_places: tuple[NDArray[np.intp], ...] = field(init=False)
    """Places of the patches of wall of each set of ties: a patch is one, whoever sees it."""
    weights: tuple[Array, ...] = field(init=False)
    """Weights of each set of ties, as of the first poses."""

    def __post_init__(self) -> None:
        count = OWN_POSE * (len(self.starts) - 1)
        places: list[NDArray[np.intp]] = []
        for one in self.seen:
            size = len(one.observation.own_sigma)
            shared = 0 if one.same_as is None else one.shared
            own = np.arange(count, count + size - shared)
            if one.same_as is not None:
                own = np.concatenate([places[one.same_as][:shared], own])
            places.append(own)
            count += size - shared
        object.__setattr__(self, "places", tuple(places))
        floors = [k for k, tie in enumerate(self.ties) if tie.kind == "floor"]
        held = [floors[0] if k in floors else k for k in range(len(self.ties))]
        object.__setattr__(self, "tie_places", tuple(count + k for k in held))
        count += len(self.ties)
        patches = np.unique(np.concatenate([[], *(tie.patches[0] for tie in self.ties)]))
        among = tuple(count + np.searchsorted(patches, tie.patches[0]) for tie in self.ties)
        object.__setattr__(self, "patch_places", among)
        object.__setattr__(self, "own_size", count + len(patches))
        starts = self.starts
        weights = tuple(t.weights(starts[t.first], starts[t.second]) for t in self.ties)
        object.__setattr__(self, "weights", weights)

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        sigma = np.zeros(self.own_size)
        pose = np.r_[np.full(6, np.inf), FOCUS_SIGMA]
        sigma[: OWN_POSE * (len(self.starts) - 1)] = np.tile(pose, len(self.starts) - 1)
        for one, place in zip(reversed(self.seen), reversed(self.places), strict=True):
            sigma[place] = one.observation.own_sigma
        for k, tie in zip(self.tie_places, self.ties, strict=True):
            sigma[k] = tie.stand_off_sigma_mm
        for places in self.patch_places:
            sigma[places] = WAVES_MM
        return sigma

    @property
    def groups(self) -> Groups:
        """Groups of each entry, then each set of ties."""
        out, before = [], 0
        for one in self.seen:
            groups = one.observation.groups
            out.append(groups + before)
            before += int(groups.max(initial=-1)) + 1
        for tie in self.ties:
            out.append(np.full(tie.size, before))
            before += 1
        return np.concatenate(out)

    def group_spans(self) -> list[tuple[int, int]]:
        """First and last group, plus one, of each entry and then of each set of ties."""
        spans, before = [], 0
        for one in self.seen:
            after = before + int(one.observation.groups.max(initial=-1)) + 1
            spans.append((before, after))
            before = after
        for _ in self.ties:
            spans.append((before, before + 1))
            before += 1
        return spans

    def own_start(self, camera: CameraState) -> Array:
        """First values."""
        own = np.zeros(self.own_size)
        for one, place in zip(reversed(self.seen), reversed(self.places), strict=True):
            start = replace(self.starts[one.photo], lens=camera.lens) if one.photo else camera
            own[place] = one.observation.own_start(start)
        return own

    def cameras(self, camera: CameraState, own: Array) -> list[CameraState]:
        """Cameras of all photos at given values."""
        out = [camera]
        for k, start in enumerate(self.starts[1:]):
            change = own[OWN_POSE * k : OWN_POSE * (k + 1)]
            lens = replace(
                camera.lens,
                focal_px=camera.lens.focal_px * float(np.exp(np.clip(change[6], -0.1, 0.1))),
            )
            turned = rotation_from_vector(change[:3]) @ start.rotation
            out.append(CameraState(turned, start.translation_mm + change[3:6], lens))
        return out

    def blocks(self, camera: CameraState, own: Array) -> list[Block]:
        """Residuals and derivatives of each entry, then of each set of ties."""
        cameras = self.cameras(camera, own)
        out, row = [], 0
        for one, place in zip(self.seen, self.places, strict=True):
            part = one.observation.linearise(cameras[one.photo], own[place])
            rows = slice(row, row := row + len(part.residual))
            by_camera, by_pose = self._by_photo(one.photo, own, part.by_camera)
            places = np.concatenate([self._pose(one.photo), place])
            by_own = np.concatenate([by_pose, part.by_own], axis=1)
            out.append(Block(rows, places, Linearised(part.residual, by_camera, by_own)))
        sets = zip(self.tie_places, self.patch_places, self.ties, self.weights, strict=True)
        for k, patches, tie, weights in sets:
            of = tie.patches[1]
            off = own[k] + own[patches[of]] if len(patches) else float(own[k])
            both = tie.linearise(cameras[tie.first], cameras[tie.second], weights, off)
            rows = slice(row, row := row + tie.size)
            by_one, first = self._by_photo(tie.first, own, both.by_first)
            by_other, second = self._by_photo(tie.second, own, both.by_second)
            places = np.concatenate([self._pose(tie.first), self._pose(tie.second), [k], patches])
            by_patch = np.zeros((tie.size, len(patches)))
            if len(patches):
                by_patch[np.arange(tie.size), np.repeat(of, 2)] = both.by_stand_off
            by_own = np.c_[first, second, both.by_stand_off, by_patch]
            out.append(Block(rows, places, Linearised(both.residual, by_one + by_other, by_own)))
        return out

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives, all in one: of many photos mostly zeros, see `blocks`."""
        return in_one(self.blocks(camera, own), self.own_size)

    def _pose(self, photo: int) -> NDArray[np.intp]:
        """Places of a photo's pose among the own parameters: none for the first."""
        first = OWN_POSE * (photo - 1)
        return np.arange(first, first + OWN_POSE) if photo else np.arange(0)

    def _by_photo(self, photo: int, own: Array, slopes: Array) -> tuple[Array, Array]:
        """Split derivatives by a photo's camera (M, 11): by the first camera, by its own pose."""
        if photo == 0:
            return slopes, np.empty((len(slopes), 0))
        turned = slopes[:, :3] @ _turn_by_vector(own[self._pose(photo)[:3]])
        shared = np.zeros_like(slopes)
        shared[:, LENS] = slopes[:, LENS]
        return shared, np.concatenate([turned, slopes[:, 3:OWN_POSE]], axis=1)

    def camera_jacobian(self, photo: int, own: Array, free: NDArray[np.bool_]) -> Array:
        """Change (11, 11 + F) of one photo's camera with the adjustment's parameters.

        Parameters
        ----------
        photo
            Which photo.
        own
            Own parameters at the solution.
        free
            Which of them are free.
        """
        whole = np.zeros((CAMERA_SIZE, CAMERA_SIZE + self.own_size))
        if photo == 0:
            whole[:, :CAMERA_SIZE] = np.eye(CAMERA_SIZE)
        else:
            whole[LENS, LENS] = np.eye(CAMERA_SIZE - 6)
            first = CAMERA_SIZE + OWN_POSE * (photo - 1)
            turn = own[OWN_POSE * (photo - 1) : OWN_POSE * (photo - 1) + 3]
            whole[:3, first : first + 3] = _turn_by_vector(turn)
            whole[3:7, first + 3 : first + OWN_POSE] = np.eye(4)
        return np.concatenate([whole[:, :CAMERA_SIZE], whole[:, CAMERA_SIZE:][:, free]], axis=1)


def _turn_by_vector(vector: Array) -> Array:
    """How a turn (3,) moves with its rotation vector (3, 3): the rotations' left Jacobian."""
    angle = float(np.linalg.norm(vector))
    cross = cross_matrix(np.asarray(vector, float))
    if angle < 1e-6:
        return np.asarray(np.eye(3) + cross / 2)
    a, b = (1 - np.cos(angle)) / angle**2, (angle - np.sin(angle)) / angle**3
    return np.asarray(np.eye(3) + a * cross + b * cross @ cross)
