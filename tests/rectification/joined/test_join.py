"""Walls measured through several photographs, against drawn rooms of which everything is known."""

import numpy as np
import pytest

from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.observation import on_wall
from visualiser.rectification.joined.features import Features, match_features
from visualiser.rectification.joined.join import join_photos

WITHIN_95 = 5.99
"""Chi-square of two degrees of freedom, 95th percentile: any table."""


def truth(drawn, k):
    """Pixels of photo k that look at the wall, and where on it each does."""
    photo = drawn.photos[k]
    x = np.linspace(0.06, 0.94, 6) * (photo.width_px - 1)
    y = np.linspace(0.15, 0.85, 5) * (photo.height_px - 1)
    px = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    mm = on_wall(drawn.cameras[k], px)
    inside = (mm[:, 0] > drawn.left_mm) & (mm[:, 0] < drawn.right_mm) & (np.abs(mm[:, 1]) < 1100)
    return px[inside], mm[inside]


def test_both_photos_measure_the_wall_in_the_first_sheets_millimetres(drawn, joined):
    errors = []
    for k in range(2):
        px, mm = truth(drawn, k)
        errors.append(np.hypot(*(joined.photos[k].to_wall(px) - mm).T))
    assert np.median(errors[0]) < 3
    assert np.quantile(errors[0], 0.95) < 8
    # The second shows no sheet; its middle lies some 1.3 m from the first one's.
    assert np.median(errors[1]) < 6
    assert np.quantile(errors[1], 0.95) < 15


def test_what_it_states_holds(drawn, joined):
    inside = []
    for k in range(2):
        px, mm = truth(drawn, k)
        got = joined.to_wall(px, k)
        off = got - mm
        spread = joined.covariance(got, k)
        inside.append(np.einsum("ni,nij,nj->n", off, np.linalg.inv(spread), off) < WITHIN_95)
    assert np.concatenate(inside).mean() > 0.9


def test_points_and_pixels_return(joined):
    points = np.array([[0.0, 0.0], [1500.0, 300.0]])
    for k in range(2):
        assert joined.to_wall(joined.to_photo(points, k), k) == pytest.approx(points, abs=1e-3)


def test_each_point_is_known_through_the_photo_that_shows_it(drawn, joined):
    far = np.array([[drawn.right_mm - 200.0, 0.0]])
    assert drawn.shown(1, far).all()
    assert not drawn.shown(0, far).any()
    assert joined.best_photo(far) == 1
    assert joined.best_photo(np.zeros((1, 2))) == 0
    assert joined.half_width(far) > joined.half_width(np.zeros((1, 2)))


def test_a_length_over_two_photos_holds(drawn, joined):
    ends = np.array([[-500.0, 0.0], [drawn.right_mm - 300.0, 100.0]])
    seen = [
        joined.to_wall(drawn.cameras[k].project(np.c_[ends[k : k + 1], [0.0]])[0], k)
        for k in range(2)
    ]
    length, half = joined.length(seen[0], seen[1])
    assert abs(length - np.hypot(*(ends[1] - ends[0]))) < half


def test_covariance_of_one_point_agrees_with_that_of_several(joined):
    points = np.array([[100.0, 200.0], [1800.0, -100.0]])
    together = joined.joint_covariance(points)
    for i, own in enumerate(joined.covariance(points)):
        part = together[2 * i : 2 * i + 2, 2 * i : 2 * i + 2]
        assert part == pytest.approx(own, rel=1e-6, abs=1e-6)


def test_photos_that_share_nothing_are_refused_by_their_numbers(drawn):
    other = Photo(
        np.full(drawn.photos[0].pixels.shape, 120, np.uint8),
        drawn.photos[0].focal_px,
        0.015,
        camera="drawn",
    )
    with pytest.raises(MeasurementError, match="Photos 1 and 2") as refusal:
        join_photos([drawn.photos[0], other], drawn.references()[:1][0])
    assert refusal.value.hint


def test_without_a_sheet_nothing_is_joined(drawn):
    with pytest.raises(ReferenceNotFound):
        join_photos(drawn.photos, [[], []])


def test_photos_of_unlike_size_are_refused(drawn):
    small = Photo(np.ascontiguousarray(drawn.photos[1].pixels[::2, ::2]), None)
    with pytest.raises(MeasurementError, match="Photo 2"):
        join_photos([drawn.photos[0], small], drawn.references())


def test_one_photo_and_nine_are_refused(drawn):
    for count in (1, 9):
        with pytest.raises(MeasurementError, match=str(count)):
            join_photos([drawn.photos[0]] * count, drawn.references()[0])


def test_a_place_is_matched_once_and_only_where_it_is_clearly_the_nearest():
    rng = np.random.default_rng(1)
    descriptors = np.abs(rng.normal(0, 1, (30, 128))).astype(np.float32)
    descriptors /= np.linalg.norm(descriptors, axis=1, keepdims=True)
    at = rng.uniform(0, 500, (30, 2))
    sigma = np.full(30, 0.4)
    one = Features(np.r_[at, at[:1]], np.r_[sigma, 0.4], np.r_[descriptors, descriptors[:1]])
    found = match_features(one, Features(at + 7, sigma, descriptors))
    # The doubled one is as near as its double: no match at all, the others all.
    assert len(found.sigma_px) in (29, 30)
    assert found.second_px == pytest.approx(found.first_px + 7)
