"""Two walls that meet in a corner of the room, measured in one photo that shows both.

Nothing need hang on the second wall: it holds the corner's plumb edge and is about square to the
first, which its own skirting and ceiling tell closer. A sheet on it tells more. Both share one
height, so that a group round the corner hangs level over both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsMm, PointsPx, frozen
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.corner_observation import (
    OFF_SQUARE,
    ONWARD,
    PLACE,
    CornerObservation,
    Side,
    second_camera,
    second_slopes,
)
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.camera.line_observation import Direction, LinesObservation
from visualiser.rectification.camera.observation import Observation, on_wall
from visualiser.rectification.camera.projection import CAMERA_SIZE
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.contradictions import in_words
from visualiser.rectification.finder.acceptance import ACCEPTANCE
from visualiser.rectification.fit import (
    PhotoFit,
    fit_photo,
    observe_reference,
    reference_sides,
)
from visualiser.rectification.joined.wall import JoinedWall
from visualiser.rectification.lines.detect import RoomLine, snap_drawn_line
from visualiser.rectification.marks import DrawnLine, Marks
from visualiser.rectification.plane import FittedLine, WallPlane
from visualiser.rectification.reference import EdgeSamples, Reference
from visualiser.statistics import COVERAGE_95
from visualiser.wording import sentence

Array = NDArray[np.float64]

SAME_EDGE_PX = 6.0
"""A line found that lies no further from the corner is the corner's own edge, or its shadow."""
ODD_FACTOR = 9.0
"""Mean squared residual, in sigmas, that a sheet on the second wall does not reach."""
SQUARE_KNOWN_DEG = 0.3
"""Known no better than this, the corner's angle is what is usual."""
LEAST_SAMPLES = 6
"""Fewer places of an edge than this do not say where the corner is."""


@dataclass(frozen=True, slots=True, eq=False)
class CornerWalls:
    """Two walls that meet in a corner, as one photo shows them.

    Parameters
    ----------
    first
        The wall of the first reference, in its own mm.
    second
        The wall beyond the corner: x is zero in the corner and y that of the first.
    side
        On which side of the first wall the corner is.
    corner_mm
        Where on the first wall.
    off_square_deg
        By how much the corner is wider (right) or narrower (left) than a right angle.
    covariance
        (23, 23) of both walls' camera parameters and ``corner_mm`` together.
    findings
        What limits the second wall and what to do about it.
    """

    first: WallPlane
    second: WallPlane
    side: Side
    corner_mm: float
    off_square_deg: float
    covariance: Matrix
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        size = (2 * CAMERA_SIZE + 1,) * 2
        object.__setattr__(self, "covariance", frozen(self.covariance, size))

    @property
    def corner_half_width_mm(self) -> float:
        """95 % half-width of where the corner is on the first wall, mm."""
        return COVERAGE_95 * float(np.sqrt(self.covariance[-1, -1]))

    def half_width_beyond(self, away_mm: float) -> float:
        """95 % half-width of places on the second wall so far from the corner, mm."""
        return float(self.second.half_width(np.array([[ONWARD[self.side] * away_mm, 0.0]]))[0])

    def way_round(self, first_mm: PointsMm, second_mm: PointsMm) -> tuple[float, float]:
        """Level distance along the walls between a place on each, and its 95 % half-width, mm."""
        start, end = (np.asarray(p, float).reshape(1, 2) for p in (first_mm, second_mm))
        sign = ONWARD[self.side]
        (near, own), (far, other) = self.first.sensitivity(start), self.second.sensitivity(end)
        slope = np.concatenate([-near[0, 0], far[0, 0], [1.0]])
        variance = float(slope @ self.covariance @ slope) + own[0, 0, 0] + other[0, 0, 0]
        length = sign * (self.corner_mm - start[0, 0] + end[0, 0])
        return float(length), COVERAGE_95 * float(np.sqrt(max(variance, 0.0)))


