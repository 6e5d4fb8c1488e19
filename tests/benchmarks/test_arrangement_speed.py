"""How long proposals take, and how the time grows with the number of pieces."""

import time

import numpy as np
import pytest

import visualiser as vis
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

pytestmark = pytest.mark.benchmark

SOFA = Furniture("sofa", Rect(2500, 0, 2100, 820))
SWITCH = Zone("switch", Polygon.from_rect(Rect(300, 1100, 80, 80)))
WALL = Survey.from_size(7000, 3000, zones=(SWITCH,), furniture=(SOFA,))
LIMIT_S = {6: 0.7, 12: 2.0, 40: 10.0}


def mixed(count):
    rng = np.random.default_rng(count)
    sides = rng.choice([210, 250, 297, 300, 400, 420, 500], size=(count, 2))
    return [vis.Piece(f"P{i}", float(w), float(h)) for i, (w, h) in enumerate(sides)]


def test_time_all_families_three_proposals():
    vis.propose(mixed(3), WALL)  # imports are not what is timed
    spent = {}
    for count in (3, 6, 12, 24, 40):
        pieces = mixed(count)
        clock, processor = time.perf_counter(), time.process_time()
        found = vis.propose(pieces, WALL, count=3)
        spent[count] = time.process_time() - processor
        print(
            f"{count:3} pieces: {time.perf_counter() - clock:6.2f} s on the clock, "
            f"{spent[count]:6.2f} s of one processor, {spent[count] / spent[3]:5.1f} times three "
            f"pieces' time; {', '.join(a.family for a in found)}"
        )
    # Processor time, as the machine may be shared.
    assert all(spent[count] < limit for count, limit in LIMIT_S.items())
