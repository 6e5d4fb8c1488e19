"""One piece of a plan: where its hooks go, what they carry, what holds them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import assert_never

from visualiser.errors import HangingError
from visualiser.geometry import Rect
from visualiser.hanging.fixing_classes import WallKind
from visualiser.hanging.fixings import BearsOn, Demand, Fixing, StudFit, choose_fixing
from visualiser.hanging.loads import HookLoad, hook_load
from visualiser.hanging.measures import Measures, nearest_neighbour
from visualiser.hanging.places import Place, places_of, strictest
from visualiser.inventory.bearing import Bearing, PointMm, bearing
from visualiser.inventory.hanger import HangerKind
from visualiser.inventory.piece import Piece
from visualiser.survey.studs import STUD_WIDTH_MM, Studs
from visualiser.survey.survey import Survey

_ON_STUD_MM = STUD_WIDTH_MM / 2 - 7.0
"""A hook so near to a stud's centre has 7 mm of wood beside it: our own limit, no source."""
_HAIR_MM = 1e-3  # a hole has some width, however well its place is known
BATTEN_PAST_STUD_MM = 20.0
"""How far a batten runs past the middle of each outer stud; the frame hides it to its very end."""


@dataclass(frozen=True, slots=True, eq=False)
class PiecePlan:
    """Everything needed to hang one piece.

    Parameters
    ----------
    number
        Place in the order of hanging, from 1.
    piece, rect
        The piece and its outside rectangle, survey mm.
    bearing
        Where it bears, seen from its own top edge.
    hooks_mm
        Bearing points on the wall, survey mm, left first; none for strips. A cleat's are its
        screws, on studs where those are known.
    load, fixing
        What its hooks carry and what fixes them.
    neighbour
        Nearest of the pieces hung before: its id, where this piece lies to it, the clear gap, mm.
    places
        Dangerous places it hangs at, each with what people call it.
    studs, batten_mm
        How its hooks lie to the studs, and the two studs that a batten would span, survey mm.
    locks_mm
        Where a security hanger is locked, survey mm.
    """

    number: int
    piece: Piece
    rect: Rect
    bearing: Bearing
    hooks_mm: tuple[PointMm, ...]
    load: HookLoad
    fixing: Fixing
    neighbour: tuple[str, str, float] | None = None
    places: tuple[tuple[Place, str], ...] = ()
    studs: StudFit = "unknown"
    batten_mm: tuple[float, float] | None = None
    locks_mm: tuple[PointMm, ...] = ()

    @property
    def name(self) -> str:
        """What people call it: its number in the order, and its title or id."""
        return f"{self.number} · {self.piece.called}"

    @property
    def name_and_mark(self) -> str:
        """The same with the id behind a title, so that paper and lists are found by either."""
        mark = "" if self.piece.called == self.piece.id else f" ({self.piece.id})"
        return f"{self.name}{mark}"

    @property
    def holes_mm(self) -> tuple[PointMm, ...]:
        """Where holes may be made in the wall behind the piece."""
        return self.bearing.may_lie_on_wall(self.rect) if self.piece.hanger.of.holes else ()

    def hook_names(self) -> tuple[str, ...]:
        """Name each hook by the piece's number, with L and R for two."""
        if len(self.hooks_mm) == 2:
            return (f"{self.number}L", f"{self.number}R")
        return (str(self.number),) * len(self.hooks_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Conditions:
    """What all pieces of a plan have in common.

    Parameters
    ----------
    survey, measures
        The wall and its studs, and how well its places are known.
    wall
        What it is built of.
    safety_factor, ratings_kg
        What makers' ratings are divided by, and the ratings.
    seismic
        Whether earthquakes happen here.
    """

    survey: Survey
    measures: Measures
    wall: WallKind
    safety_factor: float
    ratings_kg: Mapping[str, float]
    seismic: bool = False


def plan_pieces(
    pieces: Mapping[str, Piece],
    rects: dict[str, Rect],
    centre_mm: PointMm,
    given: Conditions,
) -> tuple[PiecePlan, ...]:
    """Plan each piece, in the order they are hung: from the group's middle outwards.

    Raises
    ------
    HangingError
        If a hanger does not fit its frame, or a rating means nothing.
    """

    def outwards(piece_id: str) -> tuple[float, float, float]:
        x, y = rects[piece_id].centre_mm
        return (x - centre_mm[0]) ** 2 + (y - centre_mm[1]) ** 2, -y, x

    planned: list[PiecePlan] = []
    hung: dict[str, Rect] = {}
    for number, piece_id in enumerate(sorted(rects, key=outwards), start=1):
        hung[piece_id] = rects[piece_id]
        plan = plan_piece(pieces[piece_id], rects[piece_id], given, number)
        planned.append(replace(plan, neighbour=nearest_neighbour(piece_id, hung)))
    return tuple(planned)


def plan_piece(piece: Piece, rect: Rect, given: Conditions, number: int = 1) -> PiecePlan:
    """Plan one piece at its place.

    Raises
    ------
    HangingError
        If its hanger does not fit its frame, or a rating means nothing.
    """
    survey = given.survey
    bears = _snapped(piece, bearing(piece), rect, survey.studs)
    load = hook_load(piece, bears)
    hooks, locks = bears.on_wall(rect), bears.locks_on_wall(rect)
    fit, batten = _stud_fit(rect, hooks, survey.studs)
    places = places_of(piece, rect, survey, given.seismic)
    hanger = piece.hanger
    rated = hanger.rated_kg
    demand = Demand(
        load=load,
        hanger_kg=hanger.of.allowance_kg if rated is None else rated / given.safety_factor,
        held=strictest((place for place, _ in places), piece, load.weight),
        studs=fit,
        bears=_held_by(hanger.of),
        hanger_closed=hanger.of.closed,
        batten=batten is not None,
        in_zone=hanger.of.holes and in_zone(bears.may_lie_on_wall(rect), survey, given.measures),
    )
    return PiecePlan(
        number=number,
        piece=piece,
        rect=rect,
        bearing=bears,
        hooks_mm=hooks,
        load=load,
        fixing=choose_fixing(demand, given.wall, given.safety_factor, given.ratings_kg),
        places=places,
        studs=fit,
        batten_mm=batten,
        locks_mm=locks,
    )


def in_zone(points_mm: Sequence[PointMm], survey: Survey, measures: Measures) -> bool:
    """Whether a hole may lie in a zone, the zone widened by the ± of the survey."""
    across, up = (
        max(half, _HAIR_MM) for half in (measures.across_half_width_mm, measures.up_half_width_mm)
    )
    return any(
        zone.polygon.overlaps_rect(Rect(x - across, y - up, 2 * across, 2 * up), 0.0)
        for zone in survey.zones
        for x, y in points_mm
    )


def _stud_fit(
    rect: Rect, hooks_mm: Sequence[PointMm], studs: Studs
) -> tuple[StudFit, tuple[float, float] | None]:
    """How hooks lie to the studs, and the pair that a batten behind the piece would span."""
    if not studs.known or not hooks_mm:
        return "unknown", None
    near = studs.between(rect.left_mm - _ON_STUD_MM, rect.right_mm + _ON_STUD_MM)
    past = BATTEN_PAST_STUD_MM
    behind = studs.between(rect.left_mm + past, rect.right_mm - past)
    middle = rect.centre_mm[0]
    batten = None
    if len(behind) >= 2 and behind[0] < middle < behind[-1]:
        batten = behind[0], behind[-1]
    if all(any(abs(x - stud) <= _ON_STUD_MM for stud in near) for x, _ in hooks_mm):
        return "under", batten
    return ("between", batten) if batten else ("none", None)


def _held_by(kind: HangerKind) -> BearsOn:
    if kind.bears == "cords":
        return "rail"
    match kind.goes_on:
        case "any hook":
            return "hooks"
        case "open hook":
            return "open hooks"
        case "screw":
            return "screws"
        case "nothing":
            return "strips"
        case _:
            assert_never(kind.goes_on)


def _snapped(piece: Piece, bears: Bearing, rect: Rect, studs: Studs) -> Bearing:
    """Move hooks to the studs behind a piece where its hanger leaves them free to be moved."""
    if not studs.known:
        return bears
    how = piece.hanger.of.bears
    match how:
        case "bar":
            return _cleat_on_studs(bears, rect, studs)
        case "wire":
            return _wire_on_studs(piece, bears, rect, studs)
        case "two wires" | "points" | "cords" | "adhesive":
            return bears
        case _:
            assert_never(how)


def _wire_on_studs(piece: Piece, bears: Bearing, rect: Rect, studs: Studs) -> Bearing:
    """Take two hooks under one wire as far apart as two studs that lie alike about the middle.

    Only where the drop follows from the wire's length: one that was measured holds for the hooks
    that it was measured with.
    """
    spacing = piece.hanger.spacing_mm
    if len(bears.points_mm) != 2 or bears.drop_origin != "from the wire" or spacing is None:
        return bears
    middle = rect.centre_mm[0]
    near = studs.between(middle - spacing / 2, middle + spacing / 2)
    for left, right in combinations(near, 2):
        if abs((left + right) / 2 - middle) <= _ON_STUD_MM:
            hanger = replace(piece.hanger, hook_spacing_mm=right - left)
            try:
                return bearing(replace(piece, hanger=hanger))
            except HangingError:  # so far apart the wire is too short, or the hooks too high
                continue
    return bears


def _cleat_on_studs(bears: Bearing, rect: Rect, studs: Studs) -> Bearing:
    """Move the screws of a cleat to the outermost studs behind it, one on each side."""
    middle = rect.centre_mm[0]
    ends = [middle + x for x, _ in bears.points_mm]
    inside = studs.between(min(ends), max(ends))
    if len(inside) < 2 or not inside[0] < middle < inside[-1]:
        return bears
    points = tuple((x - middle, -bears.drop_mm) for x in (inside[0], inside[-1]))
    return replace(bears, points_mm=points)


def ids_of(pieces: Iterable[PiecePlan]) -> tuple[str, ...]:
    """Return the ids of pieces, for a finding about them."""
    return tuple(plan.piece.id for plan in pieces)


def named(pieces: Sequence[PiecePlan]) -> str:
    """Begin a sentence on pieces with their names."""
    names = [plan.name for plan in pieces]
    return ("Piece " if len(names) == 1 else "Pieces ") + ", ".join(names)
