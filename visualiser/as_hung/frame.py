"""A hung frame as a thin box: wall-side outline, face, depth and lean."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Matrix
from visualiser.inventory.moulding_section import (
    BEHIND_LIP_MM,
    edge_depth_mm,
    face_section,
    lip_depth_mm,
    picture_depth_mm,
)
from visualiser.inventory.piece import Piece

Array = NDArray[np.float64]
SIDES = ("top", "right", "bottom", "left")
LEAN_DEG, LEAN_SIGMA_DEG = 0.6, 0.5
"""A frame on a wire leans a little forward: common practice, no source; only a prior."""
FLAT_MM, FLAT_SIGMA_DEG = 3.0, 0.05
"""What is no thicker than a board cannot lean: it lies on the wall, but for its own bow."""
EASED_MM = 1.5
"""Radius to which a moulding's edges are broken: common practice, no source."""

HUNG_SIGMA_MM, HUNG_SIGMA_DEG = 10.0, 1.0
"""How far people hang pieces off their places and off level: common practice, no source."""
SOUGHT_TIMES = 1.5
"""How much wider a piece is looked for, so that one hung badly is found where it is."""


@dataclass(frozen=True, slots=True)
class InnerEdge:
    """The rectangle inside a frame whose edge is seen best: the mat's window, or the lip.

    Parameters
    ----------
    kind
        ``window``: where the mat leaves the picture free. ``lip``: the moulding's inner edge, where
        there is no mat.
    top_mm, sides_mm, bottom_mm
        How far in it lies.
    height_mm
        How far it stands off the frame's back.
    behind_mm
        How far behind it the picture lies.
    free_mm
        How far out from it the next edge is.
    """

    kind: Literal["window", "lip"]
    top_mm: float
    sides_mm: float
    bottom_mm: float
    height_mm: float
    behind_mm: float
    free_mm: float

    @property
    def uneven_mm(self) -> tuple[float, float]:
        """How much further in than the sides it lies at the top, and at the bottom."""
        return self.top_mm - self.sides_mm, self.bottom_mm - self.sides_mm


@dataclass(frozen=True, slots=True)
class HungFrame:
    """One frame as it hangs, wall mm.

    Parameters
    ----------
    width_mm, height_mm, depth_mm
        Outside size and how far the outer edge of the front stands off its back.
    x_mm, y_mm
        Centre of the outline that its back draws on the wall.
    tilt_deg
        Counter-clockwise as seen.
    lean_deg
        The top edge further from the wall than the bottom edge, about the bottom back edge.
    section
        Points of the moulding's face, (inset mm, height mm), from the outer edge inwards. Empty
        for a square edge at ``depth_mm``.
    inner
        What is seen within the frame; None where nothing is known of it.
    """

    width_mm: float
    height_mm: float
    depth_mm: float
    x_mm: float
    y_mm: float
    tilt_deg: float = 0.0
    lean_deg: float = LEAN_DEG
    section: tuple[tuple[float, float], ...] = ()
    inner: InnerEdge | None = None

    @property
    def face(self) -> tuple[tuple[float, float], ...]:
        """Points of the face, at least its outer edge."""
        return self.section or ((0.0, self.depth_mm),)

    @property
    def lean_prior_deg(self) -> tuple[float, float]:
        """How it leans before it is seen, and the standard uncertainty of that."""
        flat = self.depth_mm <= FLAT_MM
        return (0.0, FLAT_SIGMA_DEG) if flat else (LEAN_DEG, LEAN_SIGMA_DEG)

    @property
    def half_turned_mm(self) -> float:
        """How far in the surface has turned half way from the side to the front.

        An edge is eased: a quarter of a circle; but not that of a print or a board. On a rounded
        face it is the moulding's own curve.
        """
        if self.depth_mm <= FLAT_MM:
            return 0.0
        if self.has_arris:
            return EASED_MM * (1 - math.sqrt(0.5))
        inset, height = np.array(self.face).T
        steep = np.diff(height) > np.diff(inset)
        return float(inset[int(steep.argmin())])

    @property
    def has_arris(self) -> bool:
        """Whether side and face meet in a sharp edge, rather than in a curve that rises on."""
        return len(self.face) < 2 or self.face[1][1] <= self.face[0][1]

    def corners_xyz_mm(self, *, front: bool) -> Matrix:
        """Corners (4, 3) of the front face or of the back: top-left, clockwise as seen."""
        place = np.array([self.x_mm, self.y_mm, self.tilt_deg, self.lean_deg])
        return box_corners(self, place, self.depth_mm if front else 0.0)


