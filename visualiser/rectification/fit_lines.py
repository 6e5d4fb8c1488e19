"""Let room lines join the fit, and only those that agree with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.line_observation import AXES, Direction, LinesObservation
from visualiser.rectification.camera.observation import Observation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.borders import told_beside_wall
from visualiser.rectification.lines.classify import (
    CUT_SIGMAS,
    LONG,
    built_sigmas_rad,
    line_normals,
    propose_directions,
    vote_on_distortion,
)
from visualiser.rectification.lines.detect import (
    RoomLine,
    find_room_lines,
    join_pieces,
    snap_drawn_line,
)
from visualiser.rectification.marks import Marks

ORIENTATION_DOUBT = 2.0
"""Factor on the reference's own idea of its orientation while lines are being sorted."""
BENT_FACTOR = 9.0
"""A line whose squared residuals exceed this, in sigmas squared, isn't straight."""
MISJOINED_FACTOR = 4.0
"""A line joined of pieces whose squared residuals exceed this is not one edge but two beside each
other, as a moulding has: its pieces go on alone."""
DRAWN_CUT_SIGMAS = 4.0
"""A line that a person drew as plumb or level is given up later than one found."""
SHORT_CUT_SIGMAS = 2.0
"""One that is not as long as only a building's edges are is given up earlier: sides of pictures in
a column may look like one edge of that length, and hang askew by a degree."""
ROUNDS = 4
GUIDING_SIGMA_DEG = 0.5
"""A line held to its direction better than this tells level."""


@dataclass(frozen=True, slots=True, eq=False)
class LineFit:
    """An adjusted camera and what became of each line.

    Parameters
    ----------
    solution
        The adjustment; its first observations are those handed in, the lines follow.
    alone
        The same without any line.
    lines
        Lines that took part, in the order of the observations.
    directions
        What each was taken for.
    bent
        Lines left out because they aren't straight.
    price
        What it costs to explain everything this way; the lower of two is the better.
    """

    solution: Solution
    alone: Solution
    lines: tuple[RoomLine, ...]
    directions: tuple[Direction, ...]
    bent: tuple[RoomLine, ...]
    price: float

    @property
    def gives_level(self) -> bool:
        """Whether a building edge of known direction took part."""
        return any(
            d.kind != "straight" and d.sigma_rad < np.radians(GUIDING_SIGMA_DEG)
            for d in self.directions
        )

    def line_observations(self) -> list[Observation]:
        """Its lines as one observation, or none."""
        if not self.lines:
            return []
        samples = [line.samples for line in self.lines]
        return [LinesObservation.of(samples, self.directions, self.solution.camera)]


def gather_lines(photo: Photo, marks: Marks, outlines_px: Sequence[PointsPx]) -> list[RoomLine]:
    """Drawn lines, snapped, and those found that were not rejected, pieces of an edge joined."""
    drawn = [snap_drawn_line(photo, line, f"drawn-{i + 1}") for i, line in enumerate(marks.lines)]
    found = find_room_lines(photo, outlines_px) if marks.find_lines else []
    whole = join_pieces(found, max(photo.width_px, photo.height_px))
    # Joined after the rejected ones are gone, an edge would come back under its next piece's name.
    rejected = set(marks.rejected_lines)
    kept = [line for line in whole if rejected.isdisjoint(line.names)]
    return drawn + told_beside_wall(photo, kept, outlines_px)


@dataclass(frozen=True, slots=True, eq=False)
class SortedLines:
    """Lines by whether one lens straightens them.

    Parameters
    ----------
    straight, bent
        Those that it does and does not.
    k1
        Its distortion.
    """

    straight: tuple[RoomLine, ...]
    bent: tuple[RoomLine, ...]
    k1: float


def sort_by_straightness(lines: Sequence[RoomLine], prior: LensPrior) -> SortedLines:
    """Sort lines, those taken apart again that come out bent as a whole."""
    k1_sigma = float(np.sqrt(prior.covariance[1, 1]))
    k1, is_straight = vote_on_distortion(lines, prior.lens, k1_sigma)
    if any(line.pieces and not ok for line, ok in zip(lines, is_straight, strict=True)):
        lines = _taken_apart(lines, is_straight)
        k1, is_straight = vote_on_distortion(lines, prior.lens, k1_sigma)
    pairs = list(zip(lines, is_straight, strict=True))
    return SortedLines(
        tuple(line for line, ok in pairs if ok), tuple(line for line, ok in pairs if not ok), k1
    )


