"""What of the wall probably wants keeping clear, for a person to accept, change or throw away.

A wrong suggestion costs more trust than a missing one: only what stands out clearly and has the
size of what it is taken for is suggested, and nothing is ever taken over by itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from visualiser.geometry import PointsMm, PointsPx, Polygon, Rect
from visualiser.photo.photo import Photo
from visualiser.statistics import COVERAGE_95
from visualiser.survey.face_on import FaceOn, face_on
from visualiser.survey.plates import Plate, find_plates
from visualiser.survey.radiators import find_radiators
from visualiser.survey.standing import standing_silhouettes
from visualiser.survey.survey import Furniture, Survey, Zone, ZoneKind
from visualiser.survey.windows import find_windows
from visualiser.wording import Length, Lengths, sentence

VIEW_MM_PER_PX = 4.0
SOCKET_HEIGHTS_MM, SWITCH_HEIGHTS_MM = (100.0, 600.0), (800.0, 1400.0)
"""Where the middle of a socket and of a switch is mounted above the floor (common practice; UK
Approved Document M asks for 450 to 1200 mm in new dwellings, from memory)."""
THERMOSTAT_HEIGHTS_MM = (1400.0, 1600.0)
"""Where one is mounted, about 1.5 m up, out of draughts (common practice, no source)."""
LEAST_SHEET_MM = 130.0
"""A reference with a shorter diagonal is a card: of any colour, so no measure of white."""
DOOR_WIDTHS_MM, DOOR_HEIGHTS_MM = (640.0, 1130.0), (1930.0, 2250.0)
"""Outside the frame: leaves of 610 to 926 mm by 1981 to 2100 mm (common practice, no source) with
lining and architrave."""
JAMB_MM = 1200.0
"""A door's edge is seen over at least this length."""
LEAST_SURENESS = 0.6


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One thing to keep clear of, or to hang above, with how sure it is (0 to 1) and why."""

    what: Zone | Furniture
    confidence: float
    why: str

    @property
    def stands(self) -> bool:
        """Whether it stands before the wall, and is not part of it."""
        return isinstance(self.what, Furniture)

    @property
    def bounds(self) -> Rect:
        """Its smallest upright rectangle, survey mm."""
        return self.what.polygon.bounds if isinstance(self.what, Zone) else self.what.rect

    def corners_px(self, survey: Survey) -> PointsPx:
        """Where that rectangle's corners (4, 2) are seen, top-left first and clockwise."""
        return survey.to_photo(self.bounds.corners())

    def half_width_mm(self, survey: Survey) -> float:
        """95 % half-width of where its edges are: of the wall there, and of what is seen."""
        variance = np.diagonal(survey.covariance(self.bounds.corners()), axis1=1, axis2=2).max()
        return COVERAGE_95 * math.hypot(math.sqrt(max(float(variance), 0.0)), VIEW_MM_PER_PX)


def suggest_zones(photo: Photo, survey: Survey) -> tuple[Suggestion, ...]:
    """Suggest switches, sockets, thermostats, radiators, doors, windows and furniture.

    The surest come first.

    Nothing is suggested where the floor is not known: heights then mean nothing.

    Parameters
    ----------
    photo
        The photo that was surveyed.
    survey
        Its wall. Zones and furniture that it holds already are not suggested again.
    """
    if survey.plane is None or not survey.floor_known:
        return ()
    view = face_on(photo, survey, _region(survey), VIEW_MM_PER_PX)
    corners = survey.to_wall(survey.plane.reference_corners_px)
    found = [
        *_doors(survey),
        *_furniture(view, corners),
        *_plates(find_plates(view, corners), survey),
        *_radiators(view),
        *_windows(view, corners),
    ]
    known = [z.polygon.bounds for z in survey.zones] + [f.rect for f in survey.furniture]
    kept: list[Suggestion] = []
    for suggestion in sorted(found, key=lambda s: -s.confidence):
        rect = suggestion.bounds
        if suggestion.confidence < LEAST_SURENESS:
            continue
        if any(rect.overlaps(other) for other in known):
            continue
        kept.append(suggestion)
        if isinstance(suggestion.what, Zone):
            known.append(rect)
    return tuple(kept)


def _region(survey: Survey) -> Rect:
    """Cut the wall out from the floor up, as far as it is surveyed."""
    bounds = survey.outline.bounds
    top = min(bounds.top_mm, 2400.0)
    return Rect(bounds.left_mm, 0.0, bounds.width_mm, max(top, 500.0))


