"""Shadow and shade of a box on a wall, from the room's lights.

Light on a wall is more than its main light and an even rest: the room before it, lit and long,
sends more than its share straight on, and the ceiling more than the floor. Both are taken as wide
lights of their own; what they throw is short and soft, and what is even is left smaller.

References
----------
J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors, section B: plane element
to a rectangle in a plane square to it, with a corner on the element's normal plane. Written from
memory; the tests integrate the hemisphere instead.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.geometry import Rect
from visualiser.survey.main_light import MainLight

Field = NDArray[np.float32]
SIDES = {"left": (-1, 0), "right": (1, 0), "bottom": (0, -1), "top": (0, 1)}
"""The sides of a box and which way they face: x right, y up."""
_FRONT_SHARE, _CEILING_SHARE = 0.35, 0.15
BOUNCE = 0.5
"""Reflectance of what surrounds a moulding where it is not known: a middling value."""
_SEEN_AT = 0.5 * np.sqrt(1 / (1 - (np.arange(10) + 0.5) / 10) ** 2 - 1)
"""Where the middles of tenths of what a face's middle sees of the plane at its foot lie, in its
heights: F = (1 - cos) / 2 of an endless strip, as in the handbooks, solved for the distance."""


def upright_factor(across_mm: Field, start_mm: Field, end_mm: Field, height_mm: float) -> Field:
    """Part of the even light on a wall point that an upright strip hides.

    Parameters
    ----------
    across_mm
        Distance of the point from the strip's plane, above 0.
    start_mm, end_mm
        Where the strip starts and ends along its length, measured from the point.
    height_mm
        How far the strip stands out from the wall.

    Returns
    -------
    Configuration factor, 0 to 0.5.
    """
    across = np.maximum(across_mm, np.float32(1e-3))
    slant = np.sqrt(across * across + np.float32(height_mm) ** 2)

    def corner(along: Field) -> Field:
        return np.asarray(np.arctan(along / across) - across / slant * np.arctan(along / slant))

    return np.asarray((corner(end_mm) - corner(start_mm)) / np.float32(2 * math.pi))


def room_lights(light: MainLight) -> tuple[MainLight, ...]:
    """Add to the main light what comes from the room straight on and from its ceiling.

    Shares of the rest of the light: usual for a furnished room with a pale ceiling; no source.
    """
    rest = 1 - light.share
    return (
        light,
        MainLight(0.0, 0.1, _FRONT_SHARE * rest, 0.5),
        MainLight(0.0, 0.8, _CEILING_SHARE * rest, 0.4),
    )


def even_share(light: MainLight) -> float:
    """Part of the light that comes evenly from everywhere."""
    return (1 - light.share) * (1 - _FRONT_SHARE - _CEILING_SHARE)


def side_view(x_mm: Field, y_mm: Field, box: Rect, depth_mm: float, side: str) -> Field:
    """How much of what a wall point sees a side of a box fills: 0 to 0.5 at its foot."""
    ox, oy = SIDES[side]
    if ox:
        across = (box.left_mm - x_mm) if ox < 0 else (x_mm - box.right_mm)
        low, high, along = box.bottom_mm, box.top_mm, y_mm
    else:
        across = (box.bottom_mm - y_mm) if oy < 0 else (y_mm - box.top_mm)
        low, high, along = box.left_mm, box.right_mm, x_mm
    seen = np.zeros_like(x_mm)
    facing = across > 0
    if facing.any():
        here = along[facing]
        start, end = np.float32(low) - here, np.float32(high) - here
        seen[facing] = upright_factor(across[facing], start, end, depth_mm)
    return seen


def even_light_hidden(x_mm: Field, y_mm: Field, box: Rect, depth_mm: float) -> Field:
    """Part of the even light on wall points around a box that the box hides; 0.5 at its foot."""
    hidden = _under(x_mm, y_mm, box)
    for side in SIDES:  # only sides that face the point hide anything; at most two do
        hidden += side_view(x_mm, y_mm, box, depth_mm, side)
    return hidden


def _under(x_mm: Field, y_mm: Field, box: Rect) -> Field:
    """Half for points under the box: as at its foot, so that nothing lighter bleeds out."""
    inside = (x_mm >= np.float32(box.left_mm)) & (x_mm <= np.float32(box.right_mm))
    inside &= (y_mm >= np.float32(box.bottom_mm)) & (y_mm <= np.float32(box.top_mm))
    return np.asarray(np.where(inside, np.float32(0.5), np.float32(0)), np.float32)


def even_light_in_recess(edge_distance_mm: Field, depth_mm: float) -> Field:
    """Part of the even light that one long wall of a recess hides from the recess's floor."""
    d = np.maximum(edge_distance_mm, np.float32(0))
    return np.asarray(0.5 - 0.5 * d / np.sqrt(d * d + np.float32(depth_mm**2 + 1e-9)), np.float32)


def soft_step(distance_mm: Field, width_mm: float) -> Field:
    """From 0 to 1 over a penumbra of half-width ``width_mm`` around an edge at distance 0."""
    return np.asarray(
        np.clip(distance_mm * np.float32(0.5 / max(width_mm, 1e-3)) + np.float32(0.5), 0, 1)
    )


def main_light_hidden(
    x_mm: Field, y_mm: Field, box: Rect, depth_mm: float, light: MainLight
) -> Field:
    """Part of the main light on wall points that a box hides, penumbra included.

    The shadow of a box is its foot swept along the light's slope out to its front: the front's
    edges throw the outline, softest far from the box, and the foot is the sharp end.
    """
    hidden = np.zeros_like(x_mm)
    steps = 8
    ax, ay = light.along()
    reach = light.radius * math.sqrt(0.5)
    for k in range(steps):
        # The part of the light that is k-th around its middle.
        angle = 2 * math.pi * (k + 0.5) / steps
        away, aside = reach * math.cos(angle), reach * light.cosine * math.sin(angle)
        a = light.slope_x + away * ax - aside * ay
        b = light.slope_y + away * ay + aside * ax
        hidden += _swept(x_mm, y_mm, box, depth_mm, (a, b), light)
    return np.asarray(hidden / np.float32(steps))


