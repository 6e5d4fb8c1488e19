import time
from dataclasses import replace

import numpy as np
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.errors import PrintingError
from visualiser.geometry import Rect
from visualiser.hanging.plan import plan_hanging
from visualiser.inventory.piece import Hanger, Piece
from visualiser.printing.approval import ApprovalOption, ApprovalSheet, approval_pdf
from visualiser.printing.hanging_plan import plan_pdf
from visualiser.printing.templates import templates_pdf
from visualiser.printing.tiling import OVERLAP_MM, tiles
from visualiser.sizes import paper_size
from visualiser.survey.survey import Furniture, Survey

WITHIN_MM = 0.05


def bars(strokes):
    """Widths of the two thickest level lines near the foot of a page."""
    level = [s for s in strokes if s.size[1] < 1e-3 and s.low[1] < 20 and s.width_pt > 0.7]
    return sorted(float(s.size[0]) for s in level)


def outline(strokes):
    return next(s for s in strokes if len(s.points) >= 4 and s.width_pt == pytest.approx(0.7))


def match_marks(strokes):
    """Centres of the small diamonds: 5 mm across, a corner halfway up."""
    middles = [
        (s.low + s.high) / 2
        for s in strokes
        if len(s.points) >= 4
        and np.allclose(s.size, 5.0, atol=1e-3)
        and abs(s.points[0][1] - (s.low + s.high)[1] / 2) < 1e-3
    ]
    return np.array(middles).reshape(-1, 2)


def crosses(strokes):
    """Where the two 18 mm lines of each hook mark meet."""
    arms = [s for s in strokes if len(s.points) == 2 and abs(s.size.max() - 18) < 1e-3]
    level = [s for s in arms if s.size[1] < 1e-3]
    plumb = [s for s in arms if s.size[0] < 1e-3]
    found = []
    for one in level:
        middle = (one.low + one.high) / 2
        if any(np.allclose(middle, (p.low + p.high) / 2, atol=WITHIN_MM) for p in plumb):
            found.append(middle)
    return np.array(found).reshape(-1, 2)


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_measured_back(plan, paper, open_pdf, read_strokes):
    """Bars, outlines, hook marks and page boxes by an independent reader, within 0.05 mm."""
    sheet = paper_size(paper)
    document = open_pdf(templates_pdf(plan, sheet))
    titles = [item.get_title() for item in document.get_toc()]
    assert len(titles) == len(document)
    for page, title in zip(document, titles, strict=True):
        size = np.array(page.get_size()) * 25.4 / 72
        assert sorted(size) == pytest.approx([sheet.width_mm, sheet.height_mm], abs=WITHIN_MM)
        assert page.get_mediabox() == pytest.approx((0, 0, *page.get_size()), abs=1e-3)
        strokes = read_strokes(page)
        assert bars(strokes) == pytest.approx([100.0, 101.6], abs=WITHIN_MM)
        piece = next(p for p in plan.pieces if title.startswith(f"{p.name_and_mark},"))
        box = outline(strokes)
        assert tuple(box.size) == pytest.approx(
            (piece.rect.width_mm, piece.rect.height_mm), abs=WITHIN_MM
        )
        expected = np.array(piece.hooks_mm).reshape(-1, 2) - (
            piece.rect.left_mm,
            piece.rect.bottom_mm,
        )
        assert crosses(strokes) - box.low == pytest.approx(expected, abs=WITHIN_MM)


def test_tiles_join(plan, open_pdf, read_strokes):
    """Each mark on one sheet lies on a neighbour's when the outlines are laid together."""
    document = open_pdf(templates_pdf(plan, paper_size("a4"), piece_ids=["heron"]))
    assert len(document) == 9
    on_piece, parts = [], []
    for page in document:
        strokes = read_strokes(page)
        corner = outline(strokes).low
        marks = match_marks(strokes)
        assert len(marks) >= 4
        assert (marks > 0).all()
        assert (marks < np.array(page.get_size()) * 25.4 / 72).all()
        on_piece.append(marks - corner)
        parts.append(corner)
    for index, marks in enumerate(on_piece):
        others = np.vstack([m for k, m in enumerate(on_piece) if k != index])
        gaps = np.linalg.norm(marks[:, None] - others[None], axis=2).min(axis=1)
        assert gaps.max() <= 0.1


def test_what_is_seen_after_clipping_joins_too(plan, open_pdf):
    """Pixels, not paths: the outline's top edge on A1 and A2, and the left edge, at 20 px/mm."""
    document = open_pdf(templates_pdf(plan, paper_size("a4"), piece_ids=["heron"]))
    scale = 20.0
    pages = [document[k].render(scale=scale * 25.4 / 72).to_numpy()[..., 0] for k in (0, 1)]
    tops = []
    for picture in pages:
        column = picture[: picture.shape[0] // 3, picture.shape[1] // 2 - 300].astype(float)
        dark = np.flatnonzero(column < 128)
        tops.append(dark.mean() / scale)
    assert tops[0] == pytest.approx(tops[1], abs=0.1)
    foot = pages[0][-int(22 * scale) :, :]
    spans = set()
    for row in foot:
        dark = np.flatnonzero(row < 128)
        runs = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)
        spans |= {len(run) / scale for run in runs if len(run) > 99 * scale}
    tick = 0.5 * 25.4 / 72  # the ticks' middles are the bar's ends
    assert any(abs(span - tick - 100) <= 0.1 for span in spans)
    assert any(abs(span - tick - 101.6) <= 0.1 for span in spans)


