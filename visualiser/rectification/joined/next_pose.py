"""Where a further photograph was taken from, by what it shares with one whose place is known.

Two kinds of guess: the planes that sets of matches suggest, each taken for the wall; and the
relative pose of all matches together, in the size that puts most of them on the wall or on the
floor. The better guess sees all of the room consistently, nothing of it behind the wall.

References
----------
R. Hartley & A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed. 2004: sections 9.6
(essential matrix), 11.12 (the fundamental matrix's error to first order), 13.1 (homographies).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.observation import on_plane, on_wall
from visualiser.rectification.camera.projection import CameraState, plane_poses
from visualiser.rectification.camera.tie_points import TiePoints
from visualiser.rectification.joined.features import Matches

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

PLANES = 5
"""Planes that are looked for among the matches."""
LEAST_ON_PLANE = 8
CLOSE_SIGMAS = 4.0
"""Matches that miss by no more belong."""
LEAST_PX = 1.0
"""What a guess leaves over beside the matches' own sigma, as a share of 1000 px of focal length."""
BEHIND_MM = 60.0
"""How far behind the wall a point may seem to lie."""
PARALLAX_PX = 3.0
"""A point whose place in depth moves it by less tells nothing of what stands behind the wall."""
FLUSH_MM = 3.5
"""What lies no further from the wall's plane is taken for the wall itself."""
DEPTH_KNOWN_MM = 6.0
"""Depths known worse than this say nothing of which of two planes is the wall."""
LAYER_SHARE, LEAST_LAYER = 0.1, 5
"""A layer behind others has at least so many points, as a share of the fullest, and in all."""
LEAST_SPREAD_MM = 250.0
"""What lies on one plane and is less wide or less high than this may be faces of things before the
wall: a box, a row of books on a sideboard. On the floor it may be a strip of a sideboard's front:
such a strip fits at whatever distance puts it there."""
UNDER_MM = 60.0
"""What seems to lie on the wall's plane further below the floor is on another plane before it."""
FLOOR_REACH_MM = 6000.0
"""How far before the wall the floor is looked at."""
PLANE_WORTH = 0.05
"""Of two guesses with as many matches that fit, that with more of them on the wall is better. Only
then: one plane bends to take in the wall and the pictures before it, and loses others by that."""


class Floor(NamedTuple):
    """Height of the floor in the wall's mm, and its standard uncertainty."""

    y_mm: float
    sigma_mm: float


class PairPose(NamedTuple):
    """Pose of the second photo, and which matches lie on the wall, the floor or elsewhere.

    ``backs`` says that pictures were seen to hang before what was taken for the wall; ``fitting``
    counts the matches, each by how closely its rays meet.
    """

    camera: CameraState
    on_wall: Mask
    in_room: Mask
    on_floor: Mask
    backs: bool = False
    fitting: float = 0.0


def pose_from_matches(
    known: CameraState, matches: Matches, floor: Floor | None = None, seed: int = 0
) -> PairPose | None:
    """Find the pose of a photo from its matches with one of known pose; None where none fits."""
    if len(matches.sigma_px) < LEAST_ON_PLANE:
        return None
    best, most = None, -np.inf
    for camera in _guesses(known, matches, floor, seed):
        pair = sort_matches(known, camera, matches, floor)
        score = pair.fitting + PLANE_WORTH * float(pair.on_wall.sum() + pair.on_floor.sum())
        if score > most:
            best, most = pair, score
    return best


