import contextlib
import io
import json
import os
import stat
import zipfile

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

import visualiser as vis
from visualiser.errors import PhotoError, ProjectError
from visualiser.project.document import Document, HistoryEntry, PieceEntry
from visualiser.project.exchange import export_zip, import_zip
from visualiser.project.privacy import strip_private

GPS_IFD, EXIF_IFD = 0x8825, 0x8769
SECRETS = (b"SERIAL-4711", b"OWNER-NAME", b"NOTES-OF-MAKER", b"COMMENT-HERE", b"XMP-CITY")


def picture(kind="JPEG", *, orientation=6):
    """A picture with everything in it that should not leave the house."""
    gradient = np.linspace(0, 255, 48 * 64 * 3).reshape(48, 64, 3).astype(np.uint8)
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Maker", "Model 7", orientation
    exif[0x013B] = "OWNER-NAME"
    exif[EXIF_IFD] = {0xA405: 26, 0xA431: "SERIAL-4711", 0x927C: b"NOTES-OF-MAKER"}
    exif[GPS_IFD] = {1: "N", 2: (51.0, 30.0, 0.0)}
    loaded = Image.Exif()
    loaded.load(exif.tobytes())  # Pillow's TIFF writer wants its tables as read, not as built
    buffer = io.BytesIO()
    more = {"comment": b"COMMENT-HERE", "xmp": b"XMP-CITY"} if kind == "JPEG" else {}
    Image.fromarray(gradient).save(buffer, kind, exif=loaded, **more)
    return buffer.getvalue()


@pytest.fixture
def project(tmp_path):
    job = vis.create_project(tmp_path / "job", Document(name="Stair hall"))
    photo = job.add_file("photos", "hall.jpg", picture(), ".jpg")
    artwork = job.add_file("artworks", "heron.webp", picture("WEBP"), ".webp")
    piece = PieceEntry(id="a", width_mm=400, height_mm=500, artwork=artwork)
    return job.save(job.document.changed(photo=photo, pieces=(piece,)))


def test_an_exported_job_opens_elsewhere(project, tmp_path):
    there = import_zip(export_zip(project), tmp_path / "there")
    assert there.document.name == "Stair hall"
    assert there == vis.open_project(tmp_path / "there")
    for entry in (there.document.photo, there.document.pieces[0].artwork):
        assert there.read_file(entry.path)


def test_private_details_stay_at_home(project):
    with zipfile.ZipFile(io.BytesIO(export_zip(project))) as archive:
        for name in archive.namelist():
            data = archive.read(name)
            assert not [secret for secret in SECRETS if secret in data]
            assert str(project.folder).encode() not in data
            if name.endswith((".jpg", ".png")):
                exif = Image.open(io.BytesIO(data)).getexif()
                assert not exif.get_ifd(GPS_IFD)
                assert exif[0x0112] == 6
                assert exif.get_ifd(EXIF_IFD)[0xA405] == 26


def upright(data):
    return np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_stripping_keeps_the_pixels(kind):
    data = picture(kind)
    clean, _ = strip_private(data)
    before, after = (upright(d) for d in (data, clean))
    np.testing.assert_array_equal(before, after)


