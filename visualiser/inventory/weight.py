"""What a framed work weighs: as weighed, or estimated from its sizes and what it is made of.

An estimate is marked as one wherever it is shown. It errs to the heavy side where the material is
not known: glazing counts as glass, though acrylic has half its weight.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from visualiser.inventory.piece import Piece
from visualiser.statistics import COVERAGE_95

GLASS_KG_M3 = 2500.0
"""Float glass: EN 572-1, 2.5 kg per m² and mm of thickness."""
ACRYLIC_KG_M3 = 1190.0
"""Cast acrylic sheet (PMMA): 1.19 g/cm³ in materials tables."""
FIBREBOARD_KG_M3 = 700.0
"""MDF: 600 to 800 kg/m³ typically."""
HARDWOOD_KG_M3 = 706.0
"""Red oak, specific gravity 0.63 (Wood Handbook) with 12 % of moisture: 1000 × 0.63 × 1.12."""
SOFTWOOD_KG_M3 = 538.0
"""Douglas-fir, specific gravity 0.48, likewise: stretcher bars."""
ALUMINIUM_KG_M3 = 2700.0

# Usual build of a framed work: common practice, no source.
GLASS_MM, GLASS_UPPER_MM = 2.0, 3.0
"""Of a picture's pane, usually and at most: taken where nobody says how thick it is."""
MIRROR_MM, MIRROR_UPPER_MM = 5.0, 6.0
"""Of a mirror: 4 and 6 mm are what is sold, so 5 ± 1."""
BACKING_MM = 3.0
BOARDS_KG_M2 = 1.0  # mat, mount and print together
CANVAS_KG_M2 = 0.5
STRETCHER_MM = 40.0
_SOLID_SHARE = 0.75  # of a wooden moulding's outline, less rebate and profile
_METAL_SHARE = 0.15  # a metal moulding is a thin hollow section
_METAL_FINISHES = ("brass", "silver")
RELATIVE_SIGMA = 0.25
"""Standard uncertainty of an estimate, as a share of it: our own judgement of the build."""
_WEIGHED_SIGMA = 0.05  # bathroom or luggage scales, unless the person says otherwise


@dataclass(frozen=True, slots=True)
class Weight:
    """Weight of one piece.

    Parameters
    ----------
    kg, sigma_kg
        Best value and its standard uncertainty.
    estimated
        Whether it was worked out rather than weighed.
    parts_kg
        Name and weight of each part of an estimate, heaviest first.
    upper_kg
        Estimate with the thickest usual glass, where nobody says how thick it is.
    glass_m2
        Area of its glass.
    """

    kg: float
    sigma_kg: float
    estimated: bool
    parts_kg: tuple[tuple[str, float], ...] = ()
    upper_kg: float = 0.0
    glass_m2: float = 0.0

    @property
    def heavy_kg(self) -> float:
        """Upper end of the 95 % interval, or with the thickest usual glass if that is more."""
        return max(self.kg + COVERAGE_95 * self.sigma_kg, self.upper_kg)


def pane_kg(width_mm: float, height_mm: float, thickness_mm: float, density_kg_m3: float) -> float:
    """Weight of a flat sheet.

    Examples
    --------
    A 16 × 20 in pane of 2 mm glass:

    >>> round(pane_kg(406.4, 508.0, 2.0, GLASS_KG_M3), 3)
    1.032
    """
    return width_mm * height_mm * thickness_mm * density_kg_m3 * 1e-9


def piece_weight(piece: Piece) -> Weight:
    """Weigh a piece: its own weight where it was given, an estimate from its build otherwise."""
    width, height = _pane_mm(piece)
    glass_m2 = width * height * 1e-6 if piece.has_glass else 0.0
    if piece.weight_kg is not None:
        sigma = piece.weight_sigma_kg
        if sigma is None:
            sigma = _WEIGHED_SIGMA * piece.weight_kg
        return Weight(piece.weight_kg, sigma, estimated=False, glass_m2=glass_m2)
    mirror = piece.kind == "mirror"
    usual = piece.glazing_mm or (MIRROR_MM if mirror else GLASS_MM)
    upper = piece.glazing_mm or (MIRROR_UPPER_MM if mirror else GLASS_UPPER_MM)
    parts = sorted(_parts_kg(piece, usual), key=lambda part: -part[1])
    kg = math.fsum(value for _, value in parts)
    thick = math.fsum(value for _, value in _parts_kg(piece, upper))
    return Weight(
        kg,
        RELATIVE_SIGMA * kg,
        estimated=True,
        parts_kg=tuple(parts),
        upper_kg=thick,
        glass_m2=glass_m2,
    )


def _pane_mm(piece: Piece) -> tuple[float, float]:
    """Width and height of glass and boards: they reach into the rebate on every side."""
    moulding = piece.moulding
    under = max(moulding.width_mm - moulding.rebate_mm, 0.0) if moulding else 0.0
    return piece.width_mm - 2 * under, piece.height_mm - 2 * under


def _parts_kg(piece: Piece, glass_mm: float) -> list[tuple[str, float]]:
    moulding = piece.moulding
    width, height = _pane_mm(piece)
    if moulding is None:
        if piece.kind == "mirror":  # a bare pane on its backing
            return [
                ("glass", pane_kg(width, height, glass_mm, GLASS_KG_M3)),
                ("backing", pane_kg(width, height, BACKING_MM, FIBREBOARD_KG_M3)),
            ]
        bars = _rails_mm3(piece.width_mm, piece.height_mm, STRETCHER_MM, piece.depth_mm)
        area_m2 = piece.width_mm * piece.height_mm * 1e-6
        return [
            ("stretcher", bars * _SOLID_SHARE * SOFTWOOD_KG_M3 * 1e-9),
            ("canvas", area_m2 * CANVAS_KG_M2),
        ]
    rails = _rails_mm3(piece.width_mm, piece.height_mm, moulding.width_mm, moulding.depth_mm)
    if moulding.finish in _METAL_FINISHES:
        parts = [("moulding", rails * _METAL_SHARE * ALUMINIUM_KG_M3 * 1e-9)]
    else:
        parts = [("moulding", rails * _SOLID_SHARE * HARDWOOD_KG_M3 * 1e-9)]
    parts.append(("backing", pane_kg(width, height, BACKING_MM, FIBREBOARD_KG_M3)))
    if piece.kind == "picture":
        parts.append(("print and boards", width * height * 1e-6 * BOARDS_KG_M2))
    if piece.has_glass:
        parts.append(("glass", pane_kg(width, height, glass_mm, GLASS_KG_M3)))
    return parts


def _rails_mm3(width_mm: float, height_mm: float, face_mm: float, depth_mm: float) -> float:
    """Volume of four mitred rails: their centre line times their section."""
    face = min(face_mm, width_mm / 2, height_mm / 2)
    return 2 * (width_mm + height_mm - 2 * face) * face * depth_mm
