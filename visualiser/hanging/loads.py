"""Forces on hooks and in picture wire, by statics.

Weights are kilograms, forces newtons, angles degrees from the horizontal. Friction of wire on hook
is left out: it can only hold a crooked picture crooked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from visualiser.errors import HangingError
from visualiser.inventory.bearing import Bearing
from visualiser.inventory.piece import Piece
from visualiser.inventory.weight import Weight, piece_weight

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s² (3rd CGPM, 1901)."""
SAFETY_FACTOR = 4.0
"""What a maker's rating is divided by: common practice for picture fixings is 4 or more."""
FLATTEST_WIRE_DEG = 30.0
"""Flatter legs are "not recommended" in OSHA's Guidance on Safe Sling Use."""


@dataclass(frozen=True, slots=True)
class HookLoad:
    """What one piece asks of its hooks.

    Parameters
    ----------
    piece_id
        The piece.
    weight
        Its weight, with ± and whether it was weighed.
    hooks
        Hooks that share it; 0 for strips.
    down_n
        Load along the wall on the hook that carries most, for the best value of the weight.
    down_sigma_n
        Its standard uncertainty.
    sideways_n
        Pull along the wall towards the other hook, from a wire over two hooks; the most that any
        slope gives where that has not been measured.
    pull_out_n
        Pull away from the wall on each hook: the lever of a frame that stands off the wall.
    wire_n, wire_angle_deg
        Tension and slope of the wire's legs; None without a wire, or when the wire's fixing points
        have not been measured.
    wired
        Whether it hangs by wire.
    """

    piece_id: str
    weight: Weight
    hooks: int
    down_n: float
    down_sigma_n: float
    sideways_n: float
    pull_out_n: float
    wire_n: float | None = None
    wire_angle_deg: float | None = None
    wired: bool = False

    @property
    def slope_unknown(self) -> bool:
        """Whether it hangs by a wire whose slope nobody has measured."""
        return self.wired and self.wire_angle_deg is None

    @property
    def part_n(self) -> float:
        """Load of one ring, plate, cord or wire of its hanger, for the best value of the weight.

        A wire of unknown slope is taken to pull with the whole weight, over one hook or two: what
        each leg of a single wire pulls at 30°.
        """
        if not self.wired:
            return self.down_n
        return self.weight.kg * GRAVITY if self.wire_n is None else self.wire_n

    @property
    def total_n(self) -> float:
        """Whole force on one hook: down, sideways and out together."""
        return math.hypot(self.down_n, self.sideways_n, self.pull_out_n)

    @property
    def design_kg(self) -> float:
        """Weight to choose the fixing for: the whole force at the upper end of the weight's ±."""
        share = self.weight.heavy_kg / self.weight.kg
        return self.total_n * share / GRAVITY


def leg_factor(angle_deg: float) -> float:
    """Tension of a leg over its vertical share: 1 / sin θ.

    Raises
    ------
    ValueError
        If the angle does not lie above 0° and up to 90°.
    """
    if not 0 < angle_deg <= 90:
        raise ValueError(f"a leg's angle lies above 0° and up to 90°, got {angle_deg!r}")
    return 1 / math.sin(math.radians(angle_deg))


def wire_tension_n(weight_kg: float, angle_deg: float) -> float:
    """Tension of a wire whose two legs carry a weight: T = W / (2 sin θ)."""
    return weight_kg * GRAVITY / 2 * leg_factor(angle_deg)


def leg_angle_deg(run_mm: float, rise_mm: float) -> float:
    """Slope of a leg that rises over a horizontal run."""
    return math.degrees(math.atan2(rise_mm, run_mm))


def shares(left_mm: float, right_mm: float) -> tuple[float, float]:
    """Parts of a weight on two hooks, left and right of its centre of gravity.

    Moments about either hook; the nearer hook carries more.

    Raises
    ------
    ValueError
        If a distance is negative, or both are 0.
    """
    if min(left_mm, right_mm) < 0 or left_mm + right_mm == 0:
        raise ValueError(f"the weight must lie between the hooks, got {left_mm}, {right_mm}")
    return right_mm / (left_mm + right_mm), left_mm / (left_mm + right_mm)


def pull_out_n(weight_kg: float, stand_off_mm: float, lever_mm: float) -> float:
    """Pull away from the wall on all hooks together.

    The frame leans on the wall at its lower edge and turns about it: weight times the distance of
    its centre of gravity from the wall, over the height of the hooks above that edge. The centre
    of gravity is taken at half the depth; the hook's own stand-off, which eases it, is left out.

    Raises
    ------
    ValueError
        If the lever is not positive.
    """
    if lever_mm <= 0:
        raise ValueError(f"hooks must lie above the frame's lower edge, got {lever_mm}")
    return weight_kg * GRAVITY * (stand_off_mm / 2) / lever_mm


def hook_load(piece: Piece, bearing: Bearing) -> HookLoad:
    """Work out what a piece asks of its hooks.

    Raises
    ------
    HangingError
        If the hook would bear at the frame's lower edge.
    """
    bears = piece.hanger.of.bears
    weight = piece_weight(piece)
    count = len(bearing.points_mm)
    force = weight.kg * GRAVITY
    if count == 0:
        return HookLoad(piece.id, weight, 0, force, weight.sigma_kg * GRAVITY, 0.0, 0.0)
    lever = piece.height_mm - bearing.drop_mm
    if lever <= 0:
        raise HangingError(
            f"{piece.called} would bear on its hook at its lower edge.",
            hint="Measure the drop again: from the frame's top edge down to the bearing point.",
        )
    share = 1.0
    if count == 2:
        share = max(shares(-bearing.points_mm[0][0], bearing.points_mm[1][0]))
    tension = angle = None
    sideways = 0.0
    if bearing.leg_rise_mm is not None and bearing.leg_run_mm is not None:
        angle = leg_angle_deg(bearing.leg_run_mm, bearing.leg_rise_mm)
        tension = wire_tension_n(weight.kg, angle)
        if bears == "two wires":
            tension /= 2  # each wire carries half, on a hook of its own
        elif count == 2:
            # Over two hooks the wire pulls level between them and along its leg outside them.
            sideways = tension * (1 - math.cos(math.radians(angle)))
    if bears == "wire" and count == 2 and angle is None:
        sideways = force / 2  # legs all but upright pull the most; statics of the line above at 90°
    lean = pull_out_n(weight.kg, piece.stand_off_mm, lever) / count
    return HookLoad(
        piece_id=piece.id,
        weight=weight,
        hooks=count,
        down_n=force * share,
        down_sigma_n=weight.sigma_kg * GRAVITY * share,
        sideways_n=sideways,
        pull_out_n=lean if piece.hanger.of.holes else 0.0,  # cords hang free of the wall
        wire_n=tension,
        wire_angle_deg=angle,
        wired=bears in ("wire", "two wires"),
    )
