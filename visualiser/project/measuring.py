"""The wall of a saved job, measured: from its photo and marks, or from its typed size."""

from __future__ import annotations

from visualiser.errors import ProjectError
from visualiser.geometry import Polygon
from visualiser.photo.photo import Photo
from visualiser.project.document import MarksEntry, WallEntry
from visualiser.survey.survey import Furniture, Survey, Zone


def survey_typed(wall: WallEntry, marks: MarksEntry) -> Survey:
    """Survey a wall whose size was typed.

    Raises
    ------
    ProjectError
        If its size was not.
    """
    if wall.width_mm is None or wall.height_mm is None:
        raise ProjectError(
            "Nothing is known of the wall yet.",
            hint="Add a photo of it, or type its width and height.",
        )
    zones = tuple(
        Zone(zone.kind, Polygon(zone.points_mm), zone.name)
        for zone in marks.zones
        if zone.points_mm
    )
    furniture = tuple(
        Furniture(item.kind, Polygon(item.points_mm).bounds, item.name)
        for item in marks.furniture
        if item.points_mm
    )
    return Survey.from_size(wall.width_mm, wall.height_mm, zones, furniture)


def survey_photo(photo: Photo, marks: MarksEntry) -> Survey:
    """Measure a photographed wall.

    Raises
    ------
    ReferenceNotFound, MeasurementError
        If the photo cannot be measured.
    """
    import visualiser as vis

    references = vis.find_references(photo, marks.reference.kind)
    plane = vis.fit_wall_plane(photo, references)
    survey: Survey = vis.survey_wall(photo, plane)
    return survey
