"""Marks let go beside an edge are put on it, shown, and given back to the hand on request."""

import re
import time

import numpy as np
import pytest

from visualiser.app.commands import MoveMark
from visualiser.app.snapping import snap_edit
from visualiser.photo.decoding import load_photo
from visualiser.project.document import Document, MarksEntry, ReferenceEntry, ZoneEntry
from visualiser.project.measuring import measure_plane

GRID_PX = 1.0
"""The room is drawn on a grid of 2 mm, so its sheet lies up to so far from where it should."""
OFF = ((3.0, 2.0), (0.0, 0.0), (0.0, 0.0), (0.0, 0.0))


def job_with_corners(room):
    corners = tuple(tuple(p) for p in room.sheet_corners_px().tolist())
    return Document(marks=MarksEntry(reference=ReferenceEntry(corners_px=corners)))


def moved_mark(shape, points, indices):
    return MoveMark(shape, tuple(map(tuple, points)), tuple(indices))


def moved(points, shifts=OFF):
    return [[x + dx, y + dy] for (x, y), (dx, dy) in zip(points, shifts, strict=True)]


@pytest.fixture(scope="module")
def photo():
    from tests.app.conftest import drawn_room

    return load_photo(drawn_room())


def test_a_corner_of_the_sheet_goes_to_the_edge_and_back_to_the_hand(room, photo):
    before = job_with_corners(room)
    truth = room.sheet_corners_px()
    mark = moved_mark("reference", moved(truth), [0])
    after, snapped = snap_edit(before, mark, photo)
    corners = np.array(after.marks.reference.corners_px)
    assert np.hypot(*(corners[0] - truth[0])) < GRID_PX
    drawn = measure_plane(photo, before.marks).reference_corners_px  # by all four sides at once
    assert np.hypot(*(corners[0] - drawn[0])) < 0.4
    np.testing.assert_array_equal(corners[1:], truth[1:])
    assert not after.marks.reference.as_set

    kept = snapped.with_hand(after).marks
    np.testing.assert_allclose(kept.reference.corners_px[0], moved(truth)[0])
    assert kept.reference.as_set
    # What is kept is what is measured from: no edges are looked for between those corners.
    by_edges, by_hand = (measure_plane(photo, m).reference_corners_px for m in (after.marks, kept))
    assert np.hypot(*(by_edges[0] - drawn[0])) < 0.1
    assert np.hypot(*(by_hand[0] - drawn[0])) > 0.5


def test_the_floor_line_goes_to_the_foot_of_the_wall(room, photo):
    foot = room.to_photo([[800.0, 0.0], [2600.0, 0.0]])
    before = Document(marks=MarksEntry(floor_px=tuple(map(tuple, foot.tolist()))))
    hand = moved(foot, ((0, -3), (0, 3)))
    mark = moved_mark("floor", hand, [0, 1])
    after, snapped = snap_edit(before, mark, photo)
    along = foot[1] - foot[0]
    across = np.array([-along[1], along[0]]) / np.hypot(*along)
    assert np.abs((np.array(after.marks.floor_px) - foot) @ across).max() < 0.5
    assert snapped.with_hand(after).marks.floor_px == tuple(map(tuple, hand))


def test_a_zone_on_bare_wall_stays_where_it_was_let_go(room, photo):
    box = room.to_photo([[900.0, 1400], [1200, 1400], [1200, 1100], [900, 1100]])
    before = Document(marks=MarksEntry(zones=(ZoneEntry(points_px=tuple(map(tuple, box))),)))
    mark = moved_mark("zone-0", moved(box), [0])
    after, snapped = snap_edit(before, mark, photo)
    assert snapped.points == snapped.hand
    np.testing.assert_allclose(after.marks.zones[0].points_px, moved(box))


def until(condition, patience_s=30):
    deadline = time.monotonic() + patience_s
    while not condition():
        assert time.monotonic() < deadline
        time.sleep(0.05)


@pytest.mark.browser
def test_a_corner_let_go_beside_the_sheet_is_put_on_its_edge_on_screen(page, server, room):
    job_id, _ = room.job()
    truth = room.sheet_corners_px()
    start = tuple(map(tuple, truth.tolist()))

    def corners():
        return np.array(server.project(job_id).document.marks.reference.corners_px)

    page.goto(f"{server.url}/?job={job_id}&step=wall")
    page.get_by_text("Good to").wait_for()
    box = page.locator(".handle").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 1, y + 1)
    page.mouse.move(x + 2, y + 1)
    page.mouse.up()
    keep = page.get_by_role("button", name="Keep my place")
    keep.wait_for()
    page.get_by_text(
        re.compile(r"top left corner of .*put on the edge, \d+\.\d px from")
    ).wait_for()
    snapped = corners()
    assert np.hypot(*(snapped[0] - truth[0])) < GRID_PX
    assert page.locator(".handle.on-edge").count() == 1
    keep.click()
    until(lambda: server.project(job_id).document.marks.reference.as_set)
    assert np.hypot(*(corners()[0] - truth[0])) > 1.5
    keep.wait_for(state="hidden")
    page.get_by_role("button", name="Undo").click()  # the move and the keeping are one step
    until(lambda: np.allclose(corners(), start))
    assert not server.project(job_id).document.marks.reference.as_set
