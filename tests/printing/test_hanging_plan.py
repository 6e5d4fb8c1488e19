import ctypes
import re
from dataclasses import replace

import numpy as np
import pypdfium2.raw as raw
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.errors import PrintingError
from visualiser.findings import Finding
from visualiser.hanging.plan import plan_hanging
from visualiser.inventory.piece import Hanger, Piece
from visualiser.printing.drawing_scale import fit_scale
from visualiser.printing.hanging_plan import plan_pdf
from visualiser.printing.load_table import purchase_lines
from visualiser.printing.wall_measures import spread
from visualiser.sizes import paper_size
from visualiser.survey.survey import Survey
from visualiser.units import format_length, parse_length

HOOKS, WALL = 0, 1
"""Pages of the plan: what hurts and where the hooks go comes before anything else."""


def texts(document):
    return [page.get_textpage().get_text_range() for page in document]


def plain(text):
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize(("paper", "size"), [("a4", (297, 210)), ("letter", (279.4, 215.9))])
def test_pages_of_the_right_size(plan, paper, size, open_pdf):
    document = open_pdf(plan_pdf(plan, paper_size(paper)))
    for page in document:
        assert np.array(page.get_size()) * 25.4 / 72 == pytest.approx(size, abs=0.05)


def test_drawn_to_its_scale(plan, open_pdf, read_strokes):
    """Wall, pieces and hooks at 1:20 within 0.05 mm of paper."""
    page = open_pdf(plan_pdf(plan))[WALL]
    strokes = read_strokes(page)
    boxes = [s for s in strokes if len(s.points) >= 4 and s.width_pt == pytest.approx(0.8)]
    wall = max(boxes, key=lambda s: s.size.prod())
    assert "scale 1:20" in texts([page])[0]
    assert tuple(wall.size) == pytest.approx((4000 / 20, 2500 / 20), abs=0.05)
    for piece in plan.pieces:
        low = wall.low + np.array([piece.rect.left_mm, piece.rect.bottom_mm]) / 20
        size = np.array([piece.rect.width_mm, piece.rect.height_mm]) / 20
        assert any(
            np.allclose(s.low, low, atol=0.05) and np.allclose(s.size, size, atol=0.05)
            for s in boxes
        )
        for hook in piece.hooks_mm:
            middle = wall.low + np.array(hook) / 20
            assert any(np.allclose((s.low + s.high) / 2, middle, atol=0.05) for s in strokes)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_long_wall_is_cut_for_a_larger_scale(group, side, open_pdf, read_strokes):
    """8 m of wall, the group at 0.6 to 3.1 m of the side: 1:40 whole, 1:20 to beyond the group."""
    moved = 0 if side == "left" else 4300
    places = tuple(replace(p, x_mm=p.x_mm + moved) for p in group.placements)
    plan = plan_hanging(replace(group, placements=places), Survey.from_size(8000, 2500), side=side)
    page = open_pdf(plan_pdf(plan))[WALL]
    text = plain(page.get_textpage().get_text_range())
    assert "scale 1:20" in text
    assert "usable wall goes on: 8 000 mm" in text
    frames = [s for s in read_strokes(page) if np.allclose(s.size, (30, 40), atol=0.05)]
    assert frames  # 600 x 800 mm at 1:20


def test_every_hook_is_printed_in_both_units_and_reads_back(plan, open_pdf):
    pages = [plain(text) for text in texts(open_pdf(plan_pdf(plan)))]
    for piece in plan.pieces:
        for x, y in piece.hooks_mm:
            for length in (plan.measures.from_side_mm(x), y):
                in_mm, in_inches = format_length(length, "mm"), format_length(length, "in")
                assert in_mm in pages[HOOKS]
                assert in_inches in pages[HOOKS]
                short = f"{in_mm.removesuffix(' mm')} ({in_inches.removesuffix(' in')})"
                assert short in pages[WALL]
                assert parse_length(in_inches) == pytest.approx(length, abs=25.4 / 32 + 1e-6)


def test_no_measure_is_drawn_twice(plan, open_pdf):
    text = plain(texts(open_pdf(plan_pdf(plan)))[WALL])
    labels = re.findall(r"\d[\d ]* \(\d[\d /]*\)", text)
    assert len(labels) == len(set(labels))


