"""Long straight edges of the room: ceiling, skirting, corners, door frames.

Found with a line-segment detector on a small copy, joined along gentle curves (a lens bends what
is straight), and located again on the full picture. Which of them are plumb or level is not
decided here.

Pieces of one long edge that something hides in between, or that a lens bends, made one again.

A ceiling's edge that bends by some pixels over the picture comes out of the detector in pieces, and
so does a skirting behind a plant. Each piece alone might be a picture's or a shelf's; together they
are as long as only a building's edges are, and tell their direction that much better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.edges.locate import block_count, no_samples, sample_path
from visualiser.rectification.marks import DrawnLine
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

DETECTION_SIDE_PX = 1400
"""Long side of the copy on which segments are looked for."""
MIN_LENGTH = 0.09
"""Shortest line worth using, as a fraction of the picture's long side."""
MAX_LINES, MOST_OF_A_KIND = 40, 25
"""Most lines of one photo, and of them most that are steep, or flat: rows of bricks or boards would
leave no place to the door frame, and only both kinds tell the camera's whole turn. (A building's
edges stray each by itself, so that more of them tell more: with 24 and 15 level is off by 1.4°, not
0.9, in the worst twentieth of York Urban's walls. Of hung things fewer are taken: `things`.)"""
SAME_WAY = 0.995
"""Cosine of what a segment may turn away from the first of its chain."""
STEEPEST, AT_MOST_ASIDE_PX = 0.12, 6.0
"""So a chain leads no further aside than by this share of the way along, and a few px."""
MAX_TRIES = 80
"""Chains that are looked at closely."""
SUPPORT, MIN_SUPPORT = 0.5, 0.4
"""Share of a joined line that its segments cover: dots in a row are no edge. Where leaves of a
wallpaper cross a ceiling's edge the share may be lower; the edge must then be seen between them."""
MIN_SEEN = 0.3
"""Share of such a line's blocks in which a close look finds the edge."""
LINE_SIGMA_FLOOR_PX = 0.05
"""Paint, plaster and shading move a room's edges by more than noise does."""


@dataclass(frozen=True, slots=True, eq=False)
class RoomLine:
    """One long edge.

    Parameters
    ----------
    name
        Stable within one photo, for a person to confirm or reject.
    samples
        Points on it.
    drawn
        The drawn line it came from, or None when found.
    beside_wall
        Whether the wall borders it: what stands before a wall need not run along it.
    pieces
        The lines that it was joined of, each told by its own name; none where it is one piece.
    """

    name: str
    samples: EdgeSamples
    drawn: DrawnLine | None = None
    beside_wall: bool = True
    pieces: tuple[RoomLine, ...] = ()

    @property
    def names(self) -> set[str]:
        """Its name and those of its pieces."""
        return {self.name, *(piece.name for piece in self.pieces)}

    @property
    def ends_px(self) -> PointsPx:
        """(2, 2) its first and last point."""
        return np.asarray(self.samples.points_px[[0, -1]])

    @property
    def length_px(self) -> float:
        """Distance between its ends."""
        return float(np.hypot(*np.diff(self.ends_px, axis=0)[0]))

    @property
    def heading(self) -> Array:
        """(2,) unit vector from its first point to its last."""
        return np.asarray(np.diff(self.ends_px, axis=0)[0] / max(self.length_px, 1e-9))


