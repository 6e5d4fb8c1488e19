"""Further references and taped lengths join the fit only where they agree with it.

Each is first predicted from what is measured without it. One that lies beyond its uncertainty is
named and left out: averaging a contradiction would spoil both.

A second sheet may be the first one again, in a mirror or window at the side. A mirror square to the
wall shows the wall's own plane running on behind it, so a sheet seen in it measures right and fits.
What gives it away is symmetry: it hangs as crooked as the first, the other way, and the line
between the two is square to the mirror.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.observation import Observation, TapeObservation
from visualiser.rectification.camera.reference_observation import TURN, ReferenceObservation, X, Y
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.contradictions import (
    contradiction_finding,
    contradiction_spread,
    disagreement,
    doubt_reference,
    in_words,
)
from visualiser.rectification.fit_lines import LineFit
from visualiser.rectification.marks import TapedLength
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import EdgeSamples, Reference
from visualiser.statistics import COVERAGE_95
from visualiser.wording import Length, sentence

CROOKED_DEG = 0.6
"""Two sheets turned alike to this look the same in a mirror and out of it."""
SYMMETRY_DEG = 0.2
"""How nearly the line between them halves their turns: 3 mm of height in a metre."""
SAME_SIZE = 0.01
"""A sheet and its image have one size to this share."""


def reflection_finding(
    solution: Solution, first: Reference, index: int, further: Reference
) -> Finding | None:
    """Say so where a further reference may be the first one's image.

    Parameters
    ----------
    solution
        The fit that both took part in, the first reference as its first observation.
    first
        First reference.
    index
        Place of the further reference among the observations.
    further
        Further reference.
    """
    sizes = (first.width_mm / further.width_mm, first.height_mm / further.height_mm)
    if first.kind != further.kind or max(abs(np.log(sizes))) > SAME_SIZE:
        return None
    turns = np.degrees([float(solution.own[i][TURN]) for i in (0, index)])
    across, up = solution.own[index][X], solution.own[index][Y]
    line_deg = float(np.degrees(np.arctan(up / across))) if abs(across) > 1.0 else 90.0
    if abs(turns[0] - turns[1]) < CROOKED_DEG or abs(line_deg - turns.mean()) > SYMMETRY_DEG:
        return None
    return Finding(
        "advice",
        sentence(
            "The second ",
            in_words(further),
            " hangs as the first one's image in a mirror or window square to the wall would.",
        ),
        "If it is a reflection, cover it or move it out of the picture.",
        "maybe-reflection",
    )


Array = NDArray[np.float64]

CONTRADICTION_SIGMAS = 4.0
CORNER_SIGMA_PX = 0.5
"""How well a further reference's corners are seen, for the comparison only."""
ODD_FACTOR = 9.0
"""Mean squared residual that a side of a reference on the wall does not reach, in sigmas or, where
its samples wander by more than these about a line of their own, in that scatter."""

Joined = tuple[LineFit, list[Observation], list[Finding]]


def join_references(
    fit: LineFit,
    base: list[Observation],
    candidates: Sequence[tuple[Reference, ReferenceObservation]],
    prior: LensPrior,
    terms: ModelTerms,
) -> Joined:
    """Let further references join, those that measure right on the wall found so far."""
    findings: list[Finding] = []
    taken = [
        observation.reference
        for observation in base
        if isinstance(observation, ReferenceObservation)
    ]
    for reference, observation in candidates:
        if any(_overlap(reference, other) for other in taken):
            continue
        odd = _size_contradiction(_as_plane(fit, terms), reference)
        if odd is None:
            joined = _refit(fit, [*base, observation], prior)
            factors = joined.solution.variance_factors[len(base)].copy()
            own = [max(straight_scatter(side), 1.0) for side in observation.sides]
            factors[: len(own)] /= own
            apart = disagreement(fit.solution, joined.solution, observation, len(base))
            if factors.max() < ODD_FACTOR and apart.is_one:
                findings.append(contradiction_finding(taken[0], reference, apart))
                widened = contradiction_spread(fit.solution, taken[0], reference, apart)
                fit = replace(fit, solution=widened)
                continue
            if factors.max() < ODD_FACTOR:
                fit, base = joined, [*base, observation]
                told = reflection_finding(fit.solution, taken[0], len(base) - 1, reference)
                findings += [told] if told else []
                taken.append(reference)
                continue
            odd = "its sides do not fit"
        findings.append(
            Finding(
                "advice",
                sentence(
                    "A further ",
                    in_words(reference),
                    " was left out: ",
                    odd,
                    ", so it does not lie on the measured wall or is of another size.",
                ),
                "Tape it flat on the same wall, or take it away.",
                "reference-left-out",
            )
        )
    return fit, base, findings


