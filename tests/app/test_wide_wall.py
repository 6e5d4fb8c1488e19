"""Several photos of one wall on the page: gathered, joined, shown, and taken out again."""

import hashlib
from dataclasses import dataclass

import pytest

from tests.app.conftest import labelled_button, make_job, opened_page, wall_data
from tests.project.test_joined import JOINED, PHOTOS, grey
from visualiser.app import jobs
from visualiser.app.results import Results
from visualiser.app.steps.wide_wall import NamedPhoto
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import MeasurementError
from visualiser.photo.decoding import load_photo
from visualiser.project.document import OptionEntry, PieceEntry
from visualiser.project.joined import JoinedFiles
from visualiser.rectification.joined.wall import MOST


def named(name, data):
    return NamedPhoto(name, data, hashlib.sha256(data).hexdigest())


@dataclass
class Ended:
    """Work beside the page that has ended, with what came of it."""

    joined: JoinedFiles | MeasurementError
    done: bool = True
    words: str = ""

    def result(self):
        if isinstance(self.joined, MeasurementError):
            raise self.joined
        return self.joined

    def stop(self):
        pass


def labels(page):
    return [button.label for button in page.button]


@pytest.fixture
def gathered(jobs_folder):
    """The step Photo of a new job, two photos of its wall dropped."""
    job_id, _ = jobs.new_job("Long corridor")
    page = opened_page(job_id, "photo")
    page.session_state["wide-wall-photos"] = (job_id, tuple(named(*photo) for photo in PHOTOS))
    return job_id, page.run()


def joined_page(gathered):
    """The same once the two have been joined beside the page."""
    job_id, page = gathered
    asked = "|".join(["a4", *(named(*photo).digest for photo in PHOTOS)])
    joined = JoinedFiles(grey(100), *JOINED)
    page.session_state["under-way-wide-wall"] = (asked, Ended(joined))
    return job_id, page.run()


def test_photos_dropped_are_shown_by_number_and_can_be_taken_out(gathered):
    _, page = gathered
    assert not page.exception
    assert {"Take out 1", "Take out 2", "Join these 2"} <= set(labels(page))
    labelled_button(page, "Take out 1").click().run()
    assert "Take out 2" not in labels(page)
    assert labelled_button(page, f"Join 2 to {MOST} photos").disabled


def test_joined_photos_become_the_wall_as_one_step(gathered):
    job_id, page = joined_page(gathered)
    assert not page.exception
    document = jobs.find_job(job_id).document
    assert len(document.marks.joined.photos) == 2
    assert (wall_data(page)["width"], wall_data(page)["height"]) == (480, 240)
    assert any("Joined from 2 photos" in text.value for text in page.markdown)
    assert {"Take out 1", "Take out 2"} <= set(labels(page))  # what it was joined from
    assert "Join these 2" not in labels(page)
    page.session_state["work"].undo()
    assert jobs.find_job(job_id).document.photo is None


def test_a_photo_taken_out_of_a_joined_wall_leaves_the_rest_to_join(gathered):
    job_id, page = joined_page(gathered)
    before = jobs.find_job(job_id).document
    labelled_button(page, "Take out 2").click().run()
    assert not page.exception
    assert labelled_button(page, f"Join 2 to {MOST} photos").disabled
    assert jobs.find_job(job_id).document == before  # until they are joined anew
    labelled_button(page, "Put them away").click().run()
    assert {"Take out 1", "Take out 2"} <= set(labels(page))


def test_what_cannot_be_joined_is_said_and_can_be_tried_again(gathered):
    _, page = gathered
    digests = [named(*photo).digest for photo in PHOTOS]
    error = MeasurementError("Photos 1 and 2 show too little in common to be joined.", hint="More.")
    page.session_state["under-way-wide-wall"] = ("|".join(["a4", *digests]), Ended(error))
    page.run()
    assert not page.exception
    assert any("Photos 1 and 2" in text.value for text in page.error)
    assert "Join these 2" in labels(page)


def test_on_a_joined_wall_the_step_wall_offers_no_other_sheet(gathered):
    job_id, _ = joined_page(gathered)
    page = opened_page(job_id, "wall")
    assert "What of known size is on the wall" not in [box.label for box in page.selectbox]
    assert not any("sharpen the measurement" in box.label for box in page.expander)


def test_a_job_with_one_photo_offers_more_without_showing_any(jobs_folder):
    job_id, _ = make_job(quick=True)
    page = opened_page(job_id, "photo")
    assert any("wider than one photo" in box.label for box in page.expander)
    assert not any(label.startswith("Take out") for label in labels(page))


def test_the_mockup_is_shown_in_each_photo_on_request(gathered):
    """The piece hangs in the left photo; the right one, which does not show it, says so."""
    job_id, _ = joined_page(gathered)
    job = jobs.find_job(job_id)
    datum = job.survey().datum_mm
    place = Placement("p1", -datum[0], 200 - datum[1])
    piece = PieceEntry(id="p1", width_mm=400, height_mm=300)
    option = OptionEntry(id="a", placements=(place,))
    job.save(job.document.changed(pieces=(piece,), options=(option,), chosen="a"))
    page = opened_page(job_id, "mockup")
    toggle = next(one for one in page.toggle if one.label == "Show it in each photo")
    drawn = []
    with pytest.MonkeyPatch.context() as patch:
        seen = Results.in_photo
        patch.setattr(Results, "in_photo", lambda *a: drawn.append(seen(*a)) or drawn[-1])
        toggle.set_value(True).run()
    assert not page.exception
    (picture,) = drawn
    assert load_photo(picture).width_px == 480
    told = [text.value for text in page.caption if "Nothing of this option" in text.value]
    assert len(told) == 1
    assert "photo 2" in told[0]
