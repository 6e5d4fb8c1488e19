"""The printed target: square markers of mixed sizes, black on white and white on black.

The largest marker is read across six metres of wall; the small ones serve where a hand or a plant
covers it. Once one is read, the whole page is registered as one known picture, from which come the
marks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.geometry import Rect
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.markers import (
    MarkerSet,
    SeenMarker,
    marker_shapes,
    read_markers,
)
from visualiser.rectification.finder.printed_pattern import PrintedPattern, map_points
from visualiser.rectification.finder.registration import Registration, register, turned_as_seen
from visualiser.rectification.kinds import TARGETS
from visualiser.rectification.reference import Reference
from visualiser.sizes import paper_size
from visualiser.wording import Length, sentence

Array = NDArray[np.float64]

CHECK_BAR_MM = 100.0
"""Length of the bar printed below the board, to measure the printer by."""
BAR_LIMITS_MM = (80.0, 120.0)
"""A bar outside these was measured in another unit, or is another line."""
PRINT_SIGMA = 0.001
"""Relative standard uncertainty of a print's size, once the bar has been measured to 0.2 mm."""
MARKERS = MarkerSet("DICT_4X4_50")
QUIET_MM = 6.0
"""White around the board that belongs to the pattern."""
BOARD_MM = (180.0, 204.0)
"""Width and height of the board: what fits A4 and Letter with the printers' margins."""
TOP_MARGIN_MM = 14.0
"""From the page's upper edge to the board: clear of what office printers leave white (common
practice, no source)."""
WELL_LIKE = 0.975
"""Likeness from which on no other reading of the markers, and no other size, is looked at."""
LEAST_SEEN = 0.3
"""Share of the page's patches that must agree with the photo, of those in the picture."""


@dataclass(frozen=True, slots=True)
class BoardMarker:
    """One marker of the board: mm from the board's upper left corner, y down."""

    number: int
    left_mm: float
    top_mm: float
    side_mm: float
    inverted: bool = False


@dataclass(frozen=True, slots=True)
class TargetBoard:
    """Layout of the board on a paper.

    Parameters
    ----------
    paper
        Paper it is printed on.
    first_marker
        Number of its first marker: each paper has its own, so that they cannot be mixed up.
    """

    paper: str
    first_marker: int

    @property
    def width_mm(self) -> float:
        """Width of the board."""
        return BOARD_MM[0]

    @property
    def height_mm(self) -> float:
        """Height of the board."""
        return BOARD_MM[1]

    @property
    def left_mm(self) -> float:
        """From the page's left edge to the board."""
        return (paper_size(self.paper).width_mm - self.width_mm) / 2

    @property
    def bottom_mm(self) -> float:
        """From the page's lower edge to the board."""
        return paper_size(self.paper).height_mm - TOP_MARGIN_MM - self.height_mm

    @property
    def markers(self) -> tuple[BoardMarker, ...]:
        """One large marker, two small beside it, and three white on a black band below."""
        first = self.first_marker
        large, small, gap = 120.0, 48.0, 12.0
        beside = large + gap
        band = large + 2 * gap
        aside = (self.width_mm - 3 * small) / 4
        return (
            BoardMarker(first, 0.0, 0.0, large),
            BoardMarker(first + 1, beside, 0.0, small),
            BoardMarker(first + 2, beside, large - small, small),
            *(
                BoardMarker(first + 3 + i, aside + i * (small + aside), band, small, inverted=True)
                for i in range(3)
            ),
        )

    def painted(self) -> list[tuple[Rect, bool]]:
        """Rectangles to paint one over the other, and whether each is black.

        In mm from the board's lower left corner, y up.
        """
        band_mm = 72.0
        shapes = [(Rect(0.0, 0.0, self.width_mm, band_mm), True)]
        for marker in self.markers:
            shapes += marker_shapes(
                MARKERS,
                marker.number,
                marker.left_mm,
                self.height_mm - marker.top_mm,
                marker.side_mm,
                marker.inverted,
            )
        return shapes


def target_board(kind: str) -> TargetBoard:
    """Board of a kind of target, ``target`` or ``target-letter``.

    Raises
    ------
    ValueError
        If the kind is no target.
    """
    if kind not in TARGETS:
        raise ValueError(f"expected one of {', '.join(TARGETS)}, got {kind!r}")
    return TargetBoard(TARGETS[kind], first_marker=20 + 10 * list(TARGETS).index(kind))


