"""The survey's own datum: what is asked in survey mm is asked of the plane where it lies."""

import numpy as np
import pytest

from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Survey


class _Plane:
    """A wall seen square on, two pixels a millimetre, whose doubt grows with the place."""

    def to_photo(self, points_mm):
        return 2.0 * points_mm

    def to_wall(self, points_px):
        return points_px / 2.0

    def project(self, points_xyz_mm):
        return 2.0 * points_xyz_mm[:, :2]

    def covariance(self, points_mm):
        return np.array([np.diag(point) for point in points_mm])


@pytest.fixture
def survey():
    """Datum at 100 across and 40 up of the plane's own."""
    outline = Polygon.from_rect(Rect(0, 0, 4000, 2500))
    return Survey(outline, _Plane(), datum_mm=(100.0, 40.0), floor_sigma_mm=3.0)


def test_points_go_out_and_come_back_by_the_datum(survey):
    places = np.array([[200.0, 300.0], [0.0, 0.0]])
    assert survey.to_photo(places) == pytest.approx(np.array([[600.0, 680.0], [200.0, 80.0]]))
    assert survey.to_wall(survey.to_photo(places)) == pytest.approx(places)
    flat = np.column_stack([places, np.zeros(2)])
    assert survey.project(flat) == pytest.approx(survey.to_photo(places))


def test_the_doubt_is_that_of_the_place_with_the_floors_added(survey):
    covariance = survey.covariance([[200.0, 300.0]])
    assert covariance == pytest.approx(np.array([[[300.0, 0.0], [0.0, 340.0 + 9.0]]]))