def _swept(
    x: Field, y: Field, box: Rect, depth_mm: float, slope: tuple[float, float], light: MainLight
) -> Field:
    """Cover (0 to 1) of a box's foot swept away from a slope, with edges soft as by a part of it.

    An edge is no softer than it is far from the foot: on the lit side the foot itself ends it.
    """
    dx, dy = (depth_mm * v for v in slope)
    soft_x, soft_y = (0.45 * depth_mm * float(light.half_width(*d)) for d in ((1, 0), (0, 1)))
    x0, x1 = box.left_mm - max(dx, 0), box.right_mm - min(dx, 0)
    y0, y1 = box.bottom_mm - max(dy, 0), box.top_mm - min(dy, 0)
    cover = np.minimum(
        soft_step(x - x0, min(soft_x, max(dx, 0))), soft_step(x1 - x, min(soft_x, -min(dx, 0)))
    )
    cover = np.minimum(cover, soft_step(y - y0, min(soft_y, max(dy, 0))))
    cover = np.minimum(cover, soft_step(y1 - y, min(soft_y, -min(dy, 0))))
    # The two corners that the sweep cuts off, along lines parallel to (dx, dy).
    length = math.hypot(dx, dy)
    if length > 1e-6:
        nx, ny = dy / length, -dx / length
        width = 0.45 * depth_mm * float(light.half_width(nx, ny))
        offsets = [float(nx * px + ny * py) for px, py in box.corners()]
        along = np.asarray(x * np.float32(nx) + y * np.float32(ny), np.float32)
        cover = np.minimum(cover, soft_step(along - np.float32(min(offsets)), width))
        cover = np.minimum(cover, soft_step(np.float32(max(offsets)) - along, width))
    return cover


def shadow(
    x_mm: Field,
    y_mm: Field,
    box: Rect,
    depth_mm: float,
    light: MainLight,
    side_reflectance: float = 0.0,
    ground: float = BOUNCE,
) -> Field:
    """Part of the wall's light that a box takes away, 0 to 1.

    A side also gives light back, by its own light and reflectance: a pale one towards a window
    may give more than it hides, and the wall beside it grows a little brighter (below 0).
    """
    even = np.float32(even_share(light))
    taken = even * _under(x_mm, y_mm, box)
    for side, (ox, oy) in SIDES.items():
        given = side_reflectance * float(side_light(ox, oy, light, ground))
        taken += (even - np.float32(given)) * side_view(x_mm, y_mm, box, depth_mm, side)
    for lamp in room_lights(light):
        if lamp.share > 0:
            hidden = main_light_hidden(x_mm, y_mm, box, depth_mm, lamp)
            taken += np.float32(lamp.share) * hidden
    return np.asarray(taken, np.float32)


def shade(normals: NDArray[np.float64], light: MainLight, bounce: ArrayLike) -> NDArray[np.float64]:
    """Light on surfaces against light on the wall.

    Even light reaches a surface from the part of the room that it faces; from the wall's half
    comes what the wall, or whatever lies there, throws back.

    Parameters
    ----------
    normals
        (..., 3) unit normals: x right, y up, z out of the wall.
    light
        The main light.
    bounce
        Light of what lies in the wall's half, against white on the wall: reflectance times light.
    """
    nx, ny, nz = np.moveaxis(np.asarray(normals, float), -1, 0)
    out = (1 + nz) / 2  # cosine-weighted part of the room's half that the surface sees
    total = even_share(light) * out + (1 - out) * np.asarray(bounce, float)
    for lamp in room_lights(light):
        towards = nx * lamp.slope_x + ny * lamp.slope_y + nz
        # A wide light is not wholly gone when its middle sets: eased over its breadth.
        width = np.maximum(lamp.half_width(nx, ny), 1e-6)
        seen = np.where(
            np.abs(towards) < width,
            (towards + width) ** 2 / (4 * width),
            np.maximum(towards, 0.0),
        )
        total = total + lamp.share * seen
    return np.asarray(total)


def lit_beside(ox: float, oy: float, light: MainLight) -> float:
    """Light of what a face square to the wall sees at its foot and beyond, against an open wall's.

    The face itself throws its shadow there. From the face's middle, half of what is seen of a plane
    that goes on without end lies within 0.87 of its height; tenths of it are asked for their light.
    """
    lit = 1 - even_share(light) * (0.5 - 0.5 * _SEEN_AT / np.sqrt(_SEEN_AT**2 + 1))
    for lamp in room_lights(light):
        towards = ox * lamp.slope_x + oy * lamp.slope_y
        width = float(lamp.half_width(ox, oy))
        lit = lit - lamp.share * np.clip(0.5 - (towards + _SEEN_AT) / (2 * width), 0, 1)
    return float(lit.mean())


def side_light(ox: float, oy: float, light: MainLight, ground: ArrayLike) -> NDArray[np.float64]:
    """Light on a face square to the wall, before a plane of the reflectance ``ground``."""
    back = np.asarray(ground, float) * lit_beside(ox, oy, light)
    return shade(np.array([ox, oy, 0.0]), light, back)


def shadow_reach_mm(depth_mm: float, light: MainLight) -> float:
    """How far from a box its shadow still shows."""
    steep = math.hypot(light.slope_x, light.slope_y) + light.radius
    return depth_mm * max(4.0, steep + 0.2)
