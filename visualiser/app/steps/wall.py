"""Wall: what the photo measures, how far to trust it, and what the person adds to it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NoReturn

import numpy as np
import streamlit as st

from visualiser.app import scene
from visualiser.app.accuracy import accuracy_contours, half_width_around
from visualiser.app.commands import Points
from visualiser.app.corners import Placing, begin_placing, give_up_placing, placing
from visualiser.app.fields import (
    half_width,
    length,
    length_field,
    lengths_in,
    nothing_yet,
    plain,
    tell,
    tell_findings,
    unit_of,
)
from visualiser.app.marking import change_marks
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.session import Kept, is_on
from visualiser.app.state import Work
from visualiser.app.step import View
from visualiser.app.steps.floor import say_floor
from visualiser.app.steps.likely import furniture_is_offered, likely_obstacles, likely_shapes
from visualiser.app.steps.wall_marks import (
    FURNITURE,
    add_furniture,
    box_in_photo,
    drawn_lines,
    mark_by_hand,
    taped_lengths,
)
from visualiser.errors import VisualiserError
from visualiser.geometry import PointsPx
from visualiser.project.measuring import references_of, taken_as
from visualiser.project.wall_entries import ReferenceEntry
from visualiser.rectification.finder.questions import Question, questions
from visualiser.rectification.kinds import TARGETS, make_of
from visualiser.statistics import COVERAGE_95
from visualiser.survey.survey import Survey

KINDS = {
    "a4": "A4 sheet",
    "letter": "Letter sheet",
    "a3": "A3 sheet",
    "tabloid": "Tabloid sheet",
    "target": "printed target, A4",
    "target-letter": "printed target, Letter",
    "marker": "printed square marker",
    "card": "bank card",
    "custom": "something else of known size",
}
SHEETS = tuple(key for key in KINDS if make_of(key) in ("sheet", "target"))
"""Those of paper whose name says their size."""
_ACCURACY = "show-accuracy"
_ASKED_ABOUT: Kept[tuple[str, int]] = Kept("sheet-asked-about")
"""For which photo and marks a doubtful sheet was put up last, and which of them."""


def view(work: Work, results: Results, survey: Survey | None) -> View:
    """Show the reference, the marks and, if asked, the accuracy map."""
    marks = work.document.marks
    if work.document.photo is None:
        return View(shapes=scene.survey_shapes(survey, marks) if survey else [])
    shapes = scene.mark_shapes(marks, editable=True)
    corners = marks.reference.corners_px
    contours: list[dict[str, Any]] = []
    if survey is not None and (plane := survey.plane) is not None:
        label = KINDS.get(marks.reference.kind, marks.reference.kind)
        found = plane.reference_corners_px
        shapes.insert(0, scene.reference_shape(found, label, editable=corners is not None))
        if is_on(_ACCURACY):
            photo, unit = results.photo(), work.document.units
            contours = results.kept(
                f"accuracy|{results.survey_key}|{unit}",
                lambda: accuracy_contours(plane, photo.width_px, photo.height_px, unit),
            )
    elif corners is not None:
        given = np.array(corners)
        shapes.insert(0, scene.reference_shape(given, "not measured yet", editable=True))
    elif (now := placing(work)) is not None:
        label = "Is this your sheet?" if not now.placed else "sheet, to be placed"
        shapes.insert(0, scene.reference_shape(np.array(now.points), label, editable=True))
    if survey is not None and survey.floor_known and not marks.floor_px:
        line = scene.floor_shape(survey, results.photo().width_px)
        shapes += [] if line is None else [line]
    shapes += likely_shapes(results, survey)
    return View(shapes=shapes, contours=contours, pieces=False)


def show(work: Work, results: Results) -> None:
    """Say what was measured; let the person correct and add to it."""
    if not results.wall_known:
        nothing_yet("Nothing is known of the wall yet.", "photo", "Photo")
        return
    if work.document.photo is None:
        _typed(work, results)
        return
    joined = work.document.marks.joined is not None  # measured by then, in its photos
    if not joined:
        _reference(work)
    is_asked = False
    try:
        _measured(work, results)
        measured = True
    except VisualiserError as error:
        measured = False
        stopped = results.withheld is not None  # to look for a guess would be to measure
        is_asked = not stopped and _offer_guess(work, results, error)
        if not is_asked:
            tell(error)
    if not joined:
        _corners(work, results)
    if is_asked:
        return  # one question at a time
    say_floor(work, results)
    if measured:
        _is_this_right(work, results)
    with st.expander("Mark something else, or the usable wall"):
        mark_by_hand(work, results)
    if joined:
        return
    with st.expander("Lines and lengths that sharpen the measurement"):
        drawn_lines(work, results)
        taped_lengths(work, results)


def _typed(work: Work, results: Results) -> None:
    bounds = results.survey().outline.bounds
    st.markdown(
        f"The wall is {length(work, bounds.width_mm)} wide and {length(work, bounds.height_mm)} "
        "high, as typed in the step Photo."
    )
    with st.expander("Keep clear and furniture", expanded=True):
        mark_by_hand(work, results)


def _reference(work: Work) -> None:
    entry = work.document.marks.reference
    kinds = list(KINDS) if entry.kind in KINDS else [entry.kind, *KINDS]
    kind = st.selectbox(
        "What of known size is on the wall",
        kinds,
        index=kinds.index(entry.kind),
        format_func=lambda key: KINDS.get(key, key),
        key=f"reference-kind-{work.generation}",
    )
    width, height = entry.width_mm, entry.height_mm
    if kind == "custom":
        left, right = st.columns(2)
        with left:
            width = length_field(work, "Its width", width or 210.0, "reference-width", least_mm=20)
        with right:
            height = length_field(
                work, "Its height", height or 297.0, "reference-height", least_mm=20
            )
        if width is None or height is None:
            return
    elif kind == "marker":
        width = length_field(
            work, "Side of its black square", width or 100.0, "reference-width", least_mm=20
        )
        height = None
        if width is None:
            return
    else:
        width = height = None
    bar = None
    if kind in TARGETS:
        bar = length_field(
            work, "What its check bar measures", entry.bar_mm or 100.0, "reference-bar", least_mm=80
        )
    if bar is not None and (bar > 120 or abs(bar - 100.0) < 0.01):
        bar = None
    told = (entry.kind, entry.width_mm, entry.height_mm, entry.bar_mm)
    if (kind, width, height, bar) != told:
        changed = ReferenceEntry(
            kind=kind, width_mm=width, height_mm=height, corners_px=entry.corners_px, bar_mm=bar
        )
        change_marks(work, reference=changed)


def _measured(work: Work, results: Results) -> None:
    plane = results.plane()
    around = [half_width_around(plane, radius) for radius in (0.0, *_away_mm(work))]
    near, one, two = (half_width(work, value) for value in around)
    st.markdown(
        f"**Good to {one.removeprefix('± ')}** within {_distance(work, _away_mm(work)[0])} of the "
        "sheet."
    )
    with st.expander("How sure, and why"):
        _all_of_it(work, results, (near, one, two))


def _all_of_it(work: Work, results: Results, half_widths: tuple[str, str, str]) -> None:
    """Say all that is known of the measurement, and what limits it."""
    plane = results.plane()
    near, one, two = half_widths
    columns = st.columns(3)
    for column, label, value in zip(
        columns,
        ("At the sheet", *(f"{_distance(work, mm)} away" for mm in _away_mm(work))),
        (near, one, two),
        strict=True,
    ):
        column.metric(label, value, help="95 % of measurements lie within this.")
    tilt, level = plane.reference_tilt_deg, COVERAGE_95 * plane.level_sigma_deg
    st.markdown(f"{_taped_at(tilt)}; level is known to ±\u00a0{level:.2f}°.")
    survey = results.survey()
    others = (f for f in survey.findings if f not in plane.findings)
    tell_findings((*plane.findings, *others), unit_of(work))
    st.toggle("Show how accurate each part of the wall is", key=_ACCURACY)


def _offer_guess(work: Work, results: Results, doubt: VisualiserError) -> bool:
    """Outline the best guess where no sheet convinced; one tap takes it.

    Returns
    -------
    Whether there is one to be asked about.
    """
    if work.document.marks.reference.corners_px is not None:
        return False
    asked = _questions(work, results)
    key, number = _ASKED_ABOUT.get() or ("", 0)
    now = placing(work)
    if now is None:
        if key == results.plane_key:
            return False  # put up before, and given up
        _ask_about(work, results, asked, 0)
    if now.placed or not asked:
        return False
    st.subheader("Is this your sheet?")
    st.caption(f"It is outlined in the photo. {plain(lengths_in(doubt.message, unit_of(work)))}")
    kinds = asked[min(number, len(asked) - 1)].kinds
    for kind in kinds:
        words = f"Yes, {KINDS.get(kind, kind)}" if len(kinds) > 1 else "Yes, measure from it"
        likeliest = kind == kinds[0]
        if pressed(
            words,
            type="primary" if likeliest else "secondary",
            key=f"yes-{kind}-{number}",
            width="stretch",
        ):
            _set_corners(work, now.points, kind)
    if number + 1 < len(asked) and pressed(
        "No, look elsewhere", key=f"no-{number}", width="stretch"
    ):
        _ask_about(work, results, asked, number + 1)
    return True


def _ask_about(work: Work, results: Results, asked: tuple[Question, ...], number: int) -> NoReturn:
    """Put up a doubtful find to be taken or dragged; a box to be dragged where there is none."""
    _ASKED_ABOUT.put((results.plane_key, number))
    begin_placing(work, _guessed_corners(results, asked[number:]))
    st.rerun()  # the wall view is above and has been shown already


def _is_this_right(work: Work, results: Results) -> None:
    """Show what was found before the wall and on it, each to be taken or dismissed."""
    st.subheader("Is this right?")
    marks = work.document.marks
    said = [*(z.name or z.kind for z in marks.zones), *(f.name or f.kind for f in marks.furniture)]
    if said:
        st.markdown(f":material/check: Marked: {plain(', '.join(said))}.")
    if added := likely_obstacles(work, results):
        change_marks(work, **added)
    if marks.furniture or furniture_is_offered(results):  # the outline asks the same
        return
    if marks.nothing_before_wall:
        st.markdown(":material/check: Nothing stands before the wall.")
        return
    st.markdown("What stands before the wall?")
    kinds = st.pills(
        "What stands before the wall?",
        [kind for kind in FURNITURE if kind != "other"],
        key=f"stands-{work.generation}",
        label_visibility="collapsed",
        wrap=True,
    )
    if kinds:
        add_furniture(work, results, kinds)
    if pressed("Nothing stands there", width="stretch"):
        change_marks(work, nothing_before_wall=True)


def _away_mm(work: Work) -> tuple[float, float]:
    """Choose how far from the sheet the accuracy is stated: round numbers in the person's unit."""
    return (40 * 25.4, 80 * 25.4) if unit_of(work) in ("in", "ft") else (1000.0, 2000.0)


