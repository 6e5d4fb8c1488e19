"""What reads a stranger's bytes, a small corpus for each, and how to spoil it."""

import io
import json
import random
import struct
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
from hypothesis import strategies as st
from PIL import Image, ImageCms

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.plan_file import read_plan, write_plan
from visualiser.arrangement.slots import plan_of
from visualiser.errors import ProjectError
from visualiser.findings import Finding
from visualiser.geometry import Polygon, Rect
from visualiser.inventory.catalogue import open_catalogue
from visualiser.inventory.catalogue_indexing import index_catalogue
from visualiser.inventory.catalogue_sources import from_folder, from_list
from visualiser.inventory.piece import Hanger, Mat, Moulding, Piece
from visualiser.inventory.piece_csv import pieces_from_csv, pieces_to_csv
from visualiser.inventory.piece_json import pieces_from_json, pieces_to_json
from visualiser.inventory.piece_list import ListedPiece
from visualiser.photo.decoding import load_photo
from visualiser.project import measured
from visualiser.project.answering import read_answer
from visualiser.project.batch_list import read_list
from visualiser.project.document import (
    Document,
    OptionEntry,
    PieceEntry,
    read_document,
    write_document,
)
from visualiser.project.exchange import export_zip, import_zip
from visualiser.project.privacy import strip_private
from visualiser.project.store import create_project
from visualiser.project.wall_entries import MarksEntry
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.survey.studs import Studs
from visualiser.survey.survey import Survey
from visualiser.units import parse_length
from visualiser.wording import Length, sentence


@dataclass(frozen=True)
class Parser:
    """A reader of bytes, files to spoil for it, and fragments that are often trouble."""

    read: Callable[[bytes, Path], object]
    corpus: tuple[bytes, ...]
    fragments: tuple[bytes, ...]


NUMBERS = tuple(
    b"NaN Infinity -Infinity 1e999 -1e999 1e-999 0 -0 -1 1e6 1e308 999999999999999999999".split()
) + (b"9" * 400, b"9" * 5000)
TEXTS = (
    "\u202e", "\ufeff", "\x00", "\ud7ff\U0010ffff", "é" * 300, "=cmd|' /C calc'!A0", "@SUM(1)",
    "<script>alert(1)</script>", "../../x", "A" * 10_000, "\r\n", "\x85", "½", "⅜", "٣", "𝟛",
)  # fmt: skip
MARKS = tuple(b'" " , ; : { } [ ] ( \' \\ / \t \n null true false "" {} [] \xff \xc3('.split(b" "))
TEXT_FRAGMENTS = (*NUMBERS, *(t.encode() for t in TEXTS), *MARKS)
BINARY_FRAGMENTS = (
    *(struct.pack(">I", n) for n in (0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 65536)),
    *(struct.pack("<I", n) for n in (1, 0x7FFFFFFF, 65536)),
    b"\xff", b"\x00" * 16, b"\xff" * 16, b"\xff\xd8\xff\xe1", b"PK\x05\x06", b"PK\x01\x02",
    b"ftypheic", b"meta", b"iloc", b"ispe", b"\xff\xda\x00\x08", b"\xff\xc2\x00\x11", b"%!PS-Adobe",
    b"IHDR", b"IDAT", b"iCCP", b"Exif\0\0", b"MM\0*", b"II*\0", b"../", b"project.json",
)  # fmt: skip

PIECES = (
    Piece("p1", 400, 500, "Heron", mat=Mat(40, 40, 50), weight_kg=2.5),
    Piece("p2", 300, 300, moulding=Moulding(20), hanger=Hanger("wire", 80)),
)
LISTED = [ListedPiece(PIECES[0], "heron.png"), ListedPiece(PIECES[1])]
DOCUMENT = Document(
    name="Stair hall",
    wall={"width_mm": 3000, "height_mm": 2500},
    marks={
        "lines": [{"start_px": [1, 2], "end_px": [3, 400], "direction": "plumb"}],
        "zones": [{"kind": "switch", "points_px": [[0, 0], [9, 0], [9, 9]]}],
    },
    pieces=tuple(PieceEntry.from_piece(p) for p in PIECES),
    options=(OptionEntry(id="a", placements=(Placement("p1", 1000, 1500),)),),
    chosen="a",
)


def picture(kind, mode="RGB", **options):
    gradient = np.linspace(0, 255, 12 * 16 * 3).reshape(12, 16, 3).astype(np.uint8)
    image = Image.fromarray(gradient).convert(mode)
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Maker", "Model", 6
    exif.get_ifd(0x8769)[0xA405] = 26
    buffer = io.BytesIO()
    if kind == "HEIC":
        large = image.resize((64, 48))
        pillow_heif.from_pillow(large).save(buffer, exif=exif.tobytes(), **options)
    else:
        if "compression" not in options:  # a compressed TIFF is written without its own tables
            options["exif"] = exif.tobytes()
        image.save(buffer, kind, **options)
    return buffer.getvalue()