def sort_matches(
    one: CameraState,
    other: CameraState,
    matches: Matches,
    floor: Floor | None = None,
    rough_px: float | None = None,
) -> PairPose:
    """Sort matches by whether two cameras see them on the wall, on the floor, elsewhere, or not.

    Parameters
    ----------
    one, other
        Cameras of the first and the second photo.
    matches
        What both show.
    floor
        Where the floor lies, if that is known.
    rough_px
        What the cameras leave over beside the matches' own sigma.
    """
    if rough_px is None:
        rough_px = LEAST_PX * one.lens.focal_px / 1000
    sigma = np.hypot(matches.sigma_px, rough_px)
    ties = [
        TiePoints(0, 1, kind, matches.first_px, matches.second_px, sigma)
        for kind in ("wall", "room")
    ]
    wall = np.linalg.norm(ties[0].linearise(one, other).residual.reshape(-1, 2), axis=1)
    room = np.abs(ties[1].linearise(one, other).residual)
    seen = on_wall(one, matches.first_px)
    ahead = (np.c_[seen, np.zeros(len(seen))] @ one.rotation.T + one.translation_mm)[:, 2] > 0
    lies = ahead & (wall < CLOSE_SIGMAS)
    meets = (room < CLOSE_SIGMAS) & ahead
    depth, doubt = ties[0].depths(one, other)
    known = meets & (doubt < DEPTH_KNOWN_MM)
    layer, backs = _deepest_layer(depth[known]), False
    if layer is not None:
        # Pictures hang before the wall and are parallel to it: the lens and the pose would bend
        # until a mixture of both fits. The wall is what lies behind, by as much as is seen.
        flush = np.abs(depth - layer) < np.hypot(FLUSH_MM, 2 * doubt)
        lies = np.where(doubt < DEPTH_KNOWN_MM, meets & flush, lies & (abs(layer) <= FLUSH_MM))
        before = depth[known] - layer
        backs = int(((before > 2 * FLUSH_MM) & (before < BEHIND_MM)).sum()) >= LEAST_LAYER
    below = np.zeros(len(sigma), bool)
    if floor is not None:
        if runs_under(floor, seen[lies]):
            lies, backs = np.zeros(len(sigma), bool), False
        lies = lies & (seen[:, 1] > floor.y_mm)
    if lies.any() and not backs and _spread_mm(seen[lies]) < LEAST_SPREAD_MM:
        lies = np.zeros(len(sigma), bool)
    if floor is not None:
        below, at = _on_floor(one, other, matches, sigma, floor)
        below &= meets & ~lies
        if below.any() and _spread_mm(at[below]) < LEAST_SPREAD_MM:
            below = np.zeros(len(sigma), bool)
    elsewhere = ~lies & ~below & meets & _before_wall(one, other, matches)
    closeness = 1 - np.minimum(room / CLOSE_SIGMAS, 1.0) ** 2
    fitting = float(closeness[lies | below | elsewhere].sum())
    return PairPose(other, lies, elsewhere, below, backs, fitting)


def _spread_mm(points_mm: Array) -> float:
    """Shorter side of what points (N, 2) lie within, but for the outermost of twenty."""
    low, high = np.quantile(points_mm, [0.025, 0.975], axis=0)
    return float((high - low).min())


def runs_under(floor: Floor, points_mm: Array) -> bool:
    """Whether a plane of points (N, 2) taken for the wall runs on below the floor: it is none.

    The front of a sideboard is seen down to where it stands, which the wall is not.
    """
    under = int((points_mm[:, 1] < floor.y_mm - UNDER_MM - 3 * floor.sigma_mm).sum())
    return under >= max(LEAST_LAYER, LAYER_SHARE * len(points_mm))


def _floor_seen(camera: CameraState, points_px: Array, floor: Floor) -> tuple[Array, Mask]:
    """Floor mm (N, 3) at pixels, and which of them look down at the floor before the wall."""
    points = on_plane(camera, points_px, 1, floor.y_mm)
    ahead = (points @ camera.rotation.T + camera.translation_mm)[:, 2] > 0
    return points, np.asarray(ahead & (points[:, 2] > 0) & (points[:, 2] < FLOOR_REACH_MM))


def _on_floor(
    one: CameraState, other: CameraState, matches: Matches, sigma: Array, floor: Floor
) -> tuple[Mask, Array]:
    """Which matches both cameras see at one place of the floor, to what its height is known.

    And where on it they would lie (N, 2), mm along the wall and before it.
    """
    points, seen = _floor_seen(one, matches.first_px, floor)
    tie = TiePoints(
        0, 1, "floor", matches.first_px, matches.second_px, sigma, floor.sigma_mm, floor.y_mm
    )
    close = np.linalg.norm(tie.linearise(one, other).residual.reshape(-1, 2), axis=1)
    return np.asarray(seen & (close < CLOSE_SIGMAS)), points[:, [0, 2]]


def _deepest_layer(depths: Array) -> float | None:
    """Find the plane furthest back that enough points share, parallel to the wall, mm before it."""
    near = np.sort(depths[np.abs(depths) < BEHIND_MM])
    if len(near) < LEAST_LAYER:
        return None
    ends = np.searchsorted(near, near + 2 * FLUSH_MM, side="right")
    counts = ends - np.arange(len(near))
    enough = counts >= max(LEAST_LAYER, LAYER_SHARE * counts.max())
    if not enough.any():
        return None
    start = int(enough.argmax())
    # The fullest window about the first that is full enough.
    within = slice(start, int(ends[start]))
    best = start + int(counts[within].argmax())
    return float(np.median(near[best : ends[best]]))


