"""Where a piece bears on its hooks, from the kind of hanger and what was measured on its back.

How the trade measures the drop: hold the frame upright, pull the wire up with the tape's end hook
(with two fingers as far apart as the hooks, for two hooks) until it is taut, and read from there
to the frame's top edge. For D-rings and sawtooth: from the top edge down to where it bears.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, assert_never

from visualiser.errors import HangingError
from visualiser.geometry import Rect
from visualiser.inventory.hanger import Hanger, HangerName
from visualiser.inventory.piece import Piece
from visualiser.wording import Length, sentence

DropOrigin = Literal["measured", "from the wire", "assumed"]
PointMm = tuple[float, float]

_STRETCHER_MM = 40.0  # a canvas has its rings on the bars of its stretcher: common practice
_TWO_HOOK_SHARE = 1 / 3  # of the distance between the wire's fixing points
_CONTRADICTION_MM = 6.0  # a quarter of an inch: what a drop is measured to on a soft wire


@dataclass(frozen=True, slots=True)
class Bearing:
    """Where a frame hangs on its hooks, seen from the front, origin at its top edge's middle.

    Parameters
    ----------
    kind
        Kind of hanger.
    points_mm
        Bearing points (x right, y up, so y is minus the drop), left first; none for strips.
    drop_mm
        From the top edge down to the bearing points; 0 for strips.
    drop_origin
        Whether the drop was measured, worked out from the wire's length, or assumed.
    leg_run_mm, leg_rise_mm
        Horizontal and vertical extent of each of the wire's two legs, where known.
    spacing_assumed
        Whether how far the two points are apart was never measured.
    attachment_drop_mm
        From the top edge down to a wire's fixing points, where known.
    locks_mm
        Where a security hanger is locked, likewise from the top edge's middle.
    """

    kind: HangerName
    points_mm: tuple[PointMm, ...]
    drop_mm: float
    drop_origin: DropOrigin
    leg_run_mm: float | None = None
    leg_rise_mm: float | None = None
    spacing_assumed: bool = False
    attachment_drop_mm: float | None = None
    locks_mm: tuple[PointMm, ...] = ()

    def on_wall(self, rect: Rect) -> tuple[PointMm, ...]:
        """Find the hook points on the wall, mm, of a frame hung at a rectangle."""
        return _on_wall(self.points_mm, rect)

    def may_lie_on_wall(self, rect: Rect) -> tuple[PointMm, ...]:
        """Find where hooks may go into the wall: the middle too, of rings that nobody measured."""
        middle = ((0.0, -self.drop_mm),) if self.spacing_assumed else ()
        return _on_wall((*self.points_mm, *middle, *self.locks_mm), rect)

    def locks_on_wall(self, rect: Rect) -> tuple[PointMm, ...]:
        """Find where a security hanger's lock goes into the wall, mm."""
        return _on_wall(self.locks_mm, rect)


def _on_wall(points_mm: tuple[PointMm, ...], rect: Rect) -> tuple[PointMm, ...]:
    centre = rect.centre_mm[0]
    return tuple((centre + x, rect.top_mm + y) for x, y in points_mm)


def wire_rise_mm(spacing_mm: float, length_mm: float, hook_spacing_mm: float = 0.0) -> float:
    """Height of a taut wire's bearing point over its fixing points.

    Parameters
    ----------
    spacing_mm
        Between the two fixing points.
    length_mm
        Of the wire between them.
    hook_spacing_mm
        Between two hooks; 0 for one.

    Raises
    ------
    ValueError
        If the wire cannot reach.

    Examples
    --------
    >>> round(wire_rise_mm(400, 440), 2)
    91.65
    """
    leg, run = (length_mm - hook_spacing_mm) / 2, (spacing_mm - hook_spacing_mm) / 2
    if not (0 <= hook_spacing_mm <= spacing_mm and leg > run):
        raise ValueError(
            f"a wire of {length_mm} mm cannot rise between points {spacing_mm} mm apart"
        )
    return math.sqrt(leg * leg - run * run)


def bearing(piece: Piece) -> Bearing:
    """Work out where a piece bears on its hooks.

    Raises
    ------
    HangingError
        If the hanger does not fit the frame: wider than it, a drop beyond its height or below its
        middle, a wire too short to reach or so long that the hook would show above the frame.
    """
    hanger = piece.hanger
    kind = hanger.of
    _check(piece, hanger)
    match kind.bears:
        case "adhesive":
            return Bearing(kind.name, (), 0.0, "measured")
        case "wire":
            found = _on_wire(piece, hanger)
        case "two wires":
            found = _on_two_wires(piece, hanger)
        case "points" | "cords" | "bar":
            found = _at_points(piece, hanger)
        case _:
            assert_never(kind.bears)
    _refuse_below_middle(piece, found.drop_mm)
    return found


