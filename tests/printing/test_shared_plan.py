import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.slots import Plan, Slot, plan_of
from visualiser.errors import PrintingError
from visualiser.printing.shared_plan import shared_plan_pdf
from visualiser.sizes import paper_size
from visualiser.survey.survey import Survey


@pytest.fixture
def shared():
    pieces = [vis.Piece(f"P{i}", 300, 400) for i in range(6)]
    (grid,) = vis.propose(pieces, Survey.from_size(4000, 2600), families=["grid"], count=1)
    return plan_of(grid, 57)


def test_slots_are_drawn_to_scale_and_listed(shared, open_pdf, read_strokes):
    """Three columns of 300 mm and two gaps are 1014 mm: 101.4 mm of paper at 1:10."""
    page = open_pdf(shared_plan_pdf(shared))[0]
    text = page.get_textpage().get_text_range()
    assert "1:10" in text
    assert "357 mm left" in text
    assert "on it" in text
    boxes = [s for s in read_strokes(page) if s.width_pt == pytest.approx(0.5) and s.size.min() > 5]
    assert len(boxes) >= 6
    assert np.median([b.size[0] for b in boxes]) == pytest.approx(30, abs=0.05)
    assert np.median([b.size[1] for b in boxes]) == pytest.approx(40, abs=0.05)


def test_many_slots_go_on_to_another_page(open_pdf):
    slots = tuple(Slot(f"S{i}", 300.0 * (i % 8), 300.0 * (i // 8), 200, 200) for i in range(60))
    document = open_pdf(shared_plan_pdf(Plan(slots, 57), paper_size("letter")))
    assert len(document) > 1


def test_a_group_too_large_for_the_paper_is_refused():
    far = (Slot("a", 0, 0, 200, 200), Slot("b", 90000, 0, 200, 200))
    with pytest.raises(PrintingError):
        shared_plan_pdf(Plan(far, 57))
