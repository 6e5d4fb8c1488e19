"""Decide which piece hangs where: by outline, moulding and mat, and by its picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.frame import SIDES, HungFrame, box_corners, names
from visualiser.as_hung.search import AGREED, AMBIGUOUS, SAME, STEP_MM, Inset, Located, locate
from visualiser.inventory.moulding_section import lip_depth_mm, picture_depth_mm
from visualiser.inventory.piece import Artwork, Piece
from visualiser.photo.photo import PixelsRgb
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float64]
GRID = 36
"""Pictures are compared at this many points a side: composition, not grain."""
PLAIN = 0.02
"""Standard deviation, of white, below which a picture has nothing to be recognised by."""
CLEARLY_SAME = 0.65
"""Correlation from which a picture makes up for sides of the outline that do not stand out."""
OTHER = 0.2
"""Below this a picture is not the planned one, unless its outline leaves no doubt."""
OUTSIDE = "its place is not in the picture"
"""Why a piece was not looked for."""
MARGIN = 0.15
"""Another piece is named only where it fits this much better."""
FAINT, BEYOND_DOUBT = 1.4, 3.2
"""Sum of the four sides' support: just enough with its picture recognised, and without."""


def picture_of(piece: Piece) -> Array | None:
    """Reduce a piece's picture to be compared; None without one, or where it is all but plain."""
    if piece.artwork is None:
        return None
    picture = as_seen(piece.artwork, piece)
    return picture if float(picture.std(axis=(0, 1)).max()) > PLAIN else None


def seen_in(pixels: PixelsRgb, plane: WallPlane, frame: HungFrame, piece: Piece) -> Array:
    """Cut out what is seen in a frame's window, (GRID, GRID, 3), top row first, 0 to 1."""
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    sides = rail + (piece.mat.sides_mm if piece.mat else 0.0)
    top = rail + (piece.mat.top_mm if piece.mat else 0.0)
    bottom = rail + (piece.mat.bottom_mm if piece.mat else 0.0)
    # Corner order top-left, top-right, bottom-right, bottom-left: bilinear in the picture's depth.
    place = np.array([frame.x_mm, frame.y_mm, frame.tilt_deg, frame.lean_deg])
    corners = box_corners(frame, place, picture_depth_mm(piece))
    u = (sides + (np.arange(GRID) + 0.5) / GRID * (frame.width_mm - 2 * sides)) / frame.width_mm
    v = (top + (np.arange(GRID) + 0.5) / GRID * (frame.height_mm - top - bottom)) / frame.height_mm
    across, down = (a[..., None] for a in np.meshgrid(u, v))
    upper = corners[0] + across * (corners[1] - corners[0])
    lower = corners[3] + across * (corners[2] - corners[3])
    px = plane.project((upper + down * (lower - upper)).reshape(-1, 3)).reshape(GRID, GRID, 2)
    low = np.maximum(np.floor(px.min(axis=(0, 1))).astype(int) - 2, 0)
    high = np.ceil(px.max(axis=(0, 1))).astype(int) + 3
    part: NDArray[Any] = pixels[low[1] : high[1], low[0] : high[0]]
    if part.size == 0:
        return np.zeros((GRID, GRID, 3))
    step = max(float(np.ptp(px[..., 0])), float(np.ptp(px[..., 1]))) / GRID
    if step > 1.5:
        part = cv2.GaussianBlur(part, (0, 0), 0.45 * step)
    local = (px - low).astype(np.float32)
    seen = cv2.remap(part, local[..., 0], local[..., 1], cv2.INTER_LINEAR)
    return np.asarray(seen, float) / 255


def picture_to_scale(piece: Piece, step_mm: float) -> Array | None:
    """Reduce a piece's picture to one sample in ``step_mm`` of its window; None as above."""
    if picture_of(piece) is None or piece.artwork is None:
        return None
    columns, rows = (max(round(side / step_mm), 1) for side in piece.window_mm)
    return as_seen(piece.artwork, piece, (rows, columns))


