"""Edits made by hand: exact places, what stays, and what is refused."""

import pytest

import visualiser as vis
from visualiser.arrangement import editing
from visualiser.arrangement.editing import Bench
from visualiser.geometry import Rect
from visualiser.survey.survey import Furniture, Survey

WALL = Survey.from_size(4000, 2600)
RULES = vis.Guidelines()
BENCH = Bench(WALL, RULES)


def hung(*rects):
    """Pieces A, B, C ... at rectangles (left, bottom, width, height)."""
    names = "ABCDEFG"[: len(rects)]
    pieces = tuple(vis.Piece(n, r[2], r[3]) for n, r in zip(names, rects, strict=True))
    spots = tuple(
        vis.Placement(n, r[0] + r[2] / 2, r[1] + r[3] / 2)
        for n, r in zip(names, rects, strict=True)
    )
    return vis.Arrangement(pieces, spots)


ROW = hung((500, 1300, 400, 400), (1000, 1350, 300, 300), (1500, 1200, 400, 600))


def test_a_move_near_nothing_is_exact_and_leaves_the_input_alone():
    result = editing.move(ROW, ["A"], -200, 500, BENCH)
    assert result.arrangement.rect("A") == Rect(300, 1800, 400, 400)
    assert ROW.rect("A") == Rect(500, 1300, 400, 400)
    assert result.arrangement.rect("B") == ROW.rect("B")


@pytest.mark.parametrize(
    ("dx", "dy", "kinds", "expected"),
    [
        (505, 395, {"edge"}, (1000, 1695)),  # left edge on B's left edge
        (38, 0, {"gap", "centre"}, (543, 1300)),  # 57 mm from B, centres level
        (0, 45, {"edge"}, (500, 1350)),  # lower edge on B's lower edge
        (-300, 20, {"centre line"}, (200, 1324)),  # centre at 1524 mm
    ],
)
def test_moves_fall_into_lines(dx, dy, kinds, expected):
    result = editing.move(ROW, ["A"], dx, dy, BENCH, reach_mm=10)
    rect = result.arrangement.rect("A")
    assert (rect.left_mm, rect.bottom_mm) == pytest.approx(expected)
    assert {g.kind for g in result.guides} >= kinds - {"centre"}


def test_an_equal_gap_between_two_pieces_is_found():
    start = hung((500, 1300, 400, 400), (1200, 1300, 300, 400), (2000, 1300, 400, 400))
    result = editing.move(start, ["B"], 95, 0, BENCH, reach_mm=10)
    assert result.arrangement.rect("B").left_mm == pytest.approx(1300)
    assert "gap" in {g.kind for g in result.guides}


def test_tape_marks_are_used_when_no_line_is_near():
    result = editing.move(hung((503, 1203, 200, 200)), ["A"], 0, 0, BENCH, reach_mm=3, tape_mm=10)
    assert result.arrangement.rect("A") == Rect(500, 1200, 200, 200)
    assert {g.kind for g in result.guides} == {"tape"}


def test_the_wall_middle_is_the_sofas_where_one_stands():
    survey = Survey.from_size(4000, 2600, furniture=(Furniture("sofa", Rect(0, 0, 2000, 800)),))
    bench = Bench(survey, RULES)
    result = editing.move(hung((500, 1300, 400, 400)), ["A"], 305, 0, bench)
    assert result.arrangement.rect("A").centre_mm[0] == pytest.approx(1000)


@pytest.mark.parametrize(
    ("direction", "unit", "shift"),
    [("left", "mm", (-1, 0)), ("up", "mm", (0, 1)), ("right", "in", (1.5875, 0)),
     ("down", "in", (0, -1.5875))],
)  # fmt: skip
def test_nudge_is_one_millimetre_or_a_sixteenth(direction, unit, shift):
    rect = editing.nudge(ROW, ["B"], direction, BENCH, unit=unit).arrangement.rect("B")
    assert rect.x_mm - 1000 == pytest.approx(shift[0])
    assert rect.y_mm - 1350 == pytest.approx(shift[1])


def test_swap_exchanges_centres_and_twice_is_nothing():
    once = editing.swap(ROW, "A", "C", BENCH).arrangement
    assert once.rect("A").centre_mm == ROW.rect("C").centre_mm
    again = editing.swap(once, "A", "C", BENCH).arrangement
    assert again.placements == ROW.placements


@pytest.mark.parametrize(
    ("line", "value"),
    [("left", 500), ("right", 1900), ("top", 1800), ("bottom", 1200), ("level centre", 1500)],
)
def test_align_to_the_outermost_edge(line, value):
    rects = editing.align(ROW, ["A", "B", "C"], line, BENCH).arrangement.rects().values()
    edge = {
        "left": lambda r: r.left_mm,
        "right": lambda r: r.right_mm,
        "top": lambda r: r.top_mm,
        "bottom": lambda r: r.bottom_mm,
        "level centre": lambda r: r.centre_mm[1],
    }[line]
    assert [edge(r) for r in rects] == pytest.approx([value] * 3)


def test_align_follows_a_kept_piece():
    result = editing.align(ROW, ["A", "B", "C"], "top", BENCH.keep(["B"])).arrangement
    assert result.rect("B") == ROW.rect("B")
    assert {r.top_mm for r in result.rects().values()} == {1650}


