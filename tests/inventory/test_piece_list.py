import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.errors import PieceError
from visualiser.inventory.piece import Hanger, Mat, Moulding, Piece
from visualiser.inventory.piece_csv import pieces_from_csv, pieces_to_csv
from visualiser.inventory.piece_json import pieces_from_json, pieces_to_json
from visualiser.inventory.piece_list import ListedPiece

lengths = st.floats(0, 60).map(lambda v: round(v, 3))
names = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), max_size=12)
pieces = st.builds(
    Piece,
    id=names.filter(lambda t: bool(t.strip())),
    width_mm=st.floats(400, 2000).map(lambda v: round(v, 2)),
    height_mm=st.floats(400, 2000).map(lambda v: round(v, 2)),
    name=names,
    moulding=st.none() | st.builds(Moulding, lengths, lengths, st.sampled_from(["oak", "brass"])),
    mat=st.none() | st.builds(Mat, lengths, lengths, lengths, lengths),
    glazing=st.sampled_from(["none", "clear", "matt"]),
    hanger=st.builds(Hanger, st.sampled_from(["wire", "strips"]), st.none() | lengths),
    weight_kg=st.none() | st.floats(0.1, 40).map(lambda v: round(v, 2)),
    depth_mm=lengths,
)


@given(st.lists(st.builds(ListedPiece, pieces, names), max_size=4, unique_by=lambda p: p.piece.id))
def test_what_is_written_is_read_again(listed):
    assert pieces_from_csv(pieces_to_csv(listed)) == listed
    assert pieces_from_json(pieces_to_json(listed)) == listed


def test_a_spreadsheet_in_inches():
    text = 'ID;Name;Width;Height;mat sides\na;Heron;24 3/8 in;30;3\nb;"Sea; calm";12;16;\n'
    first, second = pieces_from_csv(text, unit="in")
    assert first.piece.width_mm == pytest.approx(619.125)
    assert first.piece.mat == Mat(76.2, 76.2, 76.2)
    assert second.piece.name == "Sea; calm"
    assert second.piece.mat is None


def test_cells_do_not_become_formulas():
    item = ListedPiece(Piece("a", 500, 400, name="=1+1"))
    text = pieces_to_csv([item])
    assert ",'=1+1," in text
    assert pieces_from_csv(text) == [item]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "empty"),
        ("id,width\na,3\n", "no column “height”"),
        ("id,width,height,shelf\n", "column “shelf”"),
        ("id,width,height\na,wide,400\n", "Line 2, width"),
        ("id,width,height\na,-5,400\n", "Line 2"),
        ("id,width,height\na,500,400\na,500,400\n", "share the id a"),
        ("id,width,height\na,500,400,7\n", "more cells"),
        ("id,width,height,finish\na,500,400,gold leaf\n", "Line 2, finish: “gold leaf”"),
        ("id,width,height,mat sides\na,500,400,300\n", "Line 2: Piece a: moulding and mat"),
        ('id,width,height\n"a,500,400\n', "Line"),
    ],
)
def test_what_cannot_be_read_is_named(text, message):
    with pytest.raises(PieceError, match=message):
        pieces_from_csv(text)


@pytest.mark.parametrize(
    "text",
    [
        "{",
        "3",
        "[3]",
        '[{"id": "a"}]',
        '[{"id": "a", "width_mm": "wide", "height_mm": 3}]',
        '[{"id": "a", "width_mm": NaN, "height_mm": 3}]',
        '[{"id": "a", "width_mm": 500, "height_mm": 400, "colour": 3}]',
        '[{"id": "a", "width_mm": 500, "height_mm": 400, "moulding": {"finish": "gold"}}]',
        '[{"id": "a", "width_mm": 500, "height_mm": 400, "moulding": {"width_mm": "x"}}]',
        '[{"id": 5, "width_mm": 500, "height_mm": 400}]',
        "[" * 100000,
    ],
)
def test_damaged_json_is_named(text):
    with pytest.raises(PieceError):
        pieces_from_json(text)
