"""What is read off a photo of pieces laid out: each with its size, its place and its picture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsPx, frozen
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece
from visualiser.rectification.plane import WallPlane
from visualiser.statistics import COVERAGE_95

X, Y, TURN, WIDTH, HEIGHT, DEPTH = range(6)


@dataclass(frozen=True, slots=True, eq=False)
class LaidPiece:
    """One piece as it was laid.

    Parameters
    ----------
    id
        ``p1``, ``p2``, … in reading order.
    width_mm, height_mm, depth_mm
        Outside size; how far its front stands off the floor or wall.
    x_mm, y_mm
        Its centre: x right, y up, from the lower left corner of the group.
    tilt_deg
        How far it lies askew in the group, counter-clockwise.
    covariance
        (6, 6) of x, y (mm), turn (rad), width, height and depth (mm).
    corners_px
        (4, 2) corners of its front in the photo.
    confidence
        How sure it is that this is a piece, 0 to 1.
    rail_mm
        Width of the moulding; 0 for what has no frame.
    mat_mm
        Visible mat at the top, right, bottom and left; zeros without one.
    colour, mat_colour
        Of moulding and mat, ``#rrggbb``.
    artwork
        What shows in the window, squared up and in neutral light; None where it could not be cut.
    findings
        Doubts about this piece.
    """

    id: str
    width_mm: float
    height_mm: float
    depth_mm: float
    x_mm: float
    y_mm: float
    tilt_deg: float
    covariance: Matrix
    corners_px: PointsPx
    confidence: float = 1.0
    rail_mm: float = 0.0
    mat_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    colour: str = "#808080"
    mat_colour: str = "#f4f1ea"
    artwork: Artwork | None = None
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "covariance", frozen(self.covariance, (6, 6)))
        object.__setattr__(self, "corners_px", frozen(self.corners_px, (4, 2)))

    @property
    def size_half_width_mm(self) -> tuple[float, float]:
        """95 % half-widths of width and height."""
        spread = COVERAGE_95 * np.sqrt(np.diag(self.covariance))
        return float(spread[WIDTH]), float(spread[HEIGHT])

    @property
    def place_half_width_mm(self) -> tuple[float, float]:
        """95 % half-widths of the centre's x and y, beside the reference's centre."""
        spread = COVERAGE_95 * np.sqrt(np.diag(self.covariance))
        return float(spread[X]), float(spread[Y])

    def as_piece(self) -> Piece:
        """Turn it into a piece of the inventory, sizes in whole millimetres."""
        width, height = round(self.width_mm), round(self.height_mm)
        if self.rail_mm <= 0:
            return Piece(
                self.id, width, height, moulding=None, glazing="none",
                artwork=self.artwork, depth_mm=round(self.depth_mm),
            )  # fmt: skip
        moulding = Moulding(
            round(self.rail_mm), round(self.depth_mm), finish="custom", colour=self.colour
        )
        top, right, bottom, left = self.mat_mm
        sides = (right + left) / 2
        mat = None
        if min(top, sides, bottom) > 0:
            mat = Mat(round(top), round(sides), round(bottom), colour=self.mat_colour)
        return Piece(self.id, width, height, moulding=moulding, mat=mat, artwork=self.artwork)


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Pieces found on a floor or wall.

    Parameters
    ----------
    pieces
        In reading order: rows from the top, each from the left.
    plane
        The floor or wall, measured again with the pieces' own sides.
    turn_deg
        How far the group is turned against the reference's edges, counter-clockwise.
    findings
        What was left out, what is in doubt, and what to do about it.
    """

    pieces: tuple[LaidPiece, ...]
    plane: WallPlane
    turn_deg: float = 0.0
    findings: tuple[Finding, ...] = field(default=())

    def corners(self, piece: LaidPiece) -> NDArray[np.float64]:
        """Corners (4, 2) of a piece in the group's own mm."""
        w, h = piece.width_mm / 2, piece.height_mm / 2
        c, s = np.cos(np.radians(piece.tilt_deg)), np.sin(np.radians(piece.tilt_deg))
        local = np.array([[-w, h], [w, h], [w, -h], [-w, -h]])
        return np.asarray(local @ np.array([[c, -s], [s, c]]).T + [piece.x_mm, piece.y_mm])
