"""Where a wall may hide cables, and what on it may catch a passer-by, as the standards say."""

from __future__ import annotations

from visualiser.survey.survey import Zone
from visualiser.units import MM_PER_INCH

POINTS_WITH_CABLES = ("switch", "socket", "thermostat")
CABLE_STRIP_MM = 150.0
"""Width of the strips along a wall's top and angles in which cables may run:
BS 7671:2018, regulation 522.6.202 (i)."""

PROTRUDES_ABOVE_MM = 27 * MM_PER_INCH
PROTRUDES_UP_TO_MM = 80 * MM_PER_INCH
MOST_PROTRUSION_MM = 4 * MM_PER_INCH
"""2010 ADA Standards for Accessible Design, §307.2."""
_HAIR = 1e-6  # 4.00 in typed in inches is not above 4 in


def in_cable_band(
    zone: Zone, x_mm: float, y_mm: float, across_mm: float = 0.0, up_mm: float = 0.0
) -> bool:
    """Whether a point lies straight above, below or beside a switch or the like.

    Parameters
    ----------
    zone
        Any zone; those that bring no cables have no band.
    x_mm, y_mm
        Where a hole is to be made.
    across_mm, up_mm
        How far the hole may be off: the band is wider and taller by so much.

    References
    ----------
    BS 7671:2018, regulation 522.6.202 (i): cables may run level or plumb from a point or accessory.
    """
    if zone.kind not in POINTS_WITH_CABLES:
        return False
    band = zone.polygon.bounds
    return (
        band.left_mm - across_mm <= x_mm <= band.right_mm + across_mm
        or band.bottom_mm - up_mm <= y_mm <= band.top_mm + up_mm
    )


def protrudes(
    lower_edge_mm: float,
    depth_mm: float,
    *,
    above_mm: float = PROTRUDES_ABOVE_MM,
    up_to_mm: float = PROTRUDES_UP_TO_MM,
    most_mm: float = MOST_PROTRUSION_MM,
) -> bool:
    """Whether a hung piece stands too far into a walkway to be found with a cane.

    Parameters
    ----------
    lower_edge_mm
        Height of the lower edge of its front, its leading edge, above the finished floor.
    depth_mm
        How far its front stands off the wall.
    above_mm, up_to_mm, most_mm
        Heights between which a limit holds, and the limit.

    References
    ----------
    2010 ADA Standards, §307.2: leading edges more than 27 in and not more than 80 in above the
    floor protrude 4 in at most. Public circulation paths; advice only in a home.
    """
    return above_mm + _HAIR < lower_edge_mm <= up_to_mm + _HAIR and depth_mm > most_mm + _HAIR
