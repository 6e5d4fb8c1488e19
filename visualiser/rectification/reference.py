"""Something of known size on the wall: what kind it is and where it lies in the photo."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, PointsPx, frozen
from visualiser.rectification.kinds import make_of, thickness_mm_of

Origin = Literal["found", "clicked"]


@dataclass(frozen=True, slots=True)
class EdgeLook:
    """How an edge looks across itself: what its place may be biased by.

    Parameters
    ----------
    contrast
        Step in linear light from before the edge to behind it (as the normals point), as a share
        of the light before it.
    blur_px
        Standard deviation of the blur.
    shared_sigma_px
        Standard uncertainty that all samples share, where coding and not noise limits them.
    wander_px
        Standard uncertainty of the whole edge's place, because noise along it goes together: what
        compression, paint and shading do to a faint edge.
    clipped_share
        How far the brighter side is clipped: 0 not at all, 1 quite.
    """

    contrast: float
    blur_px: float
    shared_sigma_px: float = 0.0
    wander_px: float = 0.0
    clipped_share: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class EdgeSamples:
    """Sub-pixel points along one straight side of a reference, or along a room line.

    Parameters
    ----------
    points_px
        (N, 2) points on the edge.
    normals_px
        (N, 2) unit normals across the edge.
    sigma_px
        (N,) standard uncertainty of each point along its normal.
    look
        How the edge looks, where it was seen.
    """

    points_px: PointsPx
    normals_px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    look: EdgeLook | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "points_px", frozen(self.points_px, (None, 2)))
        count = len(self.points_px)
        object.__setattr__(self, "normals_px", frozen(self.normals_px, (count, 2)))
        object.__setattr__(self, "sigma_px", frozen(self.sigma_px, (count,)))

    def __len__(self) -> int:
        return len(self.points_px)


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """One candidate or confirmed reference.

    Parameters
    ----------
    kind
        As `kinds.check_kind` returns it (``a4``, ``target``, ``marker 100 mm``,
        ``102 x 152 mm``, …), or ``custom`` where only its two sides are known.
    corners_px
        (4, 2) corners in the photo: top-left, top-right, bottom-right, bottom-left as seen.
    width_mm, height_mm
        Size along the top edge and along the left edge, as seen.
    confidence
        Probability of being what was looked for, outlined rightly. A person's is 1.
    sides
        Edge samples of the top, right, bottom and left side (any may be empty); no tuple at all
        when only corners are known. Where a person clicked, four empty ones say that no edges are
        to be looked for.
    marks_px, marks_mm
        Further points of known place on it, in the photo and in its own plane with the origin at
        its centre, x right, y up (parts of a printed target).
    marks_sigma_px
        (N,) standard uncertainty of each mark; empty where the model's own stands for all.
    origin
        Whether the program found it or a person clicked it.
    size_sigma_mm
        Standard uncertainty of its two sizes.
    doubt
        What speaks most against it, as the end of a sentence; empty where nothing does.
    may_be
        Other common kinds that its shape fits as well or better.
    """

    kind: str
    corners_px: PointsPx
    width_mm: float
    height_mm: float
    confidence: float = 1.0
    sides: tuple[EdgeSamples, ...] = ()
    marks_px: PointsPx = field(default_factory=lambda: np.empty((0, 2)))
    marks_mm: PointsMm = field(default_factory=lambda: np.empty((0, 2)))
    marks_sigma_px: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    origin: Origin = "found"
    size_sigma_mm: float = 0.3
    doubt: str = ""
    may_be: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "corners_px", frozen(self.corners_px, (4, 2)))
        object.__setattr__(self, "marks_px", frozen(self.marks_px, (None, 2)))
        object.__setattr__(self, "marks_mm", frozen(self.marks_mm, (len(self.marks_px), 2)))
        count = len(self.marks_px) if len(self.marks_sigma_px) else 0
        object.__setattr__(self, "marks_sigma_px", frozen(self.marks_sigma_px, (count,)))
        if not (0 < self.width_mm < float("inf") and 0 < self.height_mm < float("inf")):
            raise ValueError(
                f"a reference's size must be positive, got {self.width_mm} x {self.height_mm} mm"
            )
        if len(self.sides) not in (0, 4):
            raise ValueError(f"a reference has four sides, got {len(self.sides)}")

    @classmethod
    def from_corners(
        cls, corners_px: PointsPx, width_mm: float, height_mm: float, kind: str = "custom"
    ) -> Reference:
        """Build a reference from four clicked corners, top-left first, clockwise as seen."""
        return cls(kind, corners_px, width_mm, height_mm, origin="clicked")

    @property
    def thickness_mm(self) -> float:
        """Thickness of a sheet of office paper, or of a bank card."""
        return thickness_mm_of(make_of(self.kind))

    @property
    def corners_mm(self) -> PointsMm:
        """(4, 2) corners in its own plane: origin at the centre, x right, y up."""
        half_w, half_h = self.width_mm / 2, self.height_mm / 2
        return np.array(
            [[-half_w, half_h], [half_w, half_h], [half_w, -half_h], [-half_w, -half_h]]
        )