def sixteen_bits():
    """A PNG of 16 bits a sample, written by another library."""
    grey = np.linspace(0, 65535, 12 * 16 * 3).reshape(12, 16, 3).astype(np.uint16)
    return bytes(cv2.imencode(".png", grey)[1])


def pictures():
    """Every kind that is read, in the variants that phones, cameras and scanners write."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    second = Image.new("RGB", (16, 12))
    return (
        picture("JPEG"),
        picture("JPEG", progressive=True, icc_profile=profile, comment=b"remark"),
        picture("JPEG", "CMYK"),
        picture("JPEG", "L"),
        picture("MPO", save_all=True, append_images=[second]),
        picture("PNG"),
        picture("PNG", "RGBA", icc_profile=profile),
        picture("PNG", "P", transparency=3),
        sixteen_bits(),
        picture("WEBP"),
        picture("WEBP", "RGBA", lossless=True),
        picture("TIFF"),
        picture("TIFF", compression="tiff_lzw"),
        picture("TIFF", compression="tiff_adobe_deflate"),
        picture("TIFF", compression="jpeg"),
        picture("HEIC"),
        picture("HEIC", quality=-1),
    )


def zipped(folder):
    """A job's zip, and the same with everything deflated."""
    job = create_project(folder / "job", DOCUMENT)
    photo = job.add_file("photos", "hall.heic", picture("HEIC"), ".heic")
    hung = job.add_file("photos", "hung.jpg", picture("JPEG"), ".jpg")
    whole = export_zip(job.save(job.document.changed(photo=photo, as_hung_photo=hung)))
    buffer = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(whole)) as old,
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, old.read(name))
    return whole, buffer.getvalue()


def unpack(data, folder):
    """Import into a folder of its own, and let nothing appear beside it."""
    target = folder / "unpacked"
    import_zip(data, target)
    assert {p.name for p in folder.iterdir()} == {"unpacked"}
    for place in sorted(target.rglob("*"), reverse=True):
        place.unlink() if place.is_file() else place.rmdir()
    target.rmdir()


def catalogue(folder):
    """A catalogue's file with a few pictures in it."""
    (folder / "works").mkdir()
    for kind in ("JPEG", "PNG"):
        (folder / "works" / f"work.{kind.lower()}").write_bytes(picture(kind))
    index_catalogue(folder / "works.sqlite", from_folder(folder / "works"))
    return (folder / "works.sqlite").read_bytes()


def open_spoiled(data, folder):
    place = folder / "works.sqlite"
    place.write_bytes(data)
    try:
        open_catalogue(place)
    finally:
        for left in folder.iterdir():
            left.unlink()


def survey():
    """A wall with what a measurement of it holds: numbers, texts, arrays, lengths in words."""
    plane = WallPlane(
        lens=Lens(1500.0, 600.0, 450.0),
        rotation=np.diag([1.0, -1.0, -1.0]),
        translation_mm=np.array([0.0, 0.0, 3000.0]),
        reference_corners_px=np.array([[450, 400], [555, 400], [555, 548], [450, 548]], float),
        reference_tilt_deg=0.5,
        parameter_covariance=np.eye(11) * 1e-6,
        level_sigma_deg=0.2,
    )
    told = Finding("note", sentence("The floor is ", Length(40.0), " off."), "Measure it.", "floor")
    outline = Polygon.from_rect(Rect(0.0, 0.0, 3000.0, 2500.0))
    return Survey(outline, plane, (100.0, 40.0), 3.0, findings=(told,), studs=Studs((500.0,), 400))


def kept(data, folder):
    """Read a measurement back as a job does, where somebody wrote it who knows how."""
    (folder / measured.FOLDER).mkdir(exist_ok=True)
    marks = MarksEntry()
    measured._place(folder, "", marks).write_bytes(measured._sealed(data))
    if measured.find_survey(folder, "", marks) is None:
        raise ProjectError("It was not read back.", hint="Measure it again.")


def listed_artworks(data, folder):
    """Read a gallery's list; the pictures that it names are not looked for."""
    (folder / "list.csv").write_bytes(data)
    list(from_list(folder / "list.csv"))


def text(read):
    return lambda data, _: read(data.decode("utf-8", "surrogateescape"))


