"""What leaves the house says nothing of where, with what and by whom it was made.

Read back with independent readers: ExifRead for the tags, PDFium for the papers' metadata.
"""

import io
import logging
import zipfile

import exifread
import pypdfium2
import pytest
from PIL import Image, PngImagePlugin

import visualiser as vis
from visualiser.photo.encoding import encode_png
from visualiser.project.batch import make_item
from visualiser.project.batch_list import BatchItem
from visualiser.project.exchange import export_zip
from visualiser.project.samples import create_sample, sample_folder

SECRETS = (b"SERIAL-4711", b"OWNER-NAME", b"LENS-0815", b"MAKERS-NOTE", b"HOST-PC", b"2019:03:04")
ALLOWED = {
    "Image Make", "Image Model", "Image Orientation", "Image ExifOffset", "EXIF FocalLength",
    "EXIF FocalLengthIn35mmFilm", "EXIF ExifImageWidth", "EXIF ExifImageLength",
    "EXIF FocalPlaneXResolution", "EXIF FocalPlaneYResolution",
    "EXIF FocalPlaneResolutionUnit",
}  # fmt: skip


def with_secrets(data, kind="JPEG"):
    """The same picture as a phone might have written it: place, serials, owner, thumbnail."""
    image = Image.open(io.BytesIO(data))
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Maker", "Model 7"
    exif[0x013B], exif[0x013C], exif[0x0132] = "OWNER-NAME", "HOST-PC", "2019:03:04 05:06:07"
    exif.get_ifd(0x8769).update(
        {0xA405: 26, 0xA431: "SERIAL-4711", 0xA435: "LENS-0815", 0x927C: b"MAKERS-NOTE"}
    )
    exif[0x8825] = {1: "N", 2: (51.0, 30.0, 0.0), 3: "E", 4: (0.0, 7.0, 0.0)}
    buffer = io.BytesIO()
    image.save(buffer, kind, exif=exif.tobytes(), quality=95)
    found = exifread.process_file(io.BytesIO(buffer.getvalue()))
    assert "GPS GPSLatitude" in found  # the reader does see what must go
    return buffer.getvalue()


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("home-of-client-smith") / "job"
    job = create_sample("breakfast-room", folder)
    document = job.document
    photo = job.add_file(
        "photos", "IMG_4711.jpg", with_secrets(job.read_file(document.photo.path)), ".jpg"
    )
    works = sorted((sample_folder() / "artworks").glob("*.jpg"))
    pieces = tuple(
        piece.model_copy(
            update={
                "artwork": job.add_file("artworks", w.name, with_secrets(w.read_bytes()), ".jpg")
            }
        )
        for piece, w in zip(document.pieces, works, strict=False)
    )
    return job.save(document.changed(photo=photo, pieces=pieces))


def check_nothing_told(data, folder):
    for secret in (*SECRETS, str(folder).encode(), b"home-of-client-smith"):
        assert secret not in data


def check_picture(data, folder):
    check_nothing_told(data, folder)
    tags = exifread.process_file(io.BytesIO(data), details=True)
    assert set(tags) <= ALLOWED, set(tags) - ALLOWED


def test_a_shared_job_tells_nothing(job):
    with zipfile.ZipFile(io.BytesIO(export_zip(job))) as archive:
        names = archive.namelist()
        assert len(names) > len(job.document.pieces)
        for name in names:
            data = archive.read(name)
            if name.endswith((".jpg", ".png")):
                check_picture(data, job.folder)
                assert vis.load_photo(data).focal_px == pytest.approx(
                    vis.load_photo(job.read_file(name)).focal_px
                )
            else:
                check_nothing_told(data, job.folder)


def test_mockup_and_papers_tell_nothing(job):
    for made in make_item(BatchItem(job.folder), ("mockup", "plan", "templates")):
        data = made.file.read_bytes()
        if made.product == "mockup":
            check_picture(data, job.folder)
            image = Image.open(io.BytesIO(data))
            png = encode_png(vis.load_photo(data).pixels, title="Hall")
            assert image.info.pop("comment", b"").startswith(b"made by wall-visualiser, ")
            assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density",
                                       "icc_profile", "xmp", "dpi"}  # fmt: skip
            check_picture(png, job.folder)
            assert set(PngImagePlugin.PngImageFile(io.BytesIO(png)).info) == {
                "icc_profile", "Title",
            }  # fmt: skip
            continue
        check_nothing_told(data, job.folder)
        told = pypdfium2.PdfDocument(data).get_metadata_dict()
        assert told.get("Author", "") in ("", "anonymous")
        for value in told.values():
            check_nothing_told(value.encode(), job.folder)
        # Of all days the one that the PDF library uses for files that must not tell theirs.
        assert "2000" in told["CreationDate"]


def test_nothing_is_logged_of_a_job(job, caplog):
    with caplog.at_level(logging.WARNING):
        vis.open_project(job.folder)
        make_item(BatchItem(job.folder), ("plan",))
        make_item(BatchItem(job.folder / "none"), ("plan",))
    assert caplog.records == []
