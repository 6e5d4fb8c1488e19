"""Photos placed one after the other by what each shares with those before it.

Every photo that is placed brings its ties, and all cameras are adjusted again; then the lines of
the room and further references join, each where it agrees with the rest.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.observation import HeldCamera, on_wall
from visualiser.rectification.camera.photos_observation import PhotosObservation, SeenIn
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState
from visualiser.rectification.camera.reference_observation import (
    STAND_OFF,
    TURN,
    ReferenceObservation,
)
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.camera.tie_points import TiePoints, patches_of
from visualiser.rectification.contradictions import in_words
from visualiser.rectification.finder.acceptance import ACCEPTANCE
from visualiser.rectification.fit import (
    PhotoFit,
    observe_reference,
    reference_sides,
)
from visualiser.rectification.fit_lines import (
    LineFit,
    fit_with_lines,
    gather_lines,
    sort_by_straightness,
)
from visualiser.rectification.joined.features import (
    LONG_SIDE,
    Matches,
)
from visualiser.rectification.joined.next_pose import (
    LEAST_LAYER,
    Floor,
    PairPose,
    pose_from_matches,
    runs_under,
    sort_matches,
)
from visualiser.rectification.joined.refusing import (
    LEAST_TIES,
    cannot_join,
    contradicting,
    lines_left_out,
    low_front,
    placed_twice,
    repeating,
    unproven,
)
from visualiser.rectification.joined.repeats import WORSE, Fit, fit_in_place
from visualiser.rectification.joined.same_wall import first_unproven, is_layer
from visualiser.rectification.joined.shared_layer import filled_share, stand_off_sigma
from visualiser.rectification.joined.thinning import thinned
from visualiser.rectification.joined.wall import JoinedWall
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import FittedLine, WallPlane
from visualiser.rectification.reference import Reference
from visualiser.rectification.sorting_doubt import sorting_covariance
from visualiser.wording import sentence

Array = NDArray[np.float64]

LEAST_WALL_TIES = 10
"""Fewer points on the wall's or the floor's plane than this carry no scale from photo to photo."""
FEW_WALL_TIES = 30
"""Fewer than this may be things before the wall that happen to lie on one plane: the floor has a
say then, where it is known."""
LEAST_ON_WALL = 0.15
"""Less of what fits than this may be faces of boxes that stand side by side, and not the wall.
(Drawn rooms: 0.05 to 0.14 before plain walls, 0.37 to 0.9 on walls with pictures.)"""
HIGHEST_FRONT_MM = 1300.0
"""What is higher is no sideboard's front, nor that of a chest of drawers."""
ELSEWHERE_MM = 500.0
"""Two photos that are further from each other's word for where a third was taken contradict each
other; wrong by less, they would be tied."""
LEAST_SHARE = 0.25
"""Share of the matches of two photos that must agree on their pose."""
USUAL_COUNT = 30.0
"""What features usually leave over weighs as much as so many residuals."""
SHARPEST = 0.5
"""Features are placed no better than this share of what is usual: what is common to neighbours, as
a wall's waves, no residual shows."""
SETTLED_PX = 0.6
"""What adjusted cameras leave over beside the matches' own sigma."""
MOST_STRAIN = 60.0
"""Chi-square of the 11 camera parameters, 99.9 % below 31: what the photos share may not move the
first camera by more than twice that from where its own photo puts it."""
DOUBTED_STRAIN = 24.7
"""The same, 99 %: from here on its room lines are held to be what puts it wrong."""
ODD_FACTOR = 9.0
"""Mean squared residual, in sigmas, that a reference on this wall does not reach."""
THING = STAND_OFF + 1
"""Own parameters of a reference that are the same in every photo: place, turn, size, stand-off."""