def test_border_and_uncertainty_are_stated(group, room, open_pdf):
    typed = [plain(text) for text in texts(open_pdf(plan_pdf(plan_hanging(group, room))))]
    assert "typed: measure it" in typed[HOOKS]
    assert "2 528 mm (99 1/2 in)" in typed[WALL]  # inside of the tape: 586 to 3114
    assert "2 652 mm (104 3/8 in)" in typed[WALL]  # √(2528² + 800²)
    unsure = plan_hanging(group, replace(room, floor_sigma_mm=2.0))
    assert "heights ± 4 mm (3/16 in)" in plain(texts(open_pdf(plan_pdf(unsure)))[HOOKS])


def test_every_font_is_embedded(plan, open_pdf):
    for page in open_pdf(plan_pdf(plan)):
        for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=5):
            font = raw.FPDFTextObj_GetFont(item)
            assert raw.FPDFFont_GetIsEmbedded(font) == 1


def test_titles_outline_and_structure(plan, open_pdf):
    data = plan_pdf(plan)
    document = open_pdf(data)
    assert document.get_metadata_dict()["Title"] == "Shore room: hanging plan"
    toc = [item.get_title() for item in document.get_toc()]
    assert toc[0] == "Hooks, in the order of hanging"
    assert "The wall and where the hooks go" in toc
    assert document.is_tagged()
    tree = raw.FPDF_StructTree_GetForPage(document[0])
    whole = raw.FPDF_StructTree_GetChildAtIndex(tree, 0)
    first = raw.FPDF_StructElement_GetChildAtIndex(whole, 0)
    buffer = ctypes.create_string_buffer(64)
    length = raw.FPDF_StructElement_GetType(first, buffer, 64)
    assert buffer.raw[: length - 2].decode("utf-16-le") == "H1"
    raw.FPDF_StructTree_Close(tree)


def test_names_in_any_script_are_printed_or_visibly_replaced(plan, open_pdf):
    pages = [plain(text) for text in texts(open_pdf(plan_pdf(plan)))]
    assert "Héron" in pages[HOOKS]
    noted = "stands for a character that no font" in pages[HOOKS]
    page = open_pdf(plan_pdf(plan))[HOOKS]
    pictured = len(list(page.get_objects(filter=[raw.FPDF_PAGEOBJ_IMAGE])))
    others = [name for name in ("葦の岸", "שפת הים", "Чайка", "قوارب") if name not in pages[HOOKS]]
    assert len(others) <= pictured or noted


def test_what_could_hurt_stands_on_the_first_page_and_the_rest_on_the_last(group, room, open_pdf):
    # By ids, as lines in some scripts are set as pictures that a reader finds no letters in.
    group = replace(group, pieces=tuple(replace(piece, name="") for piece in group.pieces))
    plan = plan_hanging(group, room, "plasterboard")
    pages = [plain(text) for text in texts(open_pdf(plan_pdf(plan)))]
    assert "over the sofa" in pages[HOOKS]
    assert "licensed electrician" in pages[-1]
    for finding in plan.findings:
        page = pages[HOOKS] if finding in plan.gravest else " ".join(pages)
        assert plain(finding.text)[:30] in page


def six(**shared):
    """Six pieces of six kinds of trouble, two hooks each: a plan with much to say."""
    hangers = (
        Hanger("d-rings"), Hanger("wire", 60, 400, attachment_drop_mm=170, hooks=2),
        Hanger("sawtooth", 12, hooks=2), Hanger("keyhole", 30), Hanger("cleat"), Hanger("security"),
    )  # fmt: skip
    pieces = tuple(
        Piece(f"p{k}", 420, 520, f"Study of a shore, number {k}", hanger=hanger, **shared)
        for k, hanger in enumerate(hangers)
    )
    places = tuple(Placement(p.id, 700 + 520 * k, 1600) for k, p in enumerate(pieces))
    return Arrangement(pieces, places, name="Long hall")


@pytest.mark.parametrize("wall", ["plasterboard", "brick", None])
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("shared", [{}, {"weight_kg": 3.0}])
def test_six_pieces_take_four_pages(room, wall, paper, shared, open_pdf):
    plan = plan_hanging(six(**shared), room, wall, accepted="Seen and agreed.")
    assert len(open_pdf(plan_pdf(plan, paper_size(paper), "Long hall"))) <= 4


