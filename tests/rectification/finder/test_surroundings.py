"""What lies beside a quadrilateral, on drawn walls.

Shadows beside a canvas, and what is none: stripes, bricks, a dark neighbour, the picture's rim.

A thing that stands off the wall by d casts a shadow shifted by d tan(a), where a is the light's
angle to the wall's normal (plain geometry).
"""

import numpy as np
import pytest

from tests.rectification.finder.test_model import PAPER, bricks, rectangle, right, scene, stripes
from visualiser.rectification.finder.find import convincing, find_references
from visualiser.rectification.finder.light_planes import light_planes
from visualiser.rectification.finder.sides import side_evidence
from visualiser.rectification.finder.surroundings import cast_shade, surroundings

A4 = rectangle(210, 297)
PLASTER = (150, 138, 120)


def bordered(shapes, wall=PLASTER, outline=A4):
    planes = light_planes(scene(shapes, wall).pixels)
    quads = planes.to_working(outline)[None]
    return float(surroundings(planes, quads, side_evidence(planes, quads)).bordered[0])


@pytest.mark.parametrize("rail", [(205, 205, 203), (226, 228, 230)])
def test_a_frame_read_at_one_inner_edge_has_a_strip_of_its_own_beside_it(rail):
    frame = rectangle(232, 297, x_mm=11)
    assert bordered([(frame, rail), (A4, PAPER)]) > 0.35


@pytest.mark.parametrize(
    ("beside", "wall"),
    [
        ([], PLASTER),
        ([], (224, 222, 216)),
        ([(rectangle(20, 297, x_mm=115), (105, 96, 84))], PLASTER),
        ([(rectangle(400, 600, x_mm=-330), (60, 40, 30))], PLASTER),
        (bricks(), (176, 168, 158)),
        ([(rectangle(40, 900, x_mm=127), (228, 222, 205))], PLASTER),
    ],
    ids=["plain wall", "white wall", "its shadow", "a dark picture", "bricks", "a stripe"],
)
def test_a_loose_sheet_has_none(beside, wall):
    assert bordered([*beside, (A4, PAPER)], wall) < 0.15


def test_a_stripe_that_runs_on_past_one_corner_is_no_rail():
    """A pale stripe beside the sheet, which leans: past its foot the stripe is elsewhere."""
    stripe = (rectangle(50, 3000, x_mm=125, turn_deg=0), (228, 222, 205))
    leaning = rectangle(210, 297, turn_deg=5)
    assert bordered([stripe, (leaning, PAPER)], (120, 84, 60), leaning) < 0.15


def test_a_strip_on_a_faint_sheet_is_not_read_in_noise():
    values = [bordered([(A4 + [0.0, n], (229, 228, 223))], (228, 227, 222)) for n in range(4)]
    assert np.max(values) < 0.15


def run_on(shapes, wall, outline=A4):
    planes = light_planes(scene(shapes, wall).pixels)
    quads = planes.to_working(outline)[None]
    return float(surroundings(planes, quads, side_evidence(planes, quads)).run_on[0].sum())


def test_a_strong_edge_in_line_with_a_faint_side_is_another():
    """Paint samples beside a sheet on a cream wall: their lower edges happen to be in line."""
    cream, sheet = (214, 200, 170), (232, 228, 220)
    samples = [
        (rectangle(60, 60, x_mm=-170, y_mm=118.5 - 83.0 * k), (110, 40, 120)) for k in range(4)
    ]
    assert run_on([*samples, (A4, sheet)], cream) < 0.4


def test_a_side_that_goes_on_as_it_was_runs_on():
    """The middle pane of three: its upper and lower sides are parts of longer edges."""
    band = rectangle(3 * 210, 297)
    assert run_on([(band, PAPER)], PLASTER) > 3


def seen(shapes, wall, outline=A4):
    planes = light_planes(scene(shapes, wall).pixels)
    quads = planes.to_working(outline)[None]
    return surroundings(planes, quads, side_evidence(planes, quads))


def framed(shapes, wall):
    return float(seen(shapes, wall).framed[0])


@pytest.mark.parametrize("moulding", [(40, 34, 30), (222, 214, 200), (120, 80, 48)])
def test_a_moulding_is_of_one_colour_all_round(moulding):
    frame = rectangle(250, 337)
    assert framed([(frame, moulding), (A4, PAPER)], PLASTER) > 0.1


def test_a_grey_moulding_counts_however_white_its_mat():
    """A little darker than the wall, by less than a quarter of what the mat is lighter than it."""
    frame = rectangle(250, 337)
    assert framed([(frame, (128, 117, 102)), (A4, PAPER)], PLASTER) > 0.2
    assert framed([(A4, PAPER)], PLASTER) < 0.03