@dataclass
class Chain:
    """Photos placed so far, in the order of their joining, and what is seen in them."""

    photos: Sequence[Photo]
    first: int
    fit: PhotoFit
    matches: dict[tuple[int, int], Matches]
    terms: ModelTerms
    find_floor: Callable[[], Floor | None] = lambda: None
    sharper: float = 1.0
    """How well features are placed in these photos, as a share of what is usual."""
    order: list[int] = field(init=False)
    cameras: list[CameraState] = field(init=False)
    entries: list[SeenIn] = field(init=False)
    lines: dict[int, LineFit] = field(init=False, default_factory=dict)
    ties: list[TiePoints] = field(init=False, default_factory=list)
    findings: list[Finding] = field(init=False, default_factory=list)
    shares: dict[int, float] = field(init=False, default_factory=dict)
    """Of what a photo shows of the wall beside those before it, the share that looks the same."""
    solution: Solution = field(init=False)

    def __post_init__(self) -> None:
        self.order = [self.first]
        self.solution = self.fit.fit.solution
        self.cameras = [self.solution.camera]
        self.entries = [SeenIn(0, one) for one in self.fit.observed]
        own = self.fit.fit.line_observations()
        self.entries += [SeenIn(0, one) for one in own]
        self.lines[0] = self.fit.fit
        self.findings = list(self.fit.plane.findings)

    @property
    def reference(self) -> Reference:
        """Reference at the origin."""
        observed = self.entries[0].observation
        assert isinstance(observed, ReferenceObservation)
        return observed.reference

    @cached_property
    def floor(self) -> Floor | None:
        """Floor of the first photo; looked for once a pair shares too little of the wall."""
        return self.find_floor()

    def pose_of(self, known: int, new: int) -> PairPose | None:
        """Find the pose of a photo from what it shares with one placed: the wall, or the floor."""
        camera, matches = self.cameras[self.order.index(known)], self.between(known, new)
        pose = pose_from_matches(camera, matches)
        if pose is not None and not self._doubted(camera, matches, pose):
            return pose
        if self.floor is None:
            return pose
        return pose_from_matches(camera, matches, self.floor) or pose

    def _doubted(self, known: CameraState, matches: Matches, pose: PairPose) -> bool:
        """Whether what two photos share of a plane is too little, or no wall by the floor."""
        if pose.on_wall.sum() < FEW_WALL_TIES:
            return True
        seen = on_wall(known, matches.first_px[pose.on_wall])
        # Only where it may be a front is the floor looked for: that takes a while.
        if pose.backs or np.ptp(seen[:, 1]) > HIGHEST_FRONT_MM or self.floor is None:
            return False
        return runs_under(self.floor, seen)

    @property
    def left(self) -> list[int]:
        """Photos not placed yet."""
        return [k for k in range(len(self.photos)) if k not in self.order]

    @property
    def prior(self) -> LensPrior:
        """Lens expected of all of them."""
        return self.fit.prior

    def between(self, one: int, other: int) -> Matches:
        """Give the matches of two photos, those of the first first."""
        if (one, other) in self.matches:
            return self.matches[one, other]
        found = self.matches[other, one]
        return Matches(found.second_px, found.first_px, found.sigma_px)

    def grow(self) -> None:
        """Place the photo that shares most with one placed before."""
        choices = sorted(
            itertools.product(self.order, self.left),
            key=lambda pair: -len(self.between(*pair).sigma_px),
        )
        for known, new in choices:
            pose = self.pose_of(known, new)
            if pose is not None and agrees(pose, len(self.between(known, new).sigma_px)):
                before = list(self.cameras)
                self._place(new, pose.camera)
                self._refuse_repeats(new)
                if self._strain() > DOUBTED_STRAIN and 0 in self.lines:
                    # A line that is none, or runs otherwise than it seems, spoils the first photo.
                    del self.lines[0]
                    self.entries = self.entries[: len(self.fit.observed)]
                    self.order, self.cameras = self.order[:-1], before
                    self.findings.append(lines_left_out(self.first))
                    self._place(new, pose.camera)
                if self._strain() > MOST_STRAIN:
                    raise contradicting(known, new)
                return
        # Every photo left has been tried with all those placed: the likeliest pair is named.
        known, new = choices[0]
        raise cannot_join(known, new, self.pose_of(known, new))

    def _refuse_repeats(self, new: int) -> None:
        """Refuse a photo that fits in another place as well, or by another photo's word."""
        place = len(self.order) - 1
        tied = {tie.first for tie in self.ties if tie.second == place}
        by_wall = {tie.first for tie in self.ties if (tie.second, tie.kind) == (place, "wall")}
        best = 0.0
        for i in by_wall:
            fit = self._fit(self.order[i], new, self.cameras[place])
            if not fit.settled:
                raise repeating(self.order[i], new)
            best = max(best, fit.share)
        if by_wall:
            self.shares[new] = best
        for i, known in enumerate(self.order[:-1]):
            if i not in tied and self._put_elsewhere(known, new):
                raise placed_twice(known, new)

    def _fit(self, known: int, new: int, camera: CameraState) -> Fit:
        """Compare two photos' pictures of the wall, the second taken from there."""
        cameras = self.cameras[self.order.index(known)], camera
        return fit_in_place((self.photos[known], self.photos[new]), cameras)

    def _put_elsewhere(self, known: int, new: int) -> bool:
        """Whether a photo that ties nothing of a new one puts it elsewhere, and fits it there."""
        count = len(self.between(known, new).sigma_px)
        pose = self.pose_of(known, new) if count >= LEAST_TIES else None
        if pose is None or pose.on_wall.sum() < FEW_WALL_TIES or not agrees(pose, count):
            return False
        apart = pose.camera.centre_mm - self.cameras[self.order.index(new)].centre_mm
        if np.linalg.norm(apart) < ELSEWHERE_MM:
            return False
        # Photos that do not overlap fit in many places where a pattern repeats.
        fit = self._fit(known, new, pose.camera)
        usual = min(self.shares.get(k, 1.0) for k in (known, new))
        return fit.share >= usual - WORSE and fit.settled

    def _strain(self) -> float:
        """Squared distance, in sigmas, by which the first camera has left its own measurement."""
        alone = self.fit.fit.alone
        held = 0 in self.lines
        camera = self.fit.fit.solution.camera if held else alone.camera
        change = camera.change_to(self.cameras[0])
        covariance = self.fit.plane.parameter_covariance if held else alone.covariance
        scale = np.sqrt(np.diag(covariance))
        change, covariance = change / scale, covariance / np.outer(scale, scale)
        return float(change @ np.linalg.pinv(covariance, rcond=1e-6, hermitian=True) @ change)

    def _place(self, new: int, camera: CameraState) -> None:
        self.order.append(new)
        self.cameras.append(camera)
        for rough in (None, SETTLED_PX, SETTLED_PX):
            self._tie(rough)
            self._adjust()

    def _tie(self, rough_px: float | None) -> None:
        """Choose the ties of all pairs anew, by the cameras as they are."""
        scale = max(self.photos[0].width_px, self.photos[0].height_px) / LONG_SIDE
        rough = None if rough_px is None else rough_px * scale
        self.ties = []
        for i, j in itertools.combinations(range(len(self.order)), 2):
            matches = self.between(self.order[i], self.order[j])
            if len(matches.sigma_px) < LEAST_TIES:
                continue
            pair = sort_matches(self.cameras[i], self.cameras[j], matches, None, rough)
            doubted = self._doubted(self.cameras[i], matches, pair)
            if doubted and self.floor is not None:
                pair = sort_matches(self.cameras[i], self.cameras[j], matches, self.floor, rough)
            if not agrees(pair, len(matches.sigma_px)):
                continue
            off = stand_off_sigma(self._filled(i, j, matches, pair), backs=pair.backs)
            on = np.flatnonzero(pair.on_wall)
            patch = patches_of(on_wall(self.cameras[i], matches.first_px))
            self.ties += thinned(i, j, "wall", matches, on, self.sharper, off, patch=patch)
            self.ties += thinned(i, j, "room", matches, np.flatnonzero(pair.in_room), self.sharper)
            down = np.flatnonzero(pair.on_floor)
            if self.floor is not None and len(down):
                sigma_mm, y_mm = self.floor.sigma_mm, self.floor.y_mm
                self.ties += thinned(i, j, "floor", matches, down, self.sharper, sigma_mm, y_mm)

    def _left_over(self) -> float:
        """Read off what the ties leave over how well features are placed, as a share."""
        spans = self.observation().group_spans()[len(self.entries) :]
        factors = self.solution.variance_factors[0][[low for low, _ in spans]]
        counts = np.array([tie.size for tie in self.ties], float)
        # What is usual counts as much as so many residuals.
        square = (USUAL_COUNT + factors @ counts) / (USUAL_COUNT + counts.sum())
        return float(np.clip(np.sqrt(square), SHARPEST, 1.0))

    def _filled(self, one: int, other: int, matches: Matches, pair: PairPose) -> float:
        """Share of what two photos share of the wall that their matches on it fill."""
        photo = self.photos[0]
        return filled_share(
            (self.cameras[one], self.cameras[other]),
            (photo.width_px, photo.height_px),
            matches.first_px[pair.on_wall],
            matches.first_px[pair.in_room | pair.on_floor],
        )

    def observation(self) -> PhotosObservation:
        """Everything seen, as one observation."""
        return PhotosObservation(tuple(self.cameras), tuple(self.entries), tuple(self.ties))

    def _adjust(self) -> None:
        """Adjust all cameras placed so far, each tied to another."""
        for place in range(1, len(self.order)):
            if not any(place in (tie.first, tie.second) for tie in self.ties):
                raise cannot_join(self.order[place - 1], self.order[place], None)
        seen = self.observation()
        try:
            self.solution = adjust(self.cameras[0], [seen], self.prior)
        except np.linalg.LinAlgError as error:
            raise contradicting(self.order[0], self.order[-1]) from error
        self.cameras = seen.cameras(self.solution.camera, self.solution.own[0])

    def add_lines(self, fits: Mapping[int, PhotoFit]) -> None:
        """Sort the lines of every further photo by its camera, and let them join."""
        seen = self.observation()
        long_side = max(self.photos[0].width_px, self.photos[0].height_px)
        own, free = self.solution.own[0], self.solution.own_free[0]
        for place, k in enumerate(self.order):
            if place == 0:
                continue
            slope = seen.camera_jacobian(place, own, free)
            covariance = slope @ self.solution.joint @ slope.T
            held = HeldCamera(self.cameras[place], covariance)
            prior = LensPrior(self.cameras[place].lens, self.prior.covariance)
            alone = adjust(self.cameras[place], [held], prior)
            outlines = []
            if k in fits:
                outlines = [
                    one.reference.corners_px
                    for one in fits[k].observed
                    if isinstance(one, ReferenceObservation)
                ]
            lines = gather_lines(self.photos[k], Marks(), outlines)
            straight = sort_by_straightness(lines, prior)
            fit = fit_with_lines(alone, [held], straight, prior, long_side, self.terms)
            self.lines[place] = fit
            self.entries += [SeenIn(place, one) for one in fit.line_observations()]
        self._adjust()

    def add_references(self, seen: Sequence[Sequence[Reference]]) -> None:
        """Let the references of further photos join, those that agree."""
        known = [
            (i, one.observation.reference)
            for i, one in enumerate(self.entries)
            if isinstance(one.observation, ReferenceObservation)
        ]
        for place, k in enumerate(self.order):
            if place == 0:
                continue
            good = [r for r in seen[k] if r.origin == "clicked" or r.confidence >= ACCEPTANCE]
            for reference in good:
                self._add_reference(place, reference, known)

    def _add_reference(
        self, place: int, reference: Reference, known: list[tuple[int, Reference]]
    ) -> None:
        sides = reference_sides(self.photos[self.order[place]], reference)
        observed = observe_reference(reference, sides, self.terms, at_origin=False)
        same = None
        centre = reference.corners_px.mean(axis=0)
        for index, other in known:
            entry = self.entries[index]
            outline = self._carried(other.corners_px, entry.photo, place)
            at = (float(centre[0]), float(centre[1]))
            if cv2.pointPolygonTest(outline.astype(np.float32), at, False) >= 0:
                same = index if entry.same_as is None else entry.same_as
        before = self.entries, self.solution, self.cameras
        self.entries = [*self.entries, SeenIn(place, observed, same, THING)]
        self._adjust()
        low, high = self.observation().group_spans()[len(self.entries) - 1]
        if max(self.solution.variance_factors[0][low:high], default=0.0) < ODD_FACTOR:
            known.append((len(self.entries) - 1, reference))
            return
        self.entries, self.solution, self.cameras = before
        where = f" in photo {self.order[place] + 1} was left out: it does not fit the wall that "
        text = sentence("The ", in_words(reference), where, "the other photos show.")
        hint = "Tape it flat on the same wall, check its size, or take it away."
        self.findings.append(Finding("advice", text, hint, "reference-left-out"))

    def _carried(self, points_px: Array, start: int, end: int) -> Array:
        """Where wall points seen in one photo lie in another."""
        wall = on_wall(self.cameras[start], points_px)
        return self.cameras[end].project(np.c_[wall, np.zeros(len(wall))])[0]

    def finished(self) -> JoinedWall:
        """Adjust everything together and give the wall in the photos' own order."""
        self.sharper = self._left_over()
        self._tie(SETTLED_PX)
        self._adjust()
        self._refuse_loose()
        seen = self.observation()
        own, free = self.solution.own[0], self.solution.own_free[0]
        slopes = [seen.camera_jacobian(i, own, free) for i in range(len(self.order))]
        places = [self.order.index(k) for k in range(len(self.photos))]
        whole = self._with_sorting_doubt(slopes)
        stacked = np.concatenate([slopes[i] for i in places])
        joint = stacked @ whole @ stacked.T
        tilt_place = CAMERA_SIZE + int(free[: seen.places[0][TURN]].sum())
        planes = tuple(
            self._plane(i, own[seen.places[0][TURN]], slopes[i], whole, tilt_place) for i in places
        )
        counts = np.zeros((len(self.photos),) * 2)
        for tie in self.ties:
            i, j = self.order[tie.first], self.order[tie.second]
            counts[i, j] += len(tie.sigma_px)
            counts[j, i] = counts[i, j]
        return JoinedWall(
            planes,
            tuple((p.width_px, p.height_px) for p in self.photos),
            self.first,
            joint,
            float(np.degrees(own[seen.places[0][TURN]])),
            counts,
            tuple(self.findings),
        )

    def _with_sorting_doubt(self, slopes: Sequence[Array]) -> Array:
        """Add what the lines' own doubt moves: the first camera, and all others along with it.

        In full: a skirting or a ceiling runs through all photos, so that they do not average out
        what it strays by.
        """
        joint = self.solution.joint
        if 0 not in self.lines:
            return joint
        added = sorting_covariance(self.lines[0])
        own = slopes[0] @ joint @ slopes[0].T
        scale = np.sqrt(np.diag(own))
        inverse = np.linalg.pinv(own / np.outer(scale, scale), rcond=1e-10, hermitian=True)
        along = joint @ slopes[0].T @ (inverse / np.outer(scale, scale))
        return np.asarray(joint + along @ added @ along.T)

    def _refuse_loose(self) -> None:
        """Refuse photos that nothing shows to be of the same wall."""
        sheets = [
            entry.photo
            for entry in self.entries
            if isinstance(entry.observation, ReferenceObservation)
        ]
        floor = self.floor if any(tie.kind == "floor" for tie in self.ties) else None
        loose = first_unproven(self.cameras, self.ties, sheets, self.lines, floor)
        if loose is not None:
            tied = [tie for tie in self.ties if loose in (tie.first, tie.second)]
            most = max(tied, key=lambda tie: tie.size)
            known, new = self.order[most.first + most.second - loose], self.order[loose]
            raise (low_front if any(map(is_layer, tied)) else unproven)(known, new)

    def _plane(
        self, place: int, tilt: float, slope: Array, joint: Array, tilt_place: int
    ) -> WallPlane:
        camera = self.cameras[place]
        covariance, with_tilt = slope @ joint @ slope.T, joint[:, tilt_place]
        normal = camera.rotation[:, 2]
        level = math.sqrt(max(float(normal @ covariance[:3, :3] @ normal), 0.0))
        reference = self.reference
        c, s = np.cos(tilt), np.sin(tilt)
        corners = reference.corners_mm @ np.array([[c, -s], [s, c]]).T
        fit = self.lines.get(place)
        lines: tuple[FittedLine, ...] = ()
        if fit is not None:
            lines = tuple(
                FittedLine(line.name, direction.kind, line.ends_px, line.drawn is not None)
                for line, direction in zip(fit.lines, fit.directions, strict=True)
            )
        plane = WallPlane(
            lens=camera.lens,
            rotation=camera.rotation,
            translation_mm=camera.translation_mm,
            reference_corners_px=np.zeros((4, 2)),
            reference_tilt_deg=float(np.degrees(tilt)),
            parameter_covariance=covariance,
            level_sigma_deg=float(np.degrees(level)),
            flatness_sigma_mm=self.terms.flatness_sigma_mm,
            tilt_covariance=np.r_[slope @ with_tilt, with_tilt[tilt_place]],
            lines=lines,
        )
        return replace(plane, reference_corners_px=plane.to_photo(corners))


def agrees(pose: PairPose, count: int) -> bool:
    """Whether enough of the matches of two photos agree on a pose."""
    fitting = int((pose.on_wall | pose.on_floor | pose.in_room).sum())
    # Two planes that are seen apart, the pictures' and the wall's, are not there by chance.
    least = LEAST_LAYER if pose.backs else LEAST_WALL_TIES
    wall, floor = int(pose.on_wall.sum()), int(pose.on_floor.sum())
    carries = wall >= LEAST_ON_WALL * (fitting - floor)
    enough = max(floor, wall if carries else 0) >= least and fitting >= LEAST_TIES
    return enough and fitting >= LEAST_SHARE * count
