"""Sub-pixel edges of hung frames, and which lines of a frame's section they are.

Where a side face is turned away, its frame stands before the wall with the outermost point of its
face, which on a rounded moulding depends on where one stands. Where a side face is seen, a side
shows two lines: the foot on the wall, and the arris between side and face a few pixels inside it.
Read on the wall plane the two are 6 to 23 mm apart, so they must not be mixed. Within the frame the
mat's window, or the lip, stands between surfaces that no shadow of the frame falls on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.frame import HungFrame, box_corners
from visualiser.rectification.camera.side_bias import CAST_SIGMA, SAME_BLUR
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.edges.locate import sample_path
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import EdgeSamples

SIDE_SIGMA_PX, SIDE_SHARE = 0.1, 0.125
"""What each side may be off by, however clear it is: at least, and as a share of the photo's blur,
within which shades beside the edge mix with it."""
MOULDING_SIGMA_MM, ROUNDED_SIGMA_MM = 0.3, 0.6
"""How far a moulding's edge may be off the section it is taken for."""
TURNED_SIGMA = 0.6
"""How unsure it is where a light frame seems to end, as a share of how far in that is: between its
very edge and twice as far, all alike likely."""
FAINT, FAINT_SIGMA_MM = 0.35, 1.5
"""A step of less than this share of what it rises from may be another line of the section, such as
a bevel's ridge or the shade in an eased edge: they lie some millimetres in."""
TOGETHER = 1.2
"""A side is off by so many times what its blocks scatter by. (957 sides in rendered rooms: 1.1 to
1.4, in proportion to the scatter of a block and not to that of their mean.)"""
CAST_SHARE = 0.7
"""Share of the widening that a dark side is seen further out by: between nothing, for an eased
edge, and 1.4 times it, for a strip of two thirds of full darkness; all alike likely."""
TWIST_SHARE = 0.6
"""What moves a side moves one end of it more than the other: by this share. (The same sides.)"""
SHARP_PERCENTILE = 10
"""Sides as sharp as this share of all are as sharp as the photo is."""
Array = NDArray[np.float64]
EdgeKind = Literal["outline", "foot", "arris", "window", "lip"]
SIDE_ENDS = ((0, 1), (1, 2), (2, 3), (3, 0))
"""Corners that the top, right, bottom and left side run between."""
HIDDEN_PX, APART_PX = 0.5, 3.0
"""Less of a side face than this is not seen at all; less than that, its edges are seen as one."""
BLURRED_APART = 2.5
"""Lines less than so many blurs (standard deviations) apart are seen as one: two steps of the same
sense have one inflection between them up to two."""
KEPT_PX = 0.5
"""An edge this near to where it should be is not looked for again: it would be found there."""
TRIM = 0.06
MOST_POINTS = 200
"""Points that one side is sampled at. What puts a side off is alike along it: more add nothing."""


@dataclass(frozen=True, slots=True)
class SideDoubt:
    """How far out a side looks beyond where it is, px; the sigma of that, and of a twist."""

    outward_px: float
    sigma_px: float
    twist_sigma_px: float


def sharpest_px(sides: Sequence[EdgeSamples], untold_px: float = np.inf) -> float:
    """Tell a photo's own blur from its sides, some of which are softened by shadows."""
    blurs = [samples.look.blur_px for samples in sides if samples.look is not None]
    return float(np.percentile(blurs, SHARP_PERCENTILE)) if blurs else untold_px


def side_doubt(
    samples: EdgeSamples,
    sharp_px: float,
    px_per_mm: float,
    merged_px: float,
    *,
    rounded: bool,
    half_turned_mm: float = 0.0,
) -> SideDoubt:
    """Judge one side by how it looks.

    Parameters
    ----------
    samples
        The side as it was seen, normals pointing into the frame.
    sharp_px
        Blur of the photo.
    px_per_mm
        Scale of the photo there.
    merged_px
        How far it may be off because it is either of two lines.
    rounded
        Whether the frame's face has no sharp edge.
    half_turned_mm
        How far in its surface has turned half way to the front; 0 for the foot.

    Notes
    -----
    A moulding that is not quite the one it is taken for, or the other of two lines, moves a side
    without turning it: the twist is a share of the rest.
    """
    look = samples.look
    scatter = TOGETHER * float(np.median(samples.sigma_px))
    widened = coded = outward = 0.0
    moulding_mm = ROUNDED_SIGMA_MM if rounded else MOULDING_SIGMA_MM
    if look is not None:
        widened = float(np.sqrt(max(look.blur_px**2 - (SAME_BLUR * sharp_px) ** 2, 0.0)))
        coded = look.shared_sigma_px
        light = look.contrast > 0
        outward = -half_turned_mm * px_per_mm if light else CAST_SHARE * widened
        if light:
            moulding_mm = float(np.hypot(moulding_mm, TURNED_SIGMA * half_turned_mm))
        if abs(look.contrast) < FAINT:
            moulding_mm = float(np.hypot(moulding_mm, FAINT_SIGMA_MM))
    least = max(SIDE_SIGMA_PX, SIDE_SHARE * sharp_px) if np.isfinite(sharp_px) else SIDE_SIGMA_PX
    seen = float(np.linalg.norm([least, scatter, CAST_SIGMA * widened, coded]))
    whole = float(np.linalg.norm([seen, moulding_mm * px_per_mm, merged_px]))
    return SideDoubt(outward, whole, TWIST_SHARE * seen)


