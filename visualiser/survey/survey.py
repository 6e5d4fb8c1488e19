"""The surveyed wall: datum, usable outline, keep-clear zones and furniture, in wall mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import Covariances, PointsMm, PointsPx, Polygon, Rect
from visualiser.rectification.plane import WallPlane
from visualiser.survey.studs import NO_STUDS, Studs

ZoneKind = Literal[
    "switch", "socket", "thermostat", "radiator", "window", "door", "pipe", "beam", "other"
]
FurnitureKind = Literal["sofa", "bed", "cot", "sideboard", "table", "desk", "chair", "other"]


@dataclass(frozen=True, slots=True)
class Zone:
    """Part of the wall that must stay clear, survey mm."""

    kind: ZoneKind
    polygon: Polygon
    name: str = ""


@dataclass(frozen=True, slots=True)
class Furniture:
    """Something that stands before the wall: its silhouette's rectangle, survey mm."""

    kind: FurnitureKind
    rect: Rect
    name: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """Everything known of one wall. Survey mm: x right from the side datum, y up from the floor.

    Parameters
    ----------
    outline
        The usable wall.
    plane
        The measurement behind it; None when the wall's size was typed, without a photo.
    datum_mm
        Where the survey's (0, 0) lies in the plane's wall mm.
    floor_sigma_mm
        Standard uncertainty of the floor's height.
    floor_known
        Whether y = 0 is really the finished floor.
    zones, furniture
        What to keep clear of and what to hang above.
    findings
        What limits the survey.
    studs
        Where studs were found behind the wall's board.
    """

    outline: Polygon
    plane: WallPlane | None = None
    datum_mm: tuple[float, float] = (0.0, 0.0)
    floor_sigma_mm: float = 0.0
    floor_known: bool = True
    zones: tuple[Zone, ...] = ()
    furniture: tuple[Furniture, ...] = ()
    findings: tuple[Finding, ...] = ()
    studs: Studs = NO_STUDS

    @classmethod
    def from_size(
        cls,
        width_mm: float,
        height_mm: float,
        zones: tuple[Zone, ...] = (),
        furniture: tuple[Furniture, ...] = (),
    ) -> Survey:
        """Survey a wall without a photo, from its typed width and height."""
        outline = Polygon.from_rect(Rect(0.0, 0.0, width_mm, height_mm))
        return cls(outline=outline, zones=zones, furniture=furniture)

    def to_photo(self, points_mm: PointsMm) -> PointsPx:
        """Survey mm (N, 2) to photo px (N, 2)."""
        return self._plane().to_photo(np.asarray(points_mm, float) + self.datum_mm)

    def project(self, points_xyz_mm: PointsMm) -> PointsPx:
        """Room points (N, 3) in survey mm, z out of the wall, to photo px (N, 2)."""
        return self._plane().project(np.asarray(points_xyz_mm, float) + [*self.datum_mm, 0.0])

    def to_wall(self, points_px: PointsPx) -> PointsMm:
        """Photo px (N, 2) to survey mm (N, 2)."""
        return np.asarray(self._plane().to_wall(points_px) - self.datum_mm)

    def covariance(self, points_mm: PointsMm) -> Covariances:
        """Covariance (N, 2, 2) of survey points, mm², the floor's own uncertainty included."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        if self.plane is None:
            out = np.zeros((len(points), 2, 2))
        else:
            out = self.plane.covariance(points + self.datum_mm).copy()
        out[:, 1, 1] += self.floor_sigma_mm**2
        return out

    def _plane(self) -> WallPlane:
        if self.plane is None:
            raise ValueError("this survey was typed, it has no photo to map to")
        return self.plane
