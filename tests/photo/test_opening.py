"""The one door for pictures: what it lets in, what it costs, and that there is no other."""

import ast
import io
import itertools
import json
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import visualiser as vis
from visualiser.errors import PhotoError
from visualiser.photo.jpeg_segments import layout, segments
from visualiser.photo.limits import PhotoLimits, decoding_bytes
from visualiser.photo.opening import check_picture, opened

ROOT = Path(__file__).resolve().parents[2]
DOOR = ROOT / "visualiser" / "photo" / "opening.py"
_DECODERS = {"imread", "imdecode", "imreadmulti", "imdecodemulti", "open_heif", "read_heif"}


def strange_decoders(source):
    """Names in a module that decode a picture."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute):
            base = node.value.id if isinstance(node.value, ast.Name) else ""
            if node.attr == "open" and "image" in base.lower():
                found.append(f"{base}.open")
            if node.attr in _DECODERS or node.attr.endswith(("ImageFile", "register_heif_opener")):
                found.append(node.attr)
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] in (
            "PIL", "imageio", "tifffile", "pillow_heif", "skimage.io",
        ):  # fmt: skip
            found += [
                alias.name
                for alias in node.names
                if alias.name.endswith(("ImageFile", "open"))
                or (alias.name.endswith("ImagePlugin") and alias.name != "PngImagePlugin")
            ]
    return found


def test_there_is_no_other_door():
    other = {
        str(place.relative_to(ROOT)): found
        for place in sorted((ROOT / "visualiser").rglob("*.py"))
        if place != DOOR and (found := strange_decoders(place.read_text("utf-8")))
    }
    assert other == {}
    assert strange_decoders(DOOR.read_text("utf-8"))  # the search does find decoders


@pytest.mark.parametrize(
    "line",
    [
        "Image.open(x)", "PIL.Image.open(x)", "cv2.imdecode(x)", "from PIL import EpsImagePlugin",
        "pillow_heif.open_heif(x)", "PngImagePlugin.PngImageFile(x)",
        "from PIL.Image import open",
    ],
)  # fmt: skip
def test_the_search_finds_a_door(line):
    source = line if "PIL.Image.open" not in line else "import PIL.Image as Image\nImage.open(x)"
    assert strange_decoders(source)


def saved(kind, size=(64, 48), mode="RGB", **options):
    buffer = io.BytesIO()
    y, x = np.mgrid[0 : size[1], 0 : size[0]]
    rgb = np.stack([x * 4 % 256, y * 5 % 256, (x + y) * 2 % 256], -1).astype(np.uint8)
    Image.fromarray(rgb).convert(mode).save(buffer, kind, **options)
    return buffer.getvalue()


POSTSCRIPT = b"""%!PS-Adobe-3.0 EPSF-3.0
%%BoundingBox: 0 0 10 10
%%EndComments
(FILE) (w) file dup (written) writestring closefile
showpage
%%EOF
"""


@pytest.mark.parametrize(
    "kind", ["EPS", "GIF", "BMP", "PPM", "TGA", "ICO", "PCX", "AVIF", "JPEG2000"]
)
def test_no_other_plug_in_is_ever_started(kind, monkeypatch, tmp_path):
    """Pillow knows 40 kinds and more, one of which starts a PostScript interpreter."""
    monkeypatch.setattr(subprocess, "Popen", lambda *_, **__: pytest.fail("a program was started"))
    if kind == "EPS":
        data = POSTSCRIPT.replace(b"FILE", str(tmp_path / "attack").encode())
    else:
        data = saved(kind, mode="RGBA" if kind == "ICO" else "RGB")
    for read in (vis.load_photo, check_picture):
        with pytest.raises(PhotoError):
            read(data)
    assert list(tmp_path.iterdir()) == []


def test_avif_is_named_and_not_called_a_damaged_heic():
    with pytest.raises(PhotoError, match="AVIF picture, which is not read"):
        vis.load_photo(saved("AVIF"))


def test_the_header_is_enough_to_know_a_picture():
    assert check_picture(saved("JPEG")) == "JPEG"
    assert check_picture(saved("PNG")[:200]) == "PNG"
    with pytest.raises(PhotoError):
        check_picture(b"\x89PNG\r\n\x1a\n and then something else")


@pytest.mark.parametrize("subsampling", [0, 2])
@pytest.mark.parametrize("progressive", [False, True])
def test_the_layout_of_a_jpeg(subsampling, progressive):
    """ITU-T T.81, A.1.1: sampled 1 x 1 beside 2 x 2 is a quarter of the samples."""
    told = layout(saved("JPEG", (70, 50), subsampling=subsampling, progressive=progressive))
    assert (told.width, told.height) == (70, 50)
    assert told.coefficients == (3.0 if subsampling == 0 else 1.5)
    assert told.buffered == progressive
    assert (told.scans > 1) == progressive


def test_segments_end_where_the_picture_does():
    whole = saved("JPEG", comment=b"remark")
    walked = list(segments(whole + b"\xff\xfe\x00\x08behind" + whole))
    assert walked[-1].marker == 0xDA
    assert walked[-1].end == len(whole) - 2
    for before, after in itertools.pairwise(walked):
        assert before.end == after.start


@pytest.mark.parametrize("data", [b"\xff\xd8" + bytes(4), b"\xff\xd8\xff\xe0\x00\x01xxxx"])
def test_segments_that_are_none_are_refused(data):
    with pytest.raises(ValueError, match="JPEG"):
        list(segments(data))


def many_scans(side, count):
    """A progressive JPEG whose last scan, a few bytes, is there again and again."""
    data = saved("JPEG", (side, side), progressive=True)
    last = [s for s in segments(data) if s.marker == 0xDA][-1]
    return data[: last.end] + data[last.start : last.end] * count + b"\xff\xd9"


@pytest.mark.parametrize("count", [100, 1500])
def test_a_jpeg_of_very_many_scans_is_refused_before_it_is_decoded(monkeypatch, count):
    """Of 1500 one of 518 kB took 75 s; encoders write about 10 (libjpeg's default script)."""
    data = many_scans(64, count)
    monkeypatch.setattr(Image.Image, "load", lambda _: pytest.fail("it was decoded"))
    with pytest.raises(PhotoError, match="passes"):
        vis.load_photo(data)


def test_fewer_scans_are_too_many_for_a_large_picture():
    head = many_scans(64, 40)
    frame = next(s for s in segments(head) if s.marker == 0xC2)
    large = bytearray(head + bytes(300_000))
    large[frame.body + 1 : frame.body + 5] = struct.pack(">HH", 12_000, 12_000)
    with pytest.raises(PhotoError, match="passes"):
        vis.load_photo(bytes(large))
    assert vis.load_photo(many_scans(64, 40)).pixels.shape == (64, 64, 3)


def test_a_jpeg_beyond_the_memory_is_read_at_half_its_size():
    """ITU-T T.81: the low frequencies of a block are its means over 2 x 2 pixels, nearly."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    data = saved("JPEG", (640, 480), quality=95, exif=exif.tobytes())
    whole = vis.load_photo(data)
    half = vis.load_photo(data, PhotoLimits(memory_bytes=1_000_000))
    assert half.pixels.shape == (240, 320, 3)
    assert half.focal_px == pytest.approx(whole.focal_px / 2)
    assert [f.code for f in half.findings] == ["photo-reduced"]
    assert whole.findings == ()


def test_focal_length_by_sensor_resolution_is_halved_with_the_picture():
    """Exif 2.3, 0x920A and 0xA20E: 4 mm at 100 px a mm is 400 px, of the picture as stored."""
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x920A: 4.0, 0xA20E: 100.0, 0xA210: 4})
    data = saved("JPEG", (640, 480), exif=exif.tobytes())
    assert vis.load_photo(data).focal_px == pytest.approx(400)
    half = vis.load_photo(data, PhotoLimits(memory_bytes=1_000_000))
    assert half.focal_px == pytest.approx(200)


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "WEBP"])
def test_what_cannot_be_reduced_is_refused_by_what_it_costs(kind):
    data = saved(kind, (640, 480))
    with pytest.raises(PhotoError, match="GB of memory"):
        vis.load_photo(data, PhotoLimits(memory_bytes=2_000_000))
    assert vis.load_photo(data, PhotoLimits(memory_bytes=6_000_000)).pixels.shape == (480, 640, 3)


def test_very_large_tiff_and_webp_are_not_called_damaged():
    buffer = io.BytesIO()
    Image.new("1", (13_800, 13_800)).save(buffer, "TIFF", compression="tiff_adobe_deflate")
    webp = b"RIFF" + struct.pack("<I", 30) + b"WEBPVP8X" + struct.pack("<I", 10) + b"\0" * 4
    webp += (13_799).to_bytes(3, "little") * 2 + bytes(100)
    for data in (buffer.getvalue(), webp):
        with pytest.raises(PhotoError, match="190 million pixels"):
            vis.load_photo(data)


def test_a_tile_far_larger_than_its_picture_is_refused():
    """TIFF 6.0, section 15: a tile is decoded whole, whatever of it is seen."""
    tifffile = pytest.importorskip("tifffile")
    buffer = io.BytesIO()
    tifffile.imwrite(buffer, np.zeros((32, 32, 3), np.uint8), photometric="rgb", tile=(32, 32))
    data = buffer.getvalue()
    for tag in (322, 323):
        for code in (3, 4):
            at = data.find(struct.pack("<HH", tag, code))
            if at > 0:
                data = data[: at + 2] + struct.pack("<HII", 4, 1, 60_000) + data[at + 12 :]
    with pytest.raises(PhotoError):
        vis.load_photo(data)


def test_the_door_tells_the_kind_and_closes_behind(scene, encoded):
    with opened(encoded(scene, "HEIC")) as picture:
        assert picture.kind == "HEIC"
        assert picture.image.size == (64, 48)


MEASURE = """
import io, json, sys
import numpy as np
import pillow_heif, cv2
from PIL import Image
from tests.memory import peak_bytes
from visualiser.photo.decoding import load_photo
from visualiser.photo.jpeg_segments import layout
from visualiser.photo.limits import decoding_bytes
kind, side = sys.argv[1], 3200
data = sys.stdin.buffer.read()
base = peak_bytes()
photo = load_photo(data)
name = {"JPEG": "JPEG", "progressive": "JPEG"}.get(kind, kind)
jpeg = layout(data) if name == "JPEG" else None
print(json.dumps([peak_bytes() - base, decoding_bytes(side, side, name, jpeg)]))
"""


def costly(kind, side=3200):
    rng = np.random.default_rng(1)
    small = rng.integers(0, 255, (side // 16, side // 16, 3), np.uint8)
    image = Image.fromarray(small).resize((side, side), Image.Resampling.BILINEAR)
    buffer = io.BytesIO()
    if kind == "HEIC":
        import pillow_heif

        # How hard the encoder tries is not what the decoder costs.
        quick = {"preset": "ultrafast"}
        pillow_heif.from_pillow(image).save(buffer, quality=50, enc_params=quick)
    elif kind == "progressive":
        exif = Image.Exif()
        exif[0x0112] = 6
        image.save(buffer, "JPEG", progressive=True, subsampling=0, exif=exif)
    elif kind == "PNG":
        image.convert("RGBA").save(buffer, "PNG", compress_level=1)
    elif kind == "TIFF":
        image.save(buffer, "TIFF", compression="tiff_lzw")
    else:
        image.save(buffer, kind, **({"method": 0} if kind == "WEBP" else {}))
    return buffer.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "progressive", "PNG", "TIFF", "WebP", "HEIC"])
def test_decoding_costs_no_more_than_is_stated(kind):
    """Measured apart, as what a process grows by, beside the 12 MB of a strip under way."""
    data = costly({"WebP": "WEBP"}.get(kind, kind))
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, kind],
        input=data, capture_output=True, check=True, cwd=ROOT,
    )  # fmt: skip
    grown, stated = json.loads(done.stdout)
    assert grown < stated + 25_000_000
    assert grown > stated / 3  # the statement is not a blanket either
    assert decoding_bytes(10, 10, "JPEG", None) == 700


@pytest.mark.parametrize(
    ("side", "said"), [(14_142, "holds only"), (14_143, "fewer than 200 million are read")]
)
def test_two_hundred_million_pixels_are_the_limit(side, said):
    """14 142 x 14 142 is 199.996 million, 14 143 x 14 143 is 200.02."""
    data = bytearray(saved("PNG"))
    data[16:24] = struct.pack(">II", side, side)
    data[29:33] = struct.pack(">I", zlib.crc32(data[12:29]))
    with pytest.raises(PhotoError, match=said):
        vis.load_photo(bytes(data))