def _before_wall(one: CameraState, other: CameraState, matches: Matches) -> Mask:
    """Which matches meet before both cameras and not behind the wall."""
    centres = [one.centre_mm, other.centre_mm]
    rays = [
        np.c_[c.lens.to_rays(px), np.ones(len(px))] @ c.rotation
        for c, px in ((one, matches.first_px), (other, matches.second_px))
    ]
    base = centres[1] - centres[0]
    cross = np.cross(rays[0], rays[1])
    size = np.maximum((cross**2).sum(axis=1), 1e-12)
    near = np.einsum("ni,ni->n", np.cross(base, rays[1]), cross) / size
    far = np.einsum("ni,ni->n", np.cross(base, rays[0]), cross) / size
    depth = (centres[0] + near[:, None] * rays[0])[:, 2]
    parallel = np.sqrt(size) / np.maximum(
        np.linalg.norm(rays[0], axis=1) * np.linalg.norm(rays[1], axis=1), 1e-12
    )
    unsure = parallel * one.lens.focal_px < PARALLAX_PX
    return np.asarray(unsure | ((near > 0) & (far > 0) & (depth > -BEHIND_MM)))


def _guesses(
    known: CameraState, matches: Matches, floor: Floor | None, seed: int
) -> list[CameraState]:
    lens = known.lens
    wall = on_wall(known, matches.first_px)
    ahead = np.abs(wall).max(axis=1) < 20_000
    rays = lens.to_rays(matches.second_px)
    straight = rays * lens.focal_px
    reach = CLOSE_SIGMAS * LEAST_PX * lens.focal_px / 1000
    cv2.setRNGSeed(seed)
    guesses: list[CameraState] = []
    left = np.flatnonzero(ahead)
    for _ in range(PLANES):
        if len(left) < LEAST_ON_PLANE:
            break
        _, mask = cv2.findHomography(wall[left], straight[left], cv2.RANSAC, reach, maxIters=2000)
        if mask is None or mask.sum() < LEAST_ON_PLANE:
            break
        inliers = left[mask.ravel() > 0]
        left = left[mask.ravel() == 0]
        guesses += _facing(plane_poses(wall[inliers], matches.second_px[inliers], lens))
    planes = [(np.c_[wall, np.zeros(len(wall))], ahead)]
    if floor is not None:
        planes.append(_floor_seen(known, matches.first_px, floor))
    return guesses + _facing(_from_relative_pose(known, matches, planes, rays))


def _facing(cameras: list[CameraState]) -> list[CameraState]:
    """Leave out poses from behind the wall."""
    return [c for c in cameras if c.centre_mm[2] > 0]


def _from_relative_pose(
    known: CameraState, matches: Matches, planes: Sequence[tuple[Array, Mask]], rays: Array
) -> list[CameraState]:
    """Guess from all matches together; what lies on a known plane gives the size.

    ``planes`` holds, of each, the points (N, 3) that matches would be if they lay on it, and which
    of them (N,) may.
    """
    first = known.lens.to_rays(matches.first_px)
    if len(first) < LEAST_ON_PLANE:
        return []
    essential, mask = cv2.findEssentialMat(
        first, rays, np.eye(3), cv2.RANSAC, 0.999, LEAST_PX * 2e-3
    )
    if essential is None or essential.shape != (3, 3) or mask is None:
        return []
    _, turn, direction, _ = cv2.recoverPose(essential, first, rays, np.eye(3), mask=mask.copy())
    way: Array = np.asarray(direction, float).ravel()
    guesses = []
    for points, usable in planes:
        inliers = (mask.ravel() > 0) & usable
        at = ((points @ known.rotation.T + known.translation_mm) @ turn.T)[inliers]
        seen = np.c_[rays, np.ones(len(rays))][inliers]
        for length in _likely_lengths(at, seen, way, float(known.translation_mm[2])):
            guesses.append(
                CameraState(
                    turn @ known.rotation,
                    turn @ known.translation_mm + length * way,
                    known.lens,
                )
            )
    return guesses


def _likely_lengths(at: Array, seen: Array, direction: Array, far_mm: float) -> list[float]:
    """Lengths, mm, of the way from photo to photo that most points agree on, at most four.

    Parameters
    ----------
    at
        (N, 3) points of a plane in the second camera's axes, were it where the first stood.
    seen
        (N, 3) rays on which the second camera sees them.
    direction
        (3,) of the way.
    far_mm
        How far away the wall is.
    """
    across, along = np.cross(seen, at), np.cross(seen, direction)
    size = np.maximum((along**2).sum(axis=1), 1e-12)
    lengths = -(across * along).sum(axis=1) / size
    # How well each of them would tell the length: by the parallax it has.
    sigma = far_mm * 2e-3 / np.sqrt(size)
    usable = np.abs(lengths) < 10_000
    lengths, sigma = lengths[usable], np.maximum(sigma[usable], 3.0)
    found: list[float] = []
    for _ in range(4):
        if len(lengths) < 4:
            break
        votes = (np.abs(lengths[:, None] - lengths) < 2 * sigma[:, None]).sum(axis=1)
        middle = votes.argmax()
        close = np.abs(lengths - lengths[middle]) < 2 * sigma[middle]
        found.append(float(np.median(lengths[close])))
        lengths, sigma = lengths[~close], sigma[~close]
    return found
