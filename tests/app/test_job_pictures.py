"""Jobs as pictures on the first page: small, upright, and none where there is nothing to show."""

import io

import pytest
from PIL import Image

from tests.app.conftest import make_typed_job, opened_page
from visualiser.app import jobs
from visualiser.app.job_pictures import SHOWN_PX, job_picture


def job_with(data, suffix):
    job_id, project = jobs.new_job("Hall")
    photo = project.add_file("photos", f"hall{suffix}", data, suffix)
    project.save(project.document.changed(photo=photo))
    return job_id


def encoded(kind, **more):
    """A picture whose upper half is red."""
    image = Image.new("RGB", (800, 600), "#3050c0")
    image.paste("#c03030", (0, 0, 800, 300))
    buffer = io.BytesIO()
    image.save(buffer, kind, **more)
    return buffer.getvalue()


@pytest.mark.parametrize(("kind", "suffix"), [("JPEG", ".jpg"), ("PNG", ".png")])
def test_a_job_is_shown_by_its_photo(jobs_folder, kind, suffix):
    job_id = job_with(encoded(kind), suffix)
    with Image.open(io.BytesIO(job_picture(job_id))) as small:
        assert small.size == SHOWN_PX
        red, _, blue = small.convert("RGB").getpixel((120, 20))
        assert red > blue
    page = opened_page()
    assert any("Hall" in button.label for button in page.button)


def test_a_photo_taken_upside_down_is_shown_upright(jobs_folder):
    """Exif 2.32, 4.6.4 A: orientation 3 is turned by half a turn."""
    exif = Image.Exif()
    exif[0x0112] = 3
    job_id = job_with(encoded("JPEG", exif=exif), ".jpg")
    with Image.open(io.BytesIO(job_picture(job_id))) as small:
        red, _, blue = small.convert("RGB").getpixel((120, 20))
    assert blue > red


def test_a_job_without_a_photo_that_can_be_shown_has_no_picture(jobs_folder):
    typed, _ = make_typed_job()
    assert job_picture(typed) is None
    assert job_picture(job_with(b"no picture", ".jpg")) is None
    assert job_picture("gone") is None
