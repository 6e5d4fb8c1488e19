"""What stands in the room: sofa, sideboard, lamp and plant."""

from __future__ import annotations

import meshes as ms
import numpy as np
import surfaces
from light import hex_linear
from mitsuba_scene import Builder, box, rgb, satin, tiled

Rng = np.random.Generator


def sofa(b: Builder, rng: Rng, x: float) -> None:
    """Two-seat sofa with cushions, its back to the wall."""
    colour = hex_linear(
        ["#8f8a80", "#53626b", "#a8744f", "#6d6f5b", "#c7bda9"][int(rng.integers(5))]
    )
    b.material("sofa", tiled(surfaces.fabric(rng, colour)))
    b.material("legs", tiled(surfaces.wood(rng, hex_linear("#5a3d28"), planks=False), 0.4))
    wide, back = float(rng.uniform(1.9, 2.3)), float(rng.uniform(0.74, 0.86))
    b.add("sofa", box((wide, 0.24, 0.88), (x, 0.26, 0.52), 0.04))
    b.add("sofa", box((wide, back - 0.16, 0.22), (x, 0.16 + (back - 0.16) / 2, 0.19), 0.07))
    for s in (-1, 1):
        b.add("sofa", box((0.2, 0.46, 0.9), (x + s * (wide / 2 - 0.06), 0.38, 0.53), 0.07))
        b.add(
            "sofa",
            box((wide / 2 - 0.17, 0.16, 0.68), (x + s * (wide / 4 - 0.075), 0.46, 0.62), 0.055),
        )
        cushion = ms.rounded_box((wide / 2 - 0.18, 0.42, 0.18), 0.085, 6).rotated("x", -14)
        b.add("sofa", cushion.moved((x + s * (wide / 4 - 0.075), 0.7, 0.4)))
        for z in (0.14, 0.9):
            b.add("legs", box((0.05, 0.14, 0.05), (x + s * (wide / 2 - 0.1), 0.07, z)))
    accent = hex_linear(
        ["#c2703d", "#d9b44a", "#34505e", "#e5ddcf", "#7c8f6b"][int(rng.integers(5))]
    )
    b.material("cushion", tiled(surfaces.fabric(rng, accent)))
    for s in (-1, 1):
        if rng.random() < 0.75:
            pillow = (
                ms.pillow(0.46, 0.46, 0.17)
                .rotated("x", -24)
                .rotated("y", -s * 18)
                .rotated("z", float(rng.uniform(-9, 9)))
            )
            b.add("cushion", pillow.moved((x + s * (wide / 2 - 0.42), 0.75, 0.57)))


def sideboard(b: Builder, rng: Rng, x: float) -> None:
    """Sideboard with a vase and a pile of books."""
    tone = hex_linear(["#8a5a35", "#b48a5a", "#5b3d2c", "#d8d2c6"][int(rng.integers(4))])
    b.material("cabinet", tiled(surfaces.wood(rng, tone, planks=False), 0.35))
    b.material("dark", {"type": "diffuse", "reflectance": rgb(0.03)})
    wide, high, deep = float(rng.uniform(1.4, 1.8)), float(rng.uniform(0.62, 0.78)), 0.42
    z = deep / 2 + 0.02
    b.add("cabinet", box((wide, 0.03, deep + 0.02), (x, high - 0.015, z), 0.005))
    b.add("dark", box((wide - 0.02, high - 0.2, deep - 0.03), (x, 0.17 + (high - 0.2) / 2, z)))
    count = int(rng.integers(3, 5))
    for k in range(count):
        cx = x - wide / 2 + (k + 0.5) * wide / count
        b.add(
            "cabinet",
            box(
                (wide / count - 0.006, high - 0.2, 0.022),
                (cx, 0.17 + (high - 0.2) / 2, z + deep / 2 - 0.006),
                0.003,
            ),
        )
        b.add("dark", box((0.09, 0.012, 0.02), (cx, high - 0.1, z + deep / 2 + 0.014)))
    for s in (-1, 1):
        b.add(
            "cabinet",
            box(
                (0.024, high - 0.19, deep), (x + s * (wide / 2 - 0.012), 0.17 + (high - 0.2) / 2, z)
            ),
        )
        for dz in (-0.14, 0.14):
            b.add("dark", box((0.035, 0.17, 0.035), (x + s * (wide / 2 - 0.1), 0.085, z + dz)))
    b.material(
        "ceramic", satin(hex_linear(["#e8e2d6", "#7a8c86", "#c98f6b"][int(rng.integers(3))]))
    )
    vase = [
        (0.0, 0),
        (0.055, 0.0),
        (0.095, 0.09),
        (0.085, 0.17),
        (0.038, 0.235),
        (0.045, 0.26),
        (0.038, 0.26),
    ]
    b.add("ceramic", ms.lathe(vase).moved((x + wide * 0.33, high, z)))
    y = high
    for k in range(int(rng.integers(2, 5))):
        b.material(
            f"book{k}",
            {
                "type": "diffuse",
                "reflectance": rgb(hex_linear(["#7b3f3a", "#34505e", "#d8cbb0", "#566b4f"][k])),
            },
        )
        thick = float(rng.uniform(0.018, 0.038))
        b.add(
            f"book{k}",
            ms.rounded_box((0.24 - 0.02 * k, thick, 0.17), 0.002)
            .rotated("y", float(rng.uniform(-9, 9)))
            .moved((x - wide * 0.3, y + thick / 2, z)),
        )
        y += thick


def floor_lamp(b: Builder, x: float, on: bool) -> None:
    """Floor lamp with a cloth shade."""
    b.material("lamp", satin([0.05, 0.045, 0.04]))
    shade = hex_linear("#e6dcc6")
    b.material(
        "shade",
        {"type": "diffuse", "reflectance": rgb(shade)},
        rgb(shade * [1.0, 0.8, 0.55] * 2.6) if on else None,
    )
    z = 0.42
    b.add(
        "lamp",
        ms.lathe([(0, 0), (0.14, 0), (0.14, 0.02), (0.012, 0.035), (0.011, 1.5), (0, 1.5)]).moved(
            (x, 0, z)
        ),
    )
    b.add("shade", ms.lathe([(0.21, 1.36), (0.15, 1.66)]).moved((x, 0, z)))


def plant(b: Builder, rng: Rng, x: float) -> None:
    """Potted plant with long leaves."""
    b.material(
        "pot",
        {
            "type": "diffuse",
            "reflectance": rgb(hex_linear(["#b5623f", "#d9d4c8", "#4a4f52"][int(rng.integers(3))])),
        },
    )
    b.add(
        "pot",
        ms.lathe(
            [(0, 0), (0.12, 0), (0.17, 0.3), (0.18, 0.32), (0.155, 0.32), (0.15, 0.28), (0, 0.28)]
        ).moved((x, 0, 0.4)),
    )
    b.material("leaf", satin([0.06, 0.16, 0.05]))
    for k in range(22):
        blade = ms.leaf(
            float(rng.uniform(0.45, 0.85)),
            float(rng.uniform(0.05, 0.1)),
            float(rng.uniform(0.2, 1.3)),
        )
        b.add("leaf", blade.rotated("y", 137.5 * k).moved((x, 0.28, 0.42)))
