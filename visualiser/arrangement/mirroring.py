"""A wall with left and right exchanged.

The solver always works on the one of a wall and its mirror image that comes first in a fixed
order, so a mirrored wall gets mirrored proposals exactly.
"""

from __future__ import annotations

from dataclasses import replace

from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Survey

Signature = list[tuple[float | str, ...]]


def _axis_sum(survey: Survey) -> float:
    bounds = survey.outline.bounds
    return bounds.left_mm + bounds.right_mm


def mirrored_polygon(polygon: Polygon, axis_sum_mm: float) -> Polygon:
    """Mirror a polygon about a plumb line, keeping the sense of its corners."""
    return Polygon(tuple((axis_sum_mm - x, y) for x, y in reversed(polygon.points_mm)))


def mirrored_survey(survey: Survey) -> Survey:
    """Mirror a wall about the middle of its outline. It has no photo any more."""
    total = _axis_sum(survey)
    return replace(
        survey,
        plane=None,
        outline=mirrored_polygon(survey.outline, total),
        zones=tuple(replace(z, polygon=mirrored_polygon(z.polygon, total)) for z in survey.zones),
        furniture=tuple(
            replace(
                f,
                rect=Rect(total - f.rect.right_mm, f.rect.y_mm, f.rect.width_mm, f.rect.height_mm),
            )
            for f in survey.furniture
        ),
    )


def prefers_mirror(survey: Survey) -> bool:
    """Whether the solver should work on the mirror image of this wall."""
    return _signature(mirrored_survey(survey)) < _signature(survey)


def _signature(survey: Survey) -> Signature:
    """Shapes of a wall in an order that does not depend on how they are listed."""
    left = survey.outline.bounds.left_mm
    scale = max(survey.outline.bounds.width_mm, 1e-9)

    def corners(kind: str, polygon: Polygon) -> tuple[float | str, ...]:
        points = sorted(
            (round((x - left) / scale, 9), round(y / scale, 9)) for x, y in polygon.points_mm
        )
        return (kind, *(v for point in points for v in point))

    shapes = [corners("0 outline", survey.outline)]
    shapes += [corners(f"1 {z.kind}", z.polygon) for z in survey.zones]
    shapes += [corners(f"2 {f.kind}", Polygon.from_rect(f.rect)) for f in survey.furniture]
    return sorted(shapes)
