"""CSV as RFC 4180 defines it (quotes, line breaks inside cells), and as spreadsheets vary it."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.table import TableError, decode_text, read_header, read_table

CELLS = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=8)


def test_the_example_of_the_standard():
    """RFC 4180, section 2, rules 5 to 7: quoted cells hold commas, line breaks, doubled quotes."""
    table = read_table('aaa,"b\r\nbb","c,c"\r\nzzz,"y""y",xxx\r\n', 10)
    assert table.header == ("aaa", "b\r\nbb", "c,c")
    assert table.rows == ((3, ("zzz", 'y"y', "xxx")),)


@given(
    st.lists(CELLS, min_size=2, max_size=4).filter(
        lambda row: row[0].strip() and not set("".join(row)) & set(",;\t#\"'=")
    ),
    st.lists(st.lists(CELLS, min_size=2, max_size=4), max_size=5),
    st.sampled_from(",;\t"),
)
def test_what_the_library_writes_is_read(header, rows, delimiter):
    """The judge is Python's own csv writer."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter).writerows([header, *rows])
    table = read_table(out.getvalue(), 10)
    assert table.delimiter == delimiter
    assert list(table.header) == header
    filled = [row for row in rows if any(cell.strip() for cell in row)]
    assert [list(row) for _, row in table.rows] == filled


def test_a_row_is_named_by_the_line_it_begins_at():
    text = 'sep=;\n\nid;name\n1;"two\nlines"\n\n2;one\n'
    assert [(line, row[0]) for line, row in read_table(text, 10).rows] == [(4, "1"), (7, "2")]


def test_remarks_are_passed_over_where_there_may_be_any():
    text = "# ours\njob,name\n#a,b\nx,y\n"
    assert [row for _, row in read_table(text, 10, remark="#").rows] == [("x", "y")]
    assert read_table("id,#\n#1,b\n", 10).rows == ((2, ("#1", "b")),)


def test_reading_stops_beyond_the_most_rows():
    assert len(read_table("a,b\n" + "1,2\n" * 1000, 5).rows) == 6


@pytest.mark.parametrize("text", ["", "\n\n", " ; ;\n"])
def test_nothing_is_no_table(text):
    with pytest.raises(TableError, match="empty") as caught:
        read_table(text, 10)
    assert caught.value.line is None


def test_a_cell_too_long_to_be_one_names_its_line():
    with pytest.raises(TableError, match="not CSV") as caught:
        read_table("a,b\n1,2\n3," + "x" * (csv.field_size_limit() + 1), 10)
    assert caught.value.line == 3


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings_that_spreadsheets_write(encoding):
    assert decode_text("Größe;24 ½".encode(encoding)) == "Größe;24 ½"


@pytest.mark.parametrize("data", [b"PK\x03\x04...", b"\xd0\xcf\x11\xe0..", b"\x89PNG\0\0\x81"])
def test_other_files_are_no_text(data):
    with pytest.raises(TableError):
        decode_text(data)


def test_the_header_is_found_where_the_table_begins():
    assert read_header("\ufeff# ours\n\njob;option\n1;2\n", remark="#") == ("job", "option")
    assert read_header("sep=;\r\njob;option\r\n") == ("job", "option")
    assert read_header(" \n") == ()
