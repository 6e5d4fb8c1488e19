"""Damaged and hostile files give a PhotoError or a valid photo, within bounded memory."""

import json
import subprocess
import sys

import pytest

# Runs apart, so that the peak memory is that of decoding alone.
SCRIPT = """
import io, json, random, struct, sys, zlib
import numpy as np
from PIL import Image
import pillow_heif
from tests.memory import peak_bytes
from visualiser.errors import PhotoError
from visualiser.photo.decoding import load_photo

rng = random.Random(20)
y, x = np.mgrid[0:300, 0:400]
pixels = np.stack([x // 2, y // 2, (x * y) % 251], -1).astype(np.uint8)
image = Image.fromarray(pixels)
exif = Image.Exif()
exif[0x0112], exif[0x010F] = 6, "Maker"
exif.get_ifd(0x8769)[0xA405] = 26

def saved(kind, **options):
    buffer = io.BytesIO()
    if kind == "HEIC":
        pillow_heif.from_pillow(image).save(buffer, exif=exif.tobytes())
    else:
        image.save(buffer, kind, **options)
    return buffer.getvalue()

whole = {
    "JPEG": saved("JPEG", exif=exif.tobytes()),
    "progressive": saved("JPEG", progressive=True, quality=80),
    "PNG": saved("PNG", exif=exif.tobytes()),
    "WebP": saved("WEBP", exif=exif.tobytes()),
    "lossless": saved("WEBP", lossless=True),
    "TIFF": saved("TIFF", compression="tiff_lzw"),
    "deflated": saved("TIFF", compression="tiff_adobe_deflate"),
    "HEIC": saved("HEIC"),
}
cases = []
for name, data in whole.items():
    for _ in range(10):
        cases.append((name + " cut", data[: rng.randrange(len(data))]))
    for _ in range(14):
        flipped = bytearray(data)
        for _ in range(rng.choice([1, 3, 30])):
            flipped[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        cases.append((name + " flipped", bytes(flipped)))
    for _ in range(8):  # in the header, where sizes, counts and offsets are
        flipped = bytearray(data)
        for _ in range(2):
            flipped[rng.randrange(12, min(700, len(data)))] = rng.choice([0, 127, 128, 255])
        cases.append((name + " header", bytes(flipped)))
    start = rng.randrange(len(data) // 2)
    cases.append((name + " zeroed", data[:start] + bytes(len(data) // 3) + data[start:]))
    cases.append((name + " twice", data[: len(data) // 2] + data))
    cases.append((name + " headless", data[7:]))
names = list(whole)
for first, second in zip(names, names[1:] + names[:1]):  # a wrong extension, and a wrong start
    cases.append((first + "+" + second, whole[first][:16] + whole[second][16:]))
cases += [("zero bytes", bytes(n)) for n in (0, 1, 2, 4, 12, 64, 100_000)]
for side in (0, 1, 13_000, 14_100, 40_000, 2**31 - 1, 2**32 - 1):  # declared sizes of a PNG
    png = bytearray(whole["PNG"])
    png[16:24] = struct.pack(">II", side, side)
    png[29:33] = struct.pack(">I", zlib.crc32(png[12:29]))
    cases.append(("PNG side", bytes(png)))
at = whole["JPEG"].index(b"\\xff\\xc0") + 5
for height, width in ((0, 0), (1, 65535), (13_000, 13_000), (65535, 65535), (9000, 9000)):
    jpeg = bytearray(whole["JPEG"])
    jpeg[at : at + 4] = struct.pack(">HH", height, width)
    cases.append(("JPEG side", bytes(jpeg)))
for bits in (0xFFFFFF, 14_000, 12_000):
    webp = b"RIFF" + struct.pack("<I", 30) + b"WEBPVP8X" + struct.pack("<I", 10) + b"\\0" * 4
    webp += bits.to_bytes(3, "little") * 2
    cases.append(("WebP canvas", webp + whole["WebP"][30:]))

outcome = {"photo": 0, "refused": 0, "wrong": []}
for name, data in cases:
    try:
        photo = load_photo(data)
        assert photo.pixels.dtype == np.uint8 and photo.pixels.size > 0
        outcome["photo"] += 1
    except PhotoError as error:
        assert error.message and error.hint
        outcome["refused"] += 1
    except BaseException as error:
        outcome["wrong"].append(f"{name}: {type(error).__name__}: {error}")
outcome["peak_mb"] = peak_bytes() / 2**20
print(json.dumps(outcome))
"""


@pytest.fixture(scope="module")
def outcome(pytestconfig):
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", SCRIPT],
        capture_output=True,
        text=True,
        check=False,
        cwd=pytestconfig.rootpath,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout) | {"stderr": done.stderr}


def test_nothing_but_a_photo_or_a_photo_error(outcome):
    assert outcome["wrong"] == []
    assert outcome["photo"] + outcome["refused"] >= 200
    assert outcome["refused"] >= 100


def test_memory_stays_below_one_gigabyte(outcome):
    assert outcome["peak_mb"] < 1000


def test_no_warning_leaks(outcome):
    # The TIFF library writes a line of its own to the terminal now and then; Python must not.
    assert "Warning" not in outcome["stderr"]
    assert "Traceback" not in outcome["stderr"]
