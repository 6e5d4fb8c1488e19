"""From several overlapping photographs to one measured wall.

The photo whose reference measures best comes first. Every other one is placed by what it shares
with those placed before, and all are adjusted together: one lens, every pose, references, room
lines and the points that tie the photos, with the covariance of everything. What drifts along a
chain of photos is in each point's ±.

Limits: one phone, one zoom, all photos the same way up; points on the wall itself are what carries
the scale from photo to photo (things that stand before it carry only directions), so that a plain
wall without socket, poster or pattern where two photos overlap is refused. Where they share nothing
but pictures, the fronts of these are taken for the wall, and the ± grows by what that may be worth.
Lines of the room tell each photo what is level, but not yet that a skirting in two photos is one
skirting. Things that moved between the photos are left out as strays.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.findings import Finding
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.lens_profile import LensPrior, LensProfile
from visualiser.rectification.camera.observation import HeldCamera, on_wall
from visualiser.rectification.camera.photos_observation import PhotosObservation, SeenIn
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState
from visualiser.rectification.camera.reference_observation import (
    STAND_OFF,
    TURN,
    ReferenceObservation,
)
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.camera.tie_points import TieKind, TiePoints
from visualiser.rectification.contradictions import in_words
from visualiser.rectification.finder.find import CONVINCING
from visualiser.rectification.fit import (
    PhotoFit,
    fit_photo,
    observe_reference,
    reference_sides,
)
from visualiser.rectification.fit_lines import (
    LineFit,
    camera_change,
    fit_with_lines,
    gather_lines,
    sort_by_straightness,
)
from visualiser.rectification.joined.features import (
    LONG_SIDE,
    Features,
    Matches,
    find_features,
    match_features,
)
from visualiser.rectification.joined.next_pose import PairPose, pose_from_matches, sort_matches
from visualiser.rectification.joined.wall import JoinedWall
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import FittedLine, WallPlane
from visualiser.rectification.reference import Reference
from visualiser.rectification.sorting_doubt import sorting_covariance
from visualiser.units import format_half_width

Array = NDArray[np.float64]
Progress = Callable[[str], None]

FEWEST, MOST = 2, 8
"""Photos of one wall."""
LEAST_WALL_TIES = 10
"""Fewer points on the wall's plane than this carry no scale from photo to photo."""
LEAST_TIES = 16
"""Fewer points altogether may agree by chance."""
LEAST_SHARE = 0.25
"""Share of the matches of two photos that must agree on their pose."""
MOST_TIES = 260
"""Of each kind and pair, spread over the overlap; more tell no more."""
ONE_LAYER_SIGMA_MM = 8.0
"""How far the only layer that two photos share may lie before the wall: frames are 15 to 30 mm deep
(common practice, no source), and one overlap in some five holds nothing else."""
WALL_SEEN_SIGMA_MM = 1.5
"""The same where pictures were seen to hang before it."""
SETTLED_PX = 0.6
"""What adjusted cameras leave over beside the matches' own sigma."""
MOST_STRAIN = 60.0
"""Chi-square of the 11 camera parameters, 99.9 % below 31: what the photos share may not move the
first camera by more than twice that from where its own photo puts it."""
DOUBTED_STRAIN = 24.7
"""The same, 99 %: from here on its room lines are held to be what puts it wrong."""
ODD_FACTOR = 9.0
"""Mean squared residual, in sigmas, that a reference on this wall does not reach."""
FAR_MM = 25.0
"""95 % half-width from which the end of a chain is worth a word."""
THING = STAND_OFF + 1
"""Own parameters of a reference that are the same in every photo: place, turn, size, stand-off."""


