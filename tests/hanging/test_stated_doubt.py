"""Every ± that is stated is that of 95 %, and each direction is widened by its own.

JCGM 100:2008 (GUM), table G.1 and G.6.4: for 95 % the coverage factor of a normal distribution is
1.960. The factor is written out here, so that a change of it in the program shows.
"""

import math
import re
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.geometry import Polygon, Rect
from visualiser.hanging.cautions import PIPE_MARGIN_MM, cables, services
from visualiser.hanging.loads import hook_load, shares
from visualiser.hanging.plan import plan_hanging
from visualiser.inventory.bearing import bearing
from visualiser.inventory.piece import Hanger, Piece
from visualiser.printing.hanging_plan import plan_pdf
from visualiser.survey.dangers import in_cable_band
from visualiser.survey.survey import Survey, Zone
from visualiser.units import format_half_width, parse_length

K_95 = 1.960
SOCKET = Zone("socket", Polygon.from_rect(Rect(2000, 300, 85, 85)))
WALL = Survey.from_size(4000, 2500, zones=(SOCKET,))
LB_PER_KG = 1 / 0.45359237  # NIST SP 811, B.8


def planned(survey=WALL, *, x=1600.0, y=1500.0, kg=3.0, sigma_kg=None, hanger=None):
    piece = Piece(
        "a", 400, 500, hanger=hanger or Hanger("sawtooth", 20), weight_kg=kg,
        weight_sigma_kg=sigma_kg,
    )  # fmt: skip
    return plan_hanging(Arrangement((piece,), (Placement("a", x, y),)), survey, "plasterboard")


@pytest.mark.parametrize(("across", "up"), [(0.0, 0.0), (10.0, 0.0), (0.0, 10.0), (10.0, 10.0)])
def test_a_cable_band_is_widened_each_way_by_its_own_doubt(across, up):
    """BS 7671:2018, 522.6.202 (i). The socket is 2000 to 2085 across and 300 to 385 up."""
    assert in_cable_band(SOCKET, 1600, 394, across, up) == (up == 10)
    assert in_cable_band(SOCKET, 1600, 291, across, up) == (up == 10)
    assert in_cable_band(SOCKET, 1991, 1500, across, up) == (across == 10)
    assert in_cable_band(SOCKET, 2094, 1500, across, up) == (across == 10)
    assert not in_cable_band(SOCKET, 1600, 396, across, up)
    assert not in_cable_band(SOCKET, 1989, 1500, across, up)


def test_the_edge_of_a_band_belongs_to_it():
    """At the very edge a cable may lie, so a hole there is in the band."""
    for across, up in ((0.0, 0.0), (4.0, 8.0)):
        for x, y in (
            (2000 - across, 1500),
            (2085 + across, 1500),
            (1600, 300 - up),
            (1600, 385 + up),
        ):
            assert in_cable_band(SOCKET, x, y, across, up)


class Unsure:
    """A measured wall with a covariance of its own; nothing else of it is asked."""

    def __init__(self, across_mm, up_mm):
        self.variance = np.diag([across_mm**2, up_mm**2])

    def covariance(self, points_mm):
        return np.repeat(self.variance[None], len(points_mm), axis=0)


@pytest.mark.parametrize("sigma_mm", [(4.0, 1.0), (1.0, 4.0)])
def test_the_plan_states_half_widths_of_95_percent(sigma_mm):
    survey = replace(WALL, plane=Unsure(*sigma_mm))
    measures = planned(survey).measures
    assert measures.across_half_width_mm == pytest.approx(K_95 * sigma_mm[0], rel=1e-3)
    assert measures.up_half_width_mm == pytest.approx(K_95 * sigma_mm[1], rel=1e-3)


@pytest.mark.parametrize("sigma_mm", [(5.0, 0.0), (0.0, 5.0)])
def test_cautions_mind_the_doubt_of_the_direction_that_matters(sigma_mm):
    """± 9.8 mm: a hook 8 mm above the band is in it only where heights are unsure, and so on."""
    thermostat = Zone("thermostat", Polygon.from_rect(Rect(2000, 1400, 85, 85)))
    survey = Survey.from_size(4000, 2500, zones=(thermostat,))
    survey = replace(survey, plane=Unsure(*sigma_mm))
    above = planned(survey, x=1600, y=1493 - 230)  # the hook is 20 below the top edge of 500
    beside = planned(survey, x=2093, y=2000)
    found = ["hook-in-cable-band" in {f.code for f in plan.findings} for plan in (above, beside)]
    assert found == [sigma_mm[1] > 0, sigma_mm[0] > 0]


def pages(plan):
    document = pypdfium2.PdfDocument(plan_pdf(plan))
    return [re.sub(r"\s+", " ", page.get_textpage().get_text_range()) for page in document]


def test_the_printed_measures_state_95_percent():
    """5 mm as a standard uncertainty is ± 9.8 mm: rounded up, 10 mm or seven sixteenths."""
    survey = replace(WALL, floor_sigma_mm=5.0)
    assert "heights ± 10 mm (7/16 in)" in " ".join(pages(planned(survey)))


