"""From a photo, its references and a person's marks to the measured wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.findings import Finding
from visualiser.photo.photo import Photo
from visualiser.rectification.budget import Budget, untried_findings
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.lens_alternatives import (
    lens_alternatives,
    mixed_covariance,
    posteriors,
)
from visualiser.rectification.camera.lens_profile import LensPrior, LensProfile, lens_prior
from visualiser.rectification.camera.observation import Observation
from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    CameraState,
    Lens,
    plane_poses,
    vector_from_rotation,
)
from visualiser.rectification.camera.reference_observation import TURN, ReferenceObservation
from visualiser.rectification.camera.shown_change import shown_change
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.checks import leave_out_odd_side, refuse_bent, refuse_leaning
from visualiser.rectification.edges.locate import no_samples, sample_side
from visualiser.rectification.finder.acceptance import ACCEPTANCE
from visualiser.rectification.finder.find import convincing
from visualiser.rectification.fit_lines import (
    LineFit,
    fit_with_lines,
    fit_without_lines,
    gather_lines,
    sort_by_straightness,
)
from visualiser.rectification.joining import join_references, join_tapes
from visualiser.rectification.lens_choice import (
    UNLIKELY,
    Reading,
    choose_lens,
    frame_findings,
    weigh_lenses,
)
from visualiser.rectification.lines.uprights import straightened_chance
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import FittedLine, WallPlane, accuracy_findings
from visualiser.rectification.reference import EdgeSamples, Reference
from visualiser.rectification.sorting_doubt import sorting_covariance

Array = NDArray[np.float64]

RIVAL_SHARE = 0.02
"""A second pose less likely than this is forgotten."""
SAME_TURN = np.radians(0.5)
"""Cameras turned by less than this are one, come to from two starts."""
HOPELESS = 50.0
"""A pose that without any line costs this much more than another with them is not followed up."""
ASTRAY = 500.0
"""Nor one that the room's lines, as they are first sorted, strain by so much more: otherwise sorted
they cost less, but not so much less."""
FIRST_SHARE = 0.7
"""What is likeliest may take this share of the steps that are left before what follows it."""
MIN_SIDE_PX = 8.0
"""A reference smaller than this in the photo measures nothing."""
MISFIT_PX, MISFIT_SHARE = 4.0, 0.05
"""The fitted reference lies this close to the one seen, or the fit is refused."""
WORTH_PX = 0.05
"""Points that stray from the lens's model by less than this change nothing."""
CLICK_SLACK_PX = 4.0
"""Edges found further than this from clicked corners belong to something else."""


def fit_wall_plane(
    photo: Photo,
    references: Sequence[Reference],
    marks: Marks | None = None,
    *,
    terms: ModelTerms | None = None,
    lens_profile: LensProfile | None = None,
) -> WallPlane:
    """Measure the wall.

    Parameters
    ----------
    photo
        The photo.
    references
        Candidates, best first, as `find_references` gives them, or references made from clicked
        corners. Further ones join in where they agree that they lie on the same wall.
    marks
        What a person added: lines, taped lengths.
    terms
        What the model leaves out; the usual values where none are given.
    lens_profile
        Lens measured beforehand; used where it matches the photo's camera, zoom and size.

    Returns
    -------
    The plane with its uncertainty and what limits it.

    Raises
    ------
    ReferenceNotFound
        If no candidate convinces.
    MeasurementError
        If no camera explains the reference, or it does not lie on the wall.
    """
    return fit_photo(photo, references, marks, terms=terms, lens_profile=lens_profile).plane


class PhotoFit(NamedTuple):
    """A measured photo: its wall, the fit behind it, what was observed, and the lens expected."""

    plane: WallPlane
    fit: LineFit
    observed: tuple[Observation, ...]
    prior: LensPrior


