"""The main light as a person standing in the room would describe it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from visualiser.survey.main_light import MainLight

LightSide = Literal["left", "middle", "right"]
LightHeight = Literal["above", "level"]
ShadowEdges = Literal["soft", "crisp"]

_SIDEWAYS, _STEEP, _LEVEL = 1.2, 0.8, 0.1
_RADIUS: dict[str, float] = {"soft": 0.45, "crisp": 0.08}
_SHARE: dict[str, float] = {"soft": 0.5, "crisp": 0.6}


@dataclass(frozen=True, slots=True)
class LightChoice:
    """Where the main light comes from, for when a person knows better than the photo.

    Parameters
    ----------
    side
        Seen facing the wall.
    height
        Above the pictures, as a lamp or spotlight; or level with them, as a window.
    edges
        Soft as from a window or shade; crisp as from the sun or a bare bulb.
    """

    side: LightSide = "middle"
    height: LightHeight = "above"
    edges: ShadowEdges = "soft"

    def __post_init__(self) -> None:
        for name, allowed in (
            ("side", LightSide), ("height", LightHeight), ("edges", ShadowEdges)
        ):  # fmt: skip
            if (value := getattr(self, name)) not in get_args(allowed):
                raise ValueError(f"a light's {name} is one of {get_args(allowed)}, got {value!r}")

    def main_light(self) -> MainLight:
        """Light to draw with: about 50 degrees from the side, 40 from above; usual, no source."""
        across = {"left": -_SIDEWAYS, "middle": 0.0, "right": _SIDEWAYS}[self.side]
        up = _STEEP if self.height == "above" else _LEVEL
        return MainLight(across, up, _SHARE[self.edges], _RADIUS[self.edges], known=True)
