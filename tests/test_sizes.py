import pytest

from visualiser.errors import SizeError
from visualiser.sizes import (
    iso_216_tolerance_mm,
    paper_names,
    paper_size,
    print_size_name,
    print_sizes,
)

# ISO 216:2007, trimmed sizes of the A and B series, mm.
ISO_216 = {
    "a": "841×1189 594×841 420×594 297×420 210×297 148×210 105×148 74×105 52×74 37×52 26×37",
    "b": "1000×1414 707×1000 500×707 353×500 250×353 176×250 125×176 88×125 62×88 44×62 31×44",
}


@pytest.mark.parametrize(
    ("name", "size"),
    [
        (f"{series}{number}", size)
        for series, sizes in ISO_216.items()
        for number, size in enumerate(sizes.split())
    ],
)
def test_iso_216(name, size):
    width, height = map(float, size.split("×"))
    assert (paper_size(name).width_mm, paper_size(name).height_mm) == (width, height)


def test_iso_216_agrees_with_the_pdf_librarys_table():
    pagesizes = pytest.importorskip("reportlab.lib.pagesizes")
    for name in ("A0", "A1", "A2", "A3", "A4", "A5", "A6", "letter", "legal"):
        sheet = paper_size(name)
        points = getattr(pagesizes, name)
        assert points == pytest.approx((sheet.width_mm / 25.4 * 72, sheet.height_mm / 25.4 * 72))


@pytest.mark.parametrize(
    ("name", "inches", "mm"),
    [
        ("letter", (8.5, 11), (215.9, 279.4)),
        ("legal", (8.5, 14), (215.9, 355.6)),
        ("tabloid", (11, 17), (279.4, 431.8)),
    ],
)
def test_us_sheets(name, inches, mm):
    """ANSI/ASME Y14.1: A is 8.5 x 11 in, B is 11 x 17 in (from memory); mm by 25.4."""
    sheet = paper_size(name)
    assert (sheet.width_mm / 25.4, sheet.height_mm / 25.4) == pytest.approx(inches)
    assert (sheet.width_mm, sheet.height_mm) == pytest.approx(mm)


def test_bank_card_is_iso_7810_id_1():
    """ISO/IEC 7810: 85.60 × 53.98 mm, drawn as 3.370 × 2.125 in, radius 2.88 to 3.48 mm."""
    card = paper_size("card")
    assert (card.width_mm, card.height_mm) == (85.60, 53.98)
    assert card.width_mm == pytest.approx(3.370 * 25.4, abs=0.005)
    assert card.height_mm == pytest.approx(2.125 * 25.4, abs=0.006)
    assert 2.88 <= card.corner_radius_mm <= 3.48


@pytest.mark.parametrize(
    ("side", "limit"),
    [(105, 1.5), (150, 1.5), (150.1, 2), (297, 2), (600, 2), (600.1, 3), (1189, 3)],
)
def test_iso_216_tolerances(side, limit):
    """ISO 216:2007: ±1.5 mm up to 150 mm, ±2 mm above that to 600 mm, ±3 mm above."""
    assert iso_216_tolerance_mm(side) == limit


def test_a4_scale_is_only_known_to_the_papers_tolerance():
    sheet = paper_size("a4")
    assert (sheet.width_tolerance_mm, sheet.height_tolerance_mm) == (2, 2)
    assert sheet.size_sigma_mm == pytest.approx(2 / 3**0.5)


def test_unknown_paper_says_what_is_known():
    with pytest.raises(SizeError, match="Did you mean letter"):
        paper_size("leter")
    with pytest.raises(SizeError) as caught:
        paper_size("!")
    assert "a0 to a10" in caught.value.hint
    assert {"a4", "letter", "legal", "tabloid", "card", "b5"} <= set(paper_names())


@pytest.mark.parametrize(
    ("inches", "mm"),
    [
        ("4 x 6", (102, 152)), ("5 x 7", (127, 178)), ("8 x 10", (203, 254)),
        ("8 x 12", (203, 305)), ("11 x 14", (279, 356)), ("12 x 16", (305, 406)),
        ("16 x 20", (406, 508)),
        ("20 x 24", (508, 610)), ("30 x 40", (762, 1016)),
    ],
)  # fmt: skip
def test_print_sizes_in_mm_as_price_lists_round_them(inches, mm):
    """Published whole-millimetre equivalents of the trade's inch sizes."""
    assert [round(v) for v in print_sizes()[f"{inches} in"]] == list(mm)


def test_a_size_is_called_by_its_trade_name_either_way_up():
    assert print_size_name(508, 406) == "16 x 20 in"
    assert print_size_name(500, 700) == "50 x 70 cm"
    assert print_size_name(297, 420) == "A3"
    assert print_size_name(333, 777) is None