def fit_photo(
    photo: Photo,
    references: Sequence[Reference],
    marks: Marks | None = None,
    *,
    terms: ModelTerms | None = None,
    lens_profile: LensProfile | None = None,
) -> PhotoFit:
    """Measure the wall as `fit_wall_plane` does, and keep what the measurement is made of."""
    marks, terms = marks or Marks(), terms or ModelTerms()
    first, doubt = _first(references)
    _refuse_odd_corners(first.corners_px)
    profile = lens_profile if lens_profile and lens_profile.matches(photo) else None
    left_over_px = profile.left_over_px if profile else 0.0
    sides = reference_sides(photo, first)
    observed = observe_reference(first, sides, _strayed(terms, left_over_px), at_origin=True)
    others = [
        r
        for r in references
        if r is not first and (r.origin == "clicked" or r.confidence >= ACCEPTANCE)
    ]
    lines = gather_lines(photo, marks, [first.corners_px, *(r.corners_px for r in others)])
    long_side = max(photo.width_px, photo.height_px)
    expected = lens_prior(photo, terms, profile)
    straightened = straightened_chance(
        lines,
        (photo.width_px, photo.height_px),
        expected.lens.focal_px,
        float(np.sqrt(expected.covariance[1, 1])),
    )
    lenses = lens_alternatives(photo, terms, profile, straightened)
    budget = Budget()

    def read(prior: LensPrior) -> Reading:
        of_lens = budget.part(1.0 if prior is lenses[-1].prior else FIRST_SHARE)
        by_straightness = sort_by_straightness(lines, prior, terms.bow_share)

        def fitted(
            reading: ReferenceObservation,
            starts: Sequence[CameraState],
            share: float,
            thorough: bool = True,
        ) -> list[LineFit]:
            part = of_lens.part(share)
            fits: list[LineFit] = []
            best = math.inf
            # Fitted twice each, the second time by what it left over: see `adjust`.
            most = part.steps(1 / (2 * len(starts) + 2))
            solutions = [adjust(s, [reading], prior, most_steps=most) for s in starts]
            part.spend(sum(solution.steps for solution in solutions))
            poses = _distinct(solutions)
            for k, alone in enumerate(poses):
                # Lines only add to the price.
                if alone.cost > best + HOPELESS:
                    fits.append(fit_without_lines(alone))
                else:
                    fits.append(
                        fit_with_lines(
                            alone, [reading], by_straightness, prior, long_side, terms,
                            thorough=thorough, hopeless=best + ASTRAY,
                            budget=part.part(1.0 if k == len(poses) - 1 else FIRST_SHARE),
                        )
                    )  # fmt: skip
                best = min(fit.price for fit in fits)
            return sorted(fits, key=lambda fit: fit.price)

        fits = fitted(observed, _first_poses(first, sides, prior.lens), FIRST_SHARE)
        if not fits:
            raise _no_rectangle()
        refuse_bent(fits[0], terms)
        cameras = [solution.camera for solution in _distinct([fit.solution for fit in fits])]

        def refit(reading: ReferenceObservation, thorough: bool, share: float) -> list[LineFit]:
            return fitted(reading, cameras, share, thorough)

        return Reading(*leave_out_odd_side(observed, fits, refit))

    lens, (seen, fits, findings), rival = choose_lens(lenses, read)
    if len(first.marks_px) and (seen_px := _bent_px(fits[0])) > max(left_over_px, WORTH_PX):
        left_over_px = seen_px
        observed = observe_reference(first, sides, _strayed(terms, left_over_px), at_origin=True)
        lens, (seen, fits, findings), rival = choose_lens(lenses, read)
    prior, best = lens.prior, fits[0]
    refuse_leaning(best, fits, long_side)
    findings += untried_findings(budget)
    findings += _line_findings(best, lines)
    base: list[Observation] = [seen]
    strayed = _strayed(terms, left_over_px)
    candidates = [
        (r, observe_reference(r, reference_sides(photo, r), strayed, at_origin=False))
        for r in others
    ]
    best, base, told = join_references(best, base, candidates, prior, terms)
    if doubt is not None and len(base) == 1:
        raise doubt
    findings += told
    best, base, told = join_tapes(best, base, marks.taped, prior, terms)
    findings += told
    after = posteriors(best.solution, prior, lenses)
    if rival is not None and best is fits[0]:
        after = weigh_lenses(lens, best, rival, lenses)
    covariance = mixed_covariance(after, UNLIKELY) if len(lenses) > 1 else best.solution.covariance
    covariance = covariance + sorting_covariance(best)
    if len(base) == 1 and len(fits) > 1:
        spread, told = _rival_spread(best, fits[1])
        covariance = covariance + spread
        findings += told
    plane = _plane(first, best, covariance, terms)
    plane = replace(plane, left_over_px=left_over_px)
    findings += frame_findings(plane, lenses, after)
    _refuse_misfit(plane, side_corners(first, seen.sides))
    plane = replace(
        plane,
        findings=(
            *findings,
            *accuracy_findings(
                plane,
                photo.width_px,
                photo.height_px,
                level_from_lines=best.gives_level,
                small=first.width_mm * first.height_mm < 100 * 100,
            ),
        ),
    )
    return PhotoFit(plane, best, tuple(base), prior)


