"""What one photo shows. Millimetres, wall coordinates: x right, y up from the floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from camera import Camera
from numpy.typing import NDArray
from sensor import Sensor

Rng = np.random.Generator
Array = NDArray[np.float64]

SHEET_SIZES_MM = {
    "a4": (210.0, 297.0),  # ISO 216
    "letter": (215.9, 279.4),  # ANSI/ASME Y14.1, 8.5 x 11 in
    "id1": (85.60, 53.98),  # ISO/IEC 7810 ID-1
}
CARD_RADIUS_MM = 3.18  # ISO/IEC 7810


@dataclass(frozen=True)
class Reference:
    """Object of known size on the wall.

    `width_mm` x `height_mm` is the measured outline in the pose shown; for a marker it is the
    outer edge of the black border.
    """

    kind: str
    width_mm: float
    height_mm: float
    centre_mm: tuple[float, float]
    rotation_deg: float  # counter-clockwise as seen
    tape: str = "none"  # 'none', 'top', 'corners'
    bow_mm: float = 0.0
    corner_lift_mm: float = 0.0
    printed: bool = False
    marker_id: int | None = None
    card_mm: float | None = None  # side of the card a marker is printed on

    @property
    def corners_mm(self) -> Array:
        """Corners as it hangs, (4, 2) wall mm: TL, TR, BR, BL."""
        return placed_corners(self.centre_mm, self.width_mm, self.height_mm, self.rotation_deg)


@dataclass(frozen=True)
class Frame:
    """A framed picture as planned and as hung. Sizes are the outside of the moulding."""

    width_mm: float
    height_mm: float
    moulding_mm: float
    depth_mm: float  # front face to wall at the bottom edge
    mat_mm: float
    colour: str
    plan_centre_mm: tuple[float, float]
    offset_mm: tuple[float, float]
    tilt_deg: float  # counter-clockwise as seen
    lean_deg: float  # top edge further from the wall than the bottom edge
    profile: str = "flat"  # 'flat', 'bevelled', 'rounded'
    glazing: str = "clear"  # 'none', 'clear', 'matt'
    mat_colour: str = "#f0ede6"
    hung: bool = True  # False: planned, but left off the wall
    swapped_with: int | None = None  # index of the frame whose place it took
    artwork: str = ""  # sample artwork to show; empty draws one

    @property
    def window_mm(self) -> tuple[float, float]:
        """Width and height of the print that is seen."""
        border = 2 * (self.moulding_mm + self.mat_mm)
        return (self.width_mm - border, self.height_mm - border)

    @property
    def hung_centre_mm(self) -> tuple[float, float]:
        """Centre as hung, wall mm."""
        (x, y), (dx, dy) = self.plan_centre_mm, self.offset_mm
        return (x + dx, y + dy)


@dataclass(frozen=True)
class Fitting:
    """A radiator or window on the photographed wall; its size is the outside."""

    kind: str  # 'radiator', 'window'
    style: str  # radiators: 'ribbed', 'tubes', 'flat'
    centre_mm: tuple[float, float]
    width_mm: float
    height_mm: float
    depth_mm: float  # its front from the wall
    colour: str
    pitch_mm: float = 0.0  # from rib to rib
    bars: int = 0  # level glazing bars in a sash

    @property
    def corners_mm(self) -> Array:
        """Corners (4, 2) wall mm: TL, TR, BR, BL."""
        return placed_corners(self.centre_mm, self.width_mm, self.height_mm, 0)


@dataclass(frozen=True)
class Room:
    """Room size and furnishing. The wall spans x from -width/2 to width/2."""

    width_mm: float
    height_mm: float
    depth_mm: float
    wall: str  # a name of `drawing.WALLS`, or a paint's colour code
    window_side: int  # -1 left, +1 right
    window_from_wall_mm: float
    furniture: str  # 'sofa', 'sideboard', 'none'
    furniture_x_mm: float
    lamp_x_mm: float | None
    lamp_on: bool
    door_x_mm: float | None
    switch_x_mm: float
    socket_x_mm: float
    plant_x_mm: float | None
    distractor: str  # 'none', 'canvas', 'vent'
    distractor_mm: tuple[float, float]
    ceiling_warmth: float
    daylight: float
    shadow_on_reference: bool


@dataclass(frozen=True)
class Spec:
    """One photo."""

    seed: int
    family: str
    room: Room
    references: tuple[Reference, ...]
    frames: tuple[Frame, ...]
    chart_mm: tuple[float, float, float, float] | None  # centre x, y, width, height
    camera: Camera
    sensor: Sensor
    focal_35mm_true: float
    focal_convention: str
    decoys: tuple[tuple[str, float, float], ...] = ()  # kind and centre of what is no reference
    fittings: tuple[Fitting, ...] = ()


def placed_corners(
    centre: tuple[float, float], width: float, height: float, degrees: float
) -> Array:
    """Corners (4, 2), clockwise from top-left as seen, of a turned rectangle."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    local = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * [width / 2, height / 2]
    return np.asarray(local @ np.array([[c, s], [-s, c]]) + centre)
