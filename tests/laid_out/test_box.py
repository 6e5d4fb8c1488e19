import numpy as np
import pytest

from tests.laid_out.drawn_floor import camera_over
from visualiser.laid_out.box import PieceBox, box_from_outline, read_depth
from visualiser.laid_out.top_view import TopView
from visualiser.rectification.plane import WallPlane


def plane_from_above(height_mm=1800.0, at=(0.0, 0.0), pitch=0.0):
    """Build a plane seen by an ideal camera straight above a point, or leaning back."""
    camera = camera_over(np.array(at), height_mm, pitch, 0.0, 1600)
    return WallPlane(
        camera.lens, camera.rotation, camera.translation_mm,
        camera.project(PieceBox(210, 297, 0, 0, 0, 0).corners(0.0)),
        0.0, np.eye(11) * 1e-12,
    )  # fmt: skip


def view_at(height_mm, step_mm=2.0):
    empty = np.zeros((8, 8, 3), np.uint8)
    return TopView(empty, np.ones((8, 8), bool), -1000.0, 1000.0, step_mm, height_mm)


def seen_on(plane, xyz, height_mm):
    """Where room points are seen on a plane at a height: by similar triangles."""
    camera = plane.camera_mm
    share = (camera[2] - height_mm) / (camera[2] - xyz[:, 2])
    return camera[:2] + share[:, None] * (xyz[:, :2] - camera[:2])


@pytest.mark.parametrize("at", [(0.0, 0.0), (700.0, -300.0), (-500.0, 900.0)])
def test_a_box_is_found_again_from_its_silhouette(at):
    """Far sides are seen at the front's height, near ones at their foot: similar triangles."""
    plane, view = plane_from_above(1800.0), view_at(20.0)
    box = PieceBox(400.0, 300.0, 30.0, *at, 0.0)
    foot, front = (seen_on(plane, box.corners(z), 20.0) for z in (0.0, 30.0))
    # Of a piece the silhouette is the outermost line of each side.
    low, high = np.minimum(foot, front).min(axis=0), np.maximum(foot, front).max(axis=0)
    outline = np.array([[low[0], high[1]], high, [high[0], low[1]], low])
    found = box_from_outline(view.from_mm(outline), view, plane, 30.0)
    assert (found.width_mm, found.height_mm) == pytest.approx((400.0, 300.0), abs=1e-6)
    assert (found.x_mm, found.y_mm) == pytest.approx(at, abs=1e-6)


def test_without_its_depth_a_piece_seems_larger_by_what_it_is_nearer():
    """A front 36 mm nearer to a camera 1,800 mm above is seen 1800/1764 times as large."""
    plane, view = plane_from_above(1800.0), view_at(0.0)
    front = seen_on(plane, PieceBox(500.0, 500.0, 36.0, 0.0, 0.0, 0.0).corners(36.0), 0.0)
    flat = box_from_outline(view.from_mm(front), view, plane, 0.0)
    assert flat.width_mm == pytest.approx(500.0 * 1800 / 1764)


@pytest.mark.parametrize("on_foot", [True, False])
def test_depth_follows_from_how_unlike_the_sides_look(on_foot):
    """Lines drawn where similar triangles put foot, front's edge and lip give the depth back."""
    plane = plane_from_above(1800.0)
    box = PieceBox(400.0, 300.0, 30.0, 900.0, 700.0, 0.0)
    profiles = np.zeros((4, 191))
    shift = np.maximum(-box.away(plane.camera_mm), 0) / 1800 * 30.0
    for k in range(4):
        start = 0.0 if on_foot or shift[k] == 0 else -shift[k]
        for line in {start, start + shift[k], start + shift[k] + 22.0}:
            profiles[k, round(40 + line)] = 0.9
    told = read_depth(box, profiles, plane, 22.0, 9.0)
    assert told.depth_mm == pytest.approx(30.0, abs=2.5)
    assert told.rail_mm == pytest.approx(22.0, abs=1.5)
    assert told.sigma_mm < 5
    assert (told.outward_mm > 3).any() == (not on_foot)


def test_depth_of_a_piece_right_under_the_camera_is_only_what_is_usual():
    box = PieceBox(300.0, 300.0, 22.0, 0.0, 0.0, 0.0)
    told = read_depth(box, np.zeros((4, 191)), plane_from_above(), 22.0, 9.0)
    assert told.depth_mm == pytest.approx(22.0, abs=1.5)
    assert told.sigma_mm > 7
    assert told.rail_mm == 0


def test_the_blur_of_the_outline_itself_is_no_moulding():
    """A small photo's outline is clear for some mm inwards; the lip is the line that rises again.

    The trade's narrowest mouldings are about 6 mm wide: common practice, no source.
    """
    box = PieceBox(300.0, 300.0, 22.0, 0.0, 0.0, 0.0)
    profiles = np.zeros((4, 191))
    profiles[:, 40:52] = np.linspace(0.95, 0.2, 12)
    assert read_depth(box, profiles, plane_from_above(), 22.0, 9.0).rail_mm == 0
    profiles[:, 64] = 0.8
    told = read_depth(box, profiles, plane_from_above(), 22.0, 9.0)
    assert told.rail_mm == pytest.approx(24.0, abs=1.5)
