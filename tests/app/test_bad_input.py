"""What people get wrong and what disks do: a sentence on the page, and nothing lost."""

import io
import re
import shutil

import pytest
from PIL import Image

from tests.app.conftest import run_page
from visualiser.app import jobs
from visualiser.app.results import ARTWORK_PX, Results


def small_picture(side_px):
    buffer = io.BytesIO()
    Image.new("RGB", (side_px, side_px), "#888").save(buffer, "PNG")
    return buffer.getvalue()


PDF = ("plan.pdf.jpg", b"%PDF-1.7 not a picture at all", "image/jpeg")
EMPTY = ("empty.jpg", b"", "image/jpeg")
CUT_OFF = ("cut-off.jpg", b"\xff\xd8\xff\xe0" + b"\0" * 200, "image/jpeg")
TINY = ("tiny.png", small_picture(3), "image/png")


@pytest.fixture
def opened(jobs_folder):
    return lambda job_id=None, step=None: sound(run_page(job_id, step))


def sound(page):
    assert not page.exception
    assert "a fault in the program" not in said(page)
    return page


def said(page):
    return "\n".join(part.value for part in (*page.error, *page.warning)).replace("\\", "")


@pytest.mark.parametrize("file", [PDF, EMPTY, CUT_OFF, TINY], ids=lambda f: f[0])
def test_a_file_that_is_no_photo_starts_no_job(opened, jobs_folder, file):
    page = opened()
    page.file_uploader[0].set_value(file)
    sound(page.run())
    assert page.error
    assert not [p for p in jobs_folder.iterdir() if p.is_dir()]


@pytest.mark.parametrize("file", [PDF, EMPTY, CUT_OFF, TINY], ids=lambda f: f[0])
def test_a_file_that_is_no_photo_leaves_the_job_as_it_is(opened, room, file):
    job_id, project = room.job()
    page = opened(job_id, "photo")
    page.file_uploader[0].set_value(file)
    sound(page.run())
    assert page.error
    assert jobs.find_job(job_id).document == project.document


def test_a_bad_artwork_among_good_ones_costs_only_itself(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "pieces")
    good = ("lark.png", room.artwork(9), "image/png")
    page.file_uploader[0].set_value([good, PDF])
    sound(page.run())
    assert page.error
    assert [p.name for p in jobs.find_job(job_id).document.pieces][3:] == ["Lark"]


@pytest.mark.parametrize(
    ("number", "reason"), [(28, "No space left on device"), (30, "Read-only file system")]
)
def test_a_change_that_cannot_be_saved_stays_and_is_saved_later(
    opened, room, monkeypatch, number, reason
):
    job_id, _ = room.typed_job()
    page = opened(job_id, "photo")

    def refuse(*_):
        raise OSError(number, reason)

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", refuse)
        next(f for f in page.text_input if "Width" in f.label).set_value("5 m").run()
        sound(page)
        assert reason.lower() in said(page)
    assert jobs.find_job(job_id).document.wall.width_mm == 4000
    assert next(f for f in page.text_input if "Width" in f.label).value == "5 000 mm"
    next(b for b in page.button if b.label == "Save again").click().run()
    assert not sound(page).error
    assert jobs.find_job(job_id).document.wall.width_mm == 5000


@pytest.mark.parametrize("step", ["wall", "pieces", "arrange", "approve"])
def test_a_folder_deleted_under_the_app_is_told(opened, room, step):
    job_id, project = room.job()
    page = opened(job_id, step)
    shutil.rmtree(project.folder)
    sound(page.run())
    assert re.search(r"no job in|is missing", said(page))


def test_two_people_see_only_their_own_job(opened, room):
    one, _ = room.typed_job("Mine")
    other, _ = room.typed_job("Yours")
    mine, yours = opened(one, "photo"), opened(other, "photo")
    next(f for f in mine.text_input if "Width" in f.label).set_value("6 m").run()
    yours.run()
    assert jobs.find_job(one).document.wall.width_mm == 6000
    assert jobs.find_job(other).document.wall.width_mm == 4000
    assert mine.session_state["work"] is not yours.session_state["work"]


def test_large_artworks_are_kept_small_in_memory_and_whole_in_the_job(jobs_folder, room):
    import io

    import numpy as np
    from PIL import Image

    _, project = room.job()
    buffer = io.BytesIO()
    Image.fromarray(np.full((1500, 3000, 3), 90, np.uint8)).save(buffer, "PNG")
    kept = project.add_file("artworks", "large.png", buffer.getvalue(), ".png")
    pieces = tuple(p.model_copy(update={"artwork": kept}) for p in project.document.pieces)
    results = Results(project.save(project.document.changed(pieces=pieces)))
    assert {max(piece.artwork.pixels.shape) for piece in results.pieces()} == {ARTWORK_PX}
    assert results.whole_artwork("p1").pixels.shape == (1500, 3000, 3)


@pytest.mark.browser
def test_a_file_of_300_megabytes_is_refused_before_it_is_sent(page, server, room, tmp_path):
    large = tmp_path / "large.jpg"
    with large.open("wb") as file:
        file.truncate(300_000_000)
    page.goto(server.url)
    page.wait_for_selector("[data-testid=stApp][data-test-script-state=notRunning]")
    page.locator("input[type=file]").first.set_input_files(large)
    page.get_by_text(re.compile(r"must be 60[.0]* ?MB or smaller")).wait_for()
