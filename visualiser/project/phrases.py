"""What a person types of furniture, zones, lines and lengths, one line each, as a job's entries.

::

    sofa 2200 x 850 at 900                 width x height, its left side 900 from the side datum
    switch by the door 80 x 80 at 3500, 1050          left side, and lower edge above the floor
    window px 812,440 1203,900             two opposite corners in the photo, or more corners
    plumb 812,440 812,1900                 a line along a straight edge in the photo
    838 mm 812,440 1203,440 door width     what a tape reads between two points of the photo
"""

from __future__ import annotations

import re
from typing import Any, get_args

from visualiser.errors import ProjectError, UnitError
from visualiser.geometry import Polygon, Rect
from visualiser.project.document import FurnitureEntry, InFrontEntry, PaintedOutEntry, ZoneEntry
from visualiser.rectification.marks import DrawnLine, LineDirection, TapedLength
from visualiser.survey.light_choice import LightChoice, LightHeight, LightSide, ShadowEdges
from visualiser.survey.survey import FurnitureKind, ZoneKind
from visualiser.units import Unit, parse_length, parse_size

Points = tuple[tuple[float, float], ...]
_POINT = re.compile(r"(-?\d+(?:\.\d+)?)\s*[,;]\s*(-?\d+(?:\.\d+)?)")
_PLACED = re.compile(r"^(?P<what>\D*?)\s*(?P<size>\d.*?)\s+at\s+(?P<place>.+)$", re.IGNORECASE)


def furniture_of(text: str, unit: Unit = "mm") -> FurnitureEntry:
    """Read a piece of furniture.

    Raises
    ------
    ProjectError, UnitError
        If it does not say what stands where.

    Examples
    --------
    >>> sofa = furniture_of("sofa 2200 x 850 at 900")
    >>> sofa.kind, sofa.points_mm[0], sofa.points_mm[2]
    ('sofa', (900.0, 850.0), (3100.0, 0.0))
    """
    kind, name, where = _placed(text, get_args(FurnitureKind), unit, "sofa 2200 x 850 at 900")
    return FurnitureEntry.model_validate({"kind": kind, "name": name, **where})


def zone_of(text: str, unit: Unit = "mm") -> ZoneEntry:
    """Read a part of the wall to keep clear; see `furniture_of`."""
    kind, name, where = _placed(text, get_args(ZoneKind), unit, "switch 80 x 80 at 3500, 1050")
    return ZoneEntry.model_validate({"kind": kind, "name": name, **where})


def floor_of(text: str, unit: Unit = "mm") -> dict[str, Any]:
    """Read where the floor is: ``sheet 1300`` (its lower edge's height), or points of the photo."""
    words = text.strip()
    if words.lower().startswith("sheet"):
        return {"reference_height_mm": parse_length(words[len("sheet") :], unit)}
    return {"floor_px": points_of(text, 1)}


def points_of(text: str, least: int = 3) -> Points:
    """Read points of the photo, ``812,440 1203,440 …``: x right, y down, whole or not.

    Raises
    ------
    ProjectError
        If they are fewer than needed, or something else stands between them.
    """
    points = tuple((float(x), float(y)) for x, y in _POINT.findall(text))
    if len(points) < least or re.sub(r"[\s;]", "", _POINT.sub("", text)):
        raise ProjectError(
            f"“{text.strip()}” does not give {least} or more points of the photo.",
            hint="Write each as x,y in pixels, with spaces between: 812,440 1203,440.",
        )
    return points


def line_of(text: str) -> DrawnLine:
    """Read a line along a straight edge in the photo: ``plumb``, ``level`` or ``straight``."""
    direction, _, rest = text.strip().partition(" ")
    if direction.lower() not in get_args(LineDirection):
        raise ProjectError(
            f"“{text.strip()}” does not say which way its edge runs.",
            hint="Start it with plumb, level or straight: plumb 812,440 812,1900.",
        )
    points = points_of(rest, 2)
    try:
        return DrawnLine(points[0], points[-1], direction.lower(), points[1:-1])  # type: ignore[arg-type]
    except ValueError as error:
        raise _from(error) from error


def taped_of(text: str, unit: Unit = "mm") -> TapedLength:
    """Read a taped length: what the tape reads, two points of the photo, and a name."""
    match = re.match(
        rf"^(?P<length>.+?)\s+(?P<ends>{_POINT.pattern}\s+{_POINT.pattern})(?P<name>.*)$", text
    )
    if match is None:
        raise ProjectError(
            f"“{text.strip()}” is not a taped length.",
            hint="Write its length and two points of the photo: 838 mm 812,440 1203,440 door.",
        )
    ends = points_of(match["ends"], 2)
    try:
        length_mm = parse_length(match["length"], unit)
        return TapedLength(ends[0], ends[1], length_mm, name=match["name"].strip())
    except ValueError as error:
        raise _from(error) from error


