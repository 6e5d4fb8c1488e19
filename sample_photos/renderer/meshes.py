"""Triangle meshes for the procedural room, as plain arrays: metres, y up, front side outside.

Every mesh carries texture coordinates in metres unless its docstring says otherwise, so one tiling
texture has the same physical scale on every object that wears it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Mesh:
    """Vertices (N, 3), faces (M, 3) int, unit normals (N, 3) and texture coordinates (N, 2)."""

    vertices: Array
    faces: NDArray[np.int64]
    normals: Array
    uv: Array

    def moved(self, offset: Sequence[float]) -> Mesh:
        """Return the mesh shifted by `offset` (3,)."""
        return Mesh(self.vertices + np.asarray(offset, float), self.faces, self.normals, self.uv)

    def rotated(self, axis: str, degrees: float) -> Mesh:
        """Return the mesh turned about a coordinate axis through the origin (right-hand rule)."""
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
        turn = np.eye(3)
        turn[i, i], turn[i, j], turn[j, i], turn[j, j] = c, -s, s, c
        return Mesh(self.vertices @ turn.T, self.faces, self.normals @ turn.T, self.uv)


def merge(meshes: Sequence[Mesh]) -> Mesh:
    """Join meshes into one."""
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes])
    return Mesh(
        np.vstack([m.vertices for m in meshes]),
        np.vstack([m.faces + s for m, s in zip(meshes, starts, strict=False)]),
        np.vstack([m.normals for m in meshes]),
        np.vstack([m.uv for m in meshes]),
    )


def _grid_faces(nu: int, nv: int) -> NDArray[np.int64]:
    """Faces of an (nv, nu) vertex grid stored row by row.

    Seen counter-clockwise with u right, v up.
    """
    i = (np.arange(nv - 1)[:, None] * nu + np.arange(nu - 1)[None, :]).ravel()
    return np.vstack([np.c_[i, i + 1, i + nu + 1], np.c_[i, i + nu + 1, i + nu]])


def surface(
    point: Callable[[Array, Array], Array], nu: int, nv: int, uv_scale: Sequence[float] = (1, 1)
) -> Mesh:
    """Sample `point(u, v)` -> (..., 3) on the unit square; normals by finite differences.

    Texture coordinates are (u, v) times `uv_scale`: leave (1, 1) for a picture that fills the
    surface.
    """
    v, u = np.meshgrid(np.linspace(0, 1, nv), np.linspace(0, 1, nu), indexing="ij")
    step = 1e-4
    du = point(u + step, v) - point(u - step, v)
    dv = point(u, v + step) - point(u, v - step)
    normals = np.cross(du, dv).reshape(-1, 3)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    uv = np.c_[u.ravel() * uv_scale[0], v.ravel() * uv_scale[1]]
    return Mesh(point(u, v).reshape(-1, 3), _grid_faces(nu, nv), normals, uv)


def quad(
    corner: Sequence[float],
    edge_u: Sequence[float],
    edge_v: Sequence[float],
    metric_uv: bool = True,
) -> Mesh:
    """Flat parallelogram; its front faces edge_u x edge_v.

    uv in metres, or 0..1 if not `metric_uv`.
    """
    c, eu, ev = (np.asarray(a, float) for a in (corner, edge_u, edge_v))
    scale = (float(np.linalg.norm(eu)), float(np.linalg.norm(ev))) if metric_uv else (1.0, 1.0)
    return surface(lambda u, v: c + u[..., None] * eu + v[..., None] * ev, 2, 2, scale)


def rounded_box(size: Sequence[float], radius: float, segments: int = 4) -> Mesh:
    """Box of `size` (3,) centred on the origin with its edges rounded to `radius`."""
    half = np.asarray(size, float) / 2
    radius = min(radius, float(half.min()) * 0.999)
    parts = []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            a, b = (axis + 1) % 3, (axis + 2) % 3
            ticks = []
            for h in (half[a], half[b]):
                arc = np.tan(np.linspace(-np.pi / 4, np.pi / 4, 2 * segments + 1))[segments:]
                rim = (h - radius) + radius * arc
                ticks.append(np.r_[-rim[::-1], rim])
            gb, ga = np.meshgrid(ticks[1], ticks[0], indexing="ij")
            p = np.empty((ga.size, 3))
            p[:, axis], p[:, a], p[:, b] = sign * half[axis], ga.ravel(), gb.ravel()
            core = np.clip(p, -(half - radius), half - radius)
            n = p - core
            n /= np.linalg.norm(n, axis=1, keepdims=True)
            faces = _grid_faces(len(ticks[0]), len(ticks[1]))
            if sign < 0:
                faces = faces[:, ::-1]
            v = core + radius * n
            # Texture axes: grain (u) along the longer in-plane side.
            uv = v[:, [a, b]] if half[a] >= half[b] else v[:, [b, a]]
            parts.append(Mesh(v, faces, n, uv + 0.37 * (axis + 3 * (sign > 0))))
    return merge(parts)


def lathe(profile: Sequence[Sequence[float]], segments: int = 48) -> Mesh:
    """Surface of revolution about y of a polyline of (radius, y) pairs given from bottom to top."""
    pts = np.asarray(profile, float)
    arc = np.r_[0, np.cumsum(np.linalg.norm(np.diff(pts, axis=0), axis=1))]

    def point(u: Array, v: Array) -> Array:
        s = np.clip(v, 0, 1) * arc[-1]
        r, y = np.interp(s, arc, pts[:, 0]), np.interp(s, arc, pts[:, 1])
        return np.stack([r * np.sin(2 * np.pi * u), y, r * np.cos(2 * np.pi * u)], -1)

    return surface(
        point, segments + 1, 6 * len(pts), (2 * np.pi * float(pts[:, 0].max()), float(arc[-1]))
    )


def curtain(width: float, height: float, folds: int, depth: float, phase: float) -> Mesh:
    """Hanging cloth in the plane z = 0; lower left at the origin.

    It has `folds` waves of amplitude `depth`.
    """

    def point(u: Array, v: Array) -> Array:
        wave = np.sin(2 * np.pi * folds * u + phase + 0.6 * np.sin(3 * v)) * (1 - 0.35 * v)
        return np.stack([u * width, v * height, depth * wave], -1)

    return surface(point, 16 * folds, 16, (width * 1.6, height))


def pillow(width: float, height: float, thickness: float) -> Mesh:
    """Scatter cushion centred on the origin.

    Thick in the middle, pinched at the rim, corners drawn out.
    """

    def side(sign: float) -> Mesh:
        def point(u: Array, v: Array) -> Array:
            p, q = 2 * u - 1, 2 * v - 1
            swell = np.clip((1 - p**4) * (1 - q**4), 0, None) ** 0.55
            slim_x, slim_y = 1 - 0.07 * (1 - q**2), 1 - 0.07 * (1 - p**2)
            return np.stack(
                [
                    sign * p * slim_x * width / 2,
                    q * slim_y * height / 2,
                    sign * (0.006 + swell * thickness / 2),
                ],
                -1,
            )

        return surface(point, 33, 33, (width, height))

    return merge([side(1.0), side(-1.0)])


def leaf(length: float, width: float, droop: float) -> Mesh:
    """Bent pointed leaf rising from the origin towards +z and curving down by `droop` (radians)."""

    def point(u: Array, v: Array) -> Array:
        half_width = 0.5 * width * np.sin(np.pi * np.clip(v, 0, 1) ** 0.8) ** 0.9
        angle = 1.25 - droop * v
        x = (2 * u - 1) * half_width
        lift = 0.25 * np.abs(x)
        return np.stack([x, length * v * np.sin(angle) + lift, length * v * np.cos(angle)], -1)

    return surface(point, 7, 14)


def bowed_sheet(width: float, height: float, bow: float, corner_lift: float) -> Mesh:
    """Sheet of paper in the plane z = 0, lower left at the origin, uv 0..1.

    The middle stands off by `bow`; the bottom corners curl off by `corner_lift`. The outline in x
    and y is kept (a 3 mm bow shortens 210 mm by 0.1 mm, which is left out).
    """

    def point(u: Array, v: Array) -> Array:
        belly = bow * np.sin(np.pi * u) * (0.35 + 0.65 * np.sin(np.pi * np.clip(v, 0, 1)))
        curl = corner_lift * np.clip(1 - v / 0.25, 0, 1) ** 2 * np.abs(2 * u - 1) ** 6
        return np.stack([u * width, v * height, belly + curl], -1)

    return surface(point, 25, 25)


def rounded_card(width: float, height: float, thickness: float, radius: float) -> tuple[Mesh, Mesh]:
    """(front face with uv 0..1, rim) of a card standing on z = 0, centred on the origin."""
    angles = np.concatenate([np.linspace(k * 90, k * 90 + 90, 12) for k in range(4)])
    centres = np.repeat([[1, 1], [-1, 1], [-1, -1], [1, -1]], 12, axis=0) * [
        width / 2 - radius,
        height / 2 - radius,
    ]
    ring = centres + radius * np.c_[np.cos(np.radians(angles)), np.sin(np.radians(angles))]
    n = len(ring)
    front = np.c_[np.vstack([[0, 0], ring]), np.full(n + 1, thickness)]
    following = np.roll(np.arange(n), -1)
    face = Mesh(
        front,
        np.c_[np.zeros(n, int), np.arange(n) + 1, following + 1],
        np.tile([0.0, 0.0, 1.0], (n + 1, 1)),
        front[:, :2] / [width, height] + 0.5,
    )
    outward = np.c_[np.cos(np.radians(angles)), np.sin(np.radians(angles)), np.zeros(n)]
    rim = Mesh(
        np.vstack([np.c_[ring, np.zeros(n)], np.c_[ring, np.full(n, thickness)]]),
        np.vstack(
            [
                np.c_[np.arange(n), following, following + n],
                np.c_[np.arange(n), following + n, np.arange(n) + n],
            ]
        ),
        np.vstack([outward, outward]),
        np.vstack([ring, ring]),
    )
    return face, rim


def mitred_frame(width: float, height: float, section: Array) -> Mesh:
    """Sweep a moulding's cross-section round a rectangle, mitred; lower edge centred on the origin.

    `section` (N, 2) is (distance inwards from the outer edge, z) from the back outer edge on.
    """
    parts = []
    for (s0, z0), (s1, z1) in pairwise(section):
        rings = [
            np.array(
                [
                    [-width / 2 + s, s, z],
                    [width / 2 - s, s, z],
                    [width / 2 - s, height - s, z],
                    [-width / 2 + s, height - s, z],
                ]
            )
            for s, z in ((s0, z0), (s1, z1))
        ]
        for k in range(4):
            a, b = rings[0][k], rings[0][(k + 1) % 4]
            c, d = rings[1][(k + 1) % 4], rings[1][k]
            normal = np.cross(b - a, d - a)
            length = np.linalg.norm(normal)
            if length < 1e-12:
                continue
            corners = np.array([a, b, c, d])
            along = (b - a) / np.linalg.norm(b - a)
            uv = np.c_[(corners - a) @ along, [0, 0, s1 - s0, s1 - s0]]
            faces = np.array([[0, 1, 2], [0, 2, 3]])
            parts.append(Mesh(corners, faces, np.tile(normal / length, (4, 1)), uv))
    return merge(parts)
