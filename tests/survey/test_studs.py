"""Studs: found ones, those that follow from a spacing, and what is no stud."""

import pytest

from visualiser.errors import MeasurementError
from visualiser.survey.studs import USUAL_SPACINGS_MM, Studs


def test_usual_spacings():
    """16 and 24 in: International Residential Code, table R602.3(5); the metric ones are trade."""
    assert pytest.approx((400.0, 600.0, 406.4, 609.6)) == USUAL_SPACINGS_MM


def test_only_those_within_the_part_that_is_asked_for():
    studs = Studs((-300.0, 500.0, 900.0))
    assert studs.between(500.0, 900.0) == (500.0, 900.0)
    assert studs.between(501.0, 899.0) == ()
    assert studs.between(-400.0, 0.0) == (-300.0,)


def test_others_follow_from_one_that_was_found_on_both_sides_of_the_datum():
    assert Studs((100.0,), 400.0).between(-800.0, 800.0) == (-700.0, -300.0, 100.0, 500.0)


def test_one_that_was_found_takes_the_place_of_one_that_follows():
    """From 500 every 400: 900 follows, but a stud was found at 930, and no two are so near."""
    assert Studs((500.0, 930.0), 400.0).between(400.0, 1400.0) == (500.0, 930.0, 1300.0)
    assert Studs((-500.0, 500.0), 1000.0).between(-600.0, 600.0) == (-500.0, 500.0)
    assert Studs((500.0, 1000.0), 400.0).between(400.0, 1000.0) == (500.0, 900.0, 1000.0)


def test_one_that_was_found_outside_the_part_asked_for_rules_out_its_neighbour_all_the_same():
    """Worked by hand: 900 follows from 500 every 400, but a stud was found 50 mm beside it."""
    studs = Studs((500.0, 950.0), 400.0)
    assert studs.between(400.0, 915.0) == (500.0,)
    assert studs.between(400.0, 1000.0) == (500.0, 950.0)
    assert Studs((950.0, 500.0), 400.0).between(510.0, 915.0) == ()


def test_a_spacing_alone_places_none():
    assert Studs((), 400.0).between(0.0, 4000.0) == ()
    assert not Studs((), 400.0).known


@pytest.mark.parametrize(("spacing", "built"), [(99.0, False), (100.0, True), (2000.0, False)])
def test_spacings_that_are_built(spacing, built):
    if built:
        assert Studs((0.0,), spacing).spacing_mm == spacing
    else:
        with pytest.raises(MeasurementError, match="not built"):
            Studs((0.0,), spacing)
