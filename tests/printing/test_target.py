"""The target's page, measured back from the PDF as it would print."""

import numpy as np
import pypdfium2
import pytest

from visualiser.errors import PrintingError
from visualiser.photo.photo import Photo
from visualiser.printing.target import target_pdf
from visualiser.rectification.finder.find import find_references
from visualiser.rectification.finder.target import PRINT_SIGMA, target_board
from visualiser.sizes import paper_size

DPI = 400
PX_PER_MM = DPI / 25.4


def page_pixels(paper):
    document = pypdfium2.PdfDocument(target_pdf(paper))
    assert len(document) == 1
    page = document[0]
    pixels = page.render(scale=DPI / 72).to_numpy()[..., :3]
    size_mm = tuple(side / 72 * 25.4 for side in page.get_size())
    text = page.get_textpage().get_text_bounded()
    document.close()
    return np.ascontiguousarray(pixels[..., ::-1]), size_mm, text


@pytest.mark.parametrize(("paper", "kind"), [("a4", "target"), ("letter", "target-letter")])
def test_the_board_prints_at_true_size_on_its_paper(paper, kind):
    pixels, size_mm, text = page_pixels(paper)
    sheet = paper_size(paper)
    assert size_mm == pytest.approx((sheet.width_mm, sheet.height_mm), abs=0.1)
    assert "100 mm" in text
    assert "lower edge: heights above the floor are measured to here" in " ".join(text.split())
    # The large marker's black square is 120 mm wide and tall; a pixel here is 0.06 mm.
    dark = pixels.max(axis=2) < 110
    board = target_board(kind)
    top = sheet.height_mm - board.bottom_mm - board.height_mm
    row = dark[int((top + 10) * PX_PER_MM), : int((board.left_mm + 126) * PX_PER_MM)]
    column = dark[: int((top + 126) * PX_PER_MM), int((board.left_mm + 10) * PX_PER_MM)]
    assert row.sum() / PX_PER_MM == pytest.approx(120, abs=0.1)
    assert column.sum() / PX_PER_MM == pytest.approx(120, abs=0.1)
    (found,) = find_references(Photo(pixels), kind)
    spread_px, spread_mm = (
        np.sqrt(((points - points.mean(axis=0)) ** 2).sum())
        for points in (found.marks_px, found.marks_mm)
    )
    # A print's size is taken to be known to a thousandth once its bar is measured.
    assert spread_px / PX_PER_MM == pytest.approx(spread_mm, rel=PRINT_SIGMA)


def test_the_check_bar_is_100_mm_long():
    pixels, _, _ = page_pixels("a4")
    dark = pixels.max(axis=2) < 110
    below = dark[int(0.74 * len(dark)) :]
    # The bar is the longest unbroken dark run below the board.
    longest = 0
    for row in below:
        edges = np.flatnonzero(np.diff(np.r_[0, row.astype(int), 0]))
        longest = max(longest, *(edges[1::2] - edges[::2]), 0)
    assert longest / PX_PER_MM == pytest.approx(100, abs=0.2)


def test_other_paper_is_refused_with_what_there_is():
    with pytest.raises(PrintingError, match="a4 or letter"):
        target_pdf("a3")