def _refuse_below_middle(piece: Piece, drop_mm: float) -> None:
    """Refuse a hook below the middle: the frame would turn over; the drop is from another edge."""
    if drop_mm < piece.height_mm / 2:
        return
    raise HangingError(
        sentence(
            f"{piece.called} would bear on its hook ",
            Length(drop_mm),
            " below its top edge, which is not above its middle (",
            Length(piece.height_mm / 2),
            "): it would turn over.",
        ),
        hint=sentence(
            "The drop is measured from the frame's top edge. If this was measured from the "
            "lower edge, the drop is ",
            Length(piece.height_mm - drop_mm),
            ".",
        ),
    )


def _at_points(piece: Piece, hanger: Hanger) -> Bearing:
    kind = hanger.of
    drop, origin = _drop(piece, hanger)
    count = hanger.hook_count
    apart = hanger.spacing_mm
    assumed = count == 2 and apart is None
    if apart is None:
        apart = _usual_spacing_mm(piece, hanger) if count == 2 else 0.0
    if kind.bears == "bar":  # its end screws stand in from its ends
        apart = max(apart - 2 * _BAR_END_MM, apart / 2)
    locks: tuple[PointMm, ...] = ()
    if kind.lock_up_mm is not None:
        locks = ((0.0, kind.lock_up_mm - piece.height_mm),)
    return Bearing(
        kind.name, _level_points(apart, drop), drop, origin, spacing_assumed=assumed, locks_mm=locks
    )


_BAR_END_MM = 30.0  # an end screw from the end of a cleat: common practice, no source


def _drop(piece: Piece, hanger: Hanger) -> tuple[float, DropOrigin]:
    if hanger.drop_mm is not None:
        return hanger.drop_mm, _MEASURED
    kind = hanger.of
    usual = kind.usual_drop_mm or kind.usual_drop_share * piece.height_mm
    return min(usual, piece.height_mm / 4), _ASSUMED


def _usual_spacing_mm(piece: Piece, hanger: Hanger) -> float:
    """How far apart two points usually are; always marked as assumed."""
    usual = hanger.of.usual_spacing
    match usual:
        case "rails":
            rail = piece.moulding.width_mm if piece.moulding else _STRETCHER_MM
            return max(piece.width_mm - rail, piece.width_mm / 2)
        case "half":
            return piece.width_mm / 2
        case "two thirds":
            return piece.width_mm * 2 / 3
        case "none":
            return 0.0
        case _:
            assert_never(usual)


def _on_two_wires(piece: Piece, hanger: Hanger) -> Bearing:
    """Two wires side by side, each on its own hook: each carries half."""
    drop, origin = _drop(piece, hanger)
    apart = hanger.hook_spacing_mm
    assumed = apart is None
    if apart is None:
        apart = _usual_spacing_mm(piece, hanger)
    if apart + (hanger.spacing_mm or 0.0) > piece.width_mm:
        raise HangingError(
            sentence(
                f"The two wires of {piece.called} need ",
                Length(apart + (hanger.spacing_mm or 0.0)),
                ", its frame is ",
                Length(piece.width_mm),
                " wide.",
            ),
            hint="Give the distance between the two hooks, and between one wire's fixing points.",
        )
    run = rise = None
    if hanger.spacing_mm is not None:
        run = hanger.spacing_mm / 2
        if hanger.wire_length_mm is not None:
            try:
                rise = wire_rise_mm(hanger.spacing_mm, hanger.wire_length_mm)
            except ValueError:
                raise _too_short(piece, hanger.wire_length_mm, hanger.spacing_mm) from None
        elif (
            hanger.attachment_drop_mm is not None
            and origin == _MEASURED  # from an assumed drop no slope follows
            and hanger.attachment_drop_mm > drop
        ):
            rise = hanger.attachment_drop_mm - drop
    if rise is None:
        run = None
    return Bearing(
        hanger.kind,
        _level_points(apart, drop),
        drop,
        origin,
        run,
        rise,
        spacing_assumed=assumed,
        attachment_drop_mm=hanger.attachment_drop_mm,
    )


def _too_short(piece: Piece, wire_mm: float, spacing_mm: float) -> HangingError:
    return HangingError(
        sentence(
            f"The wire of {piece.called} is ",
            Length(wire_mm),
            " long, too short for fixing points ",
            Length(spacing_mm),
            " apart.",
        ),
        hint="Measure both again, or give the piece a longer wire.",
    )


_MEASURED: DropOrigin = "measured"
_ASSUMED: DropOrigin = "assumed"
_FROM_WIRE: DropOrigin = "from the wire"