def as_seen(artwork: Artwork, piece: Piece, grid: tuple[int, int] = (GRID, GRID)) -> Array:
    """Reduce an artwork to a grid of rows and columns, cropped to its window's aspect."""
    width, height = piece.window_mm
    pixels = artwork.pixels
    rows, columns = pixels.shape[:2]
    wanted = width / height
    if columns / rows > wanted:
        keep = max(round(rows * wanted), 1)
        start = (columns - keep) // 2
        pixels = pixels[:, start : start + keep]
    else:
        keep = max(round(columns / wanted), 1)
        start = (rows - keep) // 2
        pixels = pixels[start : start + keep]
    small = cv2.resize(
        np.ascontiguousarray(pixels), (grid[1], grid[0]), interpolation=cv2.INTER_AREA
    )
    return np.asarray(small, float) / 255


def likeness(seen: Array, artwork: Array) -> float:
    """Correlation of two pictures, -1 to 1, blind to a lamp's brightness and colour.

    Each channel's mean is taken off and its gain cancels in the quotient; channels count by the
    contrast that the artwork has in them. Glare is a minority of points and is let off.
    """
    a, b = seen.reshape(-1, 3), artwork.reshape(-1, 3)
    weight = np.ones(len(a))
    for last in (False, False, True):
        mean_a, mean_b = (np.average(x, axis=0, weights=weight) for x in (a, b))
        da, db = a - mean_a, b - mean_b
        cross = (weight[:, None] * da * db).sum(axis=0)
        if not last:
            gain = cross / np.maximum((weight[:, None] * db * db).sum(axis=0), 1e-9)
            left = np.abs(da - gain * db).max(axis=1)
            weight = (left <= np.quantile(left, 0.9)).astype(float)
    power = (weight[:, None] * da * da).sum(axis=0) * (weight[:, None] * db * db).sum(axis=0)
    total = float(np.sqrt(power).sum())
    return float(cross.sum() / total) if total > 1e-6 else 0.0


@dataclass(frozen=True, slots=True)
class Sighting:
    """One piece seen at one place, both counted in the plan's order.

    ``likeness`` compares what is seen in its window with its picture, -1 to 1; None without one.
    """

    place: int
    piece: int
    located: Located
    likeness: float | None

    @property
    def recognised(self) -> bool:
        """Whether outline and picture both support it; the outline alone without a picture.

        A picture that is seen clearly makes up for sides that do not stand out.
        """
        if self.likeness is None:
            return self.located.convincing and self.located.agreement > AGREED
        if self.likeness > CLEARLY_SAME and sum(self.located.support) > FAINT:
            return True
        return self.located.convincing and self.likeness > SAME

    @property
    def sure(self) -> bool:
        """Whether it is recognised, and what is seen of outline, moulding and mat agrees.

        Among bricks a picture much like it may be found some centimetres beside another frame.
        """
        return self.recognised and self.located.agreement > AGREED

    @property
    def stands(self) -> bool:
        """Whether the evidence is enough to say that it hangs there."""
        if self.recognised or self.likeness is None:
            return self.recognised
        doubtless = self.likeness >= OTHER or sum(self.located.support) > BEYOND_DOUBT
        return self.located.convincing and doubtless

    @property
    def worth(self) -> float:
        """How well it fits, 0 to 1, for comparing pieces at one place."""
        if not self.stands:
            return 0.0
        return max(self.located.agreement if self.likeness is None else self.likeness, 0.0)

    @property
    def why_not(self) -> str:
        """What contradicts it."""
        weak = [s for s, v in zip(SIDES, self.located.support, strict=True) if v < 0.5]
        if not self.located.convincing:
            return f"no edge stands out at its {names(weak) or 'outline'}"
        if self.likeness is None:
            return "what hangs there has another outline, moulding or mat"
        return "what is seen there does not look like it"


