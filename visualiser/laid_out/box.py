"""A framed piece as a box on the plane: which of its lines are seen, and how deep it is.

Seen from above, a side that faces away from the camera shows the front's edge before the floor; a
side that faces the camera shows its foot, and further in the front's edge. The front's lip lies the
moulding's width within the front's edge on every side, so that the two kinds of side tell how far
the front stands off the floor.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.laid_out.top_view import TopView
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.quadrilaterals import outward_normals, side_runs

Array = NDArray[np.float64]
Image = NDArray[np.float32]

USUAL_DEPTH_MM, DEPTH_SIGMA_MM = 22.0, 9.0
"""How far the fronts of frames stand off: common practice, no source."""
LINE_SIGMA_MM = 1.1
"""How well a line's place is read in a top view, beside what it is taken for."""
DEPTHS_MM = np.arange(4.0, 61.0)
RAILS_MM = np.arange(5.0, 81.0)
OUT_MM, IN_MM = 40, 150
EVIDENCE = 6.0
"""Log-likelihood of a line as clear as can be."""
CLEAR = 0.35
"""Edge strength, 0 to 1, from which a line inside is one."""


@dataclass(frozen=True, slots=True)
class PieceBox:
    """A piece lying on the plane, mm; tilt counter-clockwise.

    Parameters
    ----------
    width_mm, height_mm, depth_mm
        Outside size.
    x_mm, y_mm, tilt_deg
        Centre and turn.
    depth_sigma_mm
        Standard uncertainty of the depth before the sides are measured.
    rail_mm
        Width of the moulding's face; 0 where no lip is seen.
    """

    width_mm: float
    height_mm: float
    depth_mm: float
    x_mm: float
    y_mm: float
    tilt_deg: float
    depth_sigma_mm: float = DEPTH_SIGMA_MM
    rail_mm: float = 0.0

    def corners(self, height_mm: float, inset_mm: float = 0.0) -> Array:
        """Corners (4, 3) of its outline at a height: top-left first, clockwise as seen."""
        w, h = self.width_mm / 2 - inset_mm, self.height_mm / 2 - inset_mm
        c, s = np.cos(np.radians(self.tilt_deg)), np.sin(np.radians(self.tilt_deg))
        local = np.array([[-w, h], [w, h], [w, -h], [-w, -h]])
        flat = local @ np.array([[c, -s], [s, c]]).T + [self.x_mm, self.y_mm]
        return np.asarray(np.c_[flat, np.full(4, height_mm)])

    def outwards(self) -> Array:
        """Outward normals (4, 2) of the top, right, bottom and left side."""
        c, s = np.cos(np.radians(self.tilt_deg)), np.sin(np.radians(self.tilt_deg))
        return np.array([[-s, c], [c, s], [s, -c], [-c, -s]])

    def away(self, camera_mm: Array) -> Array:
        """How far each side (4,) lies beyond the point under the camera, seen outwards."""
        half = np.array([self.height_mm, self.width_mm, self.height_mm, self.width_mm]) / 2
        towards = np.array([self.x_mm, self.y_mm]) - camera_mm[:2]
        return np.asarray(self.outwards() @ towards + half)


def box_from_outline(outline: Array, view: TopView, plane: WallPlane, depth_mm: float) -> PieceBox:
    """Stand a box on the plane whose outline is seen as a rectangle (4, 2) of a top view."""
    corners = view.to_mm(outline)
    camera = plane.camera_mm
    normals = outward_normals(outline) * [1, -1]
    run = side_runs(corners)
    level = run[0] - run[2]
    tilt = float(np.degrees(np.arctan2(level[1], level[0])))
    middles = corners + run / 2
    seen = (normals * (middles - camera[:2])).sum(axis=1)
    far = np.where(seen > 0, depth_mm, 0.0)
    true = seen * (camera[2] - far) / (camera[2] - view.height_mm)
    # Opposite normals are as good as opposite: sizes and the centre follow from the distances.
    height, width = true[0] + true[2], true[1] + true[3]
    centre = (
        camera[:2] + normals[0] * (true[0] - true[2]) / 2 + normals[1] * (true[1] - true[3]) / 2
    )
    return PieceBox(float(width), float(height), depth_mm, float(centre[0]), float(centre[1]), tilt)


def outline_of_box(box: PieceBox, view: TopView, plane: WallPlane) -> Array:
    """Find the rectangle (4, 2) of a top view as which a box's outline is seen."""
    camera, normals = plane.camera_mm, box.outwards()
    far = np.where(box.away(camera) > 0, box.depth_mm, 0.0)
    seen = box.away(camera) * (camera[2] - view.height_mm) / (camera[2] - far)
    before = np.roll(normals, 1, axis=0)
    # Neighbours are square to each other: a corner lies as far out along both normals.
    corners = camera[:2] + seen[:, None] * normals + np.roll(seen, 1)[:, None] * before
    return view.from_mm(corners)


