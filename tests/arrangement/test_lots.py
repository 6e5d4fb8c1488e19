"""Random numbers of which the seed moves the last groups' alone."""

import numpy as np

from visualiser.arrangement.lots import Lots


def drawn(seed):
    lots = Lots.drawn(np.random.default_rng(seed), 16)
    group = np.array([0, 0, 3, 9, 13, 14, 14, 15])
    return lots, lots.random(3), lots.for_each(group), lots.random()


def test_a_seed_moves_its_own_groups_and_no_others():
    one, *first = drawn(1)
    _, *other = drawn(2)
    assert one.first_own == 14
    for a, b in zip((first[0], first[2]), (other[0], other[2]), strict=True):
        np.testing.assert_array_equal(a[:14], b[:14])
        assert (a[14:] != b[14:]).any()
    np.testing.assert_array_equal(first[1][:5], other[1][:5])
    assert (first[1][5:] != other[1][5:]).all()


def test_what_one_seed_draws_leaves_the_others_numbers_alone():
    """The groups that follow the seed may take more numbers or fewer; the rest go on the same."""
    lots, twin = (Lots.drawn(np.random.default_rng(5), 16) for _ in range(2))
    lots.for_each(np.array([0, 15]))
    twin.for_each(np.array([0, 14, 14, 15, 15]))
    np.testing.assert_array_equal(lots.random()[:14], twin.random()[:14])