def join_photos(
    photos: Sequence[Photo],
    references: Sequence[Sequence[Reference]]
    | Sequence[Reference]
    | Mapping[int, Sequence[Reference]],
    *,
    terms: ModelTerms | None = None,
    lens_profile: LensProfile | None = None,
    progress: Progress | None = None,
) -> JoinedWall:
    """Measure one wall through several overlapping photos.

    Parameters
    ----------
    photos
        Two to eight photos of one wall, of one phone at one zoom, in any order.
    references
        Candidates of each photo, as `find_references` gives them, in the photos' order and empty
        where there are none; or those of the first photo alone.
    terms
        What the model leaves out; the usual values where none are given.
    lens_profile
        Lens measured beforehand.
    progress
        Called with a sentence before each step.

    Returns
    -------
    The wall, with a plane for each photo and the covariance of all of them.

    Raises
    ------
    ReferenceNotFound
        If no photo has a reference that convinces.
    MeasurementError
        If photos cannot be joined; those that cannot are named by their number, from 1.
    """
    say = progress or (lambda _: None)
    terms = terms or ModelTerms()
    _refuse_unlike(photos)
    seen = _by_photo(references, len(photos))
    if not any(seen):
        raise _no_sheet()
    say("Looking for what the photos share …")
    matches = _matches([find_features(photo) for photo in photos])
    _refuse_lonely(matches, len(photos))
    say("Measuring the photos that show a reference …")
    fits = _fits(photos, seen, terms, lens_profile)
    first = min(fits, key=lambda k: _reach(fits[k]))
    chain = _Chain(photos, first, fits[first], matches, terms)
    while chain.left:
        say(f"Joining photo {len(chain.order) + 1} of {len(photos)} …")
        chain.grow()
    say("Reading the lines of the room …")
    chain.add_lines(fits)
    chain.add_references(seen)
    say("Adjusting all photos together …")
    return chain.finished()


def _refuse_unlike(photos: Sequence[Photo]) -> None:
    if not FEWEST <= len(photos) <= MOST:
        raise MeasurementError(
            f"{len(photos)} photos cannot be joined.",
            hint=f"Give {FEWEST} to {MOST} photos of one wall that overlap by a third.",
        )
    sizes = [(photo.width_px, photo.height_px) for photo in photos]
    for k, size in enumerate(sizes):
        if size != sizes[0]:
            raise MeasurementError(
                f"Photo {k + 1} is not of the same size as photo 1.",
                hint="Take all of them with one phone, at one zoom and the same way up.",
            )
    stated = [photo.focal_px for photo in photos]
    for k, focal in enumerate(stated):
        if focal is not None and stated[0] is not None and abs(focal / stated[0] - 1) > 0.05:
            raise MeasurementError(
                f"Photo {k + 1} was taken at another zoom than photo 1.",
                hint="Take all of them at one zoom.",
            )


def _by_photo(references: object, count: int) -> list[list[Reference]]:
    """Sort candidates by photo, whichever way they were given."""
    if isinstance(references, Mapping):
        return [list(references.get(k, ())) for k in range(count)]
    given = list(references)  # type: ignore[call-overload]
    if all(isinstance(one, Reference) for one in given):
        return [given, *([] for _ in range(count - 1))]
    if len(given) != count:
        raise ValueError(f"expected references for {count} photos, got {len(given)}")
    return [list(one) for one in given]


def _fits(
    photos: Sequence[Photo],
    seen: Sequence[Sequence[Reference]],
    terms: ModelTerms,
    profile: LensProfile | None,
) -> dict[int, PhotoFit]:
    """Measure every photo with a reference by itself; pass over those that cannot be."""
    fits: dict[int, PhotoFit] = {}
    refused: list[MeasurementError] = []
    for k, (photo, candidates) in enumerate(zip(photos, seen, strict=True)):
        if candidates:
            try:
                fits[k] = fit_photo(photo, candidates, terms=terms, lens_profile=profile)
            except MeasurementError as error:
                refused.append(error)
    if fits:
        return fits
    if refused:
        raise refused[0]
    raise _no_sheet()


def _no_sheet() -> ReferenceNotFound:
    return ReferenceNotFound(
        "None of the photos shows a sheet of known size.",
        hint="Tape a sheet to the wall and photograph it in at least one of them.",
    )


def _reach(fit: PhotoFit) -> float:
    """How well a photo knows the wall a metre around its reference."""
    around = 1000 * np.array([[1, 0], [-1, 0], [0, 1], [0, -1.0]])
    return float(np.nanmax(fit.plane.half_width(around)))


def _matches(features: Sequence[Features]) -> dict[tuple[int, int], Matches]:
    """Match all pairs of photos, the first of each having the lower number."""
    return {
        (i, j): match_features(features[i], features[j])
        for i, j in itertools.combinations(range(len(features)), 2)
    }


