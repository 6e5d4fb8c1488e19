"""Sixty lists as people keep them: what spreadsheets write in many settings, and what goes wrong.

A spreadsheet set to a language with decimal commas writes semicolons; one on Windows may write its
code page, UTF-8 with a byte order mark or UTF-16; ``sep=;`` in the first line is another's habit
(common practice, no source). RFC 4180 for quotation marks and line ends.
"""

import json

import pytest

from visualiser.errors import PieceError
from visualiser.inventory.artwork_names import piece_of_name
from visualiser.inventory.piece_table import read_pieces

INCH = 25.4
READ = {
    "plain": ("id,width,height\na,500,400\n", "mm", (500, 400)),
    "semicolons": ("id;width;height\na;500;400\n", "mm", (500, 400)),
    "tabs": ("id\twidth\theight\na\t500\t400\n", "mm", (500, 400)),
    "decimal commas": ("id;width;height\na;50,5;40,25\n", "cm", (505, 402.5)),
    "three decimals": ("id;width;height\na;19,685;15,748\n", "in", (499.999, 399.9992)),
    "decimal points": ("id,width,height\na,50.5,40.25\n", "cm", (505, 402.5)),
    "quoted decimal commas": ('id,width,height\na,"50,5","40,25"\n', "cm", (505, 402.5)),
    "mark at the start": ("\ufeffid,width,height\na,500,400\n", "mm", (500, 400)),
    "mark and quotes": ('\ufeff"id","width","height"\n"a","500","400"\n', "mm", (500, 400)),
    "carriage returns": ("id,width,height\r\na,500,400\r\n", "mm", (500, 400)),
    "old line ends": ("id,width,height\ra,500,400\r", "mm", (500, 400)),
    "no last line end": ("id,width,height\na,500,400", "mm", (500, 400)),
    "separator line": ("sep=;\nid;width;height\na;500;400\n", "mm", (500, 400)),
    "blank lines first": ("\n\nid,width,height\n\na,500,400\n\n", "mm", (500, 400)),
    "empty cells after": ("id,width,height,,\na,500,400,,\n,,,,\n", "mm", (500, 400)),
    "any order": ("height,id,width\n400,a,500\n", "mm", (500, 400)),
    "capitals": ("ID,Width,HEIGHT\na,500,400\n", "mm", (500, 400)),
    "spaces": (" id , width , height \n a , 500 , 400 \n", "mm", (500, 400)),
    "underscores": ("id,outside_width,outside-height\na,500,400\n", "mm", (500, 400)),
    "short names": ("no,w,h\na,500,400\n", "mm", (500, 400)),
    "no id": ("title,width,height\nHeron,500,400\n", "mm", (500, 400)),
    "only sizes": ("width,height\n500,400\n", "mm", (500, 400)),
    "one size": ("id,size\na,50 x 40 cm\n", "mm", (500, 400)),
    "one size, bare": ("id,size\na,50x40\n", "cm", (500, 400)),
    "one size, the sign": ("id,dimensions\na,50 × 40\n", "cm", (500, 400)),
    "one size, inches": ('id;size\na;24 3/8" x 30"\n', "mm", (24.375 * INCH, 30 * INCH)),
    "size with its unit above": ("id,size (cm)\na,50 x 40\n", "mm", (500, 400)),
    "unit in the cells": ("id,width,height\na,50 cm,0.4 m\n", "in", (500, 400)),
    "unit in brackets": ("id,width (cm),height (cm)\na,50,40\n", "mm", (500, 400)),
    "unit in square ones": ("id,Width [in],Height [in]\na,20,16\n", "mm", (508, 406.4)),
    "unit after a space": ("id,width mm,height mm\na,500,400\n", "in", (500, 400)),
    "unit after a line": ("id,width_cm,height_cm\na,50,40\n", "mm", (500, 400)),
    "units mixed": ("id,width cm,height in\na,50,16\n", "mm", (500, 406.4)),
    "cell over heading": ("id,width cm,height cm\na,20 in,40\n", "mm", (508, 400)),
    "fractions": ("id,width,height\na,24 3/8,30 1/2\n", "in", (24.375 * INCH, 30.5 * INCH)),
    "fractions with a dash": ("id,width,height\na,24-3/8,30\n", "in", (24.375 * INCH, 762)),
    "vulgar fractions": ("id,width,height\na,24⅜,30½\n", "in", (24.375 * INCH, 30.5 * INCH)),
    "inch signs": ('id,width,height\na,24 3/8",30"\n', "mm", (24.375 * INCH, 762)),
    "quoted inch signs": ('id,width,height\na,"24 3/8""","30"""\n', "mm", (24.375 * INCH, 762)),
    "feet": ("id,width,height\na,2' 3 1/2\",1 ft\n", "mm", (698.5, 304.8)),
    "columns nobody needs": ("id,price,width,height\na,120,500,400\n", "mm", (500, 400)),
    "text over two lines": ('id,name,width,height\na,"Sea;\ncalm",500,400\n', "mm", (500, 400)),
    "a formula's sign": ("id,name,width,height\na,'=Sea,500,400\n", "mm", (500, 400)),
    "json": ('[{"id": "a", "width_mm": 500, "height_mm": 400}]', "in", (500, 400)),
    "json of a job": ('{"pieces": [{"id": "a", "width_mm": 500, "height_mm": 400}]}', "mm",
                      (500, 400)),
}  # fmt: skip