@dataclass(frozen=True, slots=True)
class Edge:
    """A line along one side of a frame.

    Parameters
    ----------
    kind
        ``outline``: the face's outermost point, seen before the wall. ``foot``: the back's edge on
        the wall. ``arris``: where side and face meet, seen before its own side face. ``window``
        and ``lip``: within the frame, as an `InnerEdge`.
    inset_mm, height_mm
        Where it runs in the moulding's section.
    uneven_mm
        How much further in it lies at the top, and at the bottom.
    """

    kind: EdgeKind
    inset_mm: float
    height_mm: float
    uneven_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def within(self) -> bool:
        """Whether it lies inside the moulding, which is not to say quite where it should."""
        return self.kind in ("window", "lip")


FOOT = Edge("foot", 0.0, 0.0)
_Sampled = tuple[int, int, tuple[Edge, ...], EdgeSamples, float]
"""Frame, side, lines, samples, and how far these may be off for being either line."""


@dataclass(frozen=True, slots=True, eq=False)
class SideView:
    """Edge samples of one side of one frame.

    Parameters
    ----------
    frame, side
        Index of the frame, and of its side (top, right, bottom, left).
    edges
        The edge that the samples lie on; two where these cannot be distinguished.
    samples
        Points, normals and their standard uncertainty.
    sigma_px, twist_sigma_px
        How far off the side's edge may be as a whole, and at its ends, beside what the sides of a
        kind share.
    sampled
        The samples as they were taken, for a second look.
    """

    frame: int
    side: int
    edges: tuple[Edge, ...]
    samples: EdgeSamples
    sigma_px: float
    twist_sigma_px: float
    sampled: _Sampled | None = None


def view_sides(
    view: LinearView,
    plane: WallPlane,
    frames: list[HungFrame],
    search_px: float,
    known: Sequence[SideView] = (),
) -> list[SideView]:
    """Sample every visible edge of every frame around where the frames are held to be.

    Parameters
    ----------
    view
        The photo in linear light.
    plane
        Wall plane as known so far.
    frames
        Frames as known so far, to about ``search_px``.
    search_px
        How far from its expected place an edge is looked for.
    known
        Views of an earlier look at the same frames: those are kept that lie where they should.
    """
    before = [one.sampled for one in known if one.sampled is not None]
    found = _sampled(view, plane, frames, search_px, APART_PX, before, KEPT_PX)
    sharp = sharpest_px([samples for *_, samples, _ in found])
    if found and BLURRED_APART * sharp > APART_PX:
        # In a blurred photo lines further apart are seen as one.
        found = _sampled(view, plane, frames, search_px, BLURRED_APART * sharp, found, np.inf)
    scale = [1 / float(plane.mm_per_px(np.array([[f.x_mm, f.y_mm]]))[0]) for f in frames]
    views = []
    for sampled in found:
        index, side, edges, samples, merged = sampled
        frame = frames[index]
        plain = edges[0] == FOOT or edges[0].within
        doubt = side_doubt(
            samples,
            sharp,
            scale[index],
            merged,
            rounded=not frame.has_arris and not edges[0].within,
            half_turned_mm=0.0 if plain else frame.half_turned_mm,
        )
        outward = 0.0 if edges[0].within else doubt.outward_px
        back = samples.points_px + outward * samples.normals_px
        seen = replace(samples, points_px=back)
        doubts = doubt.sigma_px, doubt.twist_sigma_px
        views.append(SideView(index, side, edges, seen, *doubts, sampled))
    return views


def _sampled(
    view: LinearView,
    plane: WallPlane,
    frames: list[HungFrame],
    search_px: float,
    apart_px: float,
    known: Sequence[_Sampled],
    kept_px: float,
) -> list[_Sampled]:
    """Sample all lines, but for those ``known`` that lie ``kept_px`` from where they should."""
    found: list[_Sampled] = []
    known_lines = {one[:3]: one for one in known}
    for index, frame in enumerate(frames):
        for side in range(4):
            lines, apart = visible_edges(plane, frame, side, apart_px)
            inside = inner_lines(plane, frame, side, apart_px)
            for edges, free, apart in [*((*line, apart) for line in lines), *inside]:
                path = _path(plane, frame, side, edges[0])
                same = known_lines.get((index, side, edges))
                if same and abs(_offset_px(same[3], path)) < kept_px:
                    found.append(same)
                    continue
                samples = sample_path(view, path, min(search_px, 0.5 * free))
                # What lies at the rim of the search is another edge: the mat's, or a shadow's.
                if len(samples) and abs(_offset_px(samples, path)) < 0.8 * search_px:
                    merged = 0.5 * apart if len(edges) > 1 else 0.0
                    found.append((index, side, edges, samples, merged))
    return found


