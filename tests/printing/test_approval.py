import functools
import io
import re
from dataclasses import replace

import numpy as np
import pypdfium2.raw as raw
import pytest
from PIL import Image, ImageCms

from visualiser.arrangement.arrangement import Arrangement
from visualiser.colour.extraction import extract_palette
from visualiser.errors import PrintingError
from visualiser.inventory.piece import Artwork
from visualiser.printing.approval import ApprovalOption, ApprovalSheet, approval_pdf
from visualiser.printing.approval_pictures import MESSAGE_PX, approval_png, option_pictures
from visualiser.sizes import paper_size


@functools.cache
def gradient(height, width, red):
    y, x = np.mgrid[0:height, 0:width] / max(height, width)
    bands = [red + 90 * x, 80 + 60 * y, 120 + 50 * np.sin(9 * x)]
    return np.clip(np.stack(bands, -1), 0, 255).astype(np.uint8)


@pytest.fixture
def sheet(group, room):
    pieces = tuple(
        replace(piece, artwork=Artwork(gradient(700, 500, 30 * k)))
        for k, piece in enumerate(group.pieces)
    )
    palette = extract_palette(gradient(60, 80, 90))
    options = tuple(
        ApprovalOption(
            Arrangement(pieces, group.placements[: 3 + k], name=name),
            gradient(1260, 1680, 40 * k),
            palette,
        )
        for k, name in enumerate(("Row", "With gull", "All five"))
    )
    unsure = replace(room, floor_sigma_mm=2.0)
    return ApprovalSheet(unsure, options, "Shore room", "25 Nov 2026", "2")


def words(page):
    return re.sub(r"\s+", " ", page.get_textpage().get_text_range())


def test_everything_the_client_signs_for(sheet, open_pdf):
    """Sizes worked by hand: 1043 to 2757 is 1714 wide; 1200 to 2000 is 800 high, centre 1600."""
    first, second = open_pdf(approval_pdf(sheet))
    text = words(first)
    for part in (
        "Shore room", "25 Nov 2026", "revision 2", "A Row", "B With gull", "C All five",
        "1 714 mm (67 1/2 in) wide", "800 mm (31 1/2 in) high", "1 600 mm ± 4 mm (63 in)",
        "above the floor", "Remarks", "Approved by", "Date", "for all options",
    ):  # fmt: skip
        assert part in text, part
    listed = words(second)
    assert "500 mm × 700 mm" in listed
    assert "A, B, C" in listed


def test_options_are_drawn_at_one_scale(sheet, open_pdf, read_strokes):
    """Each wall is 4000 x 2500 mm at the scale that is printed, within 0.05 mm."""
    page = open_pdf(approval_pdf(sheet))[0]
    denominator = int(re.search(r"scale 1:(\d+)", words(page))[1])
    wanted = np.array([4000, 2500]) / denominator
    walls = [s for s in read_strokes(page) if np.allclose(s.size, wanted, atol=0.05)]
    assert len({round(float(w.low[0]), 1) for w in walls}) == 3
    frames = [
        s
        for s in read_strokes(page)
        if np.allclose(s.size, np.array([600, 800]) / denominator, atol=0.05)
    ]
    assert len(frames) >= 3


def test_pictures_and_fonts_are_inside(sheet, open_pdf):
    for page in open_pdf(approval_pdf(sheet, paper_size("letter"))):
        for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=5):
            assert raw.FPDFFont_GetIsEmbedded(raw.FPDFTextObj_GetFont(item)) == 1
    page = open_pdf(approval_pdf(sheet))[0]
    pictures = list(page.get_objects(filter=[raw.FPDF_PAGEOBJ_IMAGE]))
    assert len(pictures) >= 3 + 3 + 4 + 5  # mock-ups, and each placed piece's artwork


def test_many_options_take_more_pages(sheet, open_pdf):
    many = replace(sheet, options=sheet.options * 3)
    assert len(open_pdf(approval_pdf(many))) == 3 + 1
    assert many.letters() == tuple("ABCDEFGHI")


def test_without_a_photo(sheet, open_pdf):
    typed = replace(sheet, options=tuple(ApprovalOption(o.arrangement) for o in sheet.options[:1]))
    assert "A Row" in words(open_pdf(approval_pdf(typed))[0])
    assert len(option_pictures(typed)) == 1


def test_option_pictures_say_their_colours_and_nothing_private(sheet):
    for picture, option in zip(option_pictures(sheet), sheet.options, strict=True):
        full = Image.open(io.BytesIO(picture.full))
        small = Image.open(io.BytesIO(picture.small))
        assert full.size == (option.mockup.shape[1], option.mockup.shape[0])
        assert max(small.size) == MESSAGE_PX
        for image in (full, small):
            profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
            assert "sRGB" in ImageCms.getProfileDescription(profile)
            assert len(image.getexif()) == 0
            assert option.arrangement.name.encode() in image.info["xmp"]
        assert np.abs(np.asarray(full).astype(int) - option.mockup).mean() < 3


def test_all_on_one_picture(sheet):
    image = Image.open(io.BytesIO(approval_png(sheet)))
    assert image.size[0] == 2400
    assert image.text["Title"] == "Shore room: for approval"
    with pytest.raises(ValueError, match="options need at least"):
        approval_png(sheet, 600)


def test_nothing_to_approve_is_named(group, room):
    with pytest.raises(PrintingError, match="no option to approve"):
        ApprovalSheet(room, ())
    with pytest.raises(PrintingError, match="has no piece on the wall"):
        ApprovalSheet(room, (ApprovalOption(Arrangement(group.pieces, (), name="Empty")),))
