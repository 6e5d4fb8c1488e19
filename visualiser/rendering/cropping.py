"""A mock-up cut to its group, for a closer look."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from visualiser.rendering.mockup import Mockup
from visualiser.rendering.sight_lines import Region


def cropped_to_group(mockup: Mockup, margin: float = 0.25) -> Mockup:
    """Part of a mock-up that shows its pieces and some wall around them.

    Parameters
    ----------
    mockup
        As drawn; one without pieces comes back as it is.
    margin
        Wall on each side as a part of the group's longer side.
    """
    if not mockup.corners_px:
        return mockup
    points = np.concatenate(list(mockup.corners_px.values()))
    room = margin * float(np.ptp(points, axis=0).max())
    region = Region.around(points, room, mockup.pixels.shape)
    if region.empty:
        return mockup
    corners = {name: at - [region.x, region.y] for name, at in mockup.corners_px.items()}
    return replace(mockup, pixels=mockup.pixels[region.slices].copy(), corners_px=corners)