@pytest.mark.parametrize("name", READ)
def test_lists_that_are_read(name):
    text, unit, (width, height) = READ[name]
    (item,) = read_pieces(text.encode(), unit).listed
    assert (item.piece.width_mm, item.piece.height_mm) == pytest.approx((width, height))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding):
    (item,) = read_pieces("id;name;width;height\na;Möwe;500;400\n".encode(encoding)).listed
    assert item.piece.name == "Möwe"


REFUSED = {
    "nothing": ("", "empty"),
    "only a header": ("id,width,height\n", "names no piece"),
    "no width": ("id,height\na,400\n", "no column “width”"),
    "a slip of the pen": ("id,widht,height\na,500,400\n", "column “widht”"),
    "two of a column": ("id,width,w,height\na,500,500,400\n", "two columns for width"),
    "words": ("id,width,height\na,500,400\nb,wide,400\n", "Line 3, width: “wide”"),
    "zero": ("id,width,height\na,0,400\n", "Line 2"),
    "below zero": ("id,width,height\na,-5,400\n", "Line 2"),
    "endless": ("id,width,height\na,inf,400\n", "Line 2, width"),
    "nothing in a cell": ("id,width,height\na,,400\n", "Line 2"),
    "too many cells": ("id,width,height\na,500,400,7\n", "Line 2 of the list has more cells"),
    "twice the same": ("id,width,height\na,500,400\na,300,400\n", "Line 3: the id a is taken"),
    "not closed": ('id,width,height\na,500,400\n"b,500,400\n', "Line"),
    "no such frame": ("id,width,height,finish\na,500,400,gold leaf\n", "Line 2, finish"),
    "mat too wide": ("id,width,height,mat\na,500,400,300\n", "Line 2: Piece a"),
    "bad size": ("id,size\na,large\n", "Line 2, size"),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\0", "not text"),
    "a workbook": (b"PK\x03\x04\0\0\0", "spreadsheet's own file"),
    "too many": ("width,height\n" + "500,400\n" * 1001, "more than 1000"),
    "bad json": ('[{"id": "a"}]', "Piece 1"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_lists_that_are_refused_by_line(name):
    text, message = REFUSED[name]
    with pytest.raises(PieceError, match=message) as caught:
        read_pieces(text if isinstance(text, bytes) else text.encode())
    assert caught.value.hint


def test_every_bad_line_is_named_at_once():
    text = 'id,name,width,height\na,"two\nlines",500,400\nb,,wide,400\nc,,1,1\nd,,500,high\n'
    with pytest.raises(PieceError) as caught:
        read_pieces(text.encode())
    assert "3 lines" in caught.value.message
    for line in (4, 5, 6):
        assert f"Line {line}" in caught.value.message


def test_columns_that_are_passed_over_are_named():
    table = read_pieces(b"id,price,width,height,sold to\na,9,500,400,-\n")
    assert table.ignored == ("price", "sold to")


def test_pieces_without_an_id_take_their_name():
    table = read_pieces(b"title,width,height\nSea at dusk,500,400\nSea at dusk,500,400\n,300,400\n")
    assert [item.piece.id for item in table.listed] == ["sea-at-dusk", "sea-at-dusk-2", "p1"]


@pytest.mark.parametrize(
    ("name", "unit", "title", "size"),
    [
        ("Heron at dusk 40x50.jpg", "cm", "Heron at dusk", (400, 500)),
        ("heron_40x50cm.png", "cm", "heron", (400, 500)),
        ("No 7, shore (40 x 50 cm).JPG", "cm", "No 7, shore", (400, 500)),
        ("shore 16x20.tif", "in", "shore", (406.4, 508)),
        ("shore 16 x 20 in.jpg", "cm", "shore", (406.4, 508)),
        ("shore 40,5x50,5.jpg", "cm", "shore", (405, 505)),
        ("1984 30x40.jpg", "cm", "1984", (300, 400)),
    ],
)
def test_artworks_named_by_title_and_size(name, unit, title, size):
    item = piece_of_name(name, unit)
    assert item.piece.name == title
    assert (item.piece.width_mm, item.piece.height_mm) == pytest.approx(size)
    assert item.artwork_file == name


@pytest.mark.parametrize("name", ["heron.jpg", "IMG_2041.jpg", "heron 40.jpg", "0x50.jpg"])
def test_names_without_a_size_are_refused(name):
    with pytest.raises(PieceError, match=name):
        piece_of_name(name)


def test_json_is_told_by_its_first_sign():
    data = json.dumps({"pieces": [{"id": "a", "width_mm": 500, "height_mm": 400}]})
    assert read_pieces(b"  \n" + data.encode()).listed[0].piece.id == "a"
