"""The strongest light on a wall: where it comes from, as far as the wall's shading shows."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

_CLEAR_RISE_PER_M = 0.15
"""Rise of log light that clearly has a side: a source of half the light 2 m out, at 20 degrees."""
_USUAL_SLOPE_Y, _WINDOW_SLOPE_Y = 0.7, 0.1
"""Light comes from above at about 35 degrees where shading does not show otherwise."""
_SIDE_SLOPE = 1.4
"""A window as far aside as 1.4 times its distance from the wall: between near and far ones."""


@dataclass(frozen=True, slots=True)
class MainLight:
    """The strongest light on the wall, and the rest as even light from everywhere.

    Parameters
    ----------
    slope_x, slope_y
        Direction towards it: how far right and up for each step out of the wall.
    share
        Part of the wall's light that it gives, 0 to 1.
    radius
        Its half-width as a slope, along its own: 0.05 for a lamp across the room, 0.5 for a near
        window. It looks round, so across it is less by the cosine of its direction.
    known
        Whether shading shows it, or it is only what is usual: from above and in front.
    """

    slope_x: float = 0.0
    slope_y: float = 0.9
    share: float = 0.4
    radius: float = 0.35
    known: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.share <= 1:
            raise ValueError(f"a light's share is 0 to 1, got {self.share!r}")
        if not self.radius > 0:
            raise ValueError(f"a light's radius must be above 0, got {self.radius!r}")

    @property
    def cosine(self) -> float:
        """Of the angle between its direction and straight out of the wall."""
        return 1 / math.sqrt(1 + self.slope_x**2 + self.slope_y**2)

    def along(self) -> tuple[float, float]:
        """Direction on the wall, of unit length, in which it stands aside."""
        aside = math.hypot(self.slope_x, self.slope_y)
        return (self.slope_x / aside, self.slope_y / aside) if aside > 0 else (1.0, 0.0)

    def half_width(self, across: ArrayLike, up: ArrayLike) -> NDArray[np.float64]:
        """Half-width as a slope in directions (across, up) on the wall, times their length.

        What looks round from a wall point, with the angle r about a direction at the angle t,
        spans slopes of r / cos² t along that direction's own and r / cos t across it.
        """
        ax, ay = self.along()
        x, y = np.asarray(across, float), np.asarray(up, float)
        return np.asarray(self.radius * np.hypot(x * ax + y * ay, self.cosine * (y * ax - x * ay)))


def main_light(rise_x_per_m: float, rise_y_per_m: float) -> MainLight:
    """Direction of the main light from how the wall brightens towards it.

    A small source at height Z over the wall, a steps aside for each step out, lights it as
    Z / r³: log light rises by 3 a / (Z (1 + a²)) for each metre towards it, times its share of
    all light. Two slopes give the same rise, one the inverse of the other: steep and near, or
    grazing and far. So a clear rise is put at 55 degrees, which lies between them, as wide as both,
    and a faint one at proportionally less. The side is found surely, the steepness only roughly.

    Parameters
    ----------
    rise_x_per_m, rise_y_per_m
        Rise of log light to the right and upwards, for each metre.
    """
    side = float(np.clip(rise_x_per_m / _CLEAR_RISE_PER_M, -1, 1))
    clear = abs(side)
    # A window at the side is about as high as the pictures; without a side it is a lamp above.
    # The ceiling's bounce brightens every wall upwards, so upwards says less than sideways.
    upwards = 0.2 * float(np.clip(rise_y_per_m / _CLEAR_RISE_PER_M, -1, 1))
    slope_y = (1 - clear) * _USUAL_SLOPE_Y + clear * _WINDOW_SLOPE_Y + upwards
    share = 0.25 + 0.15 * clear
    radius = 0.4 + 0.15 * clear
    known = abs(rise_x_per_m) > 0.06
    return MainLight(_SIDE_SLOPE * side, slope_y, share, radius, known)
