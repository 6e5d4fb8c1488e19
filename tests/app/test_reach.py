"""Where another device opens a job: the address asked for, or those of the machine."""

import pytest

from visualiser.app.reach import addresses_elsewhere

PLACES = "http://192.0.2.7:8501 http://desk.local:8501"  # RFC 5737's addresses for examples


@pytest.mark.parametrize(
    ("url", "places", "expected"),
    [
        ("http://192.0.2.9:8501/", PLACES, ["http://192.0.2.9:8501"]),
        ("http://localhost:8501", PLACES, PLACES.split()),
        ("http://127.0.0.1:8501/", PLACES, PLACES.split()),
        ("http://[::1]:8501/", PLACES, PLACES.split()),
        (None, PLACES, PLACES.split()),
        ("http://localhost:8501", "", []),
    ],
)
def test_the_address_for_another_device(url, places, expected):
    found = addresses_elsewhere(url, places, "hall-0123456789abcdef", "hang")
    assert found == [f"{place}/?job=hall-0123456789abcdef&step=hang" for place in expected]
