"""What one page does to a job: saved at once, undone in order, whoever else is writing."""

import threading

import pytest

from visualiser.app.state import Hold, Work
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.project.document import Document, OptionEntry, PieceEntry
from visualiser.project.store import create_project, open_project


def job():
    pieces = tuple(PieceEntry(id=i, width_mm=400, height_mm=500) for i in ("a", "b"))
    places = (Placement("a", 500, 1500), Placement("b", 1000, 1500))
    option = OptionEntry(id="first", placements=places)
    return Document(name="start", pieces=pieces, options=(option,))


@pytest.fixture
def work(tmp_path):
    return Work.opened("job", create_project(tmp_path / "job", job()))


def opened_again(work, hold=None):
    return Work.opened("job", open_project(work.project.folder), hold)


def saved(work):
    return open_project(work.project.folder).document


def saved_name(work):
    return saved(work).name


def rename(work, name):
    return work.change(work.document.changed(name=name))


def move(piece_id, x_mm):
    def change(document):
        option = document.option()
        places = tuple(
            Placement(p.piece_id, x_mm if p.piece_id == piece_id else p.x_mm, p.y_mm)
            for p in option.placements
        )
        return document.replacing(option.model_copy(update={"placements": places}))

    return change


def x_of(work, piece_id):
    return next(p.x_mm for p in saved(work).option().placements if p.piece_id == piece_id)


def test_every_change_is_saved_at_once(work):
    assert rename(work, "one")
    assert saved_name(work) == "one"


def test_undo_and_redo_walk_the_changes_and_save_each(work):
    for name in ("one", "two", "three"):
        rename(work, name)
    work.undo()
    work.undo()
    assert saved_name(work) == "one"
    work.redo()
    assert saved_name(work) == "two"
    rename(work, "other")
    work.redo()
    assert saved_name(work) == "other"
    for _ in range(9):
        work.undo()
    assert saved_name(work) == "start"
    for _ in range(9):
        work.redo()
    assert saved_name(work) == "other"


def test_undo_outlives_the_page(work):
    """A reload and a new server know of a job what is in its folder, and no more."""
    for name in ("one", "two"):
        rename(work, name)
    work.undo()
    again = opened_again(work)
    assert (again.can_undo, again.can_redo) == (True, True)
    again.undo()
    assert saved_name(work) == "start"
    opened_again(work).redo()
    again.redo()
    assert saved_name(work) == "two"
    assert not opened_again(work).can_redo


def test_nothing_changed_is_nothing_to_undo(work):
    rename(work, "start")
    work.command("hand", 1, move("a", 500))
    assert not work.can_undo
    assert work.document.revision == 0
    assert work.answered("hand") == 1


def test_the_unit_is_no_step_and_stays_when_one_is_undone(work):
    rename(work, "one")
    work.change(work.document.changed(units="in"), step=False)
    work.undo()
    assert (saved_name(work), saved(work).units) == ("start", "in")


def test_a_command_is_done_once_however_often_it_arrives(work):
    work.command("hand", 1, move("a", 600))
    work.command_undo("hand", 2)
    other = opened_again(work)  # as after a restart: nothing is kept but the job's folder
    for page in (work, other):
        page.command("hand", 1, move("a", 600))
        page.command_undo("hand", 2)
        assert page.answered("hand") == 2
    assert x_of(work, "a") == 500
    assert saved(work).revision == 2


def test_a_command_that_does_not_fit_is_dealt_with_and_told(work):
    def gone(_):
        raise ProjectError("gone", hint="look")

    with pytest.raises(ProjectError, match="gone"):
        work.command("hand", 1, gone)
    assert work.answered("hand") == 1
    assert saved(work).revision == 0
    assert work.trouble is None


def test_two_pages_change_a_job_in_turn_and_nothing_is_lost(work):
    other = opened_again(work)
    rename(work, "mine")
    other.command("other", 1, move("b", 1111))
    work.command("hand", 1, move("a", 600))
    other.change(other.document.changed(chosen="first"))
    document = saved(work)
    assert (document.name, document.chosen) == ("mine", "first")
    assert (x_of(work, "a"), x_of(work, "b")) == (600, 1111)


def test_a_change_on_an_older_state_keeps_what_has_come_meanwhile(work):
    other = opened_again(work)
    work.command("hand", 1, move("a", 600))
    later = other.document.replacing(
        other.document.option().model_copy(update={"finish": "oak", "name": "in oak"})
    )
    assert other.change(later)
    assert saved(work).option().finish == "oak"
    assert x_of(work, "a") == 600


def test_commands_of_many_threads_are_all_kept(work):
    """Each is done on what the one before it left, as when a page is drawn twice at a time."""

    def nudge(document):
        option = document.option()
        (first, *others) = option.placements
        moved = Placement(first.piece_id, first.x_mm + 1, first.y_mm)
        return document.replacing(option.model_copy(update={"placements": (moved, *others)}))

    def page(hand):
        mine = work.afresh()
        for number in range(1, 6):
            assert mine.command(hand, number, nudge)

    threads = [threading.Thread(target=page, args=(f"hand-{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert x_of(work, "a") == 520
    assert saved(work).revision == 20


def test_a_field_read_by_two_runs_of_a_page_is_saved_once(work):
    """A run begins before the one ahead has ended; both find the unit just chosen in the field."""
    ahead, behind = work.afresh(), work.afresh()
    for run in (ahead, behind):
        assert run.change(run.document.changed(units="cm"), step=False)
        assert run.document.units == "cm"
    assert saved(work).revision == work.document.revision + 1
    for run in (ahead, behind):
        assert rename(run, "one")
    assert saved(work).revision == work.document.revision + 2
    behind.undo()
    assert (saved_name(work), saved(work).units) == ("start", "cm")


def test_fields_are_drawn_anew_for_what_came_from_elsewhere_alone(work):
    before = work.generation
    work.command("hand", 1, move("a", 600))
    rename(work, "typed here")
    assert opened_again(work, work.hold).generation == before
    opened_again(work).command("other", 1, move("b", 1111))
    assert opened_again(work, work.hold).generation == before  # no field shows where it hangs
    rename(opened_again(work), "typed there")
    assert opened_again(work, work.hold).generation > before
    before = work.generation
    work.undo()
    assert work.generation > before


def test_what_cannot_be_saved_stays_on_the_page_and_can_be_saved_later(work, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        assert not rename(work, "kept in mind")
        assert not work.command("hand", 1, move("a", 600))
    assert work.document.name == "kept in mind"
    assert work.answered("hand") == 0
    assert saved_name(work) == "start"
    assert opened_again(work, work.hold).document.name == "kept in mind"
    opened_again(work).command("other", 1, move("b", 1111))
    work.save_again()
    assert work.trouble is None
    assert saved_name(work) == "kept in mind"
    assert x_of(work, "b") == 1111
    assert work.command("hand", 1, move("a", 600))
    assert x_of(work, "a") == 600


def test_a_folder_that_went_is_told(work):
    (work.project.folder / "project.json").unlink()
    assert not rename(work, "nowhere")
    assert "no job" in str(work.trouble)


def test_fields_of_two_pages_bear_other_names(work):
    """A browser that outlives the server sends what its fields held before, by their names."""
    assert opened_again(work).generation != opened_again(work).generation


def test_a_hold_is_of_one_job():
    assert Hold("job").job_id == "job"