def test_bricks_and_joints_around_a_sheet_are_no_moulding():
    """A joint along the top edge and one along the right, darker bricks at the others."""
    joint, dark = (196, 190, 180), (92, 50, 40)
    around = [
        (rectangle(700, 16, y_mm=-157), joint),
        (rectangle(16, 340, x_mm=114), joint),
        (rectangle(90, 300, x_mm=-152), dark),
        (rectangle(260, 40, y_mm=170), dark),
    ]
    assert framed([*around, (A4, PAPER)], (134, 74, 58)) < 0.08


def test_which_side_runs_on_is_told():
    """A stripe's edge along the left side of a sheet: that side alone goes on past its corners."""
    stripe = rectangle(300, 3000, x_mm=-255)
    planes = light_planes(scene([(stripe, (90, 60, 60)), (A4, PAPER)], (205, 190, 170)).pixels)
    quads = planes.to_working(A4)[None]
    found = surroundings(planes, quads, side_evidence(planes, quads)).run_on[0]
    assert found[3].min() > 0.5
    assert found[:3].max() < 0.3


def test_a_moulding_as_light_as_the_wall_is_of_another_hue():
    frame = rectangle(250, 337)
    around = seen([(frame, (128, 142, 156)), (A4, PAPER)], PLASTER)
    assert float(around.of_a_hue[0]) > 0.1
    # A stripe of the same hue beside it, or on both sides, is no moulding.
    for places in ([-125], [-125, 125]):
        beside = [(rectangle(40, 3000, x_mm=x, turn_deg=0), (128, 142, 156)) for x in places]
        assert float(seen([*beside, (A4, PAPER)], PLASTER).of_a_hue[0]) < 0.02
    assert float(seen([(A4, PAPER)], PLASTER).of_a_hue[0]) < 0.02


def test_a_mouldings_face_inside_a_side_shows_its_other_edge():
    """One side is read at the moulding's outer edge, three at its inner ones."""
    big = rectangle(420, 594)
    mat = rectangle(392, 594, x_mm=14)
    strip = seen([(big, (176, 172, 168)), (mat, PAPER)], PLASTER, big)
    assert float(strip.rimmed[0]) > 0.4
    lines = [(rectangle(260, 6, y_mm=y), (60, 60, 64)) for y in range(-230, 240, 16)]
    printed = seen([(big, PAPER), *lines], PLASTER, big)
    assert float(printed.rimmed[0]) < 0.3


SUNLIT_PLASTER = (176, 164, 146)
SHADED = tuple(0.8 * np.array(SUNLIT_PLASTER))
STAND_OFF_MM = 25.0


def shadow(angle_deg, across, down, size=(210, 297), x_mm=0.0):
    shift = STAND_OFF_MM * np.tan(np.radians(angle_deg))
    return rectangle(*size, x_mm=x_mm + across * shift, y_mm=down * shift), SHADED


def shade(shapes, wall=SUNLIT_PLASTER, outline=A4, **how):
    planes = light_planes(scene(shapes, wall, **how).pixels)
    return float(cast_shade(planes, planes.to_working(outline)[None])[0])


@pytest.mark.parametrize(("across", "down"), [(1, 0), (-1, 0), (0, 1), (0.8, 0.8), (-0.8, 0.6)])
def test_a_canvas_is_told_by_its_shadow(across, down):
    assert shade([shadow(50, across, down), (A4, PAPER)]) > 0.1


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("wall", [SUNLIT_PLASTER, (226, 224, 219), (40, 52, 90)])
def test_paper_on_a_plain_wall_casts_none(wall, seed):
    assert shade([(A4, PAPER)], wall, seed=seed) < 0.02


def test_stripes_bricks_and_neighbours_are_no_shadow():
    red, pale = (160, 84, 74), (222, 216, 204)
    assert shade([*stripes((pale, red), 24, 0), (A4, PAPER)], pale) < 0.02
    grey, light = (120, 120, 120), (190, 190, 190)
    assert shade([*stripes((light, grey), 24, 0), (A4, PAPER)], light) < 0.02
    assert shade([*bricks(), (A4, PAPER)], (176, 168, 158)) < 0.02
    rail = (rectangle(40, 4000, x_mm=140, turn_deg=0), (60, 44, 34))
    assert shade([rail, (A4, PAPER)]) < 0.02


def test_what_lies_past_the_pictures_rim_says_nothing():
    at_rim = rectangle(210, 297, x_mm=830)
    assert shade([(at_rim, PAPER)], outline=at_rim) < 0.02


def test_of_two_alike_the_one_without_a_shadow_is_the_sheet():
    canvas = rectangle(210, 297, x_mm=520)
    paper = rectangle(210, 297, x_mm=-160)
    photo = scene([shadow(50, 0.8, 0.8, x_mm=520), (canvas, PAPER), (paper, PAPER)], SUNLIT_PLASTER)
    assert right(convincing(find_references(photo, "a4")), paper)