def test_parts_that_need_the_same_rating_share_a_line_and_nothing_else_does(room):
    """Six kinds of hanger are each counted once; what is bought keeps its own number."""
    plan = plan_hanging(six(weight_kg=3.0), room, "brick")
    lines = purchase_lines(plan)
    checks = [line for line in lines if line.startswith("check")]
    assert len(checks) < 6
    assert sum(line.count("on the frame (") for line in checks) == 6
    others = [item for item in plan.purchases if item.amount != "check"]
    assert len(lines) - len(checks) == len(others)


def sizes_pt(page):
    """Size of each line of text as an independent reader sees it, points, with the text."""
    found = []
    words = page.get_textpage()
    for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=5):
        size, matrix = ctypes.c_float(), raw.FS_MATRIX()
        raw.FPDFTextObj_GetFontSize(item, size)
        raw.FPDFPageObj_GetMatrix(item, matrix)
        buffer = ctypes.create_string_buffer(512)
        length = raw.FPDFTextObj_GetText(
            item, words, ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort)), 256
        )
        text = buffer.raw[: 2 * max(length - 1, 0)].decode("utf-16-le")
        found.append((size.value * (matrix.a**2 + matrix.b**2) ** 0.5, text))
    return found


def test_hooks_are_read_at_arms_length_and_nothing_is_tiny(room, open_pdf):
    """14 pt for what is read on a ladder; 8 pt at least for everything else."""
    plan = plan_hanging(six(weight_kg=3.0), room, "brick")
    document = open_pdf(plan_pdf(plan))
    first = sizes_pt(document[HOOKS])
    for piece in plan.pieces:
        for name, (x, y) in zip(piece.hook_names(), piece.hooks_mm, strict=True):
            for wanted in (name, format_length(y, "mm"), format_length(x, "mm")):
                held = [size for size, text in first if plain(text).startswith(wanted)]
                assert held, wanted
                assert max(held) >= 14 - 1e-3
    smallest = min(size for page in document for size, text in sizes_pt(page) if text.strip())
    assert smallest >= 8 - 1e-3


def test_each_hooks_fixing_stands_on_the_page_it_is_hung_by(plan, open_pdf):
    """Who stands on the ladder holds one page; whether hooks are few or many, it is there."""
    first = open_pdf(plan_pdf(plan, paper_size("a4"), "Hall"))[0].get_textpage().get_text_bounded()
    for piece in plan.pieces:
        assert piece.fixing.name in first
    assert "to where the hanger rests on its hook" in " ".join(first.split())


def test_every_page_carries_the_jobs_name(plan, open_pdf):
    for text in texts(open_pdf(plan_pdf(plan, title="Flat 3, stair hall"))):
        assert text.count("Flat 3, stair hall") >= 2  # at its head and at its foot


def test_a_datum_that_is_the_sheet_is_to_stay_up(group, room, open_pdf):
    unsure = Finding("note", "No left corner is seen.", "Click the side.", "side-from-reference")
    plan = plan_hanging(group, replace(room, findings=(unsure,)))
    pages = [plain(text) for text in texts(open_pdf(plan_pdf(plan)))]
    assert "Leave the sheet on the wall" in pages[HOOKS]
    assert "Leave the sheet up" in pages[-1]


def test_the_same_plan_gives_the_same_bytes(plan):
    assert plan_pdf(plan) == plan_pdf(plan)


def test_a_wall_beyond_any_scale_is_refused(group):
    long = Survey.from_size(60_000, 2500)
    with pytest.raises(PrintingError, match="does not fit on this paper"):
        plan_pdf(plan_hanging(group, long))


def test_scales():
    assert fit_scale(4000, 2500, (209, 150)) == 20
    assert fit_scale(4001, 2500, (200, 150)) == 25


def test_labels_move_apart_as_little_as_can_be():
    assert spread([1, 2, 10], 3, 0, 20) == [0, 3, 10]
    assert spread([5, 5, 5], 2, 0, 20) == [3, 5, 7]
    assert spread([19, 20], 3, 0, 20) == [17, 20]
    with pytest.raises(ValueError, match="do not fit"):
        spread([1, 2, 3], 10, 0, 15)
