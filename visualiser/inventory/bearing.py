"""Where a piece bears on its hooks, from the kind of hanger and what was measured on its back.

How the trade measures the drop: hold the frame upright, pull the wire up with the tape's end hook
(with two fingers as far apart as the hooks, for two hooks) until it is taut, and read from there
to the frame's top edge. For D-rings and sawtooth: from the top edge down to where it bears.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from visualiser.errors import HangingError
from visualiser.geometry import Rect
from visualiser.inventory.piece import Hanger, HangerKind, Piece

DropOrigin = Literal["measured", "from the wire", "assumed"]
PointMm = tuple[float, float]

# Where a drop has not been measured. Common practice, no source; always marked as assumed.
_ASSUMED_WIRE_MM = 50.0
_ASSUMED_SAWTOOTH_MM = 12.0
_ASSUMED_RING_SHARE = 0.25
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
    """

    kind: HangerKind
    points_mm: tuple[PointMm, ...]
    drop_mm: float
    drop_origin: DropOrigin
    leg_run_mm: float | None = None
    leg_rise_mm: float | None = None

    def on_wall(self, rect: Rect) -> tuple[PointMm, ...]:
        """Find the hook points on the wall, mm, of a frame hung at a rectangle."""
        centre = rect.centre_mm[0]
        return tuple((centre + x, rect.top_mm + y) for x, y in self.points_mm)


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
        If the hanger does not fit the frame: wider than it, a drop beyond its height, a wire too
        short to reach or so long that the hook would show above the frame.
    """
    hanger = piece.hanger
    _check(piece, hanger)
    if hanger.kind == "strips":
        return Bearing("strips", (), 0.0, "measured")
    if hanger.kind == "wire":
        return _on_wire(piece, hanger)
    if hanger.drop_mm is not None:
        drop, origin = hanger.drop_mm, _MEASURED
    elif hanger.kind == "sawtooth":
        drop, origin = min(_ASSUMED_SAWTOOTH_MM, piece.height_mm / 4), _ASSUMED
    else:
        drop, origin = _ASSUMED_RING_SHARE * piece.height_mm, _ASSUMED
    return Bearing(hanger.kind, _level_points(hanger.spacing_mm or 0.0, drop), drop, origin)


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
                raise HangingError(
                    f"The wire of {piece.called} is {hanger.wire_length_mm:.0f} mm long, too "
                    f"short for fixing points {hanger.spacing_mm:.0f} mm apart.",
                    hint="Measure both again, or give the piece a longer wire.",
                ) from None
    attached = hanger.attachment_drop_mm
    if hanger.drop_mm is not None:
        drop, origin = hanger.drop_mm, _MEASURED
        if attached is not None:
            if attached <= drop:
                raise HangingError(
                    f"The wire of {piece.called} would bear {drop:.0f} mm below the top "
                    f"edge, lower than its fixing points at {attached:.0f} mm.",
                    hint="Measure both from the frame's top edge, the wire pulled up.",
                )
            if rise is not None and abs(attached - rise - drop) > _CONTRADICTION_MM:
                raise HangingError(
                    f"The wire of {piece.called} contradicts itself: its length gives a drop "
                    f"of {attached - rise:.0f} mm, {drop:.0f} mm was measured.",
                    hint="Measure the drop again with the wire pulled up, or leave its length out.",
                )
            if rise is None and run is not None:
                rise = attached - drop
    elif rise is not None and attached is not None:
        drop, origin = attached - rise, _FROM_WIRE
        if drop <= 0:
            raise HangingError(
                f"The wire of {piece.called} is so long that its hook would stand "
                f"{-drop:.0f} mm above the frame.",
                hint="Shorten the wire, or fix it lower on the frame.",
            )
    else:
        drop, origin = min(_ASSUMED_WIRE_MM, piece.height_mm / 4), _ASSUMED
    if rise is None:
        run = None
    return Bearing("wire", _level_points(apart, drop), drop, origin, run, rise)


def _hook_spacing_mm(piece: Piece, hanger: Hanger) -> float:
    if hanger.hooks == 1:
        return 0.0
    widest = hanger.spacing_mm if hanger.spacing_mm is not None else piece.width_mm
    apart = hanger.hook_spacing_mm
    if apart is None:
        return _TWO_HOOK_SHARE * widest
    if not 0 < apart < widest:
        raise HangingError(
            f"The two hooks of {piece.called} would be {apart:.0f} mm apart, its wire is "
            f"fixed {widest:.0f} mm apart.",
            hint="Put the hooks closer together than the wire's fixing points.",
        )
    return apart


def _level_points(apart_mm: float, drop_mm: float) -> tuple[PointMm, ...]:
    if apart_mm == 0:
        return ((0.0, -drop_mm),)
    return ((-apart_mm / 2, -drop_mm), (apart_mm / 2, -drop_mm))


def _check(piece: Piece, hanger: Hanger) -> None:
    for name in ("drop_mm", "spacing_mm", "wire_length_mm", "attachment_drop_mm"):
        value = getattr(hanger, name)
        if value is not None and not 0 < value < math.inf:
            raise HangingError(
                f"The hanger of {piece.called} has a "
                f"{name.removesuffix('_mm').replace('_', ' ')} of {value:g} mm.",
                hint="Give a length above 0, or leave it out until it is measured.",
            )
    if hanger.hooks not in (1, 2):
        raise HangingError(
            f"{piece.called} asks for {hanger.hooks} hooks.", hint="Hang it on one or two."
        )
    if hanger.spacing_mm is not None and hanger.spacing_mm > piece.width_mm:
        raise HangingError(
            f"The hanger of {piece.called} is {hanger.spacing_mm:.0f} mm wide, its frame "
            f"{piece.width_mm:.0f} mm.",
            hint="Measure between the two fixing points on the back.",
        )
    for name, value in (("drop", hanger.drop_mm), ("fixing points", hanger.attachment_drop_mm)):
        if value is not None and value >= piece.height_mm:
            raise HangingError(
                f"The hanger of {piece.called} has its {name} {value:.0f} mm below the top "
                f"edge, the frame is {piece.height_mm:.0f} mm high.",
                hint="Measure from the frame's top edge down to the bearing point.",
            )
