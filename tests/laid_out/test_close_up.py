"""A piece looked at closely: its outline as a box, and its depth from a drawn photo."""

import numpy as np
import pytest

from tests.laid_out.drawn_floor import (
    DrawnPiece,
    camera_over,
    draw_floor,
    floor_texture,
    random_art,
)
from tests.laid_out.test_box import plane_from_above, view_at
from visualiser.laid_out.box import PieceBox, box_from_outline, outline_of_box
from visualiser.laid_out.close_up import look_closely
from visualiser.rectification.plane import WallPlane


@pytest.mark.parametrize("at", [(0.0, 0.0), (700.0, -300.0), (-500.0, 900.0)])
@pytest.mark.parametrize("tilt_deg", [0.0, -2.5])
def test_a_boxs_outline_gives_the_box_back(at, tilt_deg):
    plane, view = plane_from_above(1800.0), view_at(20.0)
    box = PieceBox(400.0, 300.0, 30.0, *at, tilt_deg)
    found = box_from_outline(outline_of_box(box, view, plane), view, plane, 30.0)
    assert (found.width_mm, found.height_mm) == pytest.approx((400.0, 300.0), abs=1e-6)
    assert (found.x_mm, found.y_mm) == pytest.approx(at, abs=1e-6)
    assert found.tilt_deg == pytest.approx(tilt_deg, abs=1e-6)


def test_depth_is_read_to_some_millimetres_where_a_side_is_seen():
    """A deep frame beside the middle, seen from 30 degrees aside: its side face shows."""
    rng = np.random.default_rng(3)
    true = DrawnPiece(300, 240, 38, 20, 0, 60, 40, 0.5, (193, 154, 107), random_art(rng, 260, 200))
    camera = camera_over(np.array([0.0, 0.0]), 900, 30, 0.0, 1200)
    texture = floor_texture(rng, "carpet", 1500)
    drawn = draw_floor(rng, [true], camera, "carpet", person=False, texture=texture)
    plane = WallPlane(
        camera.lens, camera.rotation, camera.translation_mm, np.zeros((4, 2)), 0.0, np.eye(11)
    )
    # As its outline makes it, were it 20 mm deep.
    view = view_at(20.0)
    outline = outline_of_box(PieceBox(300.5, 239.4, 38.0, 60.0, 40.0, 0.5), view, plane)
    supposed = box_from_outline(outline, view, plane, 20.0)
    found = look_closely(drawn.photo, plane, supposed, (22.0, 9.0))
    assert found.depth_mm == pytest.approx(38.0, abs=4)
    assert found.depth_sigma_mm < 5
    assert found.rail_mm == pytest.approx(20.0, abs=2)
    assert (found.width_mm, found.height_mm) == pytest.approx((300, 240), abs=6)
