"""Cross-section of a moulding's face: how it stands off the wall from outer edge to lip."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from visualiser.inventory.piece import Moulding, Piece


def face_section(moulding: Moulding) -> NDArray[np.float64]:
    """Points (K, 2) of the face: distance from the outer edge, height above the wall, mm.

    Flat: square to the sides. Bevelled: a narrow flat, then falling towards the picture by a
    third of the depth, at most 8 mm. Rounded: half an ellipse. Usual sections, no source.

    Examples
    --------
    >>> face_section(Moulding(20.0, 30.0, profile="bevelled")).tolist()
    [[0.0, 30.0], [3.0, 30.0], [20.0, 22.0]]
    """
    width, depth = moulding.width_mm, moulding.depth_mm
    if moulding.profile == "bevelled":
        return np.array([[0, depth], [0.15 * width, depth], [width, depth - min(depth * 0.35, 8)]])
    if moulding.profile == "rounded":
        rise = min(0.4 * depth, width / 2)
        angle = np.linspace(0, math.pi, 13)
        across = width / 2 * (1 - np.cos(angle))
        return np.asarray(np.c_[across, depth - rise + rise * np.sin(angle)])
    return np.array([[0, depth], [width, depth]])


def edge_depth_mm(piece: Piece) -> float:
    """How far the outer edge of a piece's front stands off the wall."""
    return float(face_section(piece.moulding)[0, 1]) if piece.moulding else piece.depth_mm


def lip_depth_mm(moulding: Moulding) -> float:
    """How far the moulding's inner edge stands off the wall."""
    return float(face_section(moulding)[-1, 1])


BEHIND_LIP_MM = 6.0
"""A rebate's lip and the glazing in front of a picture: usual sizes, no source."""


def picture_depth_mm(piece: Piece) -> float:
    """How far a piece's picture, or its mat, stands off the wall."""
    if not piece.moulding:
        return piece.depth_mm
    return max(lip_depth_mm(piece.moulding) - BEHIND_LIP_MM, 0.0)