def test_a_second_picture_behind_the_first_is_cut_off():
    """Phones append a depth map or a film, with details of its own."""
    clean, _ = strip_private(picture() + picture() + b"COMMENT-HERE")
    assert not [secret for secret in SECRETS if secret in clean]


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_mutilated_pictures_are_refused_or_stripped(data):
    whole = bytearray(picture())
    for _ in range(data.draw(st.integers(1, 8))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    given_bytes = bytes(whole[: data.draw(st.integers(0, len(whole)))])
    with contextlib.suppress(PhotoError):
        clean, _ = strip_private(given_bytes)
        # Nothing is ever added, and what may be left is no larger than what came.
        assert len(clean) <= len(given_bytes)


def zipped(files, *, link=None):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files:
            info = zipfile.ZipInfo(name)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = (stat.S_IFLNK | 0o777) << 16 if name == link else 0o644 << 16
            archive.writestr(info, data)
    return buffer.getvalue()


JOB = json.dumps({"schema_version": 1}).encode()
WITH_PHOTO = json.dumps({"schema_version": 1, "photo": {"path": "photos/a.jpg"}}).encode()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"not a zip", "damaged"),
        (zipped([("other.json", JOB)]), "no project.json"),
        (zipped([("project.json", WITH_PHOTO)]), r"photos/a\.jpg is missing"),
        (zipped([("project.json", JOB), ("a", b"0" * 30_000_000)]), "swells"),
        (zipped([("project.json", JOB), ("a", b"/etc")], link="a"), "link"),
        (zipped([("project.json", JOB), ("Photos", b""), ("photos", b"")]), "one name"),
        (zipped([("project.json", b'{"schema_version": 99}')]), "newer"),
        (zipped([("project.json", JOB)])[:-30], "damaged"),
    ],
    ids=["no zip", "no job", "incomplete", "bomb", "link", "case", "newer", "cut off"],
)
def test_hostile_zips_are_refused_and_leave_nothing(data, said, tmp_path):
    with pytest.raises(ProjectError, match=said):
        import_zip(data, tmp_path / "there")
    assert list(tmp_path.iterdir()) == []


EPS = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\nshowpage\n%%EOF\n"
NAMED = b'{"schema_version": 1, "as_hung_photo": {"path": "photos/%s"}}'


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("h.jpg", EPS, "no picture"),
        ("h.jpg", b"MZ\x90\0" + bytes(100), "no picture"),
        ("h.jpg", b"", "no picture"),
        ("h.jpg", b"GIF89a" + bytes(40), "no picture"),
        ("h.exe", picture(), "does not name a picture"),
        ("h\u202egpj.exe", picture(), "does not name a picture"),
        ("h\u202e.jpg", picture(), "does not name a picture"),
    ],
)
def test_what_a_job_calls_a_picture_is_one(name, content, said, tmp_path):
    data = zipped([("project.json", NAMED % name.encode()), (f"photos/{name}", content)])
    with pytest.raises(ProjectError, match=said):
        import_zip(data, tmp_path / "there")
    assert list(tmp_path.iterdir()) == []


