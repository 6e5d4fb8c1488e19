"""From a photo and its references to the measured wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.findings import Finding
from visualiser.photo.photo import Photo
from visualiser.rectification.adjustment import LensPrior, Solution
from visualiser.rectification.edges import no_samples, sample_side
from visualiser.rectification.evidence import fit_with_lines, gather_lines
from visualiser.rectification.lens import Lens
from visualiser.rectification.marks import Marks
from visualiser.rectification.observed_reference import ReferenceObservation
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.pose import plane_poses
from visualiser.rectification.projection import CameraState
from visualiser.rectification.reference import EdgeSamples, Reference

Array = NDArray[np.float64]

TILT_SIGMA_DEG = 1.5
"""How crooked people tape a sheet by eye, standard uncertainty (common practice, no source)."""
PHONE_FOCAL_35MM = 28.0
"""Focal length assumed of an unknown phone, 35 mm equivalent by the image diagonal."""
UNKNOWN_FOCAL_SIGMA = 0.35
"""Relative uncertainty of that guess: it spans ultra-wide to short tele."""
FULL_FRAME_DIAGONAL_MM = 43.267
K1_SIGMA, K2_SIGMA = 0.04, 0.02
"""Distortion left in a phone's corrected picture."""
CLICK_SIGMA_PX = 1.0
"""A corner clicked by hand."""
CENTRE_SIGMA = 0.005
"""Principal point off the picture's middle, as a fraction of its longer side."""


def fit_wall_plane(
    photo: Photo, references: Sequence[Reference], marks: Marks | None = None
) -> WallPlane:
    """Measure the wall.

    Parameters
    ----------
    photo
        The photo.
    references
        Candidates, best first, as `find_references` gives them, or references made from clicked
        corners.
    marks
        What a person added: lines, taped lengths.

    Returns
    -------
    The plane with its uncertainty and what limits it.

    Raises
    ------
    ReferenceNotFound
        If no candidate convinces.
    MeasurementError
        If the reference cannot be explained by any camera.
    """
    marks = marks or Marks()
    first = _first(references)
    prior = lens_prior(photo)
    sides = reference_sides(photo, first)
    seen = _observe(first, sides, at_origin=True)
    lines = gather_lines(photo, marks, [first.corners_px])
    fits = [
        fit_with_lines(pose, [seen], lines, prior, max(photo.width_px, photo.height_px))
        for pose in _first_poses(first, sides, prior.lens)
    ]
    if not fits:
        raise MeasurementError(
            "The reference's corners do not form the picture of a rectangle.",
            hint="Click its four corners again, top-left first and clockwise.",
        )
    best = min(fits, key=lambda fit: fit.price)
    return _plane(first, best.solution, ())


def lens_prior(photo: Photo) -> LensPrior:
    """Expect what the file says of the lens, or what phones usually have."""
    width, height = photo.width_px, photo.height_px
    if photo.focal_px is not None:
        focal, sigma = photo.focal_px, photo.focal_relative_sigma
    else:
        focal = PHONE_FOCAL_35MM / FULL_FRAME_DIAGONAL_MM * float(np.hypot(width, height))
        sigma = UNKNOWN_FOCAL_SIGMA
    centre = CENTRE_SIGMA * max(width, height)
    lens = Lens(focal, (width - 1) / 2, (height - 1) / 2)
    return LensPrior(lens, np.diag([sigma, K1_SIGMA, K2_SIGMA, centre, centre]) ** 2)


def _first(references: Sequence[Reference]) -> Reference:
    if not references:
        raise ReferenceNotFound(
            "No reference was found in the photo.",
            hint="Photograph the whole sheet flat on the wall, or click its four corners.",
        )
    return references[0]


def reference_sides(photo: Photo, reference: Reference) -> tuple[EdgeSamples, ...]:
    """Edge samples of a reference: those it brings, else those found between its corners."""
    if len(reference.marks_px):
        return tuple(no_samples() for _ in range(4))
    if any(len(s) for s in reference.sides):
        return reference.sides
    corners = reference.corners_px
    sides = [sample_side(photo, corners[i], corners[(i + 1) % 4]) for i in range(4)]
    if all(len(s) for s in sides):
        return tuple(sides)
    return tuple(no_samples() for _ in range(4))


def _observe(
    reference: Reference, sides: tuple[EdgeSamples, ...], *, at_origin: bool
) -> ReferenceObservation:
    seen = any(len(s) for s in sides) or len(reference.marks_px) > 0
    tilt = np.radians(TILT_SIGMA_DEG) if at_origin else np.inf
    return ReferenceObservation(
        reference, sides, at_origin, float(tilt), 0.0 if seen else CLICK_SIGMA_PX
    )


def _first_poses(
    reference: Reference, sides: tuple[EdgeSamples, ...], lens: Lens
) -> list[CameraState]:
    if len(reference.marks_px) >= 4:
        return plane_poses(reference.marks_mm, reference.marks_px, lens)
    return plane_poses(reference.corners_mm, _side_corners(reference, sides), lens)


def _side_corners(reference: Reference, sides: tuple[EdgeSamples, ...]) -> Array:
    """Where the straight sides meet; the given corners where a side is missing."""
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


def _plane(reference: Reference, solution: Solution, findings: tuple[Finding, ...]) -> WallPlane:
    camera, tilt = solution.camera, float(solution.own[0][2])
    c, s = np.cos(tilt), np.sin(tilt)
    corners = reference.corners_mm @ np.array([[c, -s], [s, c]]).T
    plane = WallPlane(
        lens=camera.lens,
        rotation=camera.rotation,
        translation_mm=camera.translation_mm,
        reference_corners_px=reference.corners_px,
        reference_tilt_deg=float(np.degrees(tilt)),
        parameter_covariance=solution.covariance,
        findings=findings,
        level_sigma_deg=float(np.degrees(np.sqrt(solution.own_covariance[0][2, 2]))),
    )
    return replace(plane, reference_corners_px=plane.to_photo(corners))
