"""What may be asked of a mock-up, and what comes back."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.geometry import PointsPx
from visualiser.inventory.piece import Finish
from visualiser.photo.photo import PixelsRgb
from visualiser.rendering.foreground import Foreground
from visualiser.rendering.wall_colour import RoomLight
from visualiser.rendering.wall_mask import WallTap
from visualiser.survey.main_light import MainLight


@dataclass(frozen=True, slots=True, eq=False)
class MockupOptions:
    """How to draw a mock-up. The defaults draw it as the photo that would be taken after hanging.

    Parameters
    ----------
    max_side_px
        Longest side of a quick preview; None draws at the photo's own size.
    hide_reference
        Paint the sheet (or card, or target) out with the wall's own texture.
    paint_out_px
        Outlines, each (N, 2) photo px, of other things to paint out: nails, old pictures.
    foreground
        What stands before the wall and stays in front of the pieces.
    things_in_front
        Find what stands before the wall, a plant or a lamp, and keep it in front too. It takes
        about a second more.
    wall_taps
        Regions that a person added to the wall or took away from it.
    wall_colour
        Colour code of another paint to try on the wall; empty keeps the wall as it is.
    room_light
        Show it as photographed, with the light's colour cast removed, by day or by evening.
    finish
        One finish for every moulding, to try it out; None keeps each piece's own.
    main_light
        Direction and softness of the light when the user knows better than the photo.
    shadows, grain, glare
        Switches for shadows, for the photo's noise on what is drawn, and for the room's
        reflection in clear glass.
    seed
        For the noise: the same seed gives the same picture.
    """

    max_side_px: int | None = None
    hide_reference: bool = True
    paint_out_px: tuple[PointsPx, ...] = ()
    foreground: tuple[Foreground, ...] = ()
    things_in_front: bool = False
    wall_taps: tuple[WallTap, ...] = ()
    wall_colour: str = ""
    room_light: RoomLight = "as photographed"
    finish: Finish | None = None
    main_light: MainLight | None = None
    shadows: bool = True
    grain: bool = True
    glare: bool = True
    seed: int = 0

    def __post_init__(self) -> None:
        if self.max_side_px is not None and self.max_side_px < 16:
            raise ValueError(f"a preview needs 16 px or more, got {self.max_side_px!r}")
        for outline in self.paint_out_px:
            if np.ndim(outline) != 2 or np.shape(outline)[1] != 2 or len(outline) < 3:
                raise ValueError(f"expected outlines of shape (N, 2), got {np.shape(outline)}")


@dataclass(frozen=True, slots=True, eq=False)
class Mockup:
    """The wall as it would look.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 sRGB; read-only.
    corners_px
        For each piece drawn, the (4, 2) outer corners of its front in these pixels: top-left,
        top-right, bottom-right, bottom-left.
    findings
        What was assumed, and what to look at.
    mm_per_px
        Size of a pixel on the wall, where the view is straight on; NaN in perspective.
    """

    pixels: PixelsRgb
    corners_px: dict[str, NDArray[np.float64]] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    mm_per_px: float = math.nan

    def __post_init__(self) -> None:
        self.pixels.flags.writeable = False