def in_front_of(text: str) -> InFrontEntry:
    """Read what stays in front of the pieces: a name, and its outline in the photo.

    After the outline, ``inside`` and ``outside`` each start a stroke over what surely belongs to
    it and what surely does not; ``exact`` takes the outline as it is.

    Examples
    --------
    >>> plant = in_front_of("plant 10,10 90,10 50,90 inside 50,30 50,60 outside 12,80")
    >>> plant.name, len(plant.outline_px), plant.inside_px, plant.outside_px
    ('plant', 3, (((50.0, 30.0), (50.0, 60.0)),), (((12.0, 80.0),),))
    """
    outline, *rest = re.split(r"\b(inside|outside|exact)\b", text)
    name, points = _outlined(outline)
    strokes: dict[str, list[Points]] = {"inside": [], "outside": []}
    for word, stroke in zip(rest[::2], rest[1::2], strict=True):
        if word != "exact":
            strokes[word].append(points_of(stroke, 1))
    return InFrontEntry(
        name=name,
        outline_px=points,
        inside_px=tuple(strokes["inside"]),
        outside_px=tuple(strokes["outside"]),
        exact="exact" in rest[::2],
    )


def painted_out_of(text: str) -> PaintedOutEntry:
    """Read what is not to be seen: a name, and its outline in the photo."""
    name, points = _outlined(text)
    return PaintedOutEntry(name=name, outline_px=points)


def light_of(text: str) -> LightChoice:
    """Read where the light comes from, such as ``left level soft``; the order is free."""
    found: dict[str, Any] = {}
    known = {"side": LightSide, "height": LightHeight, "edges": ShadowEdges}
    for word in text.lower().replace(",", " ").split():
        name = next((n for n, kind in known.items() if word in get_args(kind)), None)
        if name is None or name in found:
            every = ", ".join(w for kind in known.values() for w in get_args(kind))
            raise ProjectError(
                f"“{text}” does not say where the light comes from.",
                hint=f"Use one word each of {every}.",
            )
        found[name] = word
    return LightChoice(**found)


def _outlined(text: str) -> tuple[str, Points]:
    match = _POINT.search(text)
    if match is None:
        raise ProjectError(
            f"“{text.strip()}” gives no points of the photo.",
            hint="Write a name and three or more points: plant 812,440 903,440 860,700.",
        )
    return text[: match.start()].strip(" :"), points_of(text[match.start() :], 3)


def _placed(
    text: str, kinds: tuple[str, ...], unit: Unit, example: str
) -> tuple[str, str, dict[str, Any]]:
    """Kind, name and points of a thing that a line of text places."""
    what, px, points = re.sub(r"\s+", " ", text.strip()).partition(" px ")
    if px:
        outline = points_of(points, 2)
        if len(outline) == 2:
            outline = _box(outline)
        return *_kind(what, kinds, example), {"points_px": outline}
    match = _PLACED.match(text.strip())
    if match is None:
        raise ProjectError(
            f"“{text.strip()}” does not say what stands where.", hint=f"Write it as in: {example}."
        )
    width, height = parse_size(match["size"], unit)
    sides = [side for side in re.split(r"\s*(?:,\s|;|\band\b)\s*", match["place"]) if side]
    if len(sides) > 2:
        raise UnitError(
            f"“{match['place']}” is not a place on the wall.",
            hint="Write how far from the side, and how far up: 3500, 1050.",
        )
    left, bottom = (*(_signed(side, unit) for side in sides), 0.0)[:2]
    corners = Polygon.from_rect(Rect(left, bottom, width, height))
    return *_kind(match["what"], kinds, example), {"points_mm": tuple(corners)}


def _signed(text: str, unit: Unit) -> float:
    """Length that may lie left of the side that is measured from."""
    words = text.strip()
    if words[:1] in ("-", "−"):
        return -parse_length(words[1:], unit)
    return parse_length(words, unit)


def _kind(what: str, kinds: tuple[str, ...], example: str) -> tuple[str, str]:
    """Kind and name of what a phrase starts with."""
    first, _, rest = what.strip(" :").partition(" ")
    if not first:
        raise ProjectError(
            "A thing on or before the wall has no name.",
            hint=f"Start with {', '.join(kinds)}, or another word: {example}.",
        )
    if first.lower() in kinds:
        return first.lower(), rest.strip(" :")
    return "other", what.strip(" :")


def _box(corners: Points) -> Points:
    (x0, y0), (x1, y1) = corners
    left, right, top, low = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
    return ((left, top), (right, top), (right, low), (left, low))


def _from(error: ValueError) -> ProjectError:
    words = str(error)
    return ProjectError(f"{words[:1].upper()}{words[1:]}.", hint="Give two different points.")
