"""Compute how far seen edges lie from those of frames at given places, and what is expected there.

Four parts: what all edges share, what the same side of all frames shares (one light), what each
frame has (an inset all round), and what each side has to itself. Only the last two are errors of
the frames' places among themselves; the size of the last is learnt from the photo. They stem from
eased edges, from highlights on rounded faces and from shadows beside the frames.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.edges import SIDE_ENDS, Edge, SideView
from visualiser.as_hung.frame import HungFrame, box_corners, corners_by_place
from visualiser.geometry import Matrix
from visualiser.rectification.camera.projection import CameraState, project

Array = NDArray[np.float64]
PLACE = 5
"""Numbers of one frame's place: x mm, y mm, tilt deg, lean deg, depth beyond the planned mm."""
INNER = 5
"""Numbers of where the inner edge lies in its frame: right mm, up mm, turned deg, further in mm,
further out from the wall mm."""
SharedKind = Literal["outline", "round", "foot", "arris"]
COMMON_SIGMA_MM, TONE_SHARE = 0.25, 0.3
"""How much smaller all frames of a photo are seen than they are, all round. A tone curve that is
not the standard's moves the middle of a blurred step: of a camera that writes light as it is, by
half a blur; anything between that and nothing is alike likely, 0.3 in all."""
SHARED_SIGMA_MM: dict[SharedKind, float] = {
    "outline": 0.5,
    "round": 0.9,
    "foot": 1.1,
    "arris": 0.8,
}
"""How much further in one side of all frames is seen than that, for each kind of edge."""
KINDS: tuple[SharedKind, ...] = tuple(SHARED_SIGMA_MM)
INSET_SIGMA_MM = 0.5
"""How much a frame is seen smaller all round than its neighbours. (These are components of variance
of 614 sides in rendered rooms, seen with the true cameras: 0.1 to 0.3 in common, 0.5 shared by
outlines with a sharp edge and 0.8 by rounded ones, 0.7 to 1.1 by feet; insets 0.5.)"""
INNER_SIGMA = {
    "window": np.array([0.7, 0.7, 0.1, 1.5, 2.0]),
    "lip": np.array([0.3, 0.3, 0.05, 1.0, 1.5]),
}
"""How far what shows within a frame lies from where it should: right and up mm, turned degrees,
further in all round mm, further out from the wall mm. A mat has some play in its rebate and is cut
to about a millimetre; a moulding is as wide on all sides. (Common practice, no source.)"""
FREEDOM = 6.0
"""Degrees of freedom of the t distribution of sides' own errors: some are far out."""
BELIEF = 12.0
"""The expected size counts as much as this many sides."""


def along_side(view: SideView) -> Array:
    """Place (S,) of each sample along its side, -1 to 1."""
    points = view.samples.points_px
    span = points[-1] - points[0]
    t = (points - points[0]) @ span / max(float(span @ span), 1e-9)
    return np.asarray(2 * t - 1)


def middle_residuals(
    state: CameraState, frame: HungFrame, place: Array, seen_px: Array
) -> tuple[Array, Array]:
    """Distance (2,) of the front's middle from where the search saw it, derivatives (2, 16)."""
    edge = Edge("outline", 0.0, frame.depth_mm)
    corners = _corners(frame, np.r_[place, 0.0], edge)
    predicted, by_camera, by_point = state.project(corners)
    by_place = np.einsum(
        "skx,sxp->skp", by_point, _corners_by_place(frame, np.r_[place, 0.0], edge)
    )
    jacobian = np.concatenate([by_camera, by_place[:, :, :PLACE]], axis=2)
    return seen_px - predicted.mean(axis=0), jacobian.mean(axis=0)


def _corners(frame: HungFrame, place: Array, edge: Edge) -> Matrix:
    """Corners (4, 3) of an edge's rectangle at ``place`` = (x, y, tilt, lean, deeper, inset)."""
    height, inset = edge.height_mm + place[4] * _share(frame, edge), edge.inset_mm + place[5]
    return box_corners(frame, place[:4], height, inset, edge.uneven_mm)


def _share(frame: HungFrame, edge: Edge) -> float:
    """How far out an edge moves with a frame's depth; what lies within has a depth of its own."""
    if edge.within:
        return 1.0
    return edge.height_mm / frame.depth_mm if frame.depth_mm > 0 else 0.0


