import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from visualiser.errors import HangingError
from visualiser.hanging.cutting import nest

INCH = 25.4
sides = st.floats(80, 900)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(sides, sides), min_size=1, max_size=15))
def test_every_piece_is_cut_once_whole_and_on_the_roll(sizes):
    cuts = nest({str(i): size for i, size in enumerate(sizes)}, 914.4)
    assert {cut.piece_id for cut in cuts.cuts} == {str(i) for i in range(len(sizes))}
    for cut in cuts.cuts:
        width, height = sizes[int(cut.piece_id)]
        wanted = (height, width) if cut.turned else (width, height)
        assert (cut.rect.width_mm, cut.rect.height_mm) == wanted
        assert cut.rect.left_mm >= 0
        assert cut.rect.right_mm <= 914.4 + 1e-6
        assert cut.rect.bottom_mm >= 0
        assert cut.rect.top_mm <= cuts.length_mm + 1e-6
    for i, one in enumerate(cuts.cuts):
        assert not any(one.rect.overlaps(other.rect) for other in cuts.cuts[:i])
    assert 0 <= cuts.waste < 1


@pytest.mark.parametrize("beside_mm", [300.0, 300.2, 300.6])
def test_two_lie_side_by_side_only_where_the_roll_holds_both(beside_mm):
    """300 + 300 fit on 600 mm of paper, 300.2 + 300.2 would hang over its edge."""
    cuts = nest({"a": (beside_mm, 700), "b": (beside_mm, 700)}, 600)
    assert max(cut.rect.right_mm for cut in cuts.cuts) <= 600 + 1e-6
    assert (cuts.length_mm < 701) == (beside_mm == 300)


def test_no_pieces_need_no_paper():
    cuts = nest({}, 600)
    assert (cuts.length_mm, cuts.cuts) == (0, ())


def shortest_strip(sizes, roll, seconds=60):
    """Exact least length: relative places and turns as a mixed-integer programme (HiGHS)."""
    n, big = len(sizes), sum(max(s) for s in sizes)
    pairs = [(i, j) for i in range(n) for j in range(i)]
    # Unknown: x, y and turn of each, four sides for each pair, and the length.
    count = 3 * n + 4 * len(pairs) + 1
    rows, low, high = [], [], []

    def add(terms, least, most):
        row = np.zeros(count)
        for index, factor in terms:
            row[index] += factor
        rows.append(row)
        low.append(least)
        high.append(most)

    def reach(i, axis):
        """Terms and constant of the side of i along an axis, which depends on its turn."""
        size, other = sizes[i][axis], sizes[i][1 - axis]
        return [(2 * n + i, other - size)], size

    for i in range(n):
        for axis, most in ((0, roll), (1, None)):
            terms, constant = reach(i, axis)
            place = [(axis * n + i, 1.0)]
            if most is None:
                add([*place, *terms, (count - 1, -1.0)], -np.inf, -constant)
            else:
                add([*place, *terms], -np.inf, most - constant)
    for p, (i, j) in enumerate(pairs):
        first = 3 * n + 4 * p
        for side, (axis, a, b) in enumerate(((0, i, j), (0, j, i), (1, i, j), (1, j, i))):
            terms, constant = reach(a, axis)
            place = [(axis * n + a, 1.0), (axis * n + b, -1.0)]
            add([*place, *terms, (first + side, big)], -np.inf, big - constant)
        add([(first + side, 1.0) for side in range(4)], 1, 4)
    area = sum(w * h for w, h in sizes) / roll
    lower, upper = np.zeros(count), np.full(count, np.inf)
    upper[2 * n : count - 1] = 1
    lower[-1] = area
    whole = np.zeros(count)
    whole[2 * n : count - 1] = 1
    cost = np.zeros(count)
    cost[-1] = 1
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(lower, upper),
        constraints=LinearConstraint(np.array(rows), low, high),
        options={"time_limit": seconds, "mip_rel_gap": 1e-3},
    )
    return found.mip_dual_bound  # no strip is shorter, whether or not the search was finished


FRAMES_IN = [(8, 10), (11, 14), (12, 16), (16, 20), (18, 24), (20, 24), (24, 30), (24, 36)]


def drawn(seed, count):
    rng = np.random.default_rng(seed)
    frames = [FRAMES_IN[i] for i in rng.integers(len(FRAMES_IN), size=count)]
    return [((w + 2) * INCH, (h + 2) * INCH) for w, h in frames]  # 1 in of moulding all round


@pytest.mark.parametrize(("seed", "count"), [(0, 3), (1, 4), (2, 4), (3, 5), (4, 5)])
def test_within_a_twentieth_of_the_exact_best(seed, count):
    sizes = drawn(seed, count)
    cuts = nest({str(i): size for i, size in enumerate(sizes)}, 36 * INCH)
    assert cuts.length_mm <= 1.05 * shortest_strip(sizes, 36 * INCH)


@pytest.mark.slow
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("count", [6, 7, 8])
@pytest.mark.parametrize("seed", range(4))
def test_six_to_eight_cuts_within_a_twentieth_of_the_exact_best(seed, count):
    sizes = drawn(100 + seed, count)
    cuts = nest({str(i): size for i, size in enumerate(sizes)}, 36 * INCH)
    # As long as a busy machine takes: a search that is cut short knows no more than a lower bound.
    assert cuts.length_mm <= 1.05 * shortest_strip(sizes, 36 * INCH, seconds=1500)


def test_a_perfect_fit_is_found():
    """Eight sheets of 300 × 450 on a roll of 900 fill 1200 mm without waste."""
    cuts = nest({str(i): (300.0, 450.0) for i in range(8)}, 900.0)
    assert cuts.length_mm == pytest.approx(1200)
    assert cuts.waste == pytest.approx(0, abs=1e-9)


def test_the_same_job_gives_the_same_cuts():
    sizes = {str(i): size for i, size in enumerate(drawn(9, 12))}
    assert nest(sizes, 914.4) == nest(sizes, 914.4)


def test_paper_that_is_too_narrow_is_named():
    with pytest.raises(HangingError, match=r"Piece big needs paper at least 950 mm wide"):
        nest({"small": (100, 100), "big": (950, 1200)}, 914.4)
    with pytest.raises(HangingError, match="0 mm wide"):
        nest({"small": (100, 100)}, 0)
