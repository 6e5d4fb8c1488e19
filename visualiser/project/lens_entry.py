"""The phone's lens that a saved job was measured with."""

from __future__ import annotations

from typing import Annotated, Self

import numpy as np
from pydantic import Field, model_validator

from visualiser.project.entries import FARTHEST, Entry, Point, Size, Text
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.camera.projection import Lens

_Ratio = Annotated[float, Field(ge=-10, le=10)]
_Row = tuple[float, float, float, float, float]


class LensEntry(Entry):
    """A phone's lens, measured on photos of the printed target; the fields of ``LensProfile``."""

    camera: Annotated[Text, Field(min_length=1)]
    photos: Annotated[int, Field(ge=3, le=1000)]
    stated_focal_px: Size | None = None
    width_px: Annotated[int, Field(ge=1, le=FARTHEST)]
    height_px: Annotated[int, Field(ge=1, le=FARTHEST)]
    focal_px: Size
    centre_px: Point
    k1: _Ratio
    k2: _Ratio
    covariance: tuple[_Row, _Row, _Row, _Row, _Row]
    rms_px: Annotated[float, Field(ge=0, le=1000)]
    k3: _Ratio = 0.0
    p1: _Ratio = 0.0
    p2: _Ratio = 0.0
    fisheye: bool = False
    left_over_px: Annotated[float, Field(ge=0, le=1000)] = 0.0
    used: bool = True

    @model_validator(mode="after")
    def _possible(self) -> Self:
        covariance = np.array(self.covariance)
        scale = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
        if not np.allclose(covariance, covariance.T, rtol=1e-6, atol=1e-12 * scale.max() ** 2) or (
            np.linalg.eigvalsh(covariance / np.outer(scale, scale)).min() <= 0
        ):
            raise ValueError("the covariance of a lens must be symmetric and positive")
        return self

    @classmethod
    def from_profile(cls, profile: LensProfile, photos: int) -> Self:
        """Entry of a profile made from so many photos."""
        lens = profile.lens
        return cls.model_validate(
            {
                "camera": profile.camera,
                "photos": photos,
                "stated_focal_px": profile.stated_focal_px,
                "width_px": profile.width_px,
                "height_px": profile.height_px,
                "focal_px": lens.focal_px,
                "centre_px": (lens.centre_x_px, lens.centre_y_px),
                "k1": lens.k1,
                "k2": lens.k2,
                "covariance": profile.covariance.tolist(),
                "rms_px": profile.rms_px,
                "k3": lens.k3,
                "p1": lens.p1,
                "p2": lens.p2,
                "fisheye": lens.fisheye,
                "left_over_px": profile.left_over_px,
            }
        )

    def profile(self) -> LensProfile:
        """Profile to measure with."""
        return LensProfile(
            self.camera,
            self.stated_focal_px,
            self.width_px,
            self.height_px,
            Lens(
                self.focal_px,
                *self.centre_px,
                self.k1,
                self.k2,
                self.k3,
                self.p1,
                self.p2,
                self.fisheye,
            ),
            np.array(self.covariance),
            self.rms_px,
            self.left_over_px,
        )