def test_on_a_roll(plan, open_pdf, read_strokes):
    document = open_pdf(templates_pdf(plan, roll=True))
    assert len(document) == len(plan.pieces)
    for page, piece in zip(document, plan.pieces, strict=True):
        box = outline(read_strokes(page))
        assert tuple(box.size) == pytest.approx(
            (piece.rect.width_mm, piece.rect.height_mm), abs=0.05
        )
        width, height = np.array(page.get_size()) * 25.4 / 72
        assert box.low.min() > 0
        assert box.high[0] < width
        assert box.high[1] < height


def test_hook_strip_only(plan, open_pdf, read_strokes):
    """Rings 420 mm apart: the crosses of both sheets, laid on the outline, are 420 mm apart."""
    document = open_pdf(templates_pdf(plan, paper_size("a4"), kind="hooks", piece_ids=["heron"]))
    strokes = read_strokes(document[0])
    both = crosses(strokes) - outline(strokes).low
    assert both == pytest.approx(np.array([[40, 610], [460, 610]]), abs=WITHIN_MM)
    text = document[0].get_textpage().get_text_range()
    assert "1 860 mm (73 1/4 in) up" in text
    corners = open_pdf(templates_pdf(plan, kind="hooks", piece_ids=["gull"]))
    assert "top edge of frame" in corners[0].get_textpage().get_text_range()


def test_tiles_cover_with_their_overlap():
    found = tiles(Rect(-3, -3, 506, 706), 194, 259)
    assert [tile.name for tile in found] == ["A1", "A2", "A3", "B1", "B2", "B3", "C1", "C2", "C3"]
    assert found[0].part.right_mm - found[1].part.left_mm == pytest.approx(OVERLAP_MM)
    assert found[0].part.bottom_mm + OVERLAP_MM == pytest.approx(found[3].part.top_mm)
    assert found[-1].part.right_mm == pytest.approx(503)
    assert found[-1].part.bottom_mm == pytest.approx(-3)
    assert all(t.part.width_mm <= 194 and t.part.height_mm <= 259 for t in found)


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"paper": paper_size("a7")}, "paper leaves only"),
        ({"piece_ids": ["nobody"]}, "Piece nobody has no place"),
        ({"piece_ids": []}, "No piece was chosen"),
    ],
)
def test_refusals(plan, options, sentence):
    with pytest.raises(PrintingError, match=sentence):
        templates_pdf(plan, **options)


def test_a_piece_larger_than_pdf_allows_is_refused(room, group):
    wide = Piece("banner", 5200, 300, hanger=Hanger("sawtooth", 12))
    wall = Survey.from_size(6000, 2500)
    plan = plan_hanging(
        Arrangement((wide,), (Placement("banner", 3000, 1500),)), wall, roll_width_mm=914
    )
    with pytest.raises(PrintingError, match="larger than PDF allows"):
        templates_pdf(plan, roll=True)


def test_an_unmeasured_drop_is_said_on_the_paper(plan, open_pdf):
    document = open_pdf(templates_pdf(plan, piece_ids=["boats"]))
    text = "".join(page.get_textpage().get_text_range() for page in document)
    assert "assumed: measure it first" in text


@pytest.fixture
def forty():
    hangers = [
        Hanger("d-rings", 80, 250),
        Hanger("wire", None, 200, 260, 120),
        Hanger("sawtooth", 12),
    ]
    sizes = [(300, 400), (400, 300), (330, 330), (406.4, 508.0)]
    pieces = tuple(Piece(f"p{k}", *sizes[k % 4], hanger=hangers[k % 3]) for k in range(40))
    places = tuple(
        Placement(f"p{k}", 300 + (k % 10) * 470, 500 + (k // 10) * 560) for k in range(40)
    )
    return Arrangement(pieces, places, name="Forty")


def test_forty_pieces_in_good_time(forty):
    """Plan, templates, hook strips and approval sheet: within 6 s of processor time."""
    wall = Survey.from_size(5200, 2700)
    options = tuple(ApprovalOption(replace(forty, name=name)) for name in "ABC")
    start = time.process_time()
    plan = plan_hanging(forty, wall)
    plan_pdf(plan)
    templates_pdf(plan)
    templates_pdf(plan, kind="hooks")
    approval_pdf(ApprovalSheet(wall, options))
    assert time.process_time() - start < 6


def test_the_same_plan_gives_the_same_bytes(plan):
    first = templates_pdf(plan, piece_ids=["gull"])
    assert first == templates_pdf(replace(plan), piece_ids=["gull"])


def test_cautions_stand_on_the_first_sheet_of_their_piece(group, room, open_pdf):
    group = replace(group, pieces=tuple(replace(piece, name="") for piece in group.pieces))
    plan = plan_hanging(group, room, "plasterboard")
    over = next(p.piece.id for p in plan.pieces if p.piece.id == "heron")
    for kind in ("whole", "hooks"):
        document = open_pdf(templates_pdf(plan, piece_ids=[over], kind=kind, title="Flat 3"))
        first = " ".join(document[0].get_textpage().get_text_range().split())
        assert "CAUTION: " in first
        assert "Flat 3" in first
    unnamed = templates_pdf(plan_hanging(group, room), piece_ids=["boats"])
    first = " ".join(open_pdf(unnamed)[0].get_textpage().get_text_range().split())
    assert "CAUTION: Nobody has said what the wall is built of." in first


def test_what_was_answered_for_is_printed_on_the_templates(group, room, open_pdf):
    behind = replace(room, furniture=(Furniture("bed", Rect(1100, 0, 900, 1400)),))
    words = "The bed goes tomorrow."
    plan = plan_hanging(group, behind, "brick", accepted=words)
    document = open_pdf(templates_pdf(plan, piece_ids=["heron"]))
    first = " ".join(document[0].get_textpage().get_text_range().split())
    assert words in first