def measure_corner(
    photo: Photo,
    references: Sequence[Reference],
    corner_px: PointsPx,
    marks: Marks | None = None,
    *,
    terms: ModelTerms | None = None,
    lens_profile: LensProfile | None = None,
) -> CornerWalls:
    """Measure two walls that meet in a corner.

    Parameters
    ----------
    photo
        The photo; it shows the corner and a stretch of both walls.
    references
        Candidates on either wall, best first, as for `fit_wall_plane`; the best is on the first
        wall.
    corner_px
        (2, 2) two places on the corner's edge, well apart; it snaps to the edge between them.
    marks
        What a person added on the first wall.
    terms, lens_profile
        As for `fit_wall_plane`.

    Raises
    ------
    ReferenceNotFound, MeasurementError
        If the first wall cannot be measured, or no edge is found where the corner should be.
    """
    terms = terms or ModelTerms()
    ends = np.asarray(corner_px, float).reshape(2, 2)
    start, end = ((float(x), float(y)) for x, y in ends)
    corner = snap_drawn_line(photo, DrawnLine(start, end, "plumb"), "corner")
    if len(corner.samples) < LEAST_SAMPLES:
        raise MeasurementError(
            "No edge is seen where the corner should be.",
            hint="Mark its upper and lower end again, where both walls meet and nothing hides it.",
        )
    near, far, side = _by_wall(references, corner.ends_px)
    fit = fit_photo(photo, near, marks, terms=terms, lens_profile=lens_profile)
    beyond = [
        observe_reference(r, reference_sides(photo, r), terms, at_origin=False)
        for r in far
        if r.origin == "clicked" or r.confidence >= ACCEPTANCE
    ]
    findings: list[Finding] = []
    seen = _observe(fit, corner, side)
    solution = _adjusted(fit, seen)
    for sheet in beyond:
        tried = replace(seen[-1], sheets=(*seen[-1].sheets, sheet))
        other = _adjusted(fit, (seen[0], tried))
        groups = int(sheet.groups.max()) + 1
        if max(other.variance_factors[-1][-groups:]) < ODD_FACTOR:
            seen, solution = (seen[0], tried), other
        else:
            findings.append(_left_out(sheet.reference))
    return _walls(fit, solution, seen[-1], findings, terms)


class SecondWall(NamedTuple):
    """The part of a photo beyond the corner, and the second wall as it shows it."""

    photo: Photo
    wall: JoinedWall


def second_wall(photo: Photo, walls: CornerWalls) -> SecondWall:
    """Cut a photo off at the corner: what is left shows the second wall alone.

    Wall and picture go wherever those of joined photos do.
    """
    height = np.linspace(0, photo.height_px - 1, 5)
    first = walls.first
    # The corner's edge at every height of the photo.
    edge = first.to_photo(np.c_[np.full(2, walls.corner_mm), [-500.0, 500.0]])
    slope = (edge[1, 0] - edge[0, 0]) / (edge[1, 1] - edge[0, 1])
    x = edge[0, 0] + slope * (height - edge[0, 1])
    if walls.side == "right":
        cut = slice(int(np.clip(x.min(), 0, photo.width_px - 2)), photo.width_px)
    else:
        cut = slice(0, int(np.clip(x.max() + 1, 2, photo.width_px)))
    part = replace(photo, pixels=np.ascontiguousarray(photo.pixels[:, cut]))
    lens = walls.second.lens
    plane = replace(
        walls.second,
        lens=replace(lens, centre_x_px=lens.centre_x_px - cut.start),
        reference_corners_px=walls.second.reference_corners_px - [cut.start, 0],
    )
    size = (part.width_px, part.height_px)
    covariance = plane.parameter_covariance
    return SecondWall(
        part, JoinedWall((plane,), (size,), 0, covariance, 0.0, np.zeros((1, 1)), walls.findings)
    )


_Seen = tuple[tuple[Observation, ...], CornerObservation]
_Line = tuple[EdgeSamples, Direction]


def _by_wall(
    references: Sequence[Reference], corner_px: Array
) -> tuple[list[Reference], list[Reference], Side]:
    """Sort references by the side of the corner they are on: the best one's side is the first."""
    aside = [_right_of(corner_px, r.corners_px.mean(axis=0)) for r in references]
    if not aside:
        return [], [], "right"
    same = [r for r, value in zip(references, aside, strict=True) if value * aside[0] > 0]
    other = [r for r, value in zip(references, aside, strict=True) if value * aside[0] <= 0]
    return same, other, "right" if aside[0] < 0 else "left"


def _right_of(corner_px: Array, point_px: Array) -> float:
    """How far (px) a point lies to the right of the corner's edge; less than zero to its left."""
    top, foot = corner_px[np.argsort(corner_px[:, 1])]
    down = (foot - top) / max(float(np.hypot(*(foot - top))), 1e-9)
    apart = point_px - top
    return float(apart[0] * down[1] - apart[1] * down[0])


def _observe(fit: PhotoFit, corner: RoomLine, side: Side) -> _Seen:
    """Take the first wall's evidence but for lines of the second, and the corner's with these."""
    camera, ends = fit.fit.solution.camera, corner.ends_px
    sign = ONWARD[side]
    own: list[_Line] = []
    away: list[_Line] = []
    for line, direction in zip(fit.fit.lines, fit.fit.directions, strict=True):
        off = sign * np.array([_right_of(ends, point) for point in line.ends_px])
        if (np.abs(off) < SAME_EDGE_PX).all():
            continue
        past = direction.kind == "away" and (off > -SAME_EDGE_PX).all()
        (away if past else own).append((line.samples, direction))
    share = fit.fit.bow_share

    def together(lines: list[_Line]) -> LinesObservation | None:
        if not lines:
            return None
        samples, directions = zip(*lines, strict=True)
        return LinesObservation.of(samples, directions, camera, share)

    rest = together(own)
    start = float(on_wall(camera, corner.samples.points_px)[:, 0].mean())
    observed = CornerObservation(side, corner.samples, start, together(away))
    return (*fit.observed, *([] if rest is None else [rest])), observed