def test_distribute_evens_gaps_and_keeps_the_outermost():
    rects = editing.distribute(ROW, ["C", "A", "B"], "across", BENCH).arrangement.rects()
    assert rects["A"] == ROW.rect("A")
    assert rects["C"] == ROW.rect("C")
    assert rects["B"].left_mm - rects["A"].right_mm == pytest.approx(150)
    assert rects["C"].left_mm - rects["B"].right_mm == pytest.approx(150)


def test_match_gap_sets_the_rules_gap_about_the_middle():
    result = editing.match_gap(ROW, ["A", "B", "C"], "across", BENCH).arrangement
    rects = result.rects()
    assert rects["B"].left_mm - rects["A"].right_mm == pytest.approx(57)
    assert rects["C"].left_mm - rects["B"].right_mm == pytest.approx(57)
    assert result.bounds.centre_mm[0] == pytest.approx(ROW.bounds.centre_mm[0])


def test_mirror_twice_is_nothing():
    once = editing.mirror(ROW, BENCH).arrangement
    assert once.rect("A").left_mm == pytest.approx(1500)
    again = editing.mirror(once, BENCH).arrangement
    for piece_id, rect in again.rects().items():
        assert rect.centre_mm == pytest.approx(ROW.rect(piece_id).centre_mm)


def test_another_size_keeps_the_outline():
    larger = vis.Piece("A", 450, 500)
    result = editing.replace_piece(ROW, "A", larger, BENCH).arrangement
    assert result.bounds.left_mm == ROW.bounds.left_mm
    assert result.rect("A").width_mm == 450


def test_every_edit_is_judged_anew():
    result = editing.move(ROW, ["A"], 480, 30, BENCH, reach_mm=0)
    assert "overlap" in {f.code for f in result.findings}
    assert result.arrangement.terms
    assert editing.move(ROW, ["A"], 0, 0, BENCH, reach_mm=0).arrangement.score > 0


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda: editing.move(ROW, ["Z"], 1, 1, BENCH), "Z does not hang"),
        (lambda: editing.move(ROW, [], 1, 1, BENCH), "No piece"),
        (lambda: editing.move(ROW, ["A"], 1, 1, BENCH.keep(["A"])), "kept"),
        (lambda: editing.swap(ROW, "A", "B", BENCH.keep(["B"])), "kept"),
        (lambda: editing.align(ROW, ["A"], "top", BENCH.keep(["A"])), "kept"),
        (lambda: editing.distribute(ROW, ["A", "B"], "across", BENCH), "three"),
        (lambda: editing.match_gap(ROW, ["A", "B"], "across", BENCH, gap_mm=-1), "-1 mm"),
    ],
)
def test_what_cannot_be_done_is_said(edit, words):
    with pytest.raises(vis.ArrangementError, match=words) as caught:
        edit()
    assert caught.value.hint


def test_released_pieces_move_again():
    bench = BENCH.keep(["A"]).release(["A"])
    assert editing.move(ROW, ["A"], 5, 0, bench, reach_mm=0).arrangement.rect("A").x_mm == 505


def clear_gaps(arrangement):
    from visualiser.arrangement.rules import neighbour_gaps

    return [gap for _, _, gap in neighbour_gaps(arrangement.rects())]


SQUARE = hung((500, 1000, 400, 400), (957, 1000, 400, 400), (500, 1457, 400, 400),
              (957, 1457, 400, 400))  # fmt: skip


def test_swapping_unlike_sizes_closes_the_group_up():
    """A wide one and a narrow one of a row change places: no overlap, and its gaps stay 57."""
    row = hung((500, 1300, 300, 400), (857, 1300, 800, 400), (1714, 1300, 300, 400))
    made = editing.swap(row, "A", "B", BENCH).arrangement
    rects = made.rects()
    assert rects["B"].left_mm < rects["A"].left_mm < rects["C"].left_mm
    assert clear_gaps(made) == pytest.approx([57, 57])
    assert made.bounds.centre_mm == pytest.approx(row.bounds.centre_mm)


def test_a_gap_is_set_in_both_directions_of_a_square():
    made = editing.match_gap(SQUARE, list("ABCD"), "across", BENCH, gap_mm=70).arrangement
    assert clear_gaps(made) == pytest.approx([70] * 4)
    assert made.bounds.width_mm == pytest.approx(870)
    assert made.bounds.height_mm == pytest.approx(870)


def test_a_larger_size_opens_the_group_to_its_gap():
    larger = vis.Piece("A", 500, 500)
    made = editing.replace_piece(SQUARE, "A", larger, BENCH).arrangement
    rects = made.rects()
    assert min(a.distance_to(b) for i, a in rects.items() for k, b in rects.items() if i < k) > 49
    assert rects["A"].width_mm == 500


def test_a_kept_piece_keeps_the_others_from_giving_way():
    larger = vis.Piece("A", 500, 500)
    made = editing.replace_piece(SQUARE, "A", larger, BENCH.keep(["D"])).arrangement
    assert made.rect("D") == SQUARE.rect("D")
