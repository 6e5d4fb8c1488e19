import pytest

from visualiser.app.state import Work
from visualiser.errors import ProjectChanged
from visualiser.project.document import Document
from visualiser.project.store import create_project, open_project


@pytest.fixture
def work(tmp_path):
    return Work("job", create_project(tmp_path / "job", Document(name="start")))


def saved_name(work):
    return open_project(work.project.folder).document.name


def rename(work, name):
    return work.change(work.document.changed(name=name))


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


def test_nothing_changed_is_nothing_to_undo(work):
    rename(work, "start")
    assert not work.done
    assert work.document.revision == 0


def test_the_wall_view_keeps_what_it_holds_unless_something_else_changed(work):
    epoch = work.epoch
    work.change(work.document.changed(name="dragged"), from_view=True)
    assert work.epoch == epoch
    work.undo()
    assert work.epoch > epoch


def test_a_second_window_is_told_and_writes_nothing_over(work):
    other = Work("job", open_project(work.project.folder))
    rename(work, "mine")
    other.look_outside()
    assert isinstance(other.trouble, ProjectChanged)
    assert not rename(other, "theirs")
    assert saved_name(work) == "mine"
    other.reload()
    assert other.document.name == "mine"
    assert rename(other, "theirs")


def test_two_windows_that_save_in_the_same_moment(work):
    other = Work("job", open_project(work.project.folder))
    rename(work, "mine")
    assert not rename(other, "theirs")
    assert other.overtaken
    assert saved_name(work) == "mine"


def test_what_cannot_be_saved_stays_on_the_page_and_can_be_saved_later(work, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        assert not rename(work, "kept in mind")
    assert work.document.name == "kept in mind"
    assert saved_name(work) == "start"
    work.save_again()
    assert work.trouble is None
    assert saved_name(work) == "kept in mind"


def test_a_folder_that_went_is_told(work):
    (work.project.folder / "project.json").unlink()
    work.look_outside()
    assert "no job" in str(work.trouble)
