import os
import threading

import numpy as np
import pytest
from PIL import Image

import visualiser as vis
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectChanged, ProjectError
from visualiser.project.document import Document, FileEntry, OptionEntry, PieceEntry
from visualiser.project.history import MOST_STEPS
from visualiser.project.paths import DOCUMENT_NAME
from visualiser.project.revisions import REVISIONS_KEPT


@pytest.fixture
def project(tmp_path):
    return vis.create_project(tmp_path / "job", Document(name="Stair hall"))


def two_pieces(*centres):
    pieces = tuple(PieceEntry(id=i, width_mm=400, height_mm=500) for i in ("a", "b"))
    places = tuple(Placement(p.id, *c) for p, c in zip(pieces, centres, strict=True))
    return {"pieces": pieces, "options": (OptionEntry(id="first", placements=places),)}


def test_a_saved_job_opens_again(project):
    saved = project.save(project.document.changed(units="in", **two_pieces((0, 0), (500, 0))))
    again = vis.open_project(project.folder)
    assert again == saved
    assert again.document.revision == 1
    assert again.arrangement().rect("b").centre_mm == (500, 0)


def test_a_later_writer_is_told_and_nothing_is_written_over(project):
    other = vis.open_project(project.folder)
    saved = project.save(project.document.changed(name="mine"))
    with pytest.raises(ProjectChanged, match="saved elsewhere"):
        other.save(other.document.changed(name="theirs"))
    assert vis.open_project(project.folder) == saved


def test_of_many_writers_at_once_one_wins(project):
    outcomes = []

    def write(name):
        try:
            outcomes.append(project.save(project.document.changed(name=name)).document.name)
        except ProjectChanged:
            outcomes.append(None)

    threads = [threading.Thread(target=write, args=(f"writer {i}",)) for i in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (winner,) = [name for name in outcomes if name]
    assert len(outcomes) == 8
    assert vis.open_project(project.folder).document.name == winner


def test_earlier_states_can_be_put_back(project):
    second = project.save(project.document.changed(name="second"))
    third = second.save(second.document.changed(name="third"))
    assert third.revisions() == (0, 1)
    back = third.restored(1)
    assert (back.document.name, back.document.revision) == ("second", 3)


def test_the_last_states_are_kept_and_all_that_can_be_gone_back_to(project):
    for number in range(MOST_STEPS + 5):
        project = project.save(project.document.changed(name=str(number)))
    assert len(project.revisions()) == MOST_STEPS > REVISIONS_KEPT
    assert project.document.history.back == project.revisions()
    assert project.revisions()[-1] == project.document.revision - 1


def test_a_crash_before_the_rename_costs_nothing(project, monkeypatch):
    before = (project.folder / DOCUMENT_NAME).read_bytes()

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ProjectError, match="no space left") as caught:
        project.save(project.document.changed(name="lost"))
    assert "untouched" in caught.value.hint
    assert (project.folder / DOCUMENT_NAME).read_bytes() == before
    assert not list(project.folder.glob("*.part")) + list(project.folder.glob(".*.part"))


def test_a_folder_deleted_meanwhile_is_told(project):
    for place in sorted(project.folder.rglob("*"), reverse=True):
        place.unlink()
    project.folder.rmdir()
    with pytest.raises(ProjectError, match="could not be saved"):
        project.save(project.document)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_told(project):
    project.folder.chmod(0o500)
    try:
        with pytest.raises(ProjectError, match="could not be saved"):
            project.save(project.document)
    finally:
        project.folder.chmod(0o700)


def test_an_unreadable_job_is_not_written_over(project):
    place = project.folder / DOCUMENT_NAME
    place.write_text("{ half a job")
    with pytest.raises(ProjectError):
        project.save(project.document)
    assert place.read_text() == "{ half a job"


def test_no_job_in_a_folder(tmp_path):
    with pytest.raises(ProjectError, match="There is no job in"):
        vis.open_project(tmp_path)


def test_a_job_is_not_started_on_top_of_another(project):
    with pytest.raises(ProjectError, match="already"):
        vis.create_project(project.folder)


def test_overlapping_pieces_are_named(project):
    saved = project.save(project.document.changed(**two_pieces((0, 0), (399, 0))))
    with pytest.raises(ProjectError, match="Pieces a and b overlap"):
        saved.arrangement()


def test_touching_pieces_do_not_overlap(project):
    saved = project.save(project.document.changed(**two_pieces((0, 0), (400, 0))))
    assert len(saved.arrangement().placements) == 2


def test_an_unknown_option_is_told_with_the_known_ones(project):
    saved = project.save(project.document.changed(**two_pieces((0, 0), (500, 0))))
    with pytest.raises(ProjectError, match="no option second") as caught:
        saved.arrangement("second")
    assert "first" in caught.value.hint


def test_a_missing_artwork_is_named(project):
    piece = PieceEntry(
        id="a", width_mm=400, height_mm=500, artwork=FileEntry(path="artworks/heron.png")
    )
    saved = project.save(project.document.changed(pieces=(piece,)))
    with pytest.raises(ProjectError, match=r"artworks/heron\.png is missing"):
        saved.pieces()


def test_an_artwork_in_use_is_decoded_once(project, tmp_path):
    Image.new("RGB", (40, 50), "teal").save(tmp_path / "a.png")
    entry = project.add_file("artworks", "a.png", (tmp_path / "a.png").read_bytes(), ".png")
    piece = PieceEntry(id="a", width_mm=400, height_mm=500, artwork=entry)
    project = project.save(project.document.changed(pieces=(piece,)))
    first, again = project.pieces(), project.pieces()
    assert first[0].artwork is again[0].artwork
    renamed = project.document.changed(pieces=(piece.model_copy(update={"name": "Teal"}),))
    assert project.save(renamed).pieces()[0].artwork.name == "Teal"


def test_an_exchanged_artwork_is_named(project, tmp_path):
    Image.fromarray(np.zeros((4, 3, 3), np.uint8)).save(tmp_path / "a.png")
    entry = project.add_file("artworks", "a.png", (tmp_path / "a.png").read_bytes(), ".png")
    (project.folder / entry.path).write_bytes(b"something else")
    piece = PieceEntry(id="a", width_mm=400, height_mm=500, artwork=entry)
    saved = project.save(project.document.changed(pieces=(piece,)))
    with pytest.raises(ProjectError, match="is not the picture this job was made with"):
        saved.pieces()


def test_a_link_out_of_the_folder_is_refused(project, tmp_path):
    (tmp_path / "secret.png").write_bytes(b"secret")
    (project.folder / "artworks").mkdir()
    (project.folder / "artworks" / "a.png").symlink_to(tmp_path / "secret.png")
    with pytest.raises(ProjectError, match="leads out"):
        project.read_file("artworks/a.png")


def test_a_typed_wall_is_surveyed_without_a_photo(project):
    with pytest.raises(ProjectError, match="Nothing is known of the wall"):
        project.survey()
    saved = project.save(
        project.document.changed(wall={"width_mm": 3600, "height_mm": 2500, "kind": "brick"})
    )
    assert saved.survey().outline.bounds.width_mm == 3600