def parsers(folder):
    """Every parser by name; ``folder`` is for what its corpus is made in."""
    plan = plan_of(Arrangement(PIECES, (Placement("p1", 0, 0), Placement("p2", 500, 0))), 50)
    lengths = ["24 3/8 in", "2' 3 1/2\"", "61,9 cm", "1 524 mm", "5 ft 0 in", "24⅜″", ".5m"]
    return {
        "photo": Parser(lambda data, _: load_photo(data), pictures(), BINARY_FRAGMENTS),
        "private": Parser(lambda data, _: strip_private(data), pictures(), BINARY_FRAGMENTS),
        "project": Parser(
            lambda data, _: read_document(data), (write_document(DOCUMENT),), TEXT_FRAGMENTS
        ),
        "pieces-csv": Parser(
            text(pieces_from_csv), (pieces_to_csv(LISTED).encode(),), TEXT_FRAGMENTS
        ),
        "pieces-json": Parser(
            text(pieces_from_json), (pieces_to_json(LISTED).encode(),), TEXT_FRAGMENTS
        ),
        "zip": Parser(unpack, zipped(folder), (*BINARY_FRAGMENTS, *TEXT_FRAGMENTS[-8:])),
        "catalogue": Parser(open_spoiled, (catalogue(folder),), BINARY_FRAGMENTS),
        "lengths": Parser(
            text(lambda length: parse_length(length, "mm")),
            tuple(length.encode() for length in lengths),
            TEXT_FRAGMENTS,
        ),
        "plan": Parser(lambda data, _: read_plan(data), (write_plan(plan),), TEXT_FRAGMENTS),
        "batch-list": Parser(
            lambda data, place: read_list(data.decode("utf-8", "surrogateescape"), place),
            (b"room 1\n# x\nroom 2\n", b"job,option,artwork,piece,name\nhall,*,a.png,p1,n\n"),
            TEXT_FRAGMENTS,
        ),
        "measured": Parser(
            kept, (json.dumps(measured._encoded(survey())).encode(),), TEXT_FRAGMENTS
        ),
        "answer": Parser(
            lambda data, _: read_answer(data),
            (
                b'{"format": "wall-visualiser answer", "version": 1, "key": "a:0123456789ab", '
                b'"remark": "The left one", "from": "Ann"}',
                b"I choose this.\n\nRemark: The left one\nFrom: Ann\nKey: a:0123456789ab\n",
            ),
            TEXT_FRAGMENTS,
        ),
        "artworks": Parser(
            listed_artworks,
            (
                b"file,title,width (cm),height (cm)\nheron.jpg,Heron,40,50\nreeds.jpg,,30,30\n",
                "\ufeffFile;Title;Width;Height\nheron.jpg;Graureiher, früh;40,5;50\n".encode(),
            ),
            TEXT_FRAGMENTS,
        ),
    }


def values(corpus):
    """Where JSON or CSV holds single values: what is exchanged hits meaning, not only form."""
    found = []
    for data in corpus:
        try:
            json.loads(data)
        except ValueError:
            continue
        start = None
        for at, byte in enumerate(data):
            inside = chr(byte).isalnum() or chr(byte) in "+-."
            if inside and start is None:
                start = at
            elif not inside and start is not None:
                found.append((data, start, at))
                start = None
    return found


def spoiler(parser):
    """Function that makes a spoiled file of a number and a few edits, each four numbers."""
    corpus, fragments, spots = parser.corpus, parser.fragments, values(parser.corpus)

    def spoil(which, edits):
        data = bytearray(corpus[which % len(corpus)])
        for kind, first, second, value in edits:
            at = first % (len(data) + 1)
            fragment = fragments[second % len(fragments)]
            if kind == 0 and data:
                data[at % len(data)] = value
            elif kind == 1:
                data[at:at] = fragment
            elif kind == 2:
                data[at : at + len(fragment)] = fragment
            elif kind == 3:
                del data[at : at + second % (64 if value < 200 else 4096)]
            elif kind == 4:
                data[at:at] = data[second % (len(data) + 1) :][: value * 4]
            elif spots:  # a value of the corpus, exchanged in place while the file is whole
                whole, start, end = spots[first % len(spots)]
                data = bytearray(whole[:start] + fragment + whole[end:])
        return bytes(data)

    return spoil


MOST_EDITS, LARGEST = 4, (5, 2**20, 2**20, 255)


def spoiled(parser):
    """Strategy: a file of the corpus with a few things cut, doubled, flipped or exchanged."""
    edit = st.tuples(*(st.integers(0, most) for most in LARGEST))
    edits = st.lists(edit, min_size=1, max_size=MOST_EDITS)
    return st.builds(spoiler(parser), st.integers(0, 63), edits)


def many_spoiled(parser, count, seed):
    """As many spoiled files as asked for, without Hypothesis and quicker by far."""
    rng, spoil = random.Random(seed), spoiler(parser)
    for _ in range(count):
        edits = [
            tuple(rng.randint(0, most) for most in LARGEST)
            for _ in range(rng.randint(1, MOST_EDITS))
        ]
        yield spoil(rng.randrange(64), edits)
