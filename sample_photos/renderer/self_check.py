"""Truth against renderer: where discs should be drawn, and where they are."""

from __future__ import annotations

import meshes as ms
import mitsuba as mi
import numpy as np
from drawing import sample
from mitsuba_scene import Builder
from numpy.typing import NDArray
from tracing import integrate, sensor_view
from truth import flat

Array = NDArray[np.float64]


def self_check(seeds: tuple[int, ...] = (0, 1, 8), long_side: int = 1600) -> Array:
    """Distances (px) between the truth and what the renderer draws, one a disc.

    Small glowing discs are put on the wall, rendered and warped through the lens. The centroid of
    each is compared with that of its outline projected by the truth (not with its projected
    centre: perspective shifts that).
    """
    distances = []
    for seed in seeds:
        cam = sample(seed, long_side).camera
        centres = np.array(
            [[x, y] for x in np.arange(-2400, 2401, 400) for y in np.arange(300, 2500, 300)], float
        )
        angle = np.linspace(0, 2 * np.pi, 128, endpoint=False)
        ring = 24.0 * np.c_[np.cos(angle), np.sin(angle)]
        b = Builder()
        b.material(
            "dot",
            {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.0}},
            {"type": "rgb", "value": 1.0},
        )
        for c in centres:
            outline = np.r_[[c], c + ring] / 1e3
            faces = np.c_[np.zeros(128, int), np.arange(128) + 1, (np.arange(128) + 1) % 128 + 1]
            b.add(
                "dot",
                ms.Mesh(
                    np.c_[outline, np.zeros(129)], faces, np.tile([0.0, 0, 1], (129, 1)), outline
                ),
            )
        view, origin = sensor_view(cam)
        drawn = integrate(mi.load_dict(b.scene()), view, {"type": "path", "max_depth": 2}, 64, seed)
        image = cam.warp(drawn, origin)[..., 1].astype(float)
        for c in centres:
            if not cam.sees(flat(c + ring), margin=8).all():
                continue
            outline = cam.project(flat(c + ring))
            x, y = outline.T
            cross = x * np.roll(y, -1) - np.roll(x, -1) * y
            expected = np.array(
                [((x + np.roll(x, -1)) * cross).sum(), ((y + np.roll(y, -1)) * cross).sum()]
            ) / (3 * cross.sum())
            x0, y0 = np.floor(outline.min(0)).astype(int) - 4
            x1, y1 = np.ceil(outline.max(0)).astype(int) + 5
            patch = image[y0:y1, x0:x1]
            gy, gx = np.mgrid[y0:y1, x0:x1]
            found = np.array([(gx * patch).sum(), (gy * patch).sum()]) / patch.sum()
            distances.append(float(np.linalg.norm(found - expected)))
    return np.array(distances)
