"""What the client is shown: every option as a picture, and one tap that chooses."""

import pytest

from tests.app.conftest import make_job, make_typed_job
from visualiser.app import jobs, option_pictures
from visualiser.app.group_commands import ChooseOption, choose_option, read_group_command
from visualiser.app.results import Results
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.photo.decoding import load_photo
from visualiser.project.document import OptionEntry, PieceEntry

ARRIVED = """() => {
  const roots = [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean);
  const shown = roots.map((r) => r.querySelector("dialog.show")).find(Boolean);
  const pictures = [...shown.querySelectorAll("img")];
  return shown.open && pictures.length === 4 && pictures.every((p) => p.naturalWidth && !p.hidden);
}"""


def test_an_option_is_chosen_by_a_command(jobs_folder):
    _, project = make_typed_job()
    options = tuple(OptionEntry(id=name) for name in "ab")
    document = project.document.changed(options=options, chosen="a")
    command = read_group_command({"kind": "choose", "option": "b"})
    assert command == ChooseOption("b")
    assert choose_option(document, command).chosen == "b"
    with pytest.raises(ProjectError, match="no longer in this job"):
        choose_option(document, ChooseOption("gone"))


def test_a_typed_wall_is_shown_to_scale(jobs_folder):
    """A piece of 500 mm on a wall of 4,000 mm covers an eighth of its width."""
    _, project = make_typed_job()
    piece = PieceEntry(id="p1", width_mm=500, height_mm=400)
    option = OptionEntry(id="a", placements=(Placement("p1", 2000.0, 1250.0),))
    document = project.document.changed(pieces=(piece,), options=(option,), chosen="a")
    results = Results(project.save(document))
    pixels = load_photo(option_pictures.option_picture(results, "a")).pixels
    wide, high = option_pictures.picture_size(results)
    assert pixels.shape[:2] == (high, wide)
    wall = pixels[high // 2 - 200, wide // 2].astype(int)  # above the piece
    row = abs(pixels[high // 2].astype(int) - wall).max(axis=1) > 24
    row[: round(0.05 * wide)] = row[-round(0.05 * wide) :] = False  # beside the wall's own ends
    frame = row.nonzero()[0]
    assert (frame[-1] - frame[0] + 1) / (wide - 120) == pytest.approx(500 / 4000, abs=0.003)
    assert option_pictures.picture_before(results) is None


@pytest.mark.browser
def test_the_client_taps_a_picture(page, server, wait_until):
    job_id, project = make_job()
    first = project.document.option()
    other = first.model_copy(update={"id": "b", "name": "Higher"})
    project.save(project.document.changed(options=(first, other)))
    page.goto(f"{server.url}/?job={job_id}&step=approve")
    page.get_by_role("button", name="Show the client").click()
    page.wait_for_function(ARRIVED)
    shown = page.get_by_role("dialog")
    assert shown.get_by_role("button", name="A · By hand, chosen").is_visible()
    shown.get_by_role("button", name="One over the other").click()
    shown.get_by_role("button", name="B · Higher", exact=True).click()
    assert shown.get_by_role("button", name="A · By hand, chosen").is_hidden()
    shown.get_by_role("button", name="Choose B · Higher").click()
    wait_until(lambda: jobs.find_job(job_id).document.chosen == "b")
    shown.get_by_role("button", name="B · Higher, chosen").wait_for()
    page.keyboard.press("Escape")
    shown.wait_for(state="hidden")
    page.get_by_role("button", name="Undo").click()
    wait_until(lambda: jobs.find_job(job_id).document.chosen == "a")
