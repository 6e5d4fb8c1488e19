"""Mock-up: the wall as it would look, with finishes and wall colours to try."""

from __future__ import annotations

import streamlit as st

from visualiser.app import scene, under_way
from visualiser.app.downloads import file_stem, offer
from visualiser.app.fields import nothing_yet, plain, tell, tell_findings, unit_of
from visualiser.app.look import (
    choose_finish,
    choose_fits,
    choose_light,
    choose_wall_colour,
    outline_things,
)
from visualiser.app.options import option_picker
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.session import Kept, is_on
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import Picture, View
from visualiser.app.wall_parts import choose_wall_parts, part_shapes
from visualiser.errors import VisualiserError
from visualiser.project.piece_entries import OptionEntry
from visualiser.survey.survey import Survey

OUTLINES = "show-outlines"
_CLOSE_UP = "close-up"
_CLOSE_UP_MADE: Kept[tuple[str, tuple[bytes, int, int]]] = Kept("close-up-made")


def view(work: Work, results: Results, _survey: Survey | None) -> View:
    """Show the finished picture, with the bare wall to slide over it; or the group close up."""
    if is_on(_CLOSE_UP) and (made := _close_up_made(work, results)):
        return View(picture=Picture(*made))
    marks = work.document.marks
    outlines = scene.drawing_shapes(marks) if is_on(OUTLINES) else []
    painted = work.document.options and work.document.option(option_on_view(work)).wall_colour
    parts = part_shapes(work, results) if painted else []
    return View(
        shapes=[*outlines, *parts],
        mockup=True,
        compare=True,
        pieces_move=not outlines,
    )


def show(work: Work, results: Results) -> None:
    """Try finishes and colours; take the picture away at full size."""
    if not work.document.options:
        nothing_yet("There is no arrangement yet.", "arrange", "Arrange")
        return
    option_picker(work)
    option = work.document.option(option_on_view(work))
    choose_finish(work, option)
    if work.document.photo is not None:
        choose_wall_colour(work, option)
        if option.wall_colour is not None:
            choose_wall_parts(work, results)
        choose_light(work, option)
        if st.toggle("Things in front of the wall, and things to paint out", key=OUTLINES):
            outline_things(work, results)
    _take_away(work, results, option)


def _take_away(work: Work, results: Results, option: OptionEntry) -> None:
    if work.document.photo is None:
        st.caption("Without a photo the wall is drawn to scale; the approval sheet shows it.")
        return
    if option.placements and st.toggle(
        "Show the group close up", key=_CLOSE_UP, help="At the photo's full size, to zoom into."
    ):
        _draw_close_up(work, results)
    if option.placements and st.toggle("Show it straight on, measured"):
        st.image(
            results.straight_on(option.id),
            width="stretch",
            alt="The group seen square on, with its measures",
        )
    joined = work.document.marks.joined
    if joined and joined.views and option.placements and st.toggle("Show it in each photo"):
        _in_photos(results, option, len(joined.views))
    offer(
        "picture",
        results.option_key(option.id),
        lambda: results.full_mockup(option.id),
        label=f"the picture of option {option.id.upper()}",
        file_name=f"{file_stem(work.document.name)}-{option.id}.jpg",
        mime="image/jpeg",
        help_text="At the photo's full size.",
    )
    findings = results.mockup_findings(option.id)
    tell_findings(findings, unit_of(work))
    ids = [i for f in findings if f.code == "print-aspect" for i in f.piece_ids]
    ids += [p.id for p in work.document.pieces if p.artwork_fit != "cut"]
    if ids:
        with st.expander("How pictures fit their mats"):
            choose_fits(work, results, ids)


def _in_photos(results: Results, option: OptionEntry, count: int) -> None:
    """Show the option in the photos that the wall was joined from."""
    for number in range(1, count + 1):
        try:
            st.image(
                results.in_photo(number, option.id),
                caption=f"Photo {number}",
                width="stretch",
                alt=f"The group in photo {number}, as it was taken",
            )
        except VisualiserError as error:
            st.caption(plain(error.message))


def _close_up_made(work: Work, results: Results) -> tuple[bytes, int, int] | None:
    """Find the close-up of what is on view, if it has been drawn."""
    kept = _CLOSE_UP_MADE.get()
    if kept is None or kept[0] != results.option_key(option_on_view(work)):
        return None
    return kept[1]


def _draw_close_up(work: Work, results: Results) -> None:
    """Draw the close-up beside the page, once for all that it depends on."""
    try:
        if under_way.take_outcome(_CLOSE_UP, _CLOSE_UP_MADE.put):
            st.rerun()  # the wall view is above and has been shown already
        if _close_up_made(work, results):
            return
        asked = results.option_key(option_on_view(work))
        if not under_way.is_under_way(_CLOSE_UP, asked):
            if under_way.has_ended(_CLOSE_UP, asked) and not pressed("Draw it after all"):
                return
            under_way.begin(_CLOSE_UP, asked, results.close_up(option_on_view(work)))
        under_way.watch(_CLOSE_UP, "Drawing the group close up")
    except VisualiserError as error:
        tell(error)