def test_the_printed_weight_states_95_percent():
    """3.0 kg with a standard uncertainty of 0.5 kg is 3.0 ± 1.0 kg, 6.6 ± 2.2 lb."""
    text = " ".join(pages(planned(kg=3.0, sigma_kg=0.5)))
    assert "3.0 ± 1.0 kg" in text
    half_lb = K_95 * 0.5 * LB_PER_KG
    assert f"{3.0 * LB_PER_KG:.1f} ± {half_lb:.1f} lb" in text


def test_the_load_of_an_uncertain_weight_is_its_upper_end():
    """What a fixing is said to carry is 3.0 + 1.96 x 0.5 = 3.98 kg on one hook."""
    plan = planned(kg=3.0, sigma_kg=0.5)
    (piece,) = plan.pieces
    assert piece.load.weight.heavy_kg == pytest.approx(3.0 + K_95 * 0.5, rel=1e-3)
    assert piece.fixing.load_kg * piece.fixing.count == pytest.approx(3.98, abs=0.005)
    assert f"{piece.fixing.load_kg:.1f} of {piece.fixing.allowed_kg:.1f} kg" in " ".join(
        pages(plan)
    )


def test_the_doubt_of_a_load_is_that_of_the_weight_shared_over_its_hooks():
    """Two hooks share 3.0 ± 0.5 kg: 0.25 kg x 9.80665 m/s2 (ISO 80000-3) on each."""
    two = Hanger("d-rings", 90, 200, rated_kg=200)
    (piece,) = planned(kg=3.0, sigma_kg=0.5, hanger=two).pieces
    assert len(piece.hooks_mm) == 2
    assert piece.load.down_sigma_n == pytest.approx(0.25 * 9.80665, rel=1e-3)


@pytest.mark.parametrize("sixteenths", [1.01, 1.05, 2.05, 7.001])
def test_a_stated_half_width_never_promises_more_than_it_holds(sixteenths):
    """Rounded up to the next sixteenth and the next millimetre, however little is over."""
    half_mm = sixteenths * 25.4 / 16
    told = re.fullmatch(r"± (\d+) mm \((.+) in\)", format_half_width(half_mm))
    assert int(told[1]) == math.ceil(half_mm)
    assert parse_length(f"{told[2]} in") == pytest.approx(math.ceil(sixteenths) * 25.4 / 16)


@pytest.mark.parametrize("sides", [(-1.0, 5.0), (5.0, -1.0), (0.0, 0.0)])
def test_a_weight_beside_its_hooks_is_refused(sides):
    """Moments about either hook: a weight outside of the two would pull one of them up."""
    with pytest.raises(ValueError, match="between the hooks"):
        shares(*sides)
    assert shares(0.0, 5.0) == (1.0, 0.0)


def test_cords_of_a_rail_pull_nothing_out_of_the_wall():
    piece = Piece("a", 400, 500, hanger=Hanger("rail", 90, 200), weight_kg=3.0)
    assert hook_load(piece, bearing(piece)).pull_out_n == 0
    screwed = Piece("a", 400, 500, hanger=Hanger("d-rings", 90, 200), weight_kg=3.0)
    assert hook_load(screwed, bearing(screwed)).pull_out_n > 0


def found_by(look, hole, across, up, survey=WALL):
    """Codes that a rule finds for one piece with its hook in a place, at a doubt each way."""
    piece = Piece("a", 200, 200, hanger=Hanger("sawtooth", 20), weight_kg=1.0)
    middle = Placement("a", hole[0], hole[1] - 80)  # the hook bears 20 mm below the top edge
    plan = plan_hanging(Arrangement((piece,), (middle,)), survey, "brick")
    assert plan.pieces[0].holes_mm == (hole,)
    doubted = replace(plan.measures, across_half_width_mm=across, up_half_width_mm=up)
    return {finding.code for finding in look(plan.pieces, survey, doubted)}


@pytest.mark.parametrize(
    ("hole", "across", "up"),
    [((157, 1000), 8, 0), ((3843, 1000), 8, 0), ((1000, 2343), 0, 8)],
)
def test_the_strips_at_a_walls_ends_are_widened_by_the_doubt(hole, across, up):
    """BS 7671:2018, 522.6.202 (i): 150 mm from the top and the corners. The hole is 7 mm off."""
    strip = {"hook-in-cable-strip"}
    assert strip <= found_by(cables, hole, across, up)
    assert not strip & found_by(cables, hole, max(across - 2, 0), max(up - 2, 0))
    assert not strip & found_by(cables, hole, up, across)


def test_what_lies_near_a_pipe_is_widened_by_the_doubt():
    pipe = Zone("pipe", Polygon.from_rect(Rect(1000, 0, 20, 2000)))
    survey = replace(WALL, zones=(pipe,))
    hole = (1020 + PIPE_MARGIN_MM + 7, 1000)
    assert found_by(services, hole, 8, 0, survey) == {"hook-near-pipe"}
    assert found_by(services, hole, 0, 8, survey) == {"hook-near-pipe"}
    assert not found_by(services, hole, 6, 6, survey)