def find_room_lines(photo: Photo, avoid_px: Sequence[PointsPx] = ()) -> list[RoomLine]:
    """Find long straight edges, longest first.

    Parameters
    ----------
    photo
        The photo.
    avoid_px
        Outlines (4, 2) of references: their own sides are no room lines.
    """
    scale = min(1.0, DETECTION_SIDE_PX / max(photo.width_px, photo.height_px))
    segments = _segments(photo, scale)
    shortest = MIN_LENGTH * max(photo.width_px, photo.height_px)
    chains = [c for c in _chains(segments, shortest * scale) if c.length >= shortest * scale]
    chains.sort(key=lambda c: -c.length)
    if not chains:
        return []
    view = LinearView.whole(photo)
    outlines = [_grown(np.asarray(a, float), 1.25) for a in avoid_px]
    lines: list[RoomLine] = []
    steep_or_flat, tries = [0, 0], 0
    for chain in chains:
        kind = int(abs(chain.along[0]) > abs(chain.along[1]))
        if steep_or_flat[kind] == MOST_OF_A_KIND:
            continue
        path = (chain.path(1 / scale) + 0.5) / scale - 0.5
        if any(_inside(outline, path[len(path) // 2]) for outline in outlines):
            continue
        if tries == MAX_TRIES:
            break
        tries += 1
        found = sample_path(view, path, max(2.5, 1.6 / scale))
        if chain.support < SUPPORT and len(found) < MIN_SEEN * block_count(len(path)):
            continue
        samples = _calmed(found)
        line = RoomLine("", samples)
        if len(samples) < 8 or line.length_px < shortest or any(_same(line, o) for o in lines):
            continue
        lines.append(line)
        steep_or_flat[kind] += 1
        if len(lines) == MAX_LINES:
            break
    lines.sort(key=lambda line: -line.length_px)
    return [RoomLine(f"line-{i + 1}", line.samples) for i, line in enumerate(lines)]


def snap_drawn_line(photo: Photo, drawn: DrawnLine, name: str) -> RoomLine:
    """Locate the edge under a drawn line; where there is none the drawn line itself is used."""
    clicked = np.array([drawn.start_px, *drawn.through_px, drawn.end_px], float)
    start, end = clicked[0], clicked[-1]
    length = float(np.hypot(*(end - start)))
    samples = no_samples()
    if len(clicked) == 2 and length > 30:
        reach = max(6.0, 0.004 * max(photo.width_px, photo.height_px))
        path = start + np.linspace(0, 1, int(length))[:, None] * (end - start)
        view = LinearView.around(photo.pixels, clicked, reach + 10)
        samples = _calmed(sample_path(view, path, reach))
    if not len(samples):
        normal = np.array([-(end - start)[1], (end - start)[0]]) / length
        count = len(clicked)
        samples = EdgeSamples(clicked, np.tile(normal, (count, 1)), np.full(count, drawn.sigma_px))
    return RoomLine(name, samples, drawn)


def _calmed(samples: EdgeSamples) -> EdgeSamples:
    """Give a room edge's samples the floor that rooms deserve, and thin them."""
    step = max(1, -(-len(samples) // 24))
    sigma = np.hypot(samples.sigma_px[::step], LINE_SIGMA_FLOOR_PX)
    return EdgeSamples(samples.points_px[::step], samples.normals_px[::step], sigma)


def _segments(photo: Photo, scale: float) -> Array:
    """Directed segments (N, 4) on the small copy, dark always on the same hand."""
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
    if scale < 1:
        grey = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    # Refined: arches are broken up, or one straight segment would stand for a bent ceiling line.
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD, 0.8).detect(grey)[0]
    # None where there is nothing, whatever OpenCV's own type hints say.
    segments = np.array([] if found is None else found, float).reshape(-1, 4)
    length = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    return np.asarray(segments[length > 9])


@dataclass(slots=True)
class _Chain:
    """Segments joined along one gentle curve, in the frame of its first segment."""

    origin: Array
    along: Array
    across: Array
    curve: Array
    low: float
    high: float
    support: float

    @property
    def length(self) -> float:
        return self.high - self.low

    def path(self, spacing: float) -> Array:
        """Points (N, 2) about 1 / ``spacing`` px apart."""
        t = np.linspace(self.low, self.high, max(int(self.length * spacing), 10))
        return np.asarray(
            self.origin + t[:, None] * self.along + np.polyval(self.curve, t)[:, None] * self.across
        )


def _chains(segments: Array, longest_gap: float) -> list[_Chain]:
    """Join segments greedily, longest first, while they follow one parabola."""
    start, end = segments[:, :2], segments[:, 2:]
    heading = end - start
    length = np.hypot(*heading.T)
    heading = heading / np.maximum(length, 1e-9)[:, None]
    centre = (start + end) / 2
    free = np.ones(len(segments), bool)
    chains = []
    for seed in np.argsort(-length):
        if not free[seed] or length[seed] < 14:
            continue
        along, across = heading[seed], np.array([-heading[seed, 1], heading[seed, 0]])
        origin = centre[seed]
        # Only what runs the same way can follow, from where that way leads: the rest is not looked
        # at again.
        similar = np.flatnonzero(free & (heading @ along > SAME_WAY))
        from_seed = centre[similar] - origin
        reached = np.abs(from_seed @ across) < AT_MOST_ASIDE_PX + STEEPEST * np.abs(
            from_seed @ along
        )
        similar = similar[reached]
        from_start, from_end = start[similar] - origin, end[similar] - origin
        t = np.stack([from_start @ along, from_end @ along], axis=1)
        v = np.stack([from_start @ across, from_end @ across], axis=1)
        first, last, middle = t.min(axis=1), t.max(axis=1), t.mean(axis=1)
        tangent = (heading[similar] @ across) / (heading[similar] @ along)
        weight = length[similar]
        # A short segment's direction is uncertain by about a pixel over its length.
        turn_limit = 0.02 + 1.2 / weight
        member = similar == seed
        curve = np.zeros(3)
        low, high = float(first[member][0]), float(last[member][0])
        for _ in range(40):
            near = (first < high + longest_gap) & (last > low - longest_gap)
            a, b, c = curve
            off = np.abs(v - ((a * t + b) * t + c)).max(axis=1)
            turn = np.abs(tangent - (2 * a * middle + b))
            grown = ((off < 1.6) & (turn < turn_limit) & near) | member
            if (grown == member).all():
                break
            member = grown
            low, high = float(first[member].min()), float(last[member].max())
            curve = _parabola(t[member], v[member], weight[member])
        free[similar[member]] = False
        support = float(weight[member].sum()) / (high - low)
        if support >= MIN_SUPPORT:
            chains.append(_Chain(origin, along, across, curve, low, high, support))
    return chains


def _parabola(t: Array, v: Array, weight: Array) -> Array:
    """Fit a parabola to segment ends, its sag held to what lenses do."""
    span = max(float(np.ptp(t)), 1.0)
    x = t.ravel() / span
    w = np.repeat(weight, 2)
    basis = np.c_[x**2, x, np.ones_like(x)]
    # Sag over a chord of this length: some per cent of it at the very most.
    held = np.diag([w.sum() * (1.0 / (0.02 * span)) ** 2, 1e-9, 1e-9])
    solution = np.linalg.solve(basis.T @ (w[:, None] * basis) + held, basis.T @ (w * v.ravel()))
    return np.asarray(solution / [span**2, span, 1.0])


def _grown(outline: Array, factor: float) -> Array:
    centre = outline.mean(axis=0)
    return np.asarray(centre + factor * (outline - centre))


def _inside(outline: Array, point: Array) -> bool:
    contour = outline.astype(np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(contour, (float(point[0]), float(point[1])), False) >= 0


def _same(line: RoomLine, other: RoomLine) -> bool:
    """Whether two lines were found on one edge: they overlap and lie within 1.5 px."""
    middle = line.samples.points_px[len(line.samples) // 2]
    place = (middle - other.ends_px[0]) @ other.heading
    if not 0 < place < other.length_px:
        return False
    nearest = np.hypot(*(other.samples.points_px - middle).T).argmin()
    gap = (middle - other.samples.points_px[nearest]) @ other.samples.normals_px[nearest]
    return bool(abs(gap) < 1.5)


SAME_WAY_JOINED = 0.97
"""Cosine between two pieces, dark on the same hand of both; lenses bend a long edge by some
degrees."""
MISFIT, LEAST_MISFIT_PX = 1.6e-4, 0.4
"""How far, root mean square, both may stray from one parabola: a share of the picture's long side
(what a lens's second term leaves of it over the whole picture), and never less than these pixels.
Two edges side by side, as a moulding has, stray by half their distance at the ends."""
MOST_OVERLAP = 0.1
"""Pieces that run side by side for more than this share of the shorter are two edges."""
MOST_SAG = 0.04
"""Sag over the chord: no corrected lens bends more."""


def join_pieces(lines: Sequence[RoomLine], long_side_px: int) -> list[RoomLine]:
    """Join lines that lie on one gently bent edge; each keeps the name of its longest piece.

    Parameters
    ----------
    lines
        Lines as found.
    long_side_px
        Longer side of the photo.

    Returns
    -------
    Lines, longest first; those that a person drew stay as they are.
    """
    drawn = [line for line in lines if line.drawn is not None]
    rest = sorted((line for line in lines if line.drawn is None), key=lambda line: -line.length_px)
    limit_px = max(MISFIT * long_side_px, LEAST_MISFIT_PX)
    joined = []
    while rest:
        whole = [rest.pop(0)]
        grown = True
        while grown:
            # The nearest first: a far piece fits by chance more easily.
            rest.sort(key=lambda line: _gap_px(whole, line))
            grown = False
            for line in rest:
                if _one_edge([*whole, line], limit_px):
                    whole.append(line)
                    rest.remove(line)
                    grown = True
                    break
        joined.append(_merged(whole))
        rest.sort(key=lambda line: -line.length_px)
    return drawn + sorted(joined, key=lambda line: -line.length_px)


def _gap_px(whole: Sequence[RoomLine], line: RoomLine) -> float:
    """Shortest way between the ends of an edge's pieces and those of a line."""
    ends = np.concatenate([piece.ends_px for piece in whole])
    return float(np.hypot(*(ends[:, None] - line.ends_px[None]).T).min())


def _one_edge(pieces: Sequence[RoomLine], limit_px: float) -> bool:
    """Whether the last of some pieces lies on one parabola with the others, and beside none."""
    newest = pieces[-1]
    heading = pieces[0].heading
    if newest.heading @ heading < SAME_WAY_JOINED:
        return False
    points = np.concatenate([piece.samples.points_px for piece in pieces])
    middle = points.mean(axis=0)
    along = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    along = along * np.sign(along @ heading)
    t = (points - middle) @ along
    v = (points - middle) @ np.array([-along[1], along[0]])
    reaches = [np.sort((piece.ends_px - middle) @ along) for piece in pieces]
    for low, high in reaches[:-1]:
        shared = min(high, reaches[-1][1]) - max(low, reaches[-1][0])
        if shared > MOST_OVERLAP * min(high - low, reaches[-1][1] - reaches[-1][0]):
            return False
    span = max(r[1] for r in reaches) - min(r[0] for r in reaches)
    if sum(r[1] - r[0] for r in reaches) < MIN_SUPPORT * span:
        return False
    curve = np.polyfit(t / span, v, 2)
    if abs(curve[0]) / 4 > MOST_SAG * span:
        return False
    off = (v - np.polyval(curve, t / span)) ** 2
    ends = np.cumsum([len(piece.samples) for piece in pieces])[:-1]
    return all(part.mean() < limit_px**2 for part in np.split(off, ends))


def _merged(pieces: Sequence[RoomLine]) -> RoomLine:
    """One line of all samples in their order, under the first piece's name."""
    if len(pieces) == 1:
        return pieces[0]
    heading = pieces[0].heading
    ordered = sorted(pieces, key=lambda piece: float(piece.ends_px[0] @ heading))
    parts = [piece.samples for piece in ordered]
    samples = EdgeSamples(
        np.concatenate([part.points_px for part in parts]),
        np.concatenate([part.normals_px for part in parts]),
        np.concatenate([part.sigma_px for part in parts]),
    )
    return RoomLine(pieces[0].name, samples, pieces=tuple(pieces))