def _strayed(terms: ModelTerms, left_over_px: float) -> ModelTerms:
    """Let a target's points stray by what no lens explains."""
    return replace(terms, mark_sigma_px=math.hypot(terms.mark_sigma_px, left_over_px))


def _bent_px(fit: LineFit) -> float:
    """Estimate by how much points clicked along straight lines stray from them, beyond their sigma.

    The lens's model, or a target that is not flat, leaves as much over elsewhere.
    """
    factors = fit.solution.variance_factors[-1]
    strayed = [
        max(float(factor) - 1, 0.0) * line.drawn.sigma_px**2
        for line, factor in zip(fit.lines, factors, strict=False)
        if line.drawn is not None and line.drawn.through_px
    ]
    return math.sqrt(float(np.mean(strayed))) if strayed else 0.0


def _first(references: Sequence[Reference]) -> tuple[Reference, ReferenceNotFound | None]:
    """Take the best reference, and what speaks against it if others look just as good.

    Two sheets on one wall look alike because they are: that doubt falls where they agree.
    """
    try:
        return convincing(references), None
    except ReferenceNotFound as doubt:
        if len([r for r in references if r.confidence >= ACCEPTANCE]) < 2:
            raise
        return references[0], doubt


def _no_rectangle() -> MeasurementError:
    return MeasurementError(
        "The reference's corners do not form the picture of a rectangle of its size.",
        hint="Click its four corners again, top-left first and clockwise, and check its size.",
    )


def _refuse_odd_corners(corners_px: Array) -> None:
    """Refuse corners in a row, on one spot, crossed or anticlockwise."""
    side = np.roll(corners_px, -1, axis=0) - corners_px
    following = np.roll(side, -1, axis=0)
    turn = side[:, 0] * following[:, 1] - side[:, 1] * following[:, 0]
    lengths = np.hypot(*side.T)
    # Clockwise with y down; a corner of less than 3 degrees is none.
    if lengths.min() < MIN_SIDE_PX or (turn < 0.05 * lengths * np.roll(lengths, -1)).any():
        raise _no_rectangle()


def _refuse_misfit(plane: WallPlane, seen_px: Array) -> None:
    """Refuse a fit whose reference lies elsewhere than the one seen."""
    off = float(np.hypot(*(plane.reference_corners_px - seen_px).T).max())
    if not off < max(MISFIT_PX, MISFIT_SHARE * float(np.ptp(seen_px, axis=0).max())):
        raise _no_rectangle()


def reference_sides(photo: Photo, reference: Reference) -> tuple[EdgeSamples, ...]:
    """Edge samples of a reference: those it brings, else those found between its corners."""
    nothing = tuple(no_samples() for _ in range(4))
    if len(reference.marks_px):
        return nothing
    if any(len(s) for s in reference.sides) or (reference.sides and reference.origin == "clicked"):
        return reference.sides
    corners = reference.corners_px
    sides = tuple(sample_side(photo, corners[i], corners[(i + 1) % 4]) for i in range(4))
    if not all(len(s) for s in sides):
        return nothing
    moved = side_corners(reference, sides) - corners
    slack = CLICK_SLACK_PX + 0.02 * np.ptp(corners, axis=0).max()
    if np.hypot(*moved.T).max() >= slack:
        return nothing
    # Clicks go astray one by one. Four that all lie outside the edges found, or inside, are of
    # another outline, as of what is printed on the sheet.
    outward = corners - corners.mean(axis=0)
    outward /= np.hypot(*outward.T)[:, None]
    return sides if abs((moved * outward).sum(axis=1).mean()) < slack / 2 else nothing


def observe_reference(
    reference: Reference, sides: tuple[EdgeSamples, ...], terms: ModelTerms, *, at_origin: bool
) -> ReferenceObservation:
    """Take a reference as evidence: its sides or marks, or its bare corners where none are seen."""
    seen = any(len(s) for s in sides) or len(reference.marks_px) > 0
    return ReferenceObservation(reference, sides, at_origin, not seen, terms)