def _distance(work: Work, length_mm: float) -> str:
    return length(work, length_mm) if unit_of(work) in ("in", "ft") else f"{length_mm / 1000:g} m"


def _taped_at(tilt_deg: float) -> str:
    """Say how far off level the sheet is, as far as a tenth of a degree shows."""
    tenths = round(10 * abs(tilt_deg))
    if not tenths:
        return "The sheet is taped level"
    way = "counter-clockwise" if tilt_deg > 0 else "clockwise"
    return f"The sheet is taped {tenths / 10:.1f}° {way} off level"


def _corners(work: Work, results: Results) -> None:
    entry = work.document.marks.reference
    by_hand = st.toggle(
        "Set the four corners by hand",
        entry.corners_px is not None or placing(work) is not None,
        key=f"by-hand-{work.generation}",
        help="Drag each corner in the photo: let go near an edge, it is put on it; hold Alt to "
        "leave it where you let go. Or Tab to it and use the arrow keys.",
    )
    now = placing(work)
    if now is not None and by_hand:
        _while_placing(work, now)
        return
    if by_hand == (entry.corners_px is not None):
        if now is not None:
            give_up_placing()
            st.rerun()
        return
    corners = None
    if by_hand:
        try:
            corners = _points(results.plane().reference_corners_px)
        except VisualiserError:  # nothing to measure from: the corners are placed first
            begin_placing(work, _guessed_corners(results, _questions(work, results)))
            st.rerun()
    _set_corners(work, corners)