def _refuse_lonely(matches: Mapping[tuple[int, int], Matches], count: int) -> None:
    """Refuse a photo that has next to nothing in common with any other."""
    for k in range(count):
        shared = {
            i + j - k: len(found.sigma_px) for (i, j), found in matches.items() if k in (i, j)
        }
        if max(shared.values()) < LEAST_TIES:
            raise _cannot_join(max(shared, key=lambda other: (shared[other], -other)), k, None)


@dataclass
class _Chain:
    """Photos placed so far, in the order of their joining, and what is seen in them."""

    photos: Sequence[Photo]
    first: int
    fit: PhotoFit
    matches: dict[tuple[int, int], Matches]
    terms: ModelTerms
    order: list[int] = field(init=False)
    cameras: list[CameraState] = field(init=False)
    entries: list[SeenIn] = field(init=False)
    lines: dict[int, LineFit] = field(init=False, default_factory=dict)
    ties: list[TiePoints] = field(init=False, default_factory=list)
    findings: list[Finding] = field(init=False, default_factory=list)
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
            matches = self.between(known, new)
            camera = self.cameras[self.order.index(known)]
            pose = pose_from_matches(camera, matches)
            if pose is not None and _agrees(pose, len(matches.sigma_px)):
                before = list(self.cameras)
                self._place(new, pose.camera)
                if self._strain() > DOUBTED_STRAIN and 0 in self.lines:
                    # A line that is none, or runs otherwise than it seems, spoils the first photo.
                    del self.lines[0]
                    self.entries = self.entries[: len(self.fit.observed)]
                    self.order, self.cameras = self.order[:-1], before
                    self.findings.append(_lines_left_out(self.first))
                    self._place(new, pose.camera)
                if self._strain() > MOST_STRAIN:
                    raise _contradicting(known, new)
                return
        # Every photo left has been tried with all those placed: the likeliest pair is named.
        known, new = choices[0]
        pose = pose_from_matches(self.cameras[self.order.index(known)], self.between(known, new))
        raise _cannot_join(known, new, pose)

    def _strain(self) -> float:
        """Squared distance, in sigmas, by which the first camera has left its own measurement."""
        alone = self.fit.fit.alone
        held = 0 in self.lines
        camera = self.fit.fit.solution.camera if held else alone.camera
        change = camera_change(camera, self.cameras[0])
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
            pair = sort_matches(self.cameras[i], self.cameras[j], matches, rough)
            if not _agrees(pair, len(matches.sigma_px)):
                continue
            off = WALL_SEEN_SIGMA_MM if pair.backs else ONE_LAYER_SIGMA_MM
            self.ties += _thinned(i, j, "wall", matches, np.flatnonzero(pair.on_wall), off)
            self.ties += _thinned(i, j, "room", matches, np.flatnonzero(pair.in_room))

    def observation(self) -> PhotosObservation:
        """Everything seen, as one observation."""
        return PhotosObservation(tuple(self.cameras), tuple(self.entries), tuple(self.ties))

    def _adjust(self) -> None:
        """Adjust all cameras placed so far."""
        seen = self.observation()
        try:
            self.solution = adjust(self.cameras[0], [seen], self.prior)
        except np.linalg.LinAlgError as error:
            raise _contradicting(self.order[0], self.order[-1]) from error
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
            good = [r for r in seen[k] if r.origin == "clicked" or r.confidence >= CONVINCING]
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
        text = f"The {in_words(reference)} in photo {self.order[place] + 1} was left out: it does "
        hint = "Tape it flat on the same wall, check its size, or take it away."
        text += "not fit the wall that the other photos show."
        self.findings.append(Finding("advice", text, hint, "reference-left-out"))

    def _carried(self, points_px: Array, start: int, end: int) -> Array:
        """Where wall points seen in one photo lie in another."""
        wall = on_wall(self.cameras[start], points_px)
        return self.cameras[end].project(np.c_[wall, np.zeros(len(wall))])[0]

    def finished(self) -> JoinedWall:
        """Adjust everything together and give the wall in the photos' own order."""
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
        wall = JoinedWall(
            planes,
            tuple((p.width_px, p.height_px) for p in self.photos),
            self.first,
            joint,
            float(np.degrees(own[seen.places[0][TURN]])),
            counts,
            tuple(self.findings),
        )
        return replace(wall, findings=(*self.findings, *_drift_findings(wall)))

    def _with_sorting_doubt(self, slopes: Sequence[Array]) -> Array:
        """Add what the lines' own doubt moves: the first camera, and all others along with it."""
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
        """Refuse photos that hang on to the others by things before the wall alone."""
        for place in range(1, len(self.order)):
            tied = [tie for tie in self.ties if place in (tie.first, tie.second)]
            if not tied:
                raise _cannot_join(self.order[place - 1], self.order[place], None)

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


