"""What the wall view shows, as plain data: the photo, the mapping, marks, pieces and measures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.geometry import PointsMm, PointsPx
from visualiser.project.entries import Point
from visualiser.project.wall_entries import MarksEntry
from visualiser.survey.survey import Survey

Shape = dict[str, Any]
STRAIGHT_PX = 1600.0
MARGIN_PX = 60.0
_FLOOR_POINTS = 41
"""A lens bends the floor's line: so many points show it."""
_FLOOR_INSET = 0.02
"""How far it keeps from the photo's sides, of its width: its name has room then."""
CORNER_NAMES = ("top left corner", "top right corner", "bottom right corner", "bottom left corner")


def mapping_data(survey: Survey) -> dict[str, Any]:
    """Survey mm to photo px as the browser computes it: a plane, a lens."""
    plane = survey.plane
    if plane is None:
        raise ValueError("a typed wall has no photo to map to; see mapping_of")
    columns = plane.rotation[:, :2]
    origin = plane.translation_mm + columns @ np.array(survey.datum_mm)
    return {
        "matrix": np.c_[columns, origin].tolist(),
        "normal": plane.rotation[:, 2].tolist(),
        "focal_px": plane.lens.focal_px,
        "centre_px": [plane.lens.centre_x_px, plane.lens.centre_y_px],
        "k1": plane.lens.k1,
        "k2": plane.lens.k2,
    }


def straight_mapping(survey: Survey) -> dict[str, Any]:
    """Survey mm to the pixels of a drawing to scale, for a wall without a photo."""
    bounds = survey.outline.bounds
    scale = STRAIGHT_PX / max(bounds.width_mm, bounds.height_mm)
    return {
        "matrix": [
            [scale, 0.0, MARGIN_PX - scale * bounds.left_mm],
            [0.0, -scale, MARGIN_PX + scale * bounds.top_mm],
            [0.0, 0.0, 1.0],
        ],
        "normal": [0.0, 0.0, 0.0],
        "focal_px": 1.0,
        "centre_px": [0.0, 0.0],
        "k1": 0.0,
        "k2": 0.0,
    }


def straight_size(survey: Survey) -> tuple[int, int]:
    """Width and height of that drawing, px."""
    bounds = survey.outline.bounds
    scale = STRAIGHT_PX / max(bounds.width_mm, bounds.height_mm)
    return (
        round(bounds.width_mm * scale + 2 * MARGIN_PX),
        round(bounds.height_mm * scale + 2 * MARGIN_PX),
    )


def mapping_of(survey: Survey) -> dict[str, Any]:
    """Choose the mapping of a wall, photographed or typed."""
    return straight_mapping(survey) if survey.plane is None else mapping_data(survey)


def to_picture(mapping: dict[str, Any], points_mm: PointsMm) -> PointsPx:
    """Survey mm (N, 2) to px (N, 2) by a mapping, as the browser does it."""
    points = np.asarray(points_mm, float).reshape(-1, 2)
    camera = np.c_[points, np.ones(len(points))] @ np.array(mapping["matrix"]).T
    rays = camera[:, :2] / camera[:, 2:]
    r2 = (rays**2).sum(axis=1, keepdims=True)
    bent = rays * (1 + mapping["k1"] * r2 + mapping["k2"] * r2**2)
    return np.asarray(bent * mapping["focal_px"] + mapping["centre_px"])


def piece_items(arrangement: Arrangement, faces: dict[str, str]) -> list[dict[str, Any]]:
    """Pieces with their centres and sizes, wall mm, and the pictures to show them by."""
    items = []
    for placement in arrangement.placements:
        piece = arrangement.piece(placement.piece_id)
        items.append(
            {
                "id": piece.id,
                "name": piece.name or piece.id,
                "x": placement.x_mm,
                "y": placement.y_mm,
                "w": piece.width_mm,
                "h": piece.height_mm,
                "z": piece.stand_off_mm,
                "face": faces.get(piece.id, ""),
            }
        )
    return items


def guide_data(survey: Survey, guidelines: Guidelines) -> dict[str, Any]:
    """Places a dragged piece snaps to: centre height, middles of wall and furniture, the gap."""
    bounds = survey.outline.bounds
    middles = [bounds.centre_mm[0], *(item.rect.centre_mm[0] for item in survey.furniture)]
    return {"x": middles, "y": [guidelines.centre_height_mm], "gap_mm": guidelines.gap_mm}


def extent(survey: Survey) -> list[float]:
    """Bottom, top, left and right of the usable wall, mm."""
    bounds = survey.outline.bounds
    return [bounds.bottom_mm, bounds.top_mm, bounds.left_mm, bounds.right_mm]


def reference_shape(corners_px: PointsPx, label: str, *, editable: bool) -> Shape:
    """Outline of the sheet or card that gives the scale."""
    return {
        "id": "reference",
        "kind": "reference",
        "label": label,
        "points": _plain(corners_px),
        "closed": True,
        "editable": editable,
        "names": CORNER_NAMES,
    }


