"""A whole room from its specification."""

from __future__ import annotations

from typing import Any

import meshes as ms
import numpy as np
import surfaces
from fittings import fitting
from framed import framed_picture
from furniture import floor_lamp, plant, sideboard, sofa
from light import hex_linear
from mitsuba_scene import Builder, bitmap, box, rgb
from on_wall import colour_chart, decoy, reference_object
from shell import fixtures, lights, shell
from spec import Spec

Rng = np.random.Generator


def build(spec: Spec) -> tuple[dict[str, Any], dict[str, Any]]:
    """Build the Mitsuba scene, and facts that only the building settles.

    The facts: the prints, patch boxes, colour shares, whether a cornice and a shadow were placed.
    """
    rng = np.random.default_rng([7, spec.seed])
    b, room = Builder(), spec.room
    facts: dict[str, Any] = {}
    facts["cornice"] = shell(b, rng, room)
    lights(b, rng, room)
    fixtures(b, room)
    x = room.furniture_x_mm / 1e3
    if room.furniture == "sofa":
        sofa(b, rng, x)
    elif room.furniture == "sideboard":
        sideboard(b, rng, x)
    b.material(
        "rug",
        {
            "type": "diffuse",
            "reflectance": bitmap(
                surfaces.rug(
                    rng, hex_linear(["#8c6a5a", "#6b7780", "#b8a88f"][int(rng.integers(3))])
                )
            ),
        },
    )
    b.add("rug", ms.quad((x - 1.1, 0.008, 2.3), (2.2, 0, 0), (0, 0, -1.45), metric_uv=False))
    if room.lamp_x_mm is not None:
        floor_lamp(b, room.lamp_x_mm / 1e3, room.lamp_on)
    if room.plant_x_mm is not None:
        plant(b, rng, room.plant_x_mm / 1e3)
    for i, ref in enumerate(spec.references):
        reference_object(b, rng, ref, f"reference{i}")
    if room.distractor == "canvas":
        b.material("canvas", {"type": "diffuse", "reflectance": rgb(0.7)})
        dx, dy = (v / 1e3 for v in room.distractor_mm)
        b.add("canvas", box((0.3, 0.4, 0.02), (dx, dy, 0.01), 0.003))
    elif room.distractor == "vent":
        dx = room.distractor_mm[0] / 1e3
        for k in range(9):
            b.add(
                "plate",
                ms.rounded_box((0.24, 0.016, 0.004), 0.001)
                .rotated("x", 35)
                .moved((dx, room.height_mm / 1e3 - 0.42 + k * 0.018, 0.008)),
            )
    for kind, *place in spec.decoys:
        decoy(b, kind, (place[0], place[1]))
    # Streams of their own: what hangs must not change the room around it.
    for i, what in enumerate(spec.fittings):
        fitting(b, np.random.default_rng([9, spec.seed, i]), what, room.daylight)
    art_rng = rng if spec.family == "hung" else np.random.default_rng([8, spec.seed])
    facts["prints"] = [
        framed_picture(b, art_rng, frame, f"print{i}") if frame.hung else None
        for i, frame in enumerate(spec.frames)
    ]
    if spec.chart_mm:
        facts |= colour_chart(b, rng, spec)
    facts["shadow_placed"] = bool(
        spec.references and room.shadow_on_reference and cast_shadow(b, rng, spec)
    )
    return b.scene(), facts


def cast_shadow(b: Builder, rng: Rng, spec: Spec) -> bool:
    """Put a small lamp out of sight and a slat before it: a soft shadow edge crosses the sheet.

    Returns whether a place was found.
    """
    ref = spec.references[0]
    target = np.array([*ref.centre_mm, 0.0]) / 1e3
    cam = spec.camera
    for _ in range(60):
        lamp = np.array(
            [
                rng.uniform(-2.4, 2.4),
                rng.uniform(1.9, spec.room.height_mm / 1e3 - 0.25),
                rng.uniform(1.2, 3.2),
            ]
        )
        for t in np.arange(0.18, 0.8, 0.04):
            middle = target + t * (lamp - target)
            ends = (
                np.array(
                    [
                        middle,
                        middle + [0.16, 0.5, 0],
                        middle + [-0.16, -0.5, 0],
                        middle + [0.16, -0.5, 0],
                        middle + [-0.16, 0.5, 0],
                        lamp,
                    ]
                )
                * 1e3
            )
            ahead = cam.depth(ends) > 100
            seen = (
                cam.inside(
                    cam.project(np.where(ahead[:, None], ends, 1e6), observed=False), margin=-60
                )
                & ahead
            )
            if not seen.any():
                b.material("slat", {"type": "diffuse", "reflectance": rgb(0.3)})
                edge = 0.06 * float(rng.choice([-1, 1]))
                slat = ms.rounded_box((0.12, 0.9, 0.02), 0.005).rotated(
                    "z", float(rng.uniform(-25, 25))
                )
                b.add(
                    "slat",
                    slat.moved((middle + [edge + float(rng.uniform(-0.02, 0.02)), 0, 0]).tolist()),
                )
                b.material(
                    "spot",
                    {"type": "diffuse", "reflectance": rgb(0)},
                    rgb(np.array([1.0, 0.85, 0.66]) * 420),
                )
                b.add(
                    "spot",
                    ms.lathe(
                        [(0.001, -0.04), (0.03, -0.026), (0.04, 0), (0.03, 0.026), (0.001, 0.04)],
                        16,
                    ).moved(lamp.tolist()),
                )
                return True
    return False
