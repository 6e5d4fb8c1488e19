"""The floor's height and its doubt on a wall seen square on, each figure worked by hand.

The camera is 3000 mm from the wall, level with the reference's middle; a pixel is 2 mm. What stands
15 mm off the wall, 1000 mm below the camera, is seen 1000 x 15 / 3000 = 5 mm too low (similar
triangles).
"""

import math

import numpy as np
import pytest

from visualiser.rectification.marks import Marks
from visualiser.survey import floor
from visualiser.survey.floor import find_floor, skirting_floor
from visualiser.survey.skirting import WallFoot


class SquareOn:
    """The plane, with a variance of 4 mm² across and 9 mm² up wherever it is asked."""

    def __init__(self, camera_up_mm=0.0):
        self.camera_mm = np.array([0.0, camera_up_mm, 3000.0])
        corners = np.array([[-105, 148.5], [105, 148.5], [105, -148.5], [-105, -148.5]])
        self.reference_corners_px = self.to_photo(corners)

    def to_photo(self, points_mm):
        return points_mm * [0.5, -0.5]

    def to_wall(self, points_px):
        return np.asarray(points_px, float) * [2.0, -2.0]

    def covariance(self, points_mm):
        return np.repeat(np.diag([4.0, 9.0])[None], len(points_mm), axis=0)


CLICKS = ((-300.0, 500.0), (200.0, 500.0))
"""At 1000 mm below the reference's middle: half of 5 mm is added, as they may be on the wall."""
CLICKED_SIGMA = math.sqrt(math.hypot(4, 2.5) ** 2 / 2 + 9)
"""2 px or 4 mm a click and half of 5 mm, of two clicks, and the plane's own 9 mm²."""


def test_a_typed_height_counts_from_the_references_lower_edge():
    found = find_floor(None, SquareOn(), Marks(reference_height_mm=1300))
    assert found.y_mm == pytest.approx(-148.5 - 1300)
    assert found.sigma_mm == Marks().reference_height_sigma_mm


def test_clicks_lie_on_the_wall_or_on_the_skirting_before_it():
    found = find_floor(None, SquareOn(), Marks(floor_px=CLICKS))
    assert found.y_mm == pytest.approx(-1000 + 2.5)
    assert found.sigma_mm == pytest.approx(CLICKED_SIGMA)
    one = find_floor(None, SquareOn(), Marks(floor_px=CLICKS[:1]))
    assert one.sigma_mm == pytest.approx(math.sqrt(math.hypot(4, 2.5) ** 2 + 9))


@pytest.mark.parametrize(("off_by_sigmas", "said"), [(-4.1, True), (-3.9, False), (4.1, True)])
def test_a_typed_height_that_contradicts_the_clicks_is_said_and_kept(off_by_sigmas, said):
    """4 of what both doubts are together: our own limit."""
    both = math.hypot(CLICKED_SIGMA, Marks().reference_height_sigma_mm)
    typed_mm = -148.5 - (-997.5 + off_by_sigmas * both)
    found = find_floor(None, SquareOn(), Marks(reference_height_mm=typed_mm, floor_px=CLICKS))
    assert found.y_mm == pytest.approx(-148.5 - typed_mm)
    assert [f.code for f in found.findings] == ["floor-contradicts"] * said
    assert found.sigma_mm == Marks().reference_height_sigma_mm
    for finding in found.findings:
        apart = round(abs(off_by_sigmas * both))
        assert finding.severity == "advice"
        assert f"height and the clicked floor differ by {apart} mm; the typed" in finding.text
        assert finding.hint == "Measure the height of the page's lower edge again."


def test_a_typed_height_counts_from_the_middle_of_a_lower_edge_that_hangs_askew():
    """A sheet turned by a degree: 210 mm of edge rise by 3.66 mm, its middle by none (by hand)."""
    plane = SquareOn()
    c, s = np.cos(np.radians(1.0)), np.sin(np.radians(1.0))
    corners = plane.to_wall(plane.reference_corners_px) @ np.array([[c, s], [-s, c]])
    plane.reference_corners_px = plane.to_photo(corners)
    found = find_floor(None, plane, Marks(reference_height_mm=1300))
    assert found.y_mm == pytest.approx(-148.5 * c - 1300)


def by_foot(monkeypatch, foot_mm, *, board=True, camera_up_mm=0.0):
    foot = WallFoot(foot_mm, 3.0, -500.0, 700.0, board)
    monkeypatch.setattr(floor, "find_foot", lambda *_: foot)
    return skirting_floor("a view", SquareOn(camera_up_mm))


def test_a_boards_foot_is_raised_by_its_depth_and_the_doubt_of_that_is_added(monkeypatch):
    """15 ± 5 mm deep, 1400 mm below the camera: 7 mm, ± a third of it."""
    found = by_foot(monkeypatch, -1400)
    assert found.y_mm == pytest.approx(-1400 + 7)
    assert found.sigma_mm == pytest.approx(math.sqrt((7 / 3) ** 2 + 9 + 9))
    (said,) = found.findings
    assert "1393 mm ± 10 mm" in said.text  # 1.96 x 4.84 = 9.5, rounded up


def test_where_no_board_is_seen_half_its_depth_is_taken_and_doubted(monkeypatch):
    found = by_foot(monkeypatch, -1400, board=False)
    assert found.y_mm == pytest.approx(-1400 + 3.5)
    assert found.sigma_mm == pytest.approx(math.sqrt(3.5**2 + 9 + 9))


@pytest.mark.parametrize(
    ("foot_mm", "camera_up_mm", "likely"),
    [
        (-1450.0, 50.0, True),
        (-880.0, 600.0, True),  # the sheet low, by 1.9 of 300 mm
        (-820.0, 660.0, False),  # by 2.1
        (-1450.0, -420.0, True),  # the camera low, by 1.9 of 250 mm
        (-1450.0, -500.0, False),
        (-2090.0, -610.0, False),
        (-950.0, 150.0, False),  # both: 1.7 and 1.6 are 2.3 together
    ],
)
def test_a_floor_at_an_unlikely_height_is_none(monkeypatch, foot_mm, camera_up_mm, likely):
    """A sheet at 1450 ± 300 mm, a camera at 1500 ± 250 mm (common practice, no source)."""
    found = by_foot(monkeypatch, foot_mm, camera_up_mm=camera_up_mm)
    assert (found is not None) == likely