def _while_placing(work: Work, now: Placing) -> None:
    left = len(now.points) - len(now.placed)
    st.caption(
        "Drag each corner onto the sheet's own, or Tab to it and use the arrow keys. The wall is "
        f"measured once all four are placed; {left} to go."
    )
    if now.placed and pressed("They are right as they lie", width="stretch"):
        _set_corners(work, now.points)


def _set_corners(work: Work, corners: Points | None, kind: str | None = None) -> None:
    entry = work.document.marks.reference
    entry = entry if kind is None else taken_as(entry, kind)
    placed = {"corners_px": corners, "as_set": False}
    change_marks(work, reference=entry.model_copy(update=placed))


def _questions(work: Work, results: Results) -> tuple[Question, ...]:
    """Doubtful finds in the photo, likeliest first."""
    photo, entry = results.photo(), work.document.marks.reference
    try:
        return results.kept(
            f"questions|{results.plane_key}", lambda: questions(references_of(photo, entry))
        )
    except VisualiserError:
        return ()


def _guessed_corners(results: Results, asked: Sequence[Question]) -> Points:
    """Corners of the best guess, though it did not convince; a box where there is none."""
    if asked:
        return _points(asked[0].corners_px)
    return _points(np.array(box_in_photo(results, 0.12, 0.17)))


def _points(points_px: PointsPx) -> Points:
    return tuple((float(x), float(y)) for x, y in points_px)