def first_look(
    pixels: PixelsRgb, plane: WallPlane, pieces: Sequence[Piece], places: Sequence[HungFrame]
) -> dict[int, Located]:
    """Look for every planned piece's outline near its place, where that is in the picture."""

    def look(piece: Piece, place: HungFrame) -> Located | None:
        insets = inner_rectangles(piece)
        return locate(pixels, plane, place, insets=insets, picture=shown_picture(piece))

    # The filters let go of the interpreter: frames are looked for two at a time.
    with ThreadPoolExecutor(2) as both:
        looked = list(both.map(look, pieces, places))
    return {k: hit for k, hit in enumerate(looked) if hit is not None}


def second_look(
    pixels: PixelsRgb,
    plane: WallPlane,
    pieces: Sequence[Piece],
    places: Sequence[HungFrame],
    found: Mapping[int, Located],
) -> tuple[list[Sighting], dict[str, str]]:
    """Decide what hangs where, on a plane that the clear ones have refined.

    Parameters
    ----------
    pixels
        Photo, (H, W, 3) uint8.
    plane
        Refined plane.
    pieces, places
        The plan's pieces, and frames where the plan has them on the wall.
    found
        As `first_look` found them, the clear ones refined.

    Returns
    -------
    What was seen, and by piece id why the others were not.
    """
    looks = _Looks(pixels, plane, pieces, [picture_of(piece) for piece in pieces])
    seen: dict[int, Sighting] = {}
    reasons: dict[str, str] = {}
    for k, piece in enumerate(pieces):
        hit = found.get(k)
        if hit is None or not hit.clear:
            hit = looks.find(k, places[k])
        if hit is None:
            reasons[piece.id] = OUTSIDE
        else:
            seen[k] = looks.sighting(k, k, looks.settled(k, hit))
    exchanged = _exchanged(looks, places, seen)
    elsewhere = {s.piece: s.place for s in exchanged.values()}
    sightings = []
    for k in seen:
        best = exchanged.get(k, seen[k])
        if best.piece == k and k in elsewhere:
            place = pieces[elsewhere[k]]
            reasons[pieces[k].id] = f"it hangs where {place.called} belongs"
        elif best.stands or best.piece != k:
            sightings.append(best)
        else:
            reasons[pieces[k].id] = best.why_not
    return _each_frame_once(sightings, pieces, reasons), reasons


@dataclass(frozen=True, slots=True, eq=False)
class _Looks:
    """The photo, and what the plan's pieces look like in it."""

    pixels: PixelsRgb
    plane: WallPlane
    pieces: Sequence[Piece]
    pictures: Sequence[Array | None]

    def find(self, piece: int, near: HungFrame) -> Located | None:
        insets = inner_rectangles(self.pieces[piece])
        picture = shown_picture(self.pieces[piece])
        return locate(self.pixels, self.plane, near, insets=insets, picture=picture)

    def sighting(self, place: int, piece: int, hit: Located) -> Sighting:
        return Sighting(place, piece, hit, self.likeness(piece, hit.frame))

    def settled(self, piece: int, hit: Located) -> Located:
        """Let the picture decide between two places that the outline cannot distinguish."""
        here, there = self.likeness(piece, hit.frame), self.likeness(piece, hit.second)
        if here is None or there is None or hit.runner_up < AMBIGUOUS * hit.score:
            return hit
        if hit.runner_up * (1 + there) > hit.score * (1 + here):
            return replace(hit, frame=hit.second, second=hit.frame)
        return hit

    def likeness(self, piece: int, frame: HungFrame) -> float | None:
        picture = self.pictures[piece]
        if picture is None:
            return None
        return likeness(seen_in(self.pixels, self.plane, frame, self.pieces[piece]), picture)

    def doubtful(self, sighting: Sighting) -> bool:
        """Whether another piece may hang there: too little supports it, or more another."""
        if not sighting.sure or sighting.likeness is None:
            return not sighting.sure
        own = self.pieces[sighting.piece]
        for k, piece in enumerate(self.pieces):
            if k != sighting.piece and same_size(own, piece):
                other = self.likeness(k, sighting.located.frame)
                if other is not None and other > sighting.likeness + MARGIN:
                    return True
        return False