def find_target(photo: Photo, kind: str, measured_bar_mm: float = CHECK_BAR_MM) -> list[Reference]:
    """Look for a printed target at any turn, also partly covered.

    Parameters
    ----------
    photo
        The photo.
    kind
        ``target`` or ``target-letter``.
    measured_bar_mm
        What the printed check bar of 100 mm measures on the page as printed.

    Returns
    -------
    The target, or nothing. Its corners are the page's, and its marks lie on the board.

    Raises
    ------
    MeasurementError
        If the bar's length cannot be right.
    """
    if not BAR_LIMITS_MM[0] <= measured_bar_mm <= BAR_LIMITS_MM[1]:
        raise MeasurementError(
            sentence(
                "A check bar of ",
                Length(measured_bar_mm, None),
                " cannot be right: it is drawn 100 mm long.",
            ),
            hint="Measure the bar under the board in millimetres, end mark to end mark.",
        )
    board = target_board(kind)
    numbers = [marker.number for marker in board.markers]
    best: Registration | None = None
    for seen in read_markers(photo, MARKERS, numbers, both=True):
        for start in _starts(board, seen):
            if best is not None and best.likeness >= WELL_LIKE:
                break
            found = register(photo, _pattern(board), start)
            if found is not None and found.seen >= LEAST_SEEN and _better(found, best):
                best = found
        if best is not None and best.likeness >= WELL_LIKE:
            break
    if best is None:
        return []
    return [_as_reference(kind, board, best, measured_bar_mm / CHECK_BAR_MM)]


def _as_reference(
    kind: str, board: TargetBoard, found: Registration, printed_scale: float
) -> Reference:
    paper = paper_size(board.paper)
    width, height = paper.width_mm, paper.height_mm
    # The paper keeps its size where the print was shrunk, about the middle of the page.
    aside = np.array(
        [
            board.left_mm + board.width_mm / 2 - width / 2,
            board.bottom_mm + board.height_mm / 2 - height / 2,
        ]
    )
    marks_mm = (found.marks_mm + aside) * printed_scale
    half = np.array([[-width, height], [width, height], [width, -height], [-width, -height]]) / 2
    corners = map_points(found.to_photo, half / printed_scale - aside)
    # Corners go by how they are seen, so a page hung on its side has its top elsewhere.
    corners, marks_mm, turn = turned_as_seen(corners, marks_mm)
    if turn % 2:
        width, height = height, width
    return Reference(
        kind,
        corners,
        width,
        height,
        confidence=0.9 + 0.09 * min(1.0, found.seen),
        marks_px=found.marks_px,
        marks_mm=marks_mm,
        marks_sigma_px=found.sigma_px,
        size_sigma_mm=PRINT_SIGMA * max(width, height),
    )


@cache
def _pattern(board: TargetBoard) -> PrintedPattern:
    """Build the pattern of a board and the white around it, from its middle."""
    half_w, half_h = board.width_mm / 2, board.height_mm / 2
    outline = Rect(
        -half_w - QUIET_MM,
        -half_h - QUIET_MM,
        board.width_mm + 2 * QUIET_MM,
        board.height_mm + 2 * QUIET_MM,
    )
    shapes = tuple(
        (Rect(r.left_mm - half_w, r.bottom_mm - half_h, r.width_mm, r.height_mm), black)
        for r, black in board.painted()
    )
    return PrintedPattern(outline, shapes)


def _starts(board: TargetBoard, seen: list[SeenMarker]) -> list[Array]:
    """First guesses of the homography: from all markers that were read, then from each."""
    layout = {marker.number: marker for marker in board.markers}
    middle = np.array([board.width_mm / 2, board.height_mm / 2])
    pairs = []
    for one in seen:
        marker = layout[one.number]
        square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]]) * marker.side_mm
        down = square + [marker.left_mm, marker.top_mm]
        pairs.append(((down - middle) * [1, -1], one.corners_px))
    pairs.sort(key=lambda pair: -float(np.ptp(pair[1], axis=0).max()))
    starts = []
    if len(pairs) > 1:
        together = cv2.findHomography(
            np.concatenate([p[0] for p in pairs]),
            np.concatenate([p[1] for p in pairs]),
            cv2.RANSAC,
            3.0,
        )[0]
        if together is not None:
            starts.append(np.asarray(together, np.float64))
    starts += [
        np.asarray(
            cv2.getPerspectiveTransform(mm.astype(np.float32), px.astype(np.float32)), np.float64
        )
        for mm, px in pairs[:3]
    ]
    return starts


def _better(found: Registration, best: Registration | None) -> bool:
    return best is None or found.information > best.information
