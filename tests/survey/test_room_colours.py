"""Room colours from drawn photos whose paint, floor and sofa are known."""

import numpy as np
import pytest

from visualiser.colour.balancing import PaperWhite
from visualiser.colour.colorimetry import (
    from_hex,
    lab_to_linear,
    linear_to_lab,
    srgb_to_lab,
)
from visualiser.colour.difference import delta_e_2000
from visualiser.errors import ColourError
from visualiser.geometry import Polygon, Rect
from visualiser.photo.linear_light import encode_srgb
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.survey.room_colours import room_colours
from visualiser.survey.survey import Furniture, Survey, Zone

WIDTH, HEIGHT, MM_PER_PX = 900, 675, 4.0
FLOOR_Y = 560  # photo row of the floor line
PAPER = PaperWhite().lab
SHEET = (430, 250, 483, 324)  # left, top, right, bottom: an A4 sheet of 212 x 296 mm


def plane():
    """A camera square to the wall at 4 mm a pixel, the wall's origin at the sheet's middle."""
    left, top, right, bottom = SHEET
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]]) - 0.5
    centre = corners.mean(axis=0)
    focal = 800.0
    away = focal * MM_PER_PX
    lens = Lens(focal, (WIDTH - 1) / 2, (HEIGHT - 1) / 2)
    offset = (centre - [lens.centre_x_px, lens.centre_y_px]) * MM_PER_PX
    return WallPlane(
        lens=lens,
        rotation=np.diag([1.0, -1.0, -1.0]),
        translation_mm=np.array([*offset, away]),
        reference_corners_px=corners,
        reference_tilt_deg=0.0,
        parameter_covariance=np.eye(11) * 1e-6,
    )


def surveyed(**changes):
    wall_plane = plane()
    floor_mm = wall_plane.to_wall(np.array([[0.0, FLOOR_Y - 0.5]]))[0, 1]
    left_mm = wall_plane.to_wall(np.array([[-0.5, 0.0]]))[0, 0]
    values = {
        "outline": Polygon.from_rect(Rect(0, 0, WIDTH * MM_PER_PX, FLOOR_Y * MM_PER_PX)),
        "plane": wall_plane,
        "datum_mm": (left_mm, floor_mm),
        "zones": (Zone("window", Polygon.from_rect(Rect(3000, 900, 500, 900))),),
        "furniture": (Furniture("sofa", Rect(500, 0, 1200, 700)),),
    }
    return Survey(**{**values, **changes})


def drawn(paint, cast=(1.0, 1.0, 1.0), paper=PAPER, exposure=0.8, seed=0):
    """Photo of a painted wall, wooden floor, blue sofa, bright window and a sheet of paper."""
    rng = np.random.default_rng(seed)
    linear = np.empty((HEIGHT, WIDTH, 3))
    linear[:] = lab_to_linear(srgb_to_lab(from_hex(paint)))
    linear[FLOOR_Y:] = lab_to_linear(srgb_to_lab(from_hex("#9a6b42")))
    linear[FLOOR_Y - 175 : FLOOR_Y, 125:425] = lab_to_linear(srgb_to_lab(from_hex("#34506a")))
    linear[FLOOR_Y - 450 : FLOOR_Y - 225, 750:875] = 1.6
    left, top, right, bottom = SHEET
    linear[top:bottom, left:right] = lab_to_linear(paper)
    rows, columns = np.mgrid[:HEIGHT, :WIDTH]
    shade = 1 - 0.25 * columns / WIDTH - 0.1 * rows / HEIGHT
    linear *= shade[:, :, None] * np.array(cast) * exposure
    linear += rng.normal(size=linear.shape) * 0.004
    return Photo(np.rint(encode_srgb(linear) * 255).astype(np.uint8))


@pytest.mark.parametrize("paint", ["#d8d2c4", "#7f9183", "#2f3e4e", "#b5694a"])
@pytest.mark.parametrize("cast", [(1, 1, 1), (1.25, 1, 0.7), (0.9, 1, 1.12)])
def test_paint_is_read_within_its_own_uncertainty(paint, cast):
    """The sheet is off the assumed paper by a standard uncertainty, which is not known to it."""
    white = PaperWhite()
    paper = np.array(white.lab) + np.array(white.sigma) * [1, -1, 1]
    read = room_colours(drawn(paint, cast, paper), surveyed()).wall
    truth = srgb_to_lab(from_hex(paint))
    assert (np.abs(np.array(read.lab) - truth) <= read.half_width).all()
    assert delta_e_2000(read.lab, truth) < 6
    assert max(read.half_width) < 12
    assert "±" in str(read)


def test_parts_of_the_room():
    room = room_colours(drawn("#d8d2c4"), surveyed())
    parts = dict(room.parts)
    assert set(parts) == {"wall", "floor", "textiles"}
    assert delta_e_2000(parts["textiles"].lab[0], srgb_to_lab(from_hex("#34506a"))) < 8
    assert delta_e_2000(parts["floor"].lab[0], srgb_to_lab(from_hex("#9a6b42"))) < 8
    assert room.palette.shares.sum() == pytest.approx(1)
    # The window is white and large, and no part of the palette.
    assert not any(s.lab[0] > 97 for s in room.palette.swatches)


def test_furniture_that_nobody_marked_is_seen_by_its_colour():
    parts = dict(room_colours(drawn("#d8d2c4"), surveyed(furniture=())).parts)
    assert delta_e_2000(parts["furniture"].lab[0], srgb_to_lab(from_hex("#34506a"))) < 8


def test_a_clicked_neutral_takes_the_place_of_the_sheet():
    photo = drawn("#808080", (1.25, 1, 0.7), paper=[40, 60, 40])  # a red sheet is no white
    read = room_colours(photo, surveyed(), neutral_px=(300, 100)).wall
    assert np.hypot(*read.lab[1:]) < 2
    with pytest.raises(ColourError, match="outside"):
        room_colours(photo, surveyed(), neutral_px=(5000, 5000))


def test_an_overexposed_sheet_is_said_and_lowers_confidence():
    room = room_colours(drawn("#7f9183", exposure=1.5), surveyed())
    assert [f.code for f in room.findings] == ["balance-sheet-unusable"]
    assert room.balance.source == "camera"
    assert not room.palette.trusted
    assert room.wall.half_width[0] > 15


def test_what_cannot_be_read():
    typed = Survey.from_size(3000, 2500)
    with pytest.raises(ColourError, match="typed"):
        room_colours(drawn("#7f9183"), typed)
    hidden = surveyed(furniture=(Furniture("other", Rect(-500, -500, 5000, 5000)),))
    with pytest.raises(ColourError, match="bare wall"):
        room_colours(drawn("#7f9183"), hidden)


def test_drawn_scene_is_what_it_says():
    wall = surveyed()
    sheet = wall.to_photo(wall.to_wall(wall.plane.reference_corners_px))
    assert sheet == pytest.approx(wall.plane.reference_corners_px, abs=1e-6)
    assert linear_to_lab(lab_to_linear([50, 10, 10])) == pytest.approx([50, 10, 10])