def _on_wire(piece: Piece, hanger: Hanger) -> Bearing:
    apart = _hook_spacing_mm(piece, hanger)
    run = rise = None
    if hanger.spacing_mm is not None:
        run = (hanger.spacing_mm - apart) / 2
        if hanger.wire_length_mm is not None:
            try:
                rise = wire_rise_mm(hanger.spacing_mm, hanger.wire_length_mm, apart)
            except ValueError:
                raise _too_short(piece, hanger.wire_length_mm, hanger.spacing_mm) from None
    attached = hanger.attachment_drop_mm
    if hanger.drop_mm is not None:
        drop, origin = hanger.drop_mm, _MEASURED
        if attached is not None:
            if attached <= drop:
                raise HangingError(
                    sentence(
                        f"The wire of {piece.called} would bear ",
                        Length(drop),
                        " below the top edge, lower than its fixing points at ",
                        Length(attached),
                        ".",
                    ),
                    hint="Measure both from the frame's top edge, the wire pulled up.",
                )
            if rise is not None and abs(attached - rise - drop) > _CONTRADICTION_MM:
                raise HangingError(
                    sentence(
                        f"The wire of {piece.called} contradicts itself: its length gives a "
                        "drop of ",
                        Length(attached - rise),
                        ", ",
                        Length(drop),
                        " was measured.",
                    ),
                    hint="Measure the drop again with the wire pulled up, or leave its length out.",
                )
            if rise is None and run is not None:
                rise = attached - drop
    elif rise is not None and attached is not None:
        drop, origin = attached - rise, _FROM_WIRE
        if drop <= 0:
            raise HangingError(
                sentence(
                    f"The wire of {piece.called} is so long that its hook would stand ",
                    Length(-drop),
                    " above the frame.",
                ),
                hint="Shorten the wire, or fix it lower on the frame.",
            )
    else:
        drop, origin = _drop(piece, hanger)
    if rise is None:
        run = None
    return Bearing(
        hanger.kind,
        _level_points(apart, drop),
        drop,
        origin,
        run,
        rise,
        attachment_drop_mm=attached,
    )


def _hook_spacing_mm(piece: Piece, hanger: Hanger) -> float:
    if hanger.hook_count == 1:
        return 0.0
    widest = hanger.spacing_mm if hanger.spacing_mm is not None else piece.width_mm
    apart = hanger.hook_spacing_mm
    if apart is None:
        return _TWO_HOOK_SHARE * widest
    if not 0 < apart < widest:
        raise HangingError(
            sentence(
                f"The two hooks of {piece.called} would be ",
                Length(apart),
                " apart, its wire is fixed ",
                Length(widest),
                " apart.",
            ),
            hint="Put the hooks closer together than the wire's fixing points.",
        )
    return apart


def _level_points(apart_mm: float, drop_mm: float) -> tuple[PointMm, ...]:
    if apart_mm == 0:
        return ((0.0, -drop_mm),)
    return ((-apart_mm / 2, -drop_mm), (apart_mm / 2, -drop_mm))


def _check(piece: Piece, hanger: Hanger) -> None:
    for name in (
        "drop_mm", "spacing_mm", "wire_length_mm", "attachment_drop_mm", "hook_spacing_mm",
    ):  # fmt: skip
        value = getattr(hanger, name)
        if value is not None and not 0 < value < math.inf:
            raise HangingError(
                sentence(
                    f"The hanger of {piece.called} has a "
                    f"{name.removesuffix('_mm').replace('_', ' ')} of ",
                    Length(value, None),
                    ".",
                ),
                hint="Give a length above 0, or leave it out until it is measured.",
            )
    if hanger.hooks not in (None, 1, 2):
        raise HangingError(
            f"{piece.called} asks for {hanger.hooks} hooks.", hint="Hang it on one or two."
        )
    if hanger.spacing_mm is not None and hanger.spacing_mm > piece.width_mm:
        raise HangingError(
            sentence(
                f"The hanger of {piece.called} is ",
                Length(hanger.spacing_mm),
                " wide, its frame ",
                Length(piece.width_mm),
                ".",
            ),
            hint="Measure between the two fixing points on the back.",
        )
    if hanger.rated_kg is not None and not 0 < hanger.rated_kg < math.inf:
        raise HangingError(
            f"The hanger of {piece.called} is rated {hanger.rated_kg:g} kg.",
            hint="Give the kilograms that its packet states, or leave it out.",
        )
    for name, value in (("drop", hanger.drop_mm), ("fixing points", hanger.attachment_drop_mm)):
        if value is not None and value >= piece.height_mm:
            raise HangingError(
                sentence(
                    f"The hanger of {piece.called} has its {name} ",
                    Length(value),
                    " below the top edge, the frame is ",
                    Length(piece.height_mm),
                    " high.",
                ),
                hint="Measure from the frame's top edge down to the bearing point.",
            )
