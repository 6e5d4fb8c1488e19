"""The bare room: walls, floor, ceiling, windows, lamps, doors and fixtures."""

from __future__ import annotations

import meshes as ms
import numpy as np
import surfaces
from light import hex_linear
from mitsuba_scene import Builder, bitmap, box, rgb, satin, tiled
from spec import Room

Rng = np.random.Generator


def shell(b: Builder, rng: Rng, room: Room) -> bool:
    """Walls, floor, ceiling, skirting.

    Returns whether a cornice hides the line where wall and ceiling meet.
    """
    w, h, d = room.width_mm / 1e3, room.height_mm / 1e3, room.depth_mm / 1e3
    colours = {
        "white": str(rng.choice(["#ebeae6", "#e6e5e0", "#eeeeec"])),
        "offwhite": "#e9e2d3",
        "green": "#2f4a3c",
        "greige": "#b9b0a2",
        "navy": "#2c3a52",
    }
    if room.wall == "brick":
        b.material("wall", tiled(surfaces.brick(rng, whitewashed=bool(rng.random() < 0.35))))
    elif room.wall == "wallpaper":
        b.material(
            "wall",
            tiled(surfaces.wallpaper(rng, str(rng.choice(["trellis", "leaves", "stripes"])))),
        )
    else:
        sheen = 0.55 if rng.random() < 0.4 else None
        paint = colours.get(room.wall, room.wall)
        b.material("wall", tiled(surfaces.paint(rng, hex_linear(paint)), sheen))
    b.add("wall", ms.quad((-w / 2, 0, 0), (w, 0, 0), (0, h, 0)))
    b.material("walls", tiled(surfaces.paint(rng, hex_linear("#e6e2d9"))))
    b.add(
        "walls",
        ms.quad((-w / 2, 0, d), (0, 0, -d), (0, h, 0)),
        ms.quad((w / 2, 0, 0), (0, 0, d), (0, h, 0)),
    )
    b.add("walls", ms.quad((w / 2, 0, d), (-w, 0, 0), (0, h, 0)))
    b.material("ceiling", {"type": "diffuse", "reflectance": rgb(0.8)})
    b.add("ceiling", ms.quad((-w / 2, h, 0), (w, 0, 0), (0, 0, d)))
    tone = hex_linear(["#9c7148", "#6f4a2f", "#b48f63", "#8a8075"][int(rng.integers(4))])
    b.material("floor", tiled(surfaces.wood(rng, tone, planks=True), 0.38))
    b.add("floor", ms.quad((-w / 2, 0, d), (w, 0, 0), (0, 0, -d)))
    b.material("woodwork", satin(0.78))
    b.add("woodwork", box((w, 0.11, 0.018), (0, 0.055, 0.009), 0.005))
    for s in (-1, 1):
        b.add("woodwork", box((0.018, 0.11, d), (s * (w / 2 - 0.009), 0.055, d / 2), 0.005))
    cornice = bool(rng.random() < 0.4)
    if cornice:
        b.add(
            "woodwork",
            box((w, 0.075, 0.03), (0, h - 0.0375, 0.015), 0.008),
            box((w, 0.03, 0.08), (0, h - 0.015, 0.04), 0.008),
        )
    return cornice