def join_tapes(
    fit: LineFit,
    base: list[Observation],
    taped: Sequence[TapedLength],
    prior: LensPrior,
    terms: ModelTerms,
) -> Joined:
    """Let taped lengths join, those that lie within four sigmas of what the photo says."""
    findings: list[Finding] = []
    plane = _as_plane(fit, terms)
    agreeing: list[Observation] = []
    against: list[tuple[float, float]] = []
    for tape in taped:
        length, sigma, own = _predicted(plane, tape)
        away = abs(length - tape.length_mm) / sigma
        if away <= CONTRADICTION_SIGMAS:
            agreeing.append(TapeObservation(tape))
            continue
        against.append((float(np.log(tape.length_mm / length)), own / length))
        name = f"The taped {tape.name}" if tape.name else "A taped length"
        findings.append(
            Finding(
                "advice",
                sentence(
                    f"{name} of ",
                    Length(tape.length_mm),
                    " was left out: the photo says ",
                    Length(length),
                    " ± ",
                    Length(COVERAGE_95 * sigma, up=True),
                    ".",
                ),
                "Check the reading and the two clicked points; both must lie on the wall.",
                "tape-contradicts",
            )
        )
    first = base[0]
    if taped and len(against) == len(taped) and isinstance(first, ReferenceObservation):
        doubted = doubt_reference(fit.solution, first.reference, *zip(*against, strict=True))
        if doubted is not None:
            return replace(fit, solution=doubted[0]), base, [*findings, doubted[1]]
    if agreeing:
        base = [*base, *agreeing]
        fit = _refit(fit, base, prior)
    return fit, base, findings


def straight_scatter(side: EdgeSamples) -> float:
    """Mean squared distance of a side's samples from their own straight line, in sigmas squared.

    Where a sheet hardly stands out, samples wander by more than each can know of itself. They do so
    on whatever wall they are measured: that is no contradiction.
    """
    if len(side) < 3:
        return 1.0
    middle = np.average(side.points_px, axis=0, weights=1 / side.sigma_px**2)
    across = np.median(side.normals_px, axis=0)
    along = np.array([-across[1], across[0]])
    t, u = (side.points_px - middle) @ along, (side.points_px - middle) @ across
    line = np.polyfit(t, u, 1, w=1 / side.sigma_px)
    residual = np.clip((u - np.polyval(line, t)) / side.sigma_px, -4, 4)
    return float((residual**2).sum() / (len(side) - 2))


def _refit(fit: LineFit, base: Sequence[Observation], prior: LensPrior) -> LineFit:
    observations = [*base, *fit.line_observations()]
    return replace(fit, solution=adjust(fit.solution.camera, observations, prior))


def _as_plane(fit: LineFit, terms: ModelTerms) -> WallPlane:
    camera = fit.solution.camera
    return WallPlane(
        camera.lens, camera.rotation, camera.translation_mm, np.zeros((4, 2)), 0.0,
        fit.solution.covariance, flatness_sigma_mm=terms.flatness_sigma_mm,
    )  # fmt: skip


def _overlap(a: Reference, b: Reference) -> bool:
    """Whether one's centre lies in the other: two readings of one thing."""
    for one, other in ((a, b), (b, a)):
        outline = other.corners_px.astype(np.float32).reshape(-1, 1, 2)
        x, y = (float(v) for v in one.corners_px.mean(axis=0))
        if cv2.pointPolygonTest(outline, (x, y), False) >= 0:
            return True
    return False


def _size_contradiction(plane: WallPlane, reference: Reference) -> str | None:
    """Say where a reference's measured size differs from its true one, or None."""
    corners = plane.to_wall(reference.corners_px)
    true = reference.corners_mm
    scale = _mm_per_px(plane, reference.corners_px.mean(axis=0))
    for i, j in ((0, 1), (1, 2), (3, 2), (0, 3), (0, 2), (1, 3)):
        length, half = plane.length(corners[i], corners[j])
        expected = float(np.hypot(*(true[i] - true[j])))
        sigma = np.sqrt(
            (half / COVERAGE_95) ** 2
            + reference.size_sigma_mm**2
            + 2 * (scale * CORNER_SIGMA_PX) ** 2
        )
        if abs(length - expected) > CONTRADICTION_SIGMAS * sigma:
            return sentence("it measures ", Length(length), " where ", Length(expected), " are due")
    return None


def _predicted(plane: WallPlane, tape: TapedLength) -> tuple[float, float, float]:
    """Length the plane gives between the clicked points, the comparison's sigma, the tape's own."""
    ends = plane.to_wall(np.array([tape.start_px, tape.end_px]))
    length, half = plane.length(ends[0], ends[1])
    clicks = [
        _mm_per_px(plane, np.array(p)) * tape.click_sigma_px for p in (tape.start_px, tape.end_px)
    ]
    own = float(np.sqrt(tape.sigma_mm**2 + np.sum(np.square(clicks))))
    return length, float(np.hypot(half / COVERAGE_95, own)), own


def _mm_per_px(plane: WallPlane, point_px: Array) -> float:
    """Largest wall distance that one pixel covers at a place."""
    around = np.array([point_px, point_px + [1, 0], point_px + [0, 1]])
    wall = plane.to_wall(around)
    return float(np.hypot(*(wall[1:] - wall[0]).T).max())