def fit_with_lines(
    alone: Solution,
    base: Sequence[Observation],
    lines: SortedLines,
    prior: LensPrior,
    long_side_px: int,
    terms: ModelTerms,
) -> LineFit:
    """Fit references and lines together, sorting the lines as the fit sharpens.

    Parameters
    ----------
    alone
        The references' own fit.
    base
        The references.
    lines
        The room's lines.
    prior
        What is known of the lens beforehand.
    long_side_px
        Longer side of the photo.
    terms
        What the model leaves out.
    """
    kept, bent = list(lines.straight), list(lines.bent)
    if not (kept or bent):
        return fit_without_lines(alone)
    rough = replace(alone.camera, lens=replace(alone.camera.lens, k1=lines.k1))
    doubt = alone.covariance[:3, :3] * ORIENTATION_DOUBT**2
    directions, camera = propose_directions(kept, rough, doubt, long_side_px, terms)
    for last in (False,) * ROUNDS + (True,):
        if not kept:
            price = alone.cost + CUT_SIGMAS**2 * len(bent)
            return LineFit(alone, alone, (), (), tuple(bent), price)
        seen = LinesObservation.of([line.samples for line in kept], directions, camera)
        solution = adjust(camera, [*base, seen], prior)
        camera = solution.camera
        factors = solution.variance_factors[-1]
        if (misjoined := [bool(line.pieces) for line in kept] & (factors > MISJOINED_FACTOR)).any():
            apart = SortedLines(tuple(_taken_apart(kept, ~misjoined)), tuple(bent), lines.k1)
            return fit_with_lines(alone, base, apart, prior, long_side_px, terms)
        straight = factors < BENT_FACTOR
        sigmas = built_sigmas_rad(kept, long_side_px, terms)
        revised = _revised(kept, directions, solution, sigmas, LONG * long_side_px)
        if last or (revised == directions and straight.all()):
            break
        bent += [line for line, ok in zip(kept, straight, strict=True) if not ok]
        kept = [line for line, ok in zip(kept, straight, strict=True) if ok]
        directions = [d for d, ok in zip(revised, straight, strict=True) if ok]
    loose = sum(d.kind == "straight" for d in directions) + len(bent)
    price = solution.cost + CUT_SIGMAS**2 * loose
    return LineFit(solution, alone, tuple(kept), tuple(directions), tuple(bent), price)


def fit_without_lines(alone: Solution) -> LineFit:
    """Take the references' own fit as it is."""
    return LineFit(alone, alone, (), (), (), alone.cost)


def _taken_apart(lines: Sequence[RoomLine], is_straight: NDArray[np.bool_]) -> list[RoomLine]:
    """Undo the joining of lines that came out bent: a piece of another edge may be among them."""
    apart = []
    for line, ok in zip(lines, is_straight, strict=True):
        if ok or not line.pieces:
            apart.append(line)
        else:
            apart += [replace(piece, beside_wall=line.beside_wall) for piece in line.pieces]
    return apart


def _revised(
    lines: Sequence[RoomLine],
    directions: Sequence[Direction],
    solution: Solution,
    sigmas: NDArray[np.float64],
    long_px: float,
) -> list[Direction]:
    """Demote lines that strain against their direction; promote straight ones that keep to one."""
    normals, sigma_seen = line_normals(lines, solution.camera)
    spread = solution.covariance[:3, :3]
    revised = []
    for i, (line, direction) in enumerate(zip(lines, directions, strict=True)):
        if direction.kind != "straight":
            strain = abs(float(solution.own[-1][2 * i + 1])) / direction.sigma_rad
            limit = CUT_SIGMAS if line.length_px >= long_px else SHORT_CUT_SIGMAS
            limit = DRAWN_CUT_SIGMAS if line.drawn else limit
            kept = strain < limit
            revised.append(direction if kept else Direction("straight", direction.sigma_rad))
            continue
        if line.drawn is not None:
            revised.append(direction)
            continue
        sigma = float(sigmas[i])
        found = direction
        for kind, axis in AXES.items():
            if kind == "level" and not line.beside_wall:
                continue  # level it may be; that it runs along the wall nobody says
            along = solution.camera.rotation @ axis
            slope = np.cross(along, normals[i])
            off = float(normals[i] @ along)
            doubt = float(np.sqrt(sigma**2 + sigma_seen[i] ** 2 + slope @ spread @ slope))
            if abs(off) < 2.0 * doubt and doubt < np.radians(1.0):
                found = Direction(kind, sigma)
        revised.append(found)
    return revised