def hung_frame(piece: Piece, centre_mm: tuple[float, float]) -> HungFrame:
    """Take a piece as a box that hangs level about a centre, with its moulding's section."""
    section: tuple[tuple[float, float], ...] = ()
    if piece.moulding:
        section = tuple((float(x), float(z)) for x, z in face_section(piece.moulding))
    frame = HungFrame(
        piece.width_mm,
        piece.height_mm,
        edge_depth_mm(piece),
        *centre_mm,
        section=section,
        inner=inner_edge(piece),
    )
    return replace(frame, lean_deg=frame.lean_prior_deg[0])


def inner_edge(piece: Piece) -> InnerEdge | None:
    """Tell which rectangle within a piece shows best; None without moulding and mat."""
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    if piece.mat:
        mat = piece.mat
        sizes = (rail + mat.top_mm, rail + mat.sides_mm, rail + mat.bottom_mm)
        free = min(mat.top_mm, mat.sides_mm, mat.bottom_mm)
        return InnerEdge("window", *sizes, picture_depth_mm(piece), 0.0, free)
    if piece.moulding and rail > 0:
        lip = lip_depth_mm(piece.moulding)
        return InnerEdge("lip", rail, rail, rail, lip, min(BEHIND_LIP_MM, lip), rail)
    return None


def box_corners(
    frame: HungFrame,
    place: Array,
    height_mm: float,
    inset_mm: float = 0.0,
    uneven_mm: tuple[float, float] = (0.0, 0.0),
) -> Matrix:
    """Corners (4, 3) of a rectangle on a frame at ``place`` = (x mm, y mm, tilt deg, lean deg).

    Parameters
    ----------
    frame
        Its size counts, not its place.
    place
        Where it hangs.
    height_mm
        How far the rectangle stands off the frame's back: 0 is the outline on the wall.
    inset_mm
        Taken off all four sides.
    uneven_mm
        Taken off the top, and the bottom, besides.
    """
    centre_x, centre_y, tilt, lean = place
    half, height, z = frame.width_mm / 2 - inset_mm, frame.height_mm, height_mm
    c, s = math.cos(math.radians(lean)), math.sin(math.radians(lean))
    # Turned about the bottom back edge by the lean, then about the centre by the tilt.
    ends = height - inset_mm - uneven_mm[0], inset_mm + uneven_mm[1]
    high, low = ((y * c - z * s - height / 2, y * s + z * c) for y in ends)
    ct, st = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
    return np.array(
        [
            [centre_x + ct * x - st * y, centre_y + st * x + ct * y, out]
            for x, (y, out) in ((-half, high), (half, high), (half, low), (-half, low))
        ]
    )


def corners_by_place(
    frame: HungFrame,
    place: Array,
    height_mm: float,
    inset_mm: float,
    uneven_mm: tuple[float, float] = (0.0, 0.0),
) -> Array:
    """Differentiate `box_corners`: (4, 3, 6) by x, y, tilt (deg), lean (deg), height and inset."""
    tilt, lean = math.radians(place[2]), math.radians(place[3])
    half = frame.width_mm / 2 - inset_mm
    c, s, ct, st = math.cos(lean), math.sin(lean), math.cos(tilt), math.sin(tilt)
    turn = np.array([[ct, -st], [st, ct]])
    degree = math.pi / 180
    out = np.zeros((4, 3, 6))
    out[:, 0, 0] = out[:, 1, 1] = 1.0
    top = frame.height_mm - inset_mm - uneven_mm[0], -1.0
    bottom = inset_mm + uneven_mm[1], 1.0
    corners = ((-half, 1.0, top), (half, -1.0, top), (half, -1.0, bottom), (-half, 1.0, bottom))
    for k, (x, inward, (along, up)) in enumerate(corners):
        y = along * c - height_mm * s - frame.height_mm / 2
        out[k, :2, 2] = degree * (turn @ (-y, x))
        out[k, :2, 3] = turn @ (0.0, -along * s - height_mm * c)
        out[k, 2, 3] = along * c - height_mm * s
        out[k, :, 3] *= degree
        out[k, :2, 4], out[k, 2, 4] = turn @ (0.0, -s), c
        out[k, :2, 5], out[k, 2, 5] = turn @ (inward, up * c), up * s
    return out


def names(pieces: Sequence[str]) -> str:
    """Join names as in a sentence."""
    return " and ".join([", ".join(pieces[:-1]), pieces[-1]] if len(pieces) > 1 else list(pieces))