def _agrees(pose: PairPose, count: int) -> bool:
    on_wall, in_room = int(pose.on_wall.sum()), int(pose.in_room.sum())
    enough = on_wall >= LEAST_WALL_TIES and on_wall + in_room >= LEAST_TIES
    return enough and on_wall + in_room >= LEAST_SHARE * count


def _lines_left_out(photo: int) -> Finding:
    return Finding(
        "note",
        f"The room's lines in photo {photo + 1} contradict what it shares with the others and were "
        "left out.",
        "Nothing to do; a photo taken squarer to the wall would tell more.",
        "lines-left-out",
    )


def _contradicting(known: int, new: int) -> MeasurementError:
    return MeasurementError(
        f"Photos {min(known, new) + 1} and {max(known, new) + 1} contradict what the sheet shows.",
        hint="Things may have moved between them, or only pictures that hang before the wall are "
        "in both. Take them again, with a few notes or a second sheet on the wall where they "
        "overlap.",
    )


def _cannot_join(known: int, new: int, pose: PairPose | None) -> MeasurementError:
    pair = f"Photos {min(known, new) + 1} and {max(known, new) + 1}"
    if pose is not None and pose.in_room.sum() >= LEAST_TIES:
        return MeasurementError(
            f"{pair} share things before the wall, but next to nothing on the wall itself.",
            hint="Tape a few notes or a second sheet to the wall where they overlap, or step back.",
        )
    return MeasurementError(
        f"{pair} show too little in common to be joined.",
        hint="Let each photo overlap the next by a third, with something on the wall in it, such "
        "as a few notes taped up, or put a sheet there.",
    )


def _thinned(
    first: int,
    second: int,
    kind: TieKind,
    matches: Matches,
    picked: NDArray[np.intp],
    stand_off_sigma_mm: float = 0.0,
) -> list[TiePoints]:
    """Keep the best placed matches of each cell of the overlap, at most `MOST_TIES` in all."""
    if not len(picked):
        return []
    at = matches.first_px[picked]
    span = np.maximum(np.ptp(at, axis=0), 1.0)
    cells = np.minimum(((at - at.min(axis=0)) / span * 16).astype(int), 15) @ [16, 1]
    order = np.lexsort((matches.sigma_px[picked], cells))
    rank = np.empty(len(picked), int)
    starts = np.r_[0, np.flatnonzero(np.diff(cells[order])) + 1]
    counts = np.diff(np.r_[starts, len(order)])
    rank[order] = np.arange(len(order)) - np.repeat(starts, counts)
    kept = picked[np.lexsort((matches.sigma_px[picked], rank))[:MOST_TIES]]
    return [
        TiePoints(
            first,
            second,
            kind,
            matches.first_px[kept],
            matches.second_px[kept],
            matches.sigma_px[kept],
            stand_off_sigma_mm,
        )
    ]


def _drift_findings(wall: JoinedWall) -> list[Finding]:
    """Say how uncertain the far end of the chain is."""
    halves = [float(plane.half_width(wall.middle_mm(k))[0]) for k, plane in enumerate(wall.photos)]
    where = int(np.argmax(halves))
    worst = halves[where]
    if worst < FAR_MM:
        return []
    return [
        Finding(
            "advice",
            f"{format_half_width(worst)} in photo {where + 1}, furthest from the sheet.",
            "To do better, tape a second sheet there, or let the photos overlap more.",
            "joint-drift",
        )
    ]