def _first_poses(
    reference: Reference, sides: tuple[EdgeSamples, ...], lens: Lens
) -> list[CameraState]:
    if len(reference.marks_px) >= 4:
        return plane_poses(reference.marks_mm, reference.marks_px, lens)
    return plane_poses(reference.corners_mm, side_corners(reference, sides), lens)


def _distinct(solutions: Sequence[Solution]) -> list[Solution]:
    """Leave out solutions whose camera is an earlier one's, come to from another start."""
    kept: list[Solution] = []
    for solution in solutions:
        rotation = solution.camera.rotation
        turns = [vector_from_rotation(other.camera.rotation @ rotation.T) for other in kept]
        if all(np.linalg.norm(turn) > SAME_TURN for turn in turns):
            kept.append(solution)
    return kept


def side_corners(reference: Reference, sides: Sequence[EdgeSamples]) -> Array:
    """Where the straight sides meet (4, 2), px; the given corners where a side is missing."""
    corners = np.array(reference.corners_px)
    if not all(len(s) >= 2 for s in sides):
        return corners
    lines = []
    for samples in sides:
        middle = samples.points_px.mean(axis=0)
        normal = np.linalg.svd(samples.points_px - middle, full_matrices=False)[2][1]
        lines.append(np.r_[normal, -normal @ middle])
    for i in range(4):
        meet = np.cross(lines[i - 1], lines[i])
        if abs(meet[2]) > 1e-9:
            corners[i] = meet[:2] / meet[2]
    return corners


def _line_findings(fit: LineFit, lines: Sequence[object]) -> list[Finding]:
    """Name the drawn lines that were not believed."""
    findings = [
        Finding(
            "advice",
            f"The line {line.name} is not straight and was left out.",
            "Draw it along a straight edge of the room.",
            "line-bent",
        )
        for line in fit.bent
        if line.drawn is not None
    ]
    findings += [
        Finding(
            "advice",
            f"The line {line.name} was drawn as {line.drawn.direction}, but the rest of the "
            "photo contradicts it; only its straightness was used.",
            "Check it against a spirit level.",
            "line-contradicts",
        )
        for line, direction in zip(fit.lines, fit.directions, strict=True)
        if line.drawn is not None and line.drawn.direction != direction.kind
    ]
    return findings if lines else []


def _rival_spread(best: LineFit, rival: LineFit) -> tuple[Array, list[Finding]]:
    """Second moment to add where a second pose explains the photo nearly as well."""
    share = 1 / (1 + np.exp(min((rival.price - best.price) / 2, 50)))
    apart = shown_change(best.solution.camera, rival.solution.camera)
    if share < RIVAL_SHARE or np.linalg.norm(apart[:3]) < SAME_TURN:
        return np.zeros((CAMERA_SIZE, CAMERA_SIZE)), []
    # Second moment of two likely values about the one reported.
    finding = Finding(
        "advice",
        "Two camera positions explain the reference about equally well.",
        "Step to one side and photograph again, or draw a long level edge.",
        "two-poses",
    )
    return share * np.outer(apart, apart), [finding]


def _plane(reference: Reference, fit: LineFit, covariance: Array, terms: ModelTerms) -> WallPlane:
    camera, tilt = fit.solution.camera, float(fit.solution.own[0][TURN])
    with_tilt = fit.solution.covariance_with_own(0, TURN)
    # Level is the turn about the wall's normal; the sheet's own tilt is known less well.
    normal = camera.rotation[:, 2]
    level = float(np.sqrt(normal @ covariance[:3, :3] @ normal))
    c, s = np.cos(tilt), np.sin(tilt)
    corners = reference.corners_mm @ np.array([[c, -s], [s, c]]).T
    plane = WallPlane(
        lens=camera.lens,
        rotation=camera.rotation,
        translation_mm=camera.translation_mm,
        reference_corners_px=reference.corners_px,
        reference_tilt_deg=float(np.degrees(tilt)),
        parameter_covariance=covariance,
        level_sigma_deg=float(np.degrees(level)),
        flatness_sigma_mm=terms.flatness_sigma_mm,
        tilt_covariance=with_tilt[-1],
        lines=tuple(
            FittedLine(line.name, direction.kind, line.ends_px, line.drawn is not None)
            for line, direction in zip(fit.lines, fit.directions, strict=True)
        ),
    )
    return replace(plane, reference_corners_px=plane.to_photo(corners))
