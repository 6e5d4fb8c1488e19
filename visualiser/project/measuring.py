"""The wall of a saved job, measured: from its photo and marks, or from its typed size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from visualiser.errors import ProjectError
from visualiser.geometry import PointsPx, Polygon
from visualiser.photo.photo import Photo
from visualiser.project.wall_entries import MarksEntry, ReferenceEntry, WallEntry
from visualiser.rectification.kinds import make_of, reference_kind
from visualiser.rectification.marks import PointPx
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference
from visualiser.survey.survey import Furniture, Survey, Zone

Outline = tuple[PointPx, ...]


def references_of(photo: Photo, entry: ReferenceEntry) -> list[Reference]:
    """Find the reference, or take it at the corners that a person set."""
    if entry.corners_px is not None:
        corners = np.array(entry.corners_px)
        width_mm, height_mm = size_as_seen(entry, corners)
        kind = kind_sought(entry) if entry.kind == "marker" else entry.kind
        set_by_hand = Reference.from_corners(corners, width_mm, height_mm, kind)
        if entry.as_set:
            from visualiser.rectification.edges.locate import no_samples

            set_by_hand = replace(set_by_hand, sides=tuple(no_samples() for _ in range(4)))
        found = [set_by_hand]
    else:
        from visualiser.rectification.finder.find import find_references
        from visualiser.rectification.finder.target import CHECK_BAR_MM

        bar_mm = entry.bar_mm or CHECK_BAR_MM
        found = find_references(photo, kind_sought(entry), measured_bar_mm=bar_mm)
    if entry.size_sigma_mm is None:
        return found
    return [replace(reference, size_sigma_mm=entry.size_sigma_mm) for reference in found]


def kind_sought(entry: ReferenceEntry) -> str:
    """Write an entry as the kind of reference that is looked for, with the size it was given."""
    if entry.kind == "custom":
        return f"{entry.width_mm:g} x {entry.height_mm:g} mm"
    return f"marker {entry.width_mm:g} mm" if entry.kind == "marker" else entry.kind


def taken_as(entry: ReferenceEntry, kind: str) -> ReferenceEntry:
    """Take a reference as of the kind that a find was; what was typed of another is left out.

    Parameters
    ----------
    entry
        What was looked for.
    kind
        As a `Reference` has it. One of typed size is the entry's own, which keeps the size.
    """
    if kind == entry.kind or make_of(kind) in ("marker", "rectangle"):
        return entry
    other = {"kind": kind, "width_mm": None, "height_mm": None, "bar_mm": None}
    return entry.model_copy(update=other)


def size_as_seen(entry: ReferenceEntry, corners_px: PointsPx) -> tuple[float, float]:
    """Width and height of a reference: as typed, or lying or standing as its corners show it.

    Raises
    ------
    SizeError
        If its kind is not known.
    """
    if entry.width_mm is not None and entry.height_mm is not None:
        return entry.width_mm, entry.height_mm
    size = reference_kind(kind_sought(entry)).size
    sides = np.linalg.norm(np.roll(corners_px, -1, axis=0) - corners_px, axis=1)
    lying = sides[0] + sides[2] > sides[1] + sides[3]
    return (size.height_mm, size.width_mm) if lying else (size.width_mm, size.height_mm)


def measure_plane(photo: Photo, marks: MarksEntry) -> WallPlane:
    """Measure the wall's plane; that of a picture joined from several photos is kept with it.

    Raises
    ------
    ReferenceNotFound, MeasurementError
        If the photo cannot be measured.
    """
    if marks.joined is not None:
        return marks.joined.plane()
    # What was measured before is kept: most commands need nothing of this.
    from visualiser.rectification.fit import fit_wall_plane

    return fit_wall_plane(
        photo,
        references_of(photo, marks.reference),
        marks.marks(),
        lens_profile=marks.lens_profile(),
    )


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
    survey = Survey.from_size(wall.width_mm, wall.height_mm, zones, furniture)
    return replace(survey, studs=marks.studs())


def survey_photo(photo: Photo, plane: WallPlane, marks: MarksEntry) -> Survey:
    """Survey a measured wall, with what the person marked in the photo."""
    return with_marked(survey_bare(photo, plane, marks), marks)


def survey_bare(photo: Photo, plane: WallPlane, marks: MarksEntry) -> Survey:
    """Survey a measured wall, with the side and outline that the person marked."""
    from visualiser.survey.surveying import survey_wall

    survey = survey_wall(photo, plane, marks.marks())
    if marks.side_px is not None:
        survey = _measured_from(survey, marks.side_px)
    if marks.outline_px is not None:
        survey = replace(survey, outline=_polygon(survey, marks.outline_px))
    return survey


def with_marked(survey: Survey, marks: MarksEntry) -> Survey:
    """Add the zones and the furniture that the person marked."""
    zones = tuple(
        Zone(zone.kind, _outline(survey, zone.points_px, zone.points_mm), zone.name)
        for zone in marks.zones
    )
    furniture = tuple(
        Furniture(item.kind, _outline(survey, item.points_px, item.points_mm).bounds, item.name)
        for item in marks.furniture
    )
    return replace(
        survey,
        zones=(*survey.zones, *zones),
        furniture=(*survey.furniture, *furniture),
        studs=marks.studs(),
    )


def _measured_from(survey: Survey, side_px: PointPx) -> Survey:
    """Shift x = 0 to a point of the photo; nothing has been marked on the survey yet."""
    shift = float(survey.to_wall(np.array([side_px]))[0, 0])
    moved = Polygon(tuple((x - shift, y) for x, y in survey.outline))
    datum = (survey.datum_mm[0] + shift, survey.datum_mm[1])
    findings = tuple(f for f in survey.findings if f.code != "side-from-reference")
    return replace(
        survey,
        outline=moved,
        datum_mm=datum,
        findings=findings,
    )


def _outline(survey: Survey, points_px: Outline | None, points_mm: Outline | None) -> Polygon:
    return Polygon(points_mm) if points_mm else _polygon(survey, points_px or ())


def _polygon(survey: Survey, points_px: Outline) -> Polygon:
    points = survey.to_wall(np.array(points_px))
    return Polygon(tuple((float(x), float(y)) for x, y in points))