def _exchanged(
    looks: _Looks, places: Sequence[HungFrame], seen: Mapping[int, Sighting]
) -> dict[int, Sighting]:
    """Try doubtful pieces at each other's places; give those that changed over."""
    from scipy.optimize import linear_sum_assignment

    doubtful = [k for k, sighting in seen.items() if looks.doubtful(sighting)]
    trials: dict[tuple[int, int], Sighting] = {}
    for place in doubtful:
        for piece in doubtful:
            hit: Located | None = looks.settled(piece, seen[place].located)
            if not same_size(looks.pieces[place], looks.pieces[piece]):
                x, y = places[place].x_mm, places[place].y_mm
                hit = looks.find(piece, replace(places[piece], x_mm=x, y_mm=y))
                hit = looks.settled(piece, hit) if hit else None
            if hit is not None:
                trials[place, piece] = looks.sighting(place, piece, hit)
    worth = np.zeros((len(doubtful), len(doubtful)))
    for (place, piece), trial in trials.items():
        stay = MARGIN if place == piece else 0.0
        fits = place == piece or trial.recognised
        worth[doubtful.index(place), doubtful.index(piece)] = trial.worth + stay if fits else 0.0
    rows, columns = linear_sum_assignment(-worth)
    out = {}
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        if row != column and worth[row, column] > worth[row, row]:
            out[doubtful[row]] = trials[doubtful[row], doubtful[column]]
    for moved in list(out.values()):
        # Whose place was taken hangs, by elimination, where the other came from.
        back = trials.get((moved.piece, moved.place))
        taken = moved.place in {other.piece for other in out.values()}
        if back and back.located.convincing and not taken:
            out.setdefault(moved.piece, back)
    return out


def _each_frame_once(
    sightings: Sequence[Sighting], pieces: Sequence[Piece], reasons: dict[str, str]
) -> list[Sighting]:
    """One frame cannot be two pieces: the better claim keeps it."""
    kept: list[Sighting] = []
    for claim in sorted(sightings, key=lambda s: -s.located.agreement):
        frame = claim.located.frame
        if any(
            np.hypot(frame.x_mm - o.x_mm, frame.y_mm - o.y_mm)
            < 0.5 * min(frame.width_mm, frame.height_mm, o.width_mm, o.height_mm)
            for o in (other.located.frame for other in kept)
        ):
            reasons[pieces[claim.place].id] = "what hangs there is taken for its neighbour"
        else:
            kept.append(claim)
    return sorted(kept, key=lambda s: s.place)


def same_size(a: Piece, b: Piece) -> bool:
    """Whether two pieces could not be distinguished by their outline."""
    return abs(a.width_mm - b.width_mm) < 8 and abs(a.height_mm - b.height_mm) < 8


def inner_rectangles(piece: Piece) -> list[Inset]:
    """List the rectangles inside a piece's outline that show as edges."""
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    found = []
    if piece.moulding and rail > 0:
        found.append(Inset(rail, rail, rail, lip_depth_mm(piece.moulding)))
    return [*found, _window(piece)] if piece.mat else found


def shown_picture(piece: Piece) -> tuple[Inset, Array] | None:
    """Give a piece's window and what shows in it; None without a picture to recognise it by."""
    picture = picture_to_scale(piece, STEP_MM)
    return None if picture is None else (_window(piece), picture)


def _window(piece: Piece) -> Inset:
    """Find where the mat, or the moulding without one, leaves the picture free."""
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    depth = picture_depth_mm(piece)
    if not piece.mat:
        return Inset(rail, rail, rail, depth)
    mat = piece.mat
    return Inset(rail + mat.top_mm, rail + mat.sides_mm, rail + mat.bottom_mm, depth)
