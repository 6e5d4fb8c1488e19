"""The joint fit of plane and frames, on edges that are exactly where a known camera sees them."""

from dataclasses import replace

import numpy as np
import pytest

from tests.as_hung.test_check import camera
from visualiser.as_hung.edges import (
    APART_PX,
    SIDE_ENDS,
    SideView,
    edge_corners,
    inner_lines,
    visible_edges,
)
from visualiser.as_hung.fit import fit_frames
from visualiser.as_hung.frame import HungFrame, InnerEdge
from visualiser.rectification.reference import EdgeSamples

DEPTH, RAIL = 24.0, 22.0


def frames(rail_mm=RAIL):
    section = ((0.0, DEPTH), (rail_mm, DEPTH))
    return [
        HungFrame(320.0, 420.0, DEPTH, x, y, 0.3, 0.6, section)
        for x, y in ((-570.0, 40.0), (-190.0, -60.0), (190.0, 30.0), (570.0, -20.0))
    ]


def exact_views(plane, hung):
    """Every side that is seen as one line, exactly where the plane's camera has it."""
    views = []
    for index, frame in enumerate(hung):
        for side, (i, j) in enumerate(SIDE_ENDS):
            inside = [lines[0] for lines in inner_lines(plane, frame, side, APART_PX)]
            for edges in [*(lines[0] for lines in visible_edges(plane, frame, side)[0]), *inside]:
                if len(edges) > 1:
                    continue
                ends = edge_corners(frame, edges[0])[[i, j]]
                along = np.linspace(0.06, 0.94, 30)[:, None]
                points = plane.project(ends[0] + along * (ends[1] - ends[0]))
                run = points[-1] - points[0]
                normal = np.array([-run[1], run[0]]) / np.hypot(*run)
                samples = EdgeSamples(points, np.tile(normal, (30, 1)), np.full(30, 0.05))
                views.append(SideView(index, side, edges, samples, 0.2, 0.1))
    return views


@pytest.mark.parametrize("scale", [0.98, 1.02])
def test_frames_correct_a_scale_that_was_only_roughly_known(scale):
    """Located on a plane that is 2 % off, the frames are no witnesses for it: their sizes tell."""
    plane, hung = camera(), frames()
    views = exact_views(plane, hung)
    sigma = np.r_[np.radians([0.05] * 3), [1.0, 1.0, 100.0], 0.003, 0.002, 0.001, 1.0, 1.0]
    rough = replace(
        plane,
        translation_mm=plane.translation_mm * scale,
        parameter_covariance=np.diag(sigma**2),
    )
    located = [replace(f, x_mm=f.x_mm * scale, y_mm=f.y_mm * scale) for f in hung]
    fit = fit_frames(rough, located, views)
    across = fit.frames[-1].x_mm - fit.frames[0].x_mm
    # Of the 2 % that is left which the rough plane's own claim to 4 % outweighs.
    assert across == pytest.approx(1140.0, rel=0.002)


def test_an_arris_beside_a_narrow_face_is_not_told_from_where_the_mat_begins():
    plane = camera(yaw_deg=55.0)
    for rail_mm, seen in ((5.0, False), (40.0, True)):
        kinds = {
            edge.kind
            for frame in frames(rail_mm)
            for side in range(4)
            for edges, _ in visible_edges(plane, frame, side)[0]
            for edge in edges
        }
        assert "foot" in kinds
        assert ("arris" in kinds) == seen


WINDOW = InnerEdge("window", 70.0, 60.0, 80.0, 16.0, 0.0, 40.0)


def moved_aside(view, px):
    """A faint side, seen to the right of where it is."""
    points = view.samples.points_px + [px, 0]
    return replace(view, samples=replace(view.samples, points_px=points), sigma_px=1.0)


def sure_camera():
    """A camera that is known, so that only the frames are in question."""
    return replace(camera(), parameter_covariance=np.diag(np.full(11, 1e-12)))


def test_a_mats_window_tells_where_a_frame_hangs_whose_outline_is_seen_beside_it():
    plane = sure_camera()
    hung = [replace(frame, inner=WINDOW) for frame in frames()]
    views = exact_views(plane, hung)
    # Both plumb sides of the second frame look 2 px to the right of where they are.
    wrong = [
        moved_aside(v, 2.0) if v.frame == 1 and v.side in (1, 3) and not v.edges[0].within else v
        for v in views
    ]
    off = fit_frames(plane, hung, wrong).frames[1].x_mm - hung[1].x_mm
    blind = [v for v in wrong if not v.edges[0].within]
    off_blind = fit_frames(plane, hung, blind).frames[1].x_mm - hung[1].x_mm
    assert abs(off_blind) > 2.0
    assert abs(off) < 0.5 * abs(off_blind)


def test_a_mat_cut_wider_than_planned_moves_no_frame():
    plane = sure_camera()
    cut = replace(WINDOW, top_mm=72.0, sides_mm=62.0, bottom_mm=82.0)
    hung = frames()
    views = exact_views(plane, [replace(frame, inner=cut) for frame in hung])
    planned = [replace(frame, inner=WINDOW) for frame in hung]
    views = [
        replace(v, edges=inner_lines(plane, planned[v.frame], v.side, APART_PX)[0][0])
        if v.edges[0].within
        else v
        for v in views
    ]
    for frame, seen in zip(hung, fit_frames(plane, planned, views).frames, strict=True):
        assert seen.x_mm == pytest.approx(frame.x_mm, abs=0.1)
        assert seen.y_mm == pytest.approx(frame.y_mm, abs=0.1)
        assert seen.tilt_deg == pytest.approx(frame.tilt_deg, abs=0.01)
