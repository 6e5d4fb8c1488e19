"""One adjustment of camera, sheet and all pieces: sizes, places, depths and their covariance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.laid_out.box import PieceBox
from visualiser.laid_out.piece_observation import (
    SHIFT,
    observe_piece,
    sides_seen,
)
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.adjustment import adjust
from visualiser.rectification.camera.lens_alternatives import lens_alternatives
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.camera.observation import Observation
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState
from visualiser.rectification.camera.reference_observation import TURN, ReferenceObservation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.fit import reference_sides
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference

Array = NDArray[np.float64]

SEARCHES_PX = (7.0, 3.0)
"""How far from where they should be lines are looked for: first, and once the camera is known."""
LEAST_SIDES = 3
"""Fewer sides than this are no piece."""
OWN = SHIFT
"""Parameters of a piece itself: x, y, turn, width, height, depth."""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """The plane and all pieces, measured together.

    Parameters
    ----------
    plane
        The plane, with the camera that explains the pieces too.
    boxes
        The pieces, in the order given, those that were not seen left out.
    kept
        Which of those given they are.
    covariance
        (6N, 6N) of x, y (mm), turn (rad), width, height and depth (mm) of all of them.
    """

    plane: WallPlane
    boxes: tuple[PieceBox, ...]
    kept: tuple[int, ...]
    covariance: Array


def measure_together(
    photo: Photo,
    reference: Reference,
    plane: WallPlane,
    boxes: Sequence[PieceBox],
    lens_profile: LensProfile | None = None,
) -> Measured:
    """Adjust the camera to the reference and to every piece's sides at once.

    Parameters
    ----------
    photo
        The photo.
    reference
        What gives the scale.
    plane
        The plane as the reference alone gives it.
    boxes
        The pieces, to about 7 px.
    lens_profile
        Lens measured beforehand.
    """
    terms = ModelTerms()
    profile = lens_profile if lens_profile and lens_profile.matches(photo) else None
    prior = lens_alternatives(photo, terms, profile)[0].prior
    sides = reference_sides(photo, reference)
    seen = any(len(s) for s in sides) or len(reference.marks_px) > 0
    sheet = ReferenceObservation(reference, sides, True, not seen, terms)
    view = LinearView.whole(photo)
    kept = list(range(len(boxes)))
    now = list(boxes)
    for search in SEARCHES_PX:
        observed = [observe_piece(view, plane, box, search) for box in now]
        good = [k for k, one in enumerate(observed) if sides_seen(one.lines) >= LEAST_SIDES]
        kept, observed = [kept[k] for k in good], [observed[k] for k in good]
        everything: list[Observation] = [sheet, *observed]
        start = CameraState(plane.rotation, plane.translation_mm, plane.lens)
        solution = adjust(start, everything, prior)
        now = [one.measured(own) for one, own in zip(observed, solution.own[1:], strict=True)]
        plane = replace(
            plane,
            lens=solution.camera.lens,
            rotation=solution.camera.rotation,
            translation_mm=solution.camera.translation_mm,
            parameter_covariance=solution.covariance,
            reference_tilt_deg=float(np.degrees(solution.own[0][TURN])),
            tilt_covariance=solution.covariance_with_own(0, TURN)[-1],
        )
    places = []
    before = CAMERA_SIZE + int(solution.own_free[0].sum())
    for free in solution.own_free[1:]:
        places += list(range(before, before + OWN))
        before += int(free.sum())
    covariance = solution.joint[np.ix_(places, places)]
    now = [
        replace(box, depth_sigma_mm=float(np.sqrt(covariance[OWN * k + 5, OWN * k + 5])))
        for k, box in enumerate(now)
    ]
    return Measured(plane, tuple(now), tuple(kept), np.asarray(covariance))
