"""What is fixed to the photographed wall and wants keeping clear: radiators and windows."""

from __future__ import annotations

import meshes as ms
import numpy as np
import surfaces
from light import hex_linear
from mitsuba_scene import Builder, bitmap, box, rgb, satin
from spec import Fitting

Rng = np.random.Generator

CASING_M, SASH_M = 0.07, 0.045
_METAL = "fitting"


def fitting(b: Builder, rng: Rng, what: Fitting, daylight: float) -> None:
    """Add one fitting."""
    b.material(_METAL, satin(hex_linear(what.colour)))
    builders = {"ribbed": _ribbed, "tubes": _tubes, "flat": _flat}
    if what.kind == "window":
        _window(b, rng, what, daylight)
    elif what.kind == "radiator" and what.style in builders:
        builders[what.style](b, what)
    else:
        raise ValueError(f"unknown fitting {what.kind!r} {what.style!r}")


def _metres(what: Fitting) -> tuple[float, float, float, float, float]:
    x, y = (v / 1e3 for v in what.centre_mm)
    return x, y, what.width_mm / 1e3, what.height_mm / 1e3, what.depth_mm / 1e3


def _ribbed(b: Builder, what: Fitting) -> None:
    """Pressed steel panel with upright ribs, a grille on top and end caps."""
    x, y, w, h, d = _metres(what)
    b.add(_METAL, box((w - 0.02, h - 0.02, 0.02), (x, y, d - 0.016), 0.006))
    count = max(int((w - 0.06) / (what.pitch_mm / 1e3)), 2)
    for k in range(count):
        at = x + (k - (count - 1) / 2) * what.pitch_mm / 1e3
        rib = (0.62 * what.pitch_mm / 1e3, h - 0.09, 0.02)
        b.add(_METAL, box(rib, (at, y, d - 0.01), 0.009))
    b.add(_METAL, box((w, 0.012, d - 0.03), (x, y + h / 2 - 0.006, d / 2 + 0.01), 0.004))
    for s in (-1, 1):
        b.add(_METAL, box((0.008, h, d - 0.03), (x + s * (w / 2 - 0.004), y, d / 2 + 0.01), 0.003))
    _pipes(b, x, y, w, h, d)


def _tubes(b: Builder, what: Fitting) -> None:
    """Upright round tubes between two headers."""
    x, y, w, h, d = _metres(what)
    count = max(round(w / (what.pitch_mm / 1e3)), 2)
    radius = 0.3 * what.pitch_mm / 1e3
    tube = ms.lathe([(0, 0), (radius, 0.01), (radius, h - 0.01), (0, h)], 16)
    for k in range(count):
        at = x + (k - (count - 1) / 2) * what.pitch_mm / 1e3
        b.add(_METAL, tube.moved((at, y - h / 2, d - radius)))
    for s in (-1, 1):
        b.add(_METAL, box((w, 0.035, 0.03), (x, y + s * (h / 2 - 0.06), d - radius), 0.012))
    _pipes(b, x, y, w, h, d)


def _flat(b: Builder, what: Fitting) -> None:
    """Plain panel: nothing tells it from a board but what it hangs by."""
    x, y, w, h, d = _metres(what)
    b.add(_METAL, box((w, h, d - 0.03), (x, y, d / 2 + 0.015), 0.008))
    _pipes(b, x, y, w, h, d)


def _pipes(b: Builder, x: float, y: float, w: float, h: float, d: float) -> None:
    foot = y - h / 2
    for s in (-1, 1):
        pipe = ms.lathe([(0.0075, 0), (0.0075, foot + 0.04)], 12)
        b.add(_METAL, pipe.moved((x + s * (w / 2 - 0.03), 0.0, d / 2)))


def _window(b: Builder, rng: Rng, what: Fitting, daylight: float) -> None:
    """Casing, sill, two sashes with bars, and the sky behind them."""
    x, y, w, h, d = _metres(what)
    b.material(
        "pane",
        {"type": "diffuse", "reflectance": rgb(0)},
        bitmap(surfaces.outdoors(rng) * 11.0 * daylight),
    )
    glass_w, glass_h = w - 2 * CASING_M, h - 2 * CASING_M
    corner = (x - glass_w / 2, y - glass_h / 2, 0.002)
    b.add("pane", ms.quad(corner, (glass_w, 0, 0), (0, glass_h, 0), metric_uv=False))
    for s in (-1, 1):
        b.add(_METAL, box((CASING_M, h, d), (x + s * (w - CASING_M) / 2, y, d / 2), 0.005))
        b.add(_METAL, box((w, CASING_M, d), (x, y + s * (h - CASING_M) / 2, d / 2), 0.005))
        at = x + s * (glass_w - SASH_M) / 2
        b.add(_METAL, box((SASH_M, glass_h, 0.012), (at, y, 0.008), 0.003))
    b.add(_METAL, box((0.06, glass_h, 0.012), (x, y, 0.008), 0.003))
    for k in range(1, what.bars + 1):
        level = y - glass_h / 2 + k * glass_h / (what.bars + 1)
        b.add(_METAL, box((glass_w, 0.022, 0.01), (x, level, 0.007), 0.002))
    b.add(_METAL, box((w + 0.1, 0.028, 0.12), (x, y - h / 2 - 0.014, 0.06), 0.006))
