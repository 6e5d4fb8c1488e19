"""Framed pictures as they hang: moulding, mat, print and glazing."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import meshes as ms
import numpy as np
import prints
from light import hex_linear, linear_to_srgb, srgb_to_linear
from mitsuba_scene import Builder, bitmap, box, rgb, satin
from numpy.typing import NDArray
from PIL import Image
from spec import Frame

Rng = np.random.Generator
Array = NDArray[np.float64]

ARTWORKS = Path(__file__).parents[1] / "artworks"
_GLASS: dict[str, dict[str, Any]] = {
    "none": {"type": "diffuse"},
    "clear": {"type": "plastic"},
    "matt": {"type": "roughplastic", "alpha": 0.25},
}


def _profile_mm(frame: Frame) -> list[tuple[float, float]]:
    """Cross-section of the moulding: distance from the outer edge, height above the wall."""
    m, d = frame.moulding_mm, frame.depth_mm
    if frame.profile == "bevelled":
        inner = d - min(0.35 * d, 8.0)
        return [(0, 0), (0, d), (0.15 * m, d), (m, inner), (m, inner - 7)]
    if frame.profile == "rounded":
        r = min(0.4 * d, m / 2)
        t = np.linspace(0, np.pi, 13)
        arc = [(m / 2 - m / 2 * np.cos(a), d - r + r * np.sin(a)) for a in t]
        return [(0, 0), *arc, (m, d - r - 7)]
    return [(0, 0), (0, d), (m, d), (m, d - 7)]


def edge_depth_mm(frame: Frame) -> float:
    """How far the outer edge of the front stands off the frame's back."""
    return _profile_mm(frame)[1][1]


def _material(glazing: str, reflectance: dict[str, Any]) -> dict[str, Any]:
    kind = _GLASS[glazing]
    slot = "reflectance" if kind["type"] == "diffuse" else "diffuse_reflectance"
    return {**kind, slot: reflectance}


@cache
def _sample_artwork(name: str) -> Array:
    with Image.open(ARTWORKS / f"{name}.jpg") as image:
        image.thumbnail((900, 900))
        return srgb_to_linear(np.asarray(image.convert("RGB")) / 255.0)


def picture_of(frame: Frame, rng: Rng) -> Array:
    """Linear-light print of a frame, of the shape of its window; drawn, or cut from a sample."""
    window_w, window_h = frame.window_mm
    if not frame.artwork:
        return prints.artwork(rng, window_w / window_h)
    whole = _sample_artwork(frame.artwork)
    h, w = whole.shape[:2]
    wide, high = min(w, h * window_w / window_h), min(h, w * window_h / window_w)
    x, y = round((w - wide) / 2), round((h - high) / 2)
    return whole[y : y + round(high), x : x + round(wide)]


def as_png_pixels(linear: Array) -> NDArray[np.uint8]:
    """Print as 8-bit sRGB, for the truth."""
    return np.rint(255 * np.clip(linear_to_srgb(linear), 0, 1)).astype(np.uint8)


def framed_picture(
    b: Builder, rng: Rng, frame: Frame, name: str, picture: Array | None = None
) -> Array:
    """Add a picture, turned by its tilt and leaning about its bottom back edge.

    Returns
    -------
    The print, linear light.
    """
    w, h, m, d = (
        v / 1e3 for v in (frame.width_mm, frame.height_mm, frame.moulding_mm, frame.depth_mm)
    )
    window_w, window_h = (v / 1e3 for v in frame.window_mm)
    art = picture_of(frame, rng) if picture is None else picture
    wood, card = f"moulding{frame.colour}", f"mat{frame.mat_colour}-{frame.glazing}"
    b.material(wood, satin(hex_linear(frame.colour)))
    b.material(card, _material(frame.glazing, rgb(hex_linear(frame.mat_colour))))
    b.material(name, _material(frame.glazing, bitmap(art)))
    section = _profile_mm(frame)
    if frame.profile == "flat":
        rails = [
            box((w, m, d), (0, h - m / 2, d / 2), 0.0015),
            box((w, m, d), (0, m / 2, d / 2), 0.0015),
            box((m, h, d), (-w / 2 + m / 2, h / 2, d / 2), 0.0015),
            box((m, h, d), (w / 2 - m / 2, h / 2, d / 2), 0.0015),
        ]
    else:
        rails = [ms.mitred_frame(w, h, np.array(section) / 1e3)]
    level = section[-1][1] / 1e3
    board = ms.quad((-w / 2 + m, m, level), (w - 2 * m, 0, 0), (0, h - 2 * m, 0))
    print_ = ms.quad(
        (-window_w / 2, h / 2 - window_h / 2, level + 0.0006),
        (window_w, 0, 0),
        (0, window_h, 0),
        metric_uv=False,
    )

    def hang(mesh: ms.Mesh) -> ms.Mesh:
        cx, cy = (v / 1e3 for v in frame.hung_centre_mm)
        return (
            mesh.rotated("x", frame.lean_deg)
            .moved((0, -h / 2, 0))
            .rotated("z", frame.tilt_deg)
            .moved((cx, cy, 0.0008))
        )

    b.add(wood, *[hang(r) for r in rails])
    if frame.mat_mm:
        b.add(card, hang(board))
    b.add(name, hang(print_))
    return art


def frame_front_mm(frame: Frame) -> Array:
    """Outer front corners (4, 3) of a frame as hung, mm: TL, TR, BR, BL."""
    w, h, d = frame.width_mm, frame.height_mm, edge_depth_mm(frame)
    local = np.array([[-w / 2, h, d], [w / 2, h, d], [w / 2, 0, d], [-w / 2, 0, d]])
    c, s = np.cos(np.radians(frame.lean_deg)), np.sin(np.radians(frame.lean_deg))
    local = local @ np.array([[1, 0, 0], [0, c, -s], [0, s, c]]).T - [0, h / 2, 0]
    c, s = np.cos(np.radians(frame.tilt_deg)), np.sin(np.radians(frame.tilt_deg))
    turned = local @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]).T
    return np.asarray(turned + [*frame.hung_centre_mm, 0.8])