def visible_edges(
    plane: WallPlane, frame: HungFrame, side: int, apart_px: float = APART_PX
) -> tuple[list[tuple[tuple[Edge, ...], float]], float]:
    """List the lines that one side shows, and how many px of its side face are seen.

    Beside each line stands how many px it is from the next one that could be taken for it. Seen
    from the side, a narrow face leaves little between its arris and where the mat begins.
    """
    face = [Edge("outline", inset, height) for inset, height in frame.face]
    outward = _outward_px(plane, frame, side, [FOOT, *face])
    outermost = int(np.argmax(outward[1:]))
    apart = float(outward[0] - outward[1 + outermost])
    if apart < HIDDEN_PX:
        return [((face[outermost],), np.inf)], apart
    if apart < apart_px:
        return [((face[outermost], FOOT), np.inf)], apart
    lines: list[tuple[tuple[Edge, ...], float]] = [((FOOT,), apart)]
    across = float(outward[1] - outward[-1]) if len(face) > 1 else np.inf
    if frame.has_arris and across >= apart_px:
        arris = Edge("arris", face[0].inset_mm, face[0].height_mm)
        lines.append(((arris,), min(apart, across)))
    return lines, apart


def inner_lines(
    plane: WallPlane, frame: HungFrame, side: int, apart_px: float
) -> list[tuple[tuple[Edge, ...], float, float]]:
    """List the lines seen within a frame at one side, as `visible_edges` does; and how far apart.

    Behind the lip its inner face may be seen, down to the picture: two lines again, or one where
    they cannot be distinguished.
    """
    inner = frame.inner
    if inner is None:
        return []
    edge = Edge(inner.kind, inner.sides_mm, inner.height_mm, inner.uneven_mm)
    further_out = replace(edge, inset_mm=edge.inset_mm - inner.free_mm)
    behind = replace(edge, height_mm=edge.height_mm - inner.behind_mm)
    outward = _outward_px(plane, frame, side, [edge, further_out, behind])
    free, apart = float(outward[1] - outward[0]), float(outward[0] - outward[2])
    if free < apart_px:
        return []
    if apart < HIDDEN_PX:
        return [((edge,), free, 0.0)]
    if apart < apart_px:
        return [((edge, behind), free, apart)]
    return [((edge,), min(free, apart), 0.0)]


def edge_corners(frame: HungFrame, edge: Edge) -> Array:
    """Corners (4, 3) of the rectangle that an edge runs along on all four sides."""
    place = np.array([frame.x_mm, frame.y_mm, frame.tilt_deg, frame.lean_deg])
    return box_corners(frame, place, edge.height_mm, edge.inset_mm, edge.uneven_mm)


def _outward_px(plane: WallPlane, frame: HungFrame, side: int, edges: list[Edge]) -> Array:
    """How far out in the picture the middle of each edge of a side is seen, px."""
    i, j = SIDE_ENDS[side]
    middles = [edge_corners(frame, edge)[[i, j]].mean(axis=0) for edge in edges]
    foot = edge_corners(frame, FOOT)
    seen = plane.project(np.array([*middles, foot[i], foot[j], foot.mean(axis=0)]))
    along = seen[-2] - seen[-3]
    normal = np.array([-along[1], along[0]]) / np.hypot(*along)
    outward = normal if normal @ (seen[-3] - seen[-1]) > 0 else -normal
    return np.asarray(seen[:-3] @ outward)


def _offset_px(samples: EdgeSamples, path: Array) -> float:
    """Median distance of samples from the path they were looked for along."""
    nearest = ((samples.points_px[:, None] - path[None]) ** 2).sum(axis=2).argmin(axis=1)
    across = (samples.normals_px * (samples.points_px - path[nearest])).sum(axis=1)
    return float(np.median(across))


def _path(plane: WallPlane, frame: HungFrame, side: int, edge: Edge) -> Array:
    """Photo points along an edge, its ends left out: 1 px apart, on a long one further."""
    i, j = SIDE_ENDS[side]
    start, end = edge_corners(frame, edge)[[i, j]]
    ends = plane.project(np.array([start, end]))
    count = int(np.clip(np.hypot(*(ends[1] - ends[0])) * (1 - 2 * TRIM), 8, MOST_POINTS))
    t = np.linspace(TRIM, 1 - TRIM, count)[:, None]
    return plane.project(start + t * (end - start))