def _plates(plates: Sequence[Plate], survey: Survey) -> list[Suggestion]:
    """Suggest switches, sockets and thermostats: plates of a usual size at a usual height."""
    found = []
    for plate in plates:
        middle = plate.rect.bottom_mm + plate.rect.height_mm / 2
        slack = 2 * survey.floor_sigma_mm
        kind: ZoneKind
        if SOCKET_HEIGHTS_MM[0] - slack < middle < SOCKET_HEIGHTS_MM[1] + slack:
            kind = "socket"
        elif SWITCH_HEIGHTS_MM[0] - slack < middle < SWITCH_HEIGHTS_MM[1] + slack:
            kind = "switch"
        elif THERMOSTAT_HEIGHTS_MM[0] - slack < middle < THERMOSTAT_HEIGHTS_MM[1] + slack:
            kind = "thermostat"
        else:
            continue
        why = sentence(
            "A plain plate of ",
            Lengths((plate.rect.width_mm, plate.rect.height_mm), " × "),
            ", ",
            Length(middle),
            " above the floor.",
        )
        zone = Zone(kind, Polygon.from_rect(plate.rect))
        found.append(Suggestion(zone, plate.confidence, why))
    return found


def _windows(view: FaceOn, reference_mm: PointsMm) -> list[Suggestion]:
    """Suggest windows, where a sheet of paper says how bright white is."""
    if np.linalg.norm(reference_mm[0] - reference_mm[2]) < LEAST_SHEET_MM:
        return []
    return [
        Suggestion(
            Zone("window", Polygon.from_rect(window.rect)),
            window.confidence,
            f"An upright rectangle {window.times_brighter:.1f} times as bright as the white sheet: "
            "it lets light through. Drag its edges to the frame.",
        )
        for window in find_windows(view, reference_mm)
    ]


def _radiators(view: FaceOn) -> list[Suggestion]:
    """Suggest ribbed radiators."""
    return [
        Suggestion(
            Zone("radiator", Polygon.from_rect(radiator.rect)),
            radiator.confidence,
            sentence(
                "Upright ribs every ",
                Length(radiator.pitch_mm),
                ", ",
                Length(radiator.rect.bottom_mm),
                " off the floor.",
            ),
        )
        for radiator in find_radiators(view)
    ]


def _furniture(view: FaceOn, reference_mm: PointsMm) -> list[Suggestion]:
    """Suggest what stands on the floor before the wall."""
    return [
        Suggestion(
            Furniture("other", shape.rect),
            shape.confidence,
            sentence(
                "Something stands before the wall, ",
                Length(shape.rect.width_mm),
                " wide; its top is seen ",
                Length(shape.rect.top_mm),
                " above the floor.",
            ),
        )
        for shape in standing_silhouettes(view, reference_mm)
    ]


def _doors(survey: Survey) -> list[Suggestion]:
    """Suggest doors: two plumb edges a door apart, under a level edge at a door's height."""
    assert survey.plane is not None
    plumb, level = [], []
    for line in survey.plane.lines:
        ends = survey.to_wall(line.ends_px)
        if line.direction == "plumb" and np.ptp(ends[:, 1]) > JAMB_MM:
            plumb.append((float(ends[:, 0].mean()), float(ends[:, 1].min()), ends))
        elif line.direction == "level":
            level.append(ends)
    pairs = [
        (left, right)
        for i, left in enumerate(sorted(plumb, key=lambda p: p[0]))
        for right in sorted(plumb, key=lambda p: p[0])[i + 1 :]
        if DOOR_WIDTHS_MM[0] < right[0] - left[0] < DOOR_WIDTHS_MM[1]
    ]
    best: dict[int, Suggestion] = {}
    for left, right in pairs:
        heads = [
            float(ends[:, 1].mean())
            for ends in level
            if DOOR_HEIGHTS_MM[0] < ends[:, 1].mean() < DOOR_HEIGHTS_MM[1]
            and min(ends[:, 0].max(), right[0]) - max(ends[:, 0].min(), left[0])
            > 0.6 * (right[0] - left[0])
            and np.ptp(ends[:, 0]) < 1.4 * (right[0] - left[0])
        ]
        if not heads or max(left[1], right[1]) > 700:
            continue
        rect = Rect(left[0], 0.0, right[0] - left[0], max(heads))
        suggestion = Suggestion(
            Zone("door", Polygon.from_rect(rect)),
            0.85,
            sentence(
                "Two plumb edges ",
                Length(rect.width_mm),
                " apart under a level one at ",
                Length(rect.height_mm),
                ". Add the way its leaf swings.",
            ),
        )
        place = round(rect.left_mm / 400)
        known = best.get(place)
        if known is None or rect.width_mm > known.bounds.width_mm:
            best[place] = suggestion
    return list(best.values())


def accepted(survey: Survey, suggestions: Sequence[Suggestion]) -> Survey:
    """Survey with some suggestions taken over, as a person chose them."""
    zones = [s.what for s in suggestions if isinstance(s.what, Zone)]
    furniture = [s.what for s in suggestions if isinstance(s.what, Furniture)]
    return replace(
        survey,
        zones=(*survey.zones, *zones),
        furniture=(*survey.furniture, *furniture),
    )