def _corners_by_place(frame: HungFrame, place: Array, edge: Edge) -> Array:
    """Differentiate an edge's corners by x, y, tilt, lean, depth and inset: (4, 3, 6)."""
    share = _share(frame, edge)
    height, inset = edge.height_mm + place[4] * share, edge.inset_mm + place[5]
    by = corners_by_place(frame, place[:4], height, inset, edge.uneven_mm)
    by[:, :, 4] *= share
    return by


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A view held against one line of a frame at ``place``, ``inset_mm`` further in."""

    frame: HungFrame
    place: Array
    inset_mm: float
    edge: Edge
    view: SideView


def side_residuals(
    state: CameraState, trials: Sequence[Trial]
) -> list[tuple[Array, Array, Array, Array]]:
    """Distance of samples from predicted edges along their normals, with derivatives.

    Returns
    -------
    For each trial residual (S,) px, by camera (S, 11), by place (S, 5), by inset (S,).
    """
    if not trials:
        return []
    counts = [len(trial.view.samples) for trial in trials]
    of = np.repeat(np.arange(len(trials)), counts)
    points = np.concatenate([trial.view.samples.points_px for trial in trials])
    normals = np.concatenate([trial.view.samples.normals_px for trial in trials])
    ends = np.empty((len(trials), 2, 3))
    by_ends = np.empty((len(trials), 2, 3, PLACE + 1))
    for k, trial in enumerate(trials):
        whole = np.append(trial.place, trial.inset_mm)
        ends_at = list(SIDE_ENDS[trial.view.side])
        ends[k] = _corners(trial.frame, whole, trial.edge)[ends_at]
        by_ends[k] = _corners_by_place(trial.frame, whole, trial.edge)[ends_at]
    in_camera = state.to_camera(ends.reshape(-1, 3))
    start_px, end_px = project(state.lens, in_camera).pixels.reshape(-1, 2, 2)[of].swapaxes(0, 1)
    along = end_px - start_px
    t = ((points - start_px) * along).sum(axis=1) / (along * along).sum(axis=1)
    # Perspective: the same share along the picture is another share along the edge.
    first, last = in_camera[:, 2].reshape(-1, 2)[of].T
    t = (t * first / (last + t * (first - last)))[:, None]
    predicted, by_camera, by_point = state.project(ends[of, 0] + t * (ends[of, 1] - ends[of, 0]))
    residual = (normals * (points - predicted)).sum(axis=1)
    across = np.einsum("sk,skx->sx", normals, by_point)
    xyz_by_place = by_ends[of, 0] + t[:, :, None] * (by_ends[of, 1] - by_ends[of, 0])
    by_place = np.einsum("sx,sxp->sp", across, xyz_by_place)
    camera = np.einsum("sk,skp->sp", normals, by_camera)
    cuts = np.cumsum(counts)[:-1]
    parts = (residual, camera, by_place[:, :PLACE], by_place[:, PLACE])
    return list(zip(*(np.split(part, cuts) for part in parts), strict=True))


def shared_kind(frame: HungFrame, edge: Edge) -> SharedKind:
    """Tell what an edge shares its errors with."""
    if edge.kind in ("foot", "arris"):
        return edge.kind
    return "outline" if frame.has_arris else "round"


class SideSpread:
    """Size of the sides' own errors of one kind, learnt while fitting.

    Parameters
    ----------
    sigma_px
        (V,) expected standard uncertainty of each side.

    Notes
    -----
    Expectation maximisation for the scale of a t distribution, each error weighed by how well its
    size agrees with the rest; an error's expected square is its estimate's plus its variance.

    References
    ----------
    K. L. Lange, R. J. A. Little, J. M. G. Taylor, "Robust statistical modeling using the t
    distribution", J. Am. Stat. Assoc. 84:881-896, 1989, section 3 and appendix B (from memory):
    estimation, and the information that an observation of scale 1 has, (v + 1) / (v + 3).
    """

    def __init__(self, sigma_px: Array) -> None:
        self.expected = sigma_px**2
        self.variance = self.expected.copy()
        self.scale = 1.0

    def learn(self, error_px: Array, variance_px: Array) -> None:
        """Take the errors (V,) and their variances (V,) of the fit so far into account."""
        square = (error_px**2 + variance_px) / self.expected
        weight = (FREEDOM + 1) / (FREEDOM + square / self.scale)
        self.scale = float((BELIEF + (weight * square).sum()) / (BELIEF + len(square)))
        self.variance = self.expected * self.scale / weight

    @property
    def told(self) -> Array:
        """Variances (V,) for half-widths: the weights of the fit make it seem too sure.

        A side that agrees is weighed more than it is worth on the average, since the next one may
        not; the expected information of the t distribution counts, not the weight of the day.
        """
        expected = self.expected * self.scale * (FREEDOM + 3) / (FREEDOM + 1)
        return np.maximum(self.variance, expected)