def floor_shape(survey: Survey, width_px: int) -> Shape | None:
    """Line where the wall meets the floor, as typed or found; None where the photo lacks it."""
    bounds = survey.outline.bounds
    along = np.linspace(bounds.left_mm, bounds.right_mm, _FLOOR_POINTS)
    points = survey.to_photo(np.c_[along, np.zeros_like(along)])
    inset = _FLOOR_INSET * width_px
    points = points[(points[:, 0] > inset) & (points[:, 0] < width_px - inset)]
    if len(points) < 2:
        return None
    return {
        "id": "floor-found",
        "kind": "floor",
        "label": "floor",
        "points": _plain(points),
        "closed": False,
        "editable": False,
    }


def mark_shapes(marks: MarksEntry, *, editable: bool) -> list[Shape]:
    """Everything a person marked in the photo, but for the reference."""
    shapes: list[Shape] = []

    def add(shape_id: str, kind: str, label: str, points: Iterable[Any], **more: Any) -> None:
        shapes.append(
            {
                "id": shape_id,
                "kind": kind,
                "label": label,
                "points": _plain(points),
                "closed": more.get("closed", False),
                "editable": editable,
            }
        )

    if marks.outline_px:
        add("outline", "outline-of-wall", "usable wall", marks.outline_px, closed=True)
    if marks.floor_px:
        add("floor", "floor", "floor", marks.floor_px)
    if marks.side_px:
        add("side", "side", "measured from here", [marks.side_px])
    for index, line in enumerate(marks.lines):
        add(f"line-{index}", "line", line.direction, [line.start_px, line.end_px])
    for index, tape in enumerate(marks.taped):
        add(f"tape-{index}", "tape", tape.name or "taped", [tape.start_px, tape.end_px])
    for index, zone in enumerate(marks.zones):
        if zone.points_px:
            add(f"zone-{index}", "zone", zone.name or zone.kind, zone.points_px, closed=True)
    for index, item in enumerate(marks.furniture):
        if item.points_px:
            add(
                f"furniture-{index}",
                "furniture",
                item.name or item.kind,
                item.points_px,
                closed=True,
            )
    return shapes


def drawing_shapes(marks: MarksEntry) -> list[Shape]:
    """Outlines that only the mock-up is drawn by, to be dragged."""
    parts: list[tuple[str, str, str, Iterable[Any]]] = []
    for index, thing in enumerate(marks.in_front):
        parts.append((f"front-{index}", "front", f"in front {index + 1}", thing.outline_px))
    for index, spot in enumerate(marks.painted_out):
        parts.append((f"gone-{index}", "gone", f"painted out {index + 1}", spot.outline_px))
    return [
        {
            "id": shape_id,
            "kind": kind,
            "label": label,
            "points": _plain(points),
            "closed": True,
            "editable": True,
        }
        for shape_id, kind, label, points in parts
    ]


def wall_part_shapes(marks: MarksEntry) -> list[Shape]:
    """Spots where a person said that this is wall, or is not, to be dragged."""
    return [
        _spot(f"part-{index}", f"{'wall' if tap.wall else 'no wall'} {index + 1}", tap.at_px)
        for index, tap in enumerate(marks.wall_taps)
    ]


def waiting_shape(wall: bool, at_px: tuple[float, float]) -> Shape:
    """Spot that says nothing until it is dragged."""
    return _spot("paint-0" if wall else "leave-0", "wall here" if wall else "no wall here", at_px)


def _spot(shape_id: str, label: str, at_px: tuple[float, float]) -> Shape:
    return {
        "id": shape_id,
        "kind": "wall-part",
        "label": label,
        "points": _plain([at_px]),
        "closed": False,
        "editable": True,
    }


def survey_shapes(survey: Survey, marks: MarksEntry) -> list[Shape]:
    """Outline what is to be kept clear of, to look at.

    What a person marked in the photo has the outline that it was marked by, as in the step Wall.
    """
    shapes: list[Shape] = []
    mapping = mapping_of(survey)
    for index, (kind, label, points_mm, given_px) in enumerate(_kept_clear(survey, marks)):
        points = to_picture(mapping, points_mm) if given_px is None else np.array(given_px)
        if not np.isfinite(points).all():
            continue
        shapes.append(
            {
                "id": f"surveyed-{index}",
                "kind": kind,
                "label": label,
                "points": _plain(points),
                "closed": True,
                "editable": False,
            }
        )
    return shapes


def _kept_clear(
    survey: Survey, marks: MarksEntry
) -> Iterator[tuple[str, str, PointsMm, tuple[Point, ...] | None]]:
    """Give kind, name, outline on the wall, and the outline in the photo of what was marked there.

    What is marked stands behind what the survey found by itself.
    """
    found = len(survey.zones) - len(marks.zones)
    for index, zone in enumerate(survey.zones):
        entry = marks.zones[index - found] if index >= found else None
        points_mm = np.array(zone.polygon.points_mm, float)
        yield "zone", zone.name or zone.kind, points_mm, entry.points_px if entry else None
    found = len(survey.furniture) - len(marks.furniture)
    for index, item in enumerate(survey.furniture):
        stands = marks.furniture[index - found] if index >= found else None
        points_mm = item.rect.corners()
        yield "furniture", item.name or item.kind, points_mm, stands.points_px if stands else None


def _plain(points: Iterable[Any]) -> list[list[float]]:
    return [[round(float(x), 3), round(float(y), 3)] for x, y in points]
