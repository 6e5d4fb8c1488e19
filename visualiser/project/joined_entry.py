"""The wall that several photos showed together, as a saved job holds it."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Self

import numpy as np
from pydantic import Field, model_validator

from visualiser.findings import Finding, Severity
from visualiser.project.entries import Entry, FileEntry, Number, Point, Size
from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    FLIP,
    Lens,
    rotation_from_vector,
    vector_from_rotation,
)
from visualiser.rectification.joined.wall import MOST
from visualiser.rectification.plane import WallPlane

_Row = Annotated[
    tuple[float, ...], Field(min_length=CAMERA_SIZE, max_length=CAMERA_SIZE, fail_fast=True)
]


class SaidEntry(Entry):
    """A finding of the joining, in words as they were found."""

    severity: Severity
    text: Annotated[str, Field(max_length=600)]
    hint: Annotated[str, Field(max_length=600)] = ""
    code: Annotated[str, Field(max_length=60)] = ""


_Ratio = Annotated[float, Field(ge=-10, le=10)]
_Vector = tuple[Number, Number, Number]


class ViewEntry(Entry):
    """Where one of the photos was taken from, in the wall's mm, and through which lens."""

    turn: tuple[_Ratio, _Ratio, _Ratio]
    shift_mm: _Vector
    focal_px: Size
    centre_px: Point
    k1: _Ratio = 0.0
    k2: _Ratio = 0.0

    @classmethod
    def from_plane(cls, plane: WallPlane) -> Self:
        """Entry of the wall as one photo shows it."""
        turn, lens = vector_from_rotation(plane.rotation), plane.lens
        return cls.model_validate(
            {
                "turn": tuple(turn.tolist()),
                "shift_mm": tuple(plane.translation_mm.tolist()),
                "focal_px": lens.focal_px,
                "centre_px": (lens.centre_x_px, lens.centre_y_px),
                "k1": lens.k1,
                "k2": lens.k2,
            }
        )

    def plane(self, joined: WallPlane) -> WallPlane:
        """Wall as this photo shows it, to draw in: how well it is known is the joined one's."""
        plane = replace(
            joined,
            lens=Lens(self.focal_px, *self.centre_px, self.k1, self.k2),
            rotation=rotation_from_vector(np.array(self.turn)),
            translation_mm=np.array(self.shift_mm),
        )
        corners = joined.to_wall(joined.reference_corners_px)
        return replace(plane, reference_corners_px=plane.to_photo(corners))


class JoinedEntry(Entry):
    """Photos that the job's picture of the wall was made from, and the wall of that picture.

    Several of a wide wall; one of a wall beyond a corner.

    The picture is straight on: as if taken square to the wall by a lens without distortion.
    """

    photos: Annotated[tuple[FileEntry, ...], Field(min_length=1, max_length=MOST, fail_fast=True)]
    views: Annotated[tuple[ViewEntry, ...], Field(max_length=MOST, fail_fast=True)] = ()
    focal_px: Size
    centre_px: Point
    camera_mm: tuple[Number, Number, Size]
    reference_corners_px: tuple[Point, Point, Point, Point]
    reference_tilt_deg: Annotated[float, Field(ge=-180, le=180)]
    level_sigma_deg: Annotated[float, Field(ge=0, le=180)]
    left_over_px: Annotated[float, Field(ge=0, le=1e5)]
    covariance: Annotated[
        tuple[_Row, ...], Field(min_length=CAMERA_SIZE, max_length=CAMERA_SIZE, fail_fast=True)
    ]
    findings: Annotated[tuple[SaidEntry, ...], Field(max_length=50, fail_fast=True)] = ()

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if len(self.views) not in (0, len(self.photos)):
            raise ValueError("there must be as many views as photos, or none")
        covariance = np.array(self.covariance)
        scale = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
        alike = covariance / np.outer(scale, scale)
        if not np.allclose(alike, alike.T, atol=1e-6) or np.linalg.eigvalsh(alike).min() < -1e-6:
            raise ValueError("the covariance of a joined wall must be symmetric and not negative")
        return self

    @classmethod
    def from_plane(
        cls,
        plane: WallPlane,
        photos: tuple[FileEntry, ...],
        in_photos: tuple[WallPlane, ...] = (),
    ) -> Self:
        """Entry of the straight-on picture's plane, and of the wall as each photo shows it.

        Raises
        ------
        ValueError
            If the plane is not seen straight on.
        """
        if not np.allclose(plane.rotation, FLIP):
            raise ValueError("the wall of a joined picture is seen straight on")
        x, y, z = plane.camera_mm.tolist()
        return cls.model_validate(
            {
                "photos": photos,
                "views": tuple(ViewEntry.from_plane(one) for one in in_photos),
                "focal_px": plane.lens.focal_px,
                "centre_px": (plane.lens.centre_x_px, plane.lens.centre_y_px),
                "camera_mm": (x, y, z),
                "reference_corners_px": [tuple(c) for c in plane.reference_corners_px.tolist()],
                "reference_tilt_deg": plane.reference_tilt_deg,
                "level_sigma_deg": plane.level_sigma_deg,
                "left_over_px": plane.left_over_px,
                "covariance": [tuple(row) for row in plane.parameter_covariance.tolist()],
                "findings": [
                    SaidEntry(severity=f.severity, text=str(f.text), hint=str(f.hint), code=f.code)
                    for f in plane.findings
                ],
            }
        )

    def plane(self) -> WallPlane:
        """Wall of the straight-on picture."""
        return WallPlane(
            lens=Lens(self.focal_px, *self.centre_px),
            rotation=FLIP,
            translation_mm=-FLIP @ np.array(self.camera_mm),
            reference_corners_px=np.array(self.reference_corners_px),
            reference_tilt_deg=self.reference_tilt_deg,
            parameter_covariance=np.array(self.covariance),
            findings=tuple(Finding(f.severity, f.text, f.hint, f.code) for f in self.findings),
            level_sigma_deg=self.level_sigma_deg,
            flatness_sigma_mm=0.0,
            left_over_px=self.left_over_px,
        )
