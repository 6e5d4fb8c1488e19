"""One adjustment of camera, sheet and all pieces: sizes, places, depths and their covariance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.laid_out.box import PieceBox
from visualiser.laid_out.close_up import look_closely
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

OUTLINE_MM, OUTLINE_PX = 8.0, 7.0
"""How far from where they should be outlines are looked for at first: what a top view's samples,
and a camera known by the reference alone, leave them off by."""
KNOWN_PX = 3.0
"""The same of all lines once the camera is known, and each piece's depth is read again."""
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
    usual: tuple[float, float],
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
        The pieces, to about 8 mm.
    usual
        Depth that is expected of them, and its standard uncertainty, mm.
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
    for outlines_only in (True, False):
        if outlines_only:
            mm_px = plane.mm_per_px(np.array([[box.x_mm, box.y_mm] for box in now]))
            reach = np.maximum(OUTLINE_MM / mm_px, OUTLINE_PX)
        else:
            now = [look_closely(photo, plane, box, usual) for box in now]
            reach = np.full(len(now), KNOWN_PX)
        observed = [
            observe_piece(view, plane, box, float(search), outlines_only=outlines_only)
            for box, search in zip(now, reach, strict=True)
        ]
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