def grown(before_bytes):
    """A zip whose one file is just within the ratio that is allowed."""
    rng = np.random.default_rng(3)
    return bytes(before_bytes) + rng.integers(0, 256, before_bytes // 190, np.uint8).tobytes()


def test_the_document_is_not_unpacked_when_it_says_it_is_too_long(tmp_path, monkeypatch):
    data = zipped([("project.json", grown(9_000_000))])
    assert len(data) < 100_000
    monkeypatch.setattr(zipfile.ZipFile, "open", lambda *_: pytest.fail("it was unpacked"))
    with pytest.raises(ProjectError, match=r"project\.json would unpack to 9 MB"):
        import_zip(data, tmp_path / "there")


def test_a_picture_of_nearly_the_allowed_ratio_is_bounded_by_its_length(tmp_path):
    files = [("project.json", WITH_PHOTO), ("photos/a.jpg", grown(70_000_000))]
    with pytest.raises(ProjectError, match="would unpack to 70 MB"):
        import_zip(zipped(files), tmp_path / "there")
    files = [("project.json", JOB), *((f"x{n}", grown(90_000_000)) for n in range(12))]
    with pytest.raises(ProjectError, match="more than 1 GB"):
        import_zip(zipped(files), tmp_path / "there")


def test_a_table_of_contents_of_very_many_files_is_not_read(tmp_path, monkeypatch):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("project.json", JOB)
        for number in range(20_000):
            archive.writestr(f"{number:05d}", b"")
    monkeypatch.setattr(zipfile, "ZipFile", lambda *_: pytest.fail("its table was read"))
    for data in (buffer.getvalue(), buffer.getvalue() + b"\0" * 0):
        with pytest.raises(ProjectError, match="table of contents"):
            import_zip(data, tmp_path / "there")


def test_a_zip_on_the_disk_is_unpacked_without_being_held_whole(project, tmp_path):
    place = tmp_path / "job.zip"
    place.write_bytes(export_zip(project))
    assert import_zip(place, tmp_path / "there").document.name == "Stair hall"
    with pytest.raises(ProjectError, match="damaged"):
        import_zip(tmp_path / "none.zip", tmp_path / "other")


def test_two_pictures_that_get_one_name_are_both_packed(tmp_path):
    """A TIFF and a PNG of one name both leave as PNG."""
    job = vis.create_project(tmp_path / "job")
    (job.folder / "photos").mkdir()
    for kind, name in (("TIFF", "a.tif"), ("PNG", "a.png")):
        (job.folder / "photos" / name).write_bytes(picture(kind))
    document = job.document.changed(
        photo={"path": "photos/a.tif"}, as_hung_photo={"path": "photos/a.png"}
    )
    there = import_zip(export_zip(job.save(document)), tmp_path / "there")
    assert there.document.photo.path != there.document.as_hung_photo.path
    assert len(list((there.folder / "photos").iterdir())) == 2


@pytest.mark.skipif(os.name != "posix", reason="flushes folders as POSIX does")
def test_an_unpacked_job_is_on_the_disk(project, tmp_path, monkeypatch):
    data, last = export_zip(project), []
    rename = os.rename
    monkeypatch.setattr(os, "rename", lambda a, b: (last.append("rename"), rename(a, b)))
    monkeypatch.setattr(os, "fsync", lambda handle: last.append(os.fstat(handle).st_ino))
    there = tmp_path / "in"
    there.mkdir()
    import_zip(data, there / "job")
    assert last[last.index("rename") + 1] == there.stat().st_ino


def test_files_that_lead_out_are_not_taken(tmp_path):
    import_zip(zipped([("project.json", JOB), ("../out.txt", b"x")]), tmp_path / "in" / "job")
    assert not (tmp_path / "in" / "out.txt").exists()
    assert [p.name for p in (tmp_path / "in" / "job").rglob("*.txt")] == []


def test_a_job_is_not_unpacked_over_another(project):
    before = (project.folder / "project.json").read_bytes()
    with pytest.raises(ProjectError, match="could not be unpacked"):
        import_zip(zipped([("project.json", JOB)]), project.folder)
    assert (project.folder / "project.json").read_bytes() == before


def test_the_steps_back_do_not_leave_the_house(project, tmp_path):
    history = HistoryEntry(back=(1,), applied={"a-page": 3})
    sent = import_zip(
        export_zip(project.save(project.document.changed(history=history))), tmp_path / "there"
    )
    assert sent.document.history == HistoryEntry()


@pytest.mark.parametrize("remark", [b"from the stair hall", b"PK\x05\x06 twice", b"\0" * 65535])
def test_a_zip_with_a_remark_at_its_end_opens(project, tmp_path, remark):
    """APPNOTE.TXT 6.3.10 (PKWARE), 4.3.16: up to 65,535 bytes of remark behind the last record."""
    buffer = io.BytesIO(export_zip(project))
    with zipfile.ZipFile(buffer, "a") as archive:
        archive.comment = remark
    if b"PK\x05\x06" in remark:
        with pytest.raises(ProjectError):  # which of the two ends it is cannot be told
            import_zip(buffer.getvalue(), tmp_path / "there")
        assert not (tmp_path / "there").exists()
        return
    assert import_zip(buffer.getvalue(), tmp_path / "there").document.name == "Stair hall"


def test_a_zip_that_names_a_larger_table_of_contents_elsewhere_is_not_opened(project, tmp_path):
    """APPNOTE.TXT 6.3.10, 4.3.15: the locator of a table that its own end does not count."""
    data = export_zip(project)
    locator = b"PK\x06\x07" + bytes(16)
    with pytest.raises(ProjectError, match="table of contents"):
        import_zip(data[:-22] + locator + data[-22:], tmp_path / "there")