def lights(b: Builder, rng: Rng, room: Room) -> None:
    """Daylight and lamps.

    A window with frame and curtains on a side wall, a dimmer one behind the photographer, a
    ceiling light.
    """
    w, h, d = room.width_mm / 1e3, room.height_mm / 1e3, room.depth_mm / 1e3
    s, z0, sill = room.window_side, room.window_from_wall_mm / 1e3, 0.85
    ww, wh = 1.35, min(1.35, h - 1.15)
    x = s * (w / 2 - 0.004)
    b.material(
        "day",
        {"type": "diffuse", "reflectance": rgb(0)},
        bitmap(surfaces.outdoors(rng) * 13.0 * room.daylight),
    )
    if s < 0:
        b.add("day", ms.quad((x, sill, z0 + ww), (0, 0, -ww), (0, wh, 0), metric_uv=False))
    else:
        b.add("day", ms.quad((x, sill, z0), (0, 0, ww), (0, wh, 0), metric_uv=False))
    for k in range(3):
        b.add("woodwork", box((0.05, wh + 0.1, 0.05), (x, sill + wh / 2, z0 + k * ww / 2), 0.006))
        b.add("woodwork", box((0.05, 0.05, ww + 0.05), (x, sill + k * wh / 2, z0 + ww / 2), 0.006))
    b.add("woodwork", box((0.22, 0.03, ww + 0.2), (x - s * 0.07, sill - 0.03, z0 + ww / 2), 0.01))
    cloth = hex_linear(["#d8cdbb", "#8c9aa0", "#b08f86", "#e7e3da"][int(rng.integers(4))])
    b.material("curtain", tiled(surfaces.fabric(rng, cloth)))
    for at in (z0 - 0.3, z0 + ww - 0.1):
        cloth_mesh = ms.curtain(0.42, h - 0.2, 5, 0.03, float(rng.uniform(0, 6)))
        b.add("curtain", cloth_mesh.rotated("y", 90).moved((x - s * 0.11, 0.04, at + 0.42)))
    b.material("metal", satin(0.35))
    rail = ms.lathe([(0.0, 0), (0.012, 0), (0.012, ww + 0.9), (0, ww + 0.9)], 16).rotated("x", 90)
    b.add("metal", rail.moved((x - s * 0.11, h - 0.15, z0 - 0.45)))

    b.material(
        "fill",
        {"type": "diffuse", "reflectance": rgb(0)},
        rgb(np.array([0.9, 0.96, 1.05]) * 3.2 * room.daylight),
    )
    b.add("fill", ms.quad((1.1, 0.9, d - 0.004), (-2.2, 0, 0), (0, 1.25, 0)))
    warm = np.array([1.0, 0.78, 0.55]) * room.ceiling_warmth + np.array([1.0, 0.95, 0.88]) * (
        1 - room.ceiling_warmth
    )
    b.material(
        "bulb",
        {"type": "diffuse", "reflectance": rgb(0.1)},
        rgb(warm * (9.0 if rng.random() < 0.75 else 2.5)),
    )
    b.add(
        "bulb",
        ms.lathe([(0, 0), (0.1, 0.012), (0.17, 0.05), (0.19, 0.1), (0.19, 0.11)], 32).moved(
            (0.1, h - 0.12, d * 0.42)
        ),
    )
    b.add(
        "woodwork",
        ms.lathe([(0.2, 0), (0.205, 0.02), (0.2, 0.03), (0, 0.03)], 32).moved(
            (0.1, h - 0.03, d * 0.42)
        ),
    )


def fixtures(b: Builder, room: Room) -> None:
    """Light switch, double socket, and a door with its frame."""
    b.material("plate", satin(0.76))
    x = room.switch_x_mm / 1e3
    b.add(
        "plate",
        box((0.086, 0.086, 0.009), (x, 1.15, 0.0045), 0.003),
        box((0.032, 0.052, 0.007), (x, 1.15, 0.0105), 0.003),
    )
    x = room.socket_x_mm / 1e3
    b.add("plate", box((0.146, 0.086, 0.009), (x, 0.35, 0.0045), 0.003))
    b.material("hole", {"type": "diffuse", "reflectance": rgb(0.02)})
    for s in (-1, 1):
        for dx, dy in ((-0.011, -0.008), (0.011, -0.008), (0, 0.013)):
            b.add(
                "hole", box((0.007, 0.005, 0.001), (x + s * 0.036 + dx, 0.35 + dy, 0.0094), 0.0004)
            )
    if room.door_x_mm is not None:
        x = room.door_x_mm / 1e3
        for s in (-1, 1):
            b.add("woodwork", box((0.07, 2.06, 0.03), (x + s * 0.452, 1.03, 0.015), 0.006))
        b.add(
            "woodwork",
            box((0.974, 0.07, 0.03), (x, 2.075, 0.015), 0.006),
            box((0.826, 2.03, 0.012), (x, 1.02, 0.006), 0.002),
        )
        for cy, high in ((0.52, 0.62), (1.42, 0.9)):
            for s in (-1, 1):
                b.add("woodwork", box((0.27, high, 0.012), (x + s * 0.19, cy, 0.012), 0.008))
        handle = x + np.sign(x) * -0.35
        b.add(
            "metal",
            box((0.045, 0.16, 0.008), (handle, 1.0, 0.016), 0.004),
            box((0.12, 0.018, 0.018), (handle + np.sign(x) * 0.04, 1.02, 0.05), 0.008),
        )
