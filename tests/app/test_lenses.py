"""The phone's lens: measured once, kept on this computer, taken up by photos that match."""

import io
import re

import numpy as np
import pytest
from PIL import Image

from tests.app.conftest import opened_page, send
from tests.rectification.finder.test_target import photographed
from tests.rectification.test_calibration import PLACES
from visualiser.app import jobs, lenses
from visualiser.errors import MeasurementError
from visualiser.photo.decoding import load_photo
from visualiser.project.document import LensEntry
from visualiser.project.measuring import measure_plane
from visualiser.rectification.finder.target import target_board


def jpeg(pixels, model="P1", focal_mm=24):
    exif = Image.Exif()
    exif[0x0110] = model
    exif.get_ifd(0x8769)[0xA405] = focal_mm
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=95, exif=exif)
    return buffer.getvalue()


@pytest.fixture(scope="module")
def files():
    board = target_board("target")
    # Four are enough for a lens; how good it is, is tested with all of them where it is measured.
    return [jpeg(photographed(board, *place)[0].pixels) for place in PLACES[:4]]


def entry_for(photo, **values):
    given = {
        "camera": photo.camera, "photos": 8, "stated_focal_px": photo.focal_px,
        "width_px": photo.width_px, "height_px": photo.height_px, "focal_px": 1250.0,
        "centre_px": ((photo.width_px - 1) / 2, (photo.height_px - 1) / 2), "k1": 0.0, "k2": 0.0,
        "covariance": np.diag([1e-6, 1e-6, 1e-6, 0.1, 0.1]).tolist(), "rms_px": 0.2,
    }  # fmt: skip
    return LensEntry.model_validate({**given, **values})


def with_model(data):
    image = Image.open(io.BytesIO(data))
    exif = image.getexif()
    focal_mm = exif.get_ifd(0x8769)[0xA405]
    return jpeg(np.asarray(image), "P7", focal_mm)


def said(page):
    parts = [*page.error, *page.info, *page.success, *page.caption, *page.markdown]
    return "\n".join(part.value for part in parts).replace("\\", "")


def test_a_lens_is_measured_kept_and_found_again(jobs_folder, files):
    entry = lenses.lens_of_files(files, "target")
    assert (entry.camera, entry.photos) == ("P1", len(files))
    lenses.keep_lens(entry)
    lenses.keep_lens(entry)  # in place of the older one
    assert lenses.kept_lenses() == [entry]
    assert lenses.lens_for(load_photo(files[0])) == entry
    assert lenses.lens_for(load_photo(jpeg(np.zeros((900, 1200, 3), np.uint8), "P2"))) is None


def test_too_many_photos_are_refused_before_they_are_read():
    with pytest.raises(MeasurementError, match="21 photos"):
        lenses.lens_of_files([b""] * 21, "target")


@pytest.mark.parametrize("content", [b"", b"{", b"[3]", b'{"a": 1}', b'[{"camera": "P1"}]'])
def test_a_damaged_list_of_lenses_is_passed_over(jobs_folder, content):
    (jobs_folder / ".lenses.json").write_bytes(content)
    assert lenses.kept_lenses() == []


def test_a_new_photo_takes_its_phones_lens_up(jobs_folder, room, monkeypatch):
    monkeypatch.setattr("visualiser.app.lenses.only_this_computer", lambda: True)
    data = with_model(room.photo())
    lenses.keep_lens(entry_for(load_photo(data)))
    job_id, _ = jobs.new_job("Hall")
    page = opened_page(job_id, "photo")
    page.file_uploader[0].set_value(("hall.jpg", data, "image/jpeg")).run()
    assert jobs.find_job(job_id).document.marks.lens.camera == "P7"
    assert "P7, from 8 photos of the target; focal length 1250 px ± 2 (0.2 %)" in said(page)
    next(t for t in page.toggle if "this lens" in t.label).set_value(False).run()
    assert not jobs.find_job(job_id).document.marks.lens.used
    send(page, job_id, 1, kind="undo")
    assert jobs.find_job(job_id).document.marks.lens.used


def test_the_lens_sharpens_the_wall_and_ignoring_it_does_not(jobs_folder, room):
    """The drawn room's camera is known exactly; its file states the focal length to 3 %."""
    data = with_model(room.photo())
    photo, entry = load_photo(data), entry_for(load_photo(data))
    _, project = room.job(photo=data)

    def sigma_across(lens):
        marks = project.document.marks.model_copy(update={"lens": lens, "find_lines": False})
        plane = measure_plane(photo, marks)
        return float(np.sqrt(plane.covariance(np.array([[1500.0, 0.0]]), "reference")[0, 0, 0]))

    plain = sigma_across(None)
    assert sigma_across(entry) < 0.8 * plain
    assert sigma_across(entry.model_copy(update={"used": False})) == plain


@pytest.mark.browser
def test_a_lens_is_measured_on_screen(page, server, room, files, tmp_path):
    job_id, _ = room.job(photo=with_model(room.photo()))
    paths = []
    for number, data in enumerate(files):
        paths.append(tmp_path / f"{number}.jpg")
        paths[-1].write_bytes(data)
    page.goto(f"{server.url}/?job={job_id}&step=photo")
    page.wait_for_selector(".stage")
    page.get_by_text("Measure your phone's lens, once").click()
    targets = page.get_by_test_id("stFileUploader").filter(has_text="Photos of the printed target")
    targets.locator("input[type=file]").set_input_files(paths)
    page.get_by_role("button", name="Measure the lens").click()
    told = page.get_by_text(re.compile("from another phone, zoom or size"))
    told.wait_for(timeout=240_000)  # measured in a process of its own, slowly on a busy machine
    kept = page.get_by_text(re.compile(r"Measured: P1, from 4 photos of the target"))
    kept.wait_for()
    assert (server.folder / ".lenses.json").exists()
