"""Names in any script: embedded, shaped into a picture, or visibly replaced."""

import unicodedata

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont, features

from visualiser.printing import fonts
from visualiser.printing.booklet import Booklet
from visualiser.printing.fonts import MISSING, MISSING_NOTE, PLAIN, set_line
from visualiser.printing.line_breaking import wrapped


@pytest.fixture
def set_anew():
    """Lines are set as this computer's fonts ask, which a test changes."""
    fonts.set_parts.cache_clear()
    yield
    fonts.set_parts.cache_clear()


@pytest.fixture
def no_system_fonts(monkeypatch, set_anew):
    monkeypatch.setattr(fonts, "_system_fonts", lambda: ())


@pytest.fixture
def dejavu(monkeypatch, set_anew):
    found = [path for path in fonts._system_fonts() if path.name == "DejaVuSans.ttf"]
    if not found:
        pytest.skip("this computer has no DejaVu Sans")
    monkeypatch.setattr(fonts, "_system_fonts", lambda: tuple(found))
    return found[0]


def test_western_names_are_set_as_they_are():
    setting = set_line("Brücke, Œuvre 7 — ½ · “ÿ”")
    assert (setting.text, setting.font) == ("Brücke, Œuvre 7 — ½ · “ÿ”", PLAIN)


def test_without_a_font_each_character_leaves_a_box_and_the_page_says_why(
    no_system_fonts, open_pdf
):
    setting = set_line("Nr 7: 葦の岸")
    assert setting.text == f"Nr 7: {MISSING * 3}"
    booklet = Booklet("t")
    booklet.page(210, 297, "h").text(20, 200, "葦の岸", 20)
    page = open_pdf(booklet.to_bytes())[0]
    assert MISSING_NOTE.removeprefix(MISSING).strip() in page.get_textpage().get_text_range()
    line = page.render(scale=4).to_numpy()[..., 0][1050:1110, 200:420] < 128
    columns = np.flatnonzero(np.diff(line.any(axis=0).astype(int)) == 1)
    assert len(columns) >= 3  # three boxes, apart from each other


def test_cyrillic_and_greek_are_text_in_the_systems_font(dejavu, open_pdf):
    booklet = Booklet("t")
    page = booklet.page(210, 297, "h")
    page.text(20, 200, "Чайка")
    page.text(20, 180, "Θάλασσα")
    text = open_pdf(booklet.to_bytes())[0].get_textpage().get_text_range()
    assert "Чайка" in text
    assert "Θάλασσα" in text


@pytest.mark.skipif(not features.check("raqm"), reason="Pillow was built without shaping")
def test_hebrew_reads_from_right_to_left(dejavu):
    """Hebrew letters do not join: the picture is that of the reversed letters set unshaped.

    Kerning and the rounding of advances differ a little; the logical order is far off.
    """
    word = "שפת הים"
    setting = set_line(word)
    assert setting.font is None
    picture, _ = setting.picture(12, "#000000")
    font = ImageFont.truetype(str(dejavu), 100, layout_engine=ImageFont.Layout.BASIC)

    def off(letters):
        drawn = Image.new("RGBA", picture.size, (0, 0, 0, 0))
        place = (0, font.getmetrics()[0])
        ImageDraw.Draw(drawn).text(place, letters, font=font, fill="#000000", anchor="ls")
        ink = [np.asarray(p)[..., 3].astype(float) for p in (picture, drawn)]
        return np.abs(ink[0] - ink[1]).mean()

    assert off(word[::-1]) < 0.25 * off(word)


@pytest.mark.skipif(not features.check("raqm"), reason="Pillow was built without shaping")
def test_arabic_joins_its_letters(dejavu):
    """Joined, a word is narrower than its letters standing alone."""
    word = "قوارب"
    setting = set_line(word)
    assert setting.font is None
    alone = sum(set_line(letter).width_pt(12) for letter in word)
    assert setting.width_pt(12) < 0.95 * alone


def test_unshaped_right_to_left_is_replaced_rather_than_printed_backwards(dejavu, monkeypatch):
    monkeypatch.setattr(features, "check", lambda name: False)
    assert set_line("שפת").text == MISSING * 3


def test_a_pictured_name_is_still_said_to_readers(dejavu):
    """ActualText of the structure element: ISO 32000-1, 14.9.4."""
    booklet = Booklet("t")
    booklet.canvas._doc.compression = 0
    booklet.page(210, 297, "h").text(20, 200, "שפת")
    wanted = "שפת".encode("utf-16-be")
    data = booklet.to_bytes()
    assert b"/ActualText" in data
    escaped = b"".join(
        bytes([b]) if 33 <= b < 127 and b not in b"()\\" else b"\\%03o" % b for b in wanted
    )
    assert wanted in data or escaped in data


@settings(deadline=None)
@given(st.text(max_size=40))
def test_nothing_is_dropped_in_silence(text):
    """As many characters come out as went in, each itself, a space for a control, or a box."""
    shown = set_line(text).text
    kept = [c for c in unicodedata.normalize("NFC", text) if unicodedata.category(c) != "Cs"]
    assert len(shown) == len(kept)
    for before, after in zip(kept, shown, strict=True):
        assert after in (before, " ", MISSING)
        if after == " " and before != " ":
            assert unicodedata.category(before) in ("Cc", "Zl", "Zp")


@given(st.text(st.characters(codec="latin-1", exclude_categories=["Cc"]), max_size=60))
def test_wrapping_keeps_every_letter(text):
    lines = wrapped(text, 20, 9)
    assert "".join(lines).replace("\u00a0", "").replace(" ", "") == text.replace(
        "\u00a0", ""
    ).replace(" ", "")


def test_a_length_is_not_broken_across_lines():
    lines = wrapped("across 1 524 mm (60 1/2 in) and up 2 000 mm", 30, 9)
    assert any("1\u00a0524\u00a0mm" in line for line in lines)
    assert any("60\u00a01/2\u00a0in" in line for line in lines)