def side_profiles(seen: Image, outline: Array, step_mm: float, per_mm: int = 1) -> Array:
    """Edge strength (4, M), 0 to 1, of lines parallel to each side, from without inwards.

    Parameters
    ----------
    seen
        (H, W, 3) Lab of a top view, a little smoothed.
    outline
        (4, 2) of a piece in it.
    step_mm
        From one sample of the view to the next.
    per_mm
        Samples of the profiles a mm, from `OUT_MM` beyond the outline to `IN_MM` within.
    """
    offsets = np.linspace(OUT_MM, -IN_MM, (OUT_MM + IN_MM) * per_mm + 1) / step_mm
    normal = outward_normals(outline)
    t = np.linspace(0.1, 0.9, 64)
    points = outline[:, None] + t[:, None] * side_runs(outline)[:, None]
    grid = points[:, None] + offsets[None, :, None, None] * normal[:, None, None]
    flat = grid.reshape(4, -1, 2).astype(np.float32)
    lines = cv2.remap(seen, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR)
    mean = lines.reshape(4, len(offsets), len(t), 3).mean(axis=2)
    step = np.zeros((4, len(offsets)))
    step[:, 2:-2] = np.abs(mean[:, 4:] - mean[:, :-4]).sum(axis=-1)
    return np.asarray(step / (step + 9.0))


def at_line(profile: Array, inwards_mm: Array | float) -> Array:
    """Read a profile (M,) so many mm within the outline, a sample to and fro counting as there."""
    near = np.maximum(profile, np.maximum(np.roll(profile, 1), np.roll(profile, -1)))
    per_mm = (len(profile) - 1) / (OUT_MM + IN_MM)
    at = (np.asarray(inwards_mm) + OUT_MM) * per_mm
    return np.asarray(np.interp(at, np.arange(len(profile)), near))


@dataclass(frozen=True, slots=True, eq=False)
class DepthReading:
    """Depth, its standard uncertainty and the moulding's width, mm; and each side's shift.

    ``outward_mm`` (4,) is how far the foot of a side lies outside the outline, where the outline
    ran along the front's edge instead.
    """

    depth_mm: float
    sigma_mm: float
    rail_mm: float
    outward_mm: Array


def read_depth(
    box: PieceBox,
    profiles: Array,
    plane: WallPlane,
    usual_mm: float,
    usual_sigma_mm: float,
    line_sigma_mm: float = LINE_SIGMA_MM,
) -> DepthReading:
    """Estimate depth and moulding's width from the lines along the four sides.

    Parameters
    ----------
    box
        The box of the outline, of any depth.
    profiles
        As `side_profiles` gives them.
    usual_mm, usual_sigma_mm
        What is expected of the depth.
    line_sigma_mm
        How well a line's place is read.
    """
    lever = np.maximum(-box.away(plane.camera_mm) / plane.camera_mm[2], 0.0)
    # Of a side that faces the camera the front's edge is seen so many mm within, per mm of depth.
    shift = lever[:, None] * DEPTHS_MM
    facing = [k for k in range(4) if shift[k, -1] > 3.0]
    best: tuple[float, Array, Array, tuple[bool, ...]] | None = None
    prior = -0.5 * ((DEPTHS_MM - usual_mm) / usual_sigma_mm) ** 2
    # The outline runs along a facing side's foot, or along its front's edge.
    for on_foot in product((True, False), repeat=len(facing)):
        front = np.zeros(len(DEPTHS_MM))
        within = np.zeros((4, len(DEPTHS_MM)))
        for k, foot in zip(facing, on_foot, strict=True):
            line = at_line(profiles[k], shift[k] if foot else -shift[k])
            front += np.where(shift[k] > 3.0, line - CLEAR, 0.0)
            within[k] = shift[k] if foot else 0.0
        lips = np.stack([at_line(profiles[k], within[k][:, None] + RAILS_MM) for k in range(4)])
        ring = np.sort(lips, axis=0)
        # Four lines at one distance; a weak one, in a shadow's colour, may be missing.
        ring = ring[1:].mean(axis=0) + 0.5 * ring[0]
        score = (EVIDENCE * (front[:, None] + 2.0 * ring)).max(axis=1) + prior
        if best is None or score.max() > best[0]:
            best = float(score.max()), score, ring, on_foot
    assert best is not None
    _, score, ring, on_foot = best
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    depth = float(weight @ DEPTHS_MM)
    spread = float(np.sqrt(weight @ (DEPTHS_MM - depth) ** 2))
    told = line_sigma_mm / max(float(np.linalg.norm(lever)), 1e-6)
    # Where nothing tells it, it is what is usual.
    sigma = max(spread, min(told, usual_sigma_mm))
    row = ring[int(np.abs(DEPTHS_MM - depth).argmin())]
    outward = np.zeros(4)
    for k, foot in zip(facing, on_foot, strict=True):
        outward[k] = 0.0 if foot else lever[k] * depth
    return DepthReading(depth, sigma, _first_peak(row), outward)


def _first_peak(row: Array) -> float:
    """Width of the narrowest moulding whose lip is about as clear as any; 0 without one."""
    # What falls from the first width on is the outline's own edge, as wide as the photo is blurred.
    rises = np.flatnonzero(np.diff(row) > 0)
    if not len(rises):
        return 0.0
    first = int(rises[0])
    strong = first + np.flatnonzero(row[first:] > max(0.8 * row[first:].max(), 1.5 * CLEAR))
    if not len(strong):
        return 0.0
    last = int(strong[0])
    while last + 1 < len(row) and row[last + 1] > row[last]:
        last += 1
    return float(RAILS_MM[last])