def _adjusted(fit: PhotoFit, seen: _Seen) -> Solution:
    return adjust(fit.fit.solution.camera, [*seen[0], seen[1]], fit.prior)


def _walls(
    fit: PhotoFit,
    solution: Solution,
    corner: CornerObservation,
    findings: list[Finding],
    terms: ModelTerms,
) -> CornerWalls:
    camera, own = solution.camera, solution.own[-1]
    place, off_square = corner.start_mm + float(own[PLACE]), float(own[OFF_SQUARE])
    first = CAMERA_SIZE + sum(int(free.sum()) for free in solution.own_free[:-1])
    picked = [*range(CAMERA_SIZE), first + PLACE, first + OFF_SQUARE]
    joint = solution.joint[np.ix_(picked, picked)]
    # What lines' sorting and the lens leave in doubt moves the first wall, the rest along with it.
    doubt = fit.plane.parameter_covariance - fit.fit.solution.covariance
    scale = np.sqrt(np.diag(joint)[:CAMERA_SIZE])
    known = joint[:CAMERA_SIZE, :CAMERA_SIZE] / np.outer(scale, scale)
    inverse = np.linalg.pinv(known, rcond=1e-10, hermitian=True) / np.outer(scale, scale)
    along = joint[:, :CAMERA_SIZE] @ inverse
    joint = joint + along @ doubt @ along.T
    slopes = np.zeros((2 * CAMERA_SIZE + 1, CAMERA_SIZE + 2))
    slopes[:CAMERA_SIZE, :CAMERA_SIZE] = np.eye(CAMERA_SIZE)
    slopes[CAMERA_SIZE:-1] = second_slopes(camera, place)
    slopes[-1, CAMERA_SIZE + PLACE] = 1.0
    covariance = slopes @ joint @ slopes.T
    one = replace(
        fit.plane,
        lens=camera.lens,
        rotation=camera.rotation,
        translation_mm=camera.translation_mm,
        parameter_covariance=covariance[:CAMERA_SIZE, :CAMERA_SIZE],
    )
    beyond = second_camera(camera, corner.side, place, off_square)
    own_part = covariance[CAMERA_SIZE:-1, CAMERA_SIZE:-1]
    normal = beyond.rotation[:, 2]
    level = np.degrees(np.sqrt(max(float(normal @ own_part[:3, :3] @ normal), 0.0)))
    two = WallPlane(
        lens=beyond.lens,
        rotation=beyond.rotation,
        translation_mm=beyond.translation_mm,
        reference_corners_px=np.zeros((4, 2)),
        reference_tilt_deg=0.0,
        parameter_covariance=own_part,
        level_sigma_deg=float(level),
        flatness_sigma_mm=terms.flatness_sigma_mm,
        lines=_lines_beyond(fit, corner),
    )
    if corner.sheets:
        corners = corner.sheets[0].reference.corners_px
    else:  # where the second wall is looked at first: as far from the corner as the sheet is
        outline = one.to_wall(one.reference_corners_px)
        across = np.abs(outline[:, 0] - place) * ONWARD[corner.side]
        corners = two.to_photo(np.c_[across, outline[:, 1]][[1, 0, 3, 2]])
    square = float(np.degrees(np.sqrt(joint[CAMERA_SIZE + 1, CAMERA_SIZE + 1])))
    if square > SQUARE_KNOWN_DEG:
        findings.append(_square_supposed(square))
    two = replace(two, reference_corners_px=corners, findings=tuple(findings))
    return CornerWalls(
        one, two, corner.side, place, float(np.degrees(off_square)), covariance, tuple(findings)
    )


def _lines_beyond(fit: PhotoFit, corner: CornerObservation) -> tuple[FittedLine, ...]:
    """Name the lines that run along the second wall; there they are level."""
    if corner.lines is None:
        return ()
    used = {tuple(point) for point in corner.lines.points_px[:, :2]}
    return tuple(
        FittedLine(line.name, "level", line.ends_px, line.drawn is not None)
        for line in fit.fit.lines
        if tuple(line.samples.points_px[0]) in used
    )


def _square_supposed(sigma_deg: float) -> Finding:
    return Finding(
        "advice",
        f"The corner is taken to be square to ± {COVERAGE_95 * sigma_deg:.1f}°: too little of the "
        "second wall's skirting or ceiling is seen.",
        "Tape a sheet to the second wall too, or step back until its skirting or ceiling shows.",
        "corner-square-supposed",
    )


def _left_out(reference: Reference) -> Finding:
    return Finding(
        "advice",
        sentence("The ", in_words(reference), " beyond the corner does not fit a wall there."),
        "Tape it flat on the second wall, check its size, or take it away.",
        "reference-left-out",
    )
