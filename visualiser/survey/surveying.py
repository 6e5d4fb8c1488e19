"""From the measured plane to the survey: datum, floor and usable wall."""

from __future__ import annotations

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import Polygon, Rect
from visualiser.photo.photo import Photo
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import WallPlane
from visualiser.survey.face_on import FaceOn, face_on
from visualiser.survey.floor import find_floor
from visualiser.survey.outline import shown_wall, usable_wall
from visualiser.survey.survey import Survey
from visualiser.survey.wall_ends import WallEnds, wall_ends

VIEW_MM_PER_PX = 4.0
BELOW_MM, ABOVE_MM = 2300.0, 2400.0
"""How far below and above the reference's middle a wall is looked at: it hangs at eye height."""


def whole_wall(photo: Photo, plane: WallPlane) -> FaceOn | None:
    """All of a wall that a photo shows, face on, in the plane's mm; None if hardly any is seen."""
    shown = shown_wall(plane, photo.width_px, photo.height_px)
    middle = float(plane.to_wall(plane.reference_corners_px)[:, 1].mean())
    (left, low), (right, high) = shown.min(axis=0), shown.max(axis=0)
    bottom, top = max(low, middle - BELOW_MM), min(high, middle + ABOVE_MM)
    if min(right - left, top - bottom) < 20 * VIEW_MM_PER_PX:
        return None
    rect = Rect(float(left), float(bottom), float(right - left), float(top - bottom))
    return face_on(photo, Survey(Polygon.from_rect(rect), plane), rect, VIEW_MM_PER_PX)


def survey_wall(photo: Photo, plane: WallPlane, marks: Marks | None = None) -> Survey:
    """Survey a measured wall.

    The survey's y = 0 is the finished floor where it is known, else the middle of the reference;
    its x = 0 is the wall's left corner where it is seen, else the middle of the reference.

    Parameters
    ----------
    photo
        The photo.
    plane
        Its measured wall.
    marks
        What a person added: a typed height, clicked floor points.

    Returns
    -------
    The survey, with what is uncertain of it among its findings.
    """
    view, reference = whole_wall(photo, plane), plane.to_wall(plane.reference_corners_px)
    floor = find_floor(view, plane, marks or Marks())
    ends = WallEnds() if view is None else wall_ends(view, reference)
    outline = usable_wall(
        plane, photo.width_px, photo.height_px, None if floor is None else floor.y_mm, ends
    )
    left = ends.left_mm
    findings: tuple[Finding, ...] = plane.findings
    if floor is None:
        findings += (
            Finding(
                "advice",
                "The floor is not known: heights are measured from the middle of the reference.",
                "Type the height of the reference's lower edge above the floor, or mark where "
                "the wall meets the floor.",
                "floor-unknown",
            ),
        )
    else:
        findings += floor.findings
    if left is None:
        findings += (
            Finding(
                "note",
                "No left corner of the wall is seen: positions across are measured from the "
                "middle of the reference.",
                "Mark in the photo the side to measure from; or mark that middle on the wall, "
                "above the group, before the reference comes down, and every hook before a picture "
                "hides it.",
                "side-from-reference",
            ),
        )
    datum = (0.0 if left is None else left, 0.0 if floor is None else floor.y_mm)
    shifted = np.array(outline.points_mm) - datum
    return Survey(
        outline=Polygon(tuple((float(x), float(y)) for x, y in shifted)),
        plane=plane,
        datum_mm=datum,
        floor_sigma_mm=0.0 if floor is None else floor.sigma_mm,
        floor_known=floor is not None,
        findings=findings,
    )
