"""Input made to harm: bombs, formulas, markup, tricks of Unicode, a million pieces, links."""

import io
import json
import struct
import zlib

import pytest
from PIL import Image

import visualiser as vis
from visualiser.errors import PhotoError, PieceError, ProjectError, VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.inventory.piece_csv import pieces_from_csv, pieces_to_csv
from visualiser.inventory.piece_json import pieces_from_json
from visualiser.inventory.piece_list import ListedPiece
from visualiser.project.document import Document, read_document
from visualiser.project.store import create_project, open_project

FORMULAS = ["=1+1", "+1", "-1+cmd|' /C calc'!A0", "@SUM(1)", "\t=1", "\r=1", "'=1"]


def chunk(kind, data):
    body = kind + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def png(width, height, *more):
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = (chunk(b"IHDR", head), *more, chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def test_a_picture_that_swells_is_refused_before_it_does():
    rows = zlib.compress(bytes(60_000_000), 9)  # 60 kB that say 60 MB
    for size in ((4_000_000, 5), (60_000, 60_000), (2**31 - 1, 2**31 - 1)):
        with pytest.raises(PhotoError):
            vis.load_photo(png(*size, chunk(b"IDAT", rows)))


def test_metadata_that_swells_is_refused():
    """A compressed text or profile can be as much of a bomb as pixels."""
    bomb = zlib.compress(bytes(300_000_000), 9)
    for kind, head in ((b"zTXt", b"Comment\0\0"), (b"iCCP", b"icc\0\0")):
        data = png(4, 4, chunk(kind, head + bomb), chunk(b"IDAT", zlib.compress(bytes(4 * 13))))
        try:
            assert vis.load_photo(data).pixels.shape == (4, 4, 3)
        except PhotoError:
            continue


@pytest.mark.parametrize("focal", [(0, 0), (1, 0), (2**32 - 1, 1), (0, 1)])
def test_absurd_exif_costs_the_prior_and_not_the_photo(focal):
    exif = Image.Exif()
    exif[0x0112] = 77
    exif[0x010F] = "M\x00\u202e" * 500
    exif.get_ifd(0x8769)[0x920A] = focal
    exif.get_ifd(0x8769)[0xA405] = 65535
    buffer = io.BytesIO()
    Image.new("RGB", (64, 48)).save(buffer, "JPEG", exif=exif.tobytes())
    photo = vis.load_photo(buffer.getvalue())
    assert photo.pixels.shape == (48, 64, 3)
    assert photo.focal_px is None or 0 < photo.focal_px < 1e6
    assert len(photo.camera) <= 80
    assert photo.camera.isprintable()


@pytest.mark.parametrize("name", FORMULAS)
def test_a_spreadsheet_finds_no_formula(name):
    """OWASP, CSV injection: cells that begin with =, +, -, @, tab or carriage return."""
    text = pieces_to_csv([ListedPiece(Piece("p1", 400, 500, name), name)])
    for cell in text.split("\n")[1].split(","):
        assert not cell.strip('"').startswith(("=", "+", "-", "@", "\t", "\r"))
    if name.strip() == name:
        assert pieces_from_csv(text)[0].piece.name == name


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e999", "9" * 5000, "0x10", "1e", "²"])
@pytest.mark.parametrize("column", ["width", "hooks", "weight kg", "mat sides", "hanger drop"])
def test_numbers_that_are_none_are_refused(number, column):
    cells = {"id": "p1", "width": "400", "height": "500", column: number}
    with pytest.raises(PieceError):
        pieces_from_csv(",".join(cells) + "\n" + ",".join(cells.values()))


def test_a_million_pieces_are_refused_at_once():
    rows = "".join(f"p{n},400,500\n" for n in range(1_000_000))
    with pytest.raises(PieceError, match="more than 1000"):
        pieces_from_csv("id,width,height\n" + rows)
    piece = '{"id": "p", "width_mm": 400, "height_mm": 500}'
    with pytest.raises(VisualiserError, match="more than 1000"):
        pieces_from_json("[" + ",".join([piece] * 1_000_000) + "]")
    with pytest.raises(ProjectError, match="MB large"):
        read_document(b'{"schema_version": 1, "pieces": [' + b"{}," * 10_000_000 + b"{}]}")


@pytest.mark.parametrize("text", ["a\u202eb", "a\ufeffb", "a\x00b", "a\x1b[2Jb", "\ud800", "a\nb"])
def test_text_that_hides_or_steers_is_refused(text):
    with pytest.raises(ProjectError):
        read_document(json.dumps({"schema_version": 1, "name": text}).encode())


def test_markup_in_names_reaches_a_pdf_as_text(tmp_path):
    """The PDF library reads markup in paragraphs; a client's name may hold its signs."""
    import pypdfium2

    from visualiser.arrangement.arrangement import Placement
    from visualiser.project.batch import make_item
    from visualiser.project.batch_list import BatchItem
    from visualiser.project.document import OptionEntry, PieceEntry, WallEntry

    name = '<b>Ann</b> & <img src="file:///etc/passwd"/> </para>'
    document = Document(
        name=name,
        wall=WallEntry(width_mm=3000, height_mm=2500),
        pieces=(PieceEntry(id="<i>", width_mm=400, height_mm=500, name=name),),
        options=(OptionEntry(id="a", placements=(Placement("<i>", 1500, 1524),)),),
    )
    create_project(tmp_path / "job", document)
    (made,) = make_item(BatchItem(tmp_path / "job"), ("plan",))
    pages = pypdfium2.PdfDocument(made.file.read_bytes())
    text = " ".join(page.get_textpage().get_text_range() for page in pages)
    assert "<b>Ann</b>" in text
    assert "root:" not in text


def test_a_job_whose_pictures_are_a_link_to_elsewhere_is_not_followed(tmp_path):
    (tmp_path / "secrets").mkdir()
    (tmp_path / "secrets" / "a.jpg").write_bytes(b"secret")
    document = Document(photo={"path": "photos/a.jpg"})
    project = create_project(tmp_path / "job", document)
    (tmp_path / "job" / "photos").symlink_to(tmp_path / "secrets", target_is_directory=True)
    with pytest.raises(ProjectError, match="leads out"):
        open_project(project.folder).photo()
    with pytest.raises(ProjectError, match="leads out"):
        project.add_file("photos", "b.jpg", b"x", ".jpg")
    assert [p.name for p in (tmp_path / "secrets").iterdir()] == ["a.jpg"]
