"""Photo: the picture that everything is measured from."""

from __future__ import annotations

import streamlit as st

from visualiser.app.fields import bullets, length_field, tell, tell_findings
from visualiser.app.lenses import lens_at_hand
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.step import View
from visualiser.app.steps.lens import lens_in_use, measure_lens
from visualiser.app.steps.wide_wall import joined_facts, offer_wide_wall
from visualiser.app.uploads import PICTURE_KINDS, decoded, keep_picture, take_upload
from visualiser.errors import VisualiserError
from visualiser.project.wall_entries import MarksEntry
from visualiser.survey.survey import Survey

BEFORE_LEAVING = (
    "The sheet lies flat on the wall, whole in the picture, no corner curling.",
    "It is about as high as the pictures will hang, near the middle of them.",
    "The photo is sharp, and the wall is lit evenly: no flash, no glare on the sheet.",
    "The whole wall is in it, with floor or skirting and a door or corner if there is one.",
    "You have measured the height of the page's lower edge above the floor.",
)


def view(_work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the bare photo."""
    return View(pieces=False)


def show(work: Work, results: Results) -> None:
    """Take in a photo, or the typed size of a wall without one."""
    upload = st.file_uploader(
        "Photo of the wall" if work.document.photo is None else "Take another photo instead",
        PICTURE_KINDS,
        max_upload_size=60,
        help="On a tablet or phone this also offers the camera.",
    )

    def keep(name: str, data: bytes) -> None:
        photo = keep_picture(work, "photos", name, data)
        reference = work.document.marks.reference.model_copy(update={"corners_px": None})
        marks = MarksEntry(reference=reference, lens=lens_at_hand(lambda: decoded(data)))
        work.change(work.document.changed(photo=photo, marks=marks))

    try:
        if take_upload(upload, "photo", keep, "Reading the photo …"):
            st.rerun()
    except VisualiserError as error:
        tell(error)
    offer_wide_wall(work, results)
    _name(work)
    if work.document.photo is None:
        _typed_wall(work)
    else:
        if not joined_facts(work, results):
            _facts(results)
            lens_in_use(work, results)
    if work.document.photo is None:
        st.subheader("Before you leave the site")
        bullets(BEFORE_LEAVING)
    else:
        with st.expander("Before you leave the site"):
            bullets(BEFORE_LEAVING)
    measure_lens(work, results)


def _name(work: Work) -> None:
    name = st.text_input(
        "Name of the job",
        work.document.name,
        max_chars=80,
        key=f"job-name-{work.generation}",
    ).strip()
    if name == work.document.name:
        return
    try:
        work.change(work.document.changed(name=name))
    except VisualiserError as error:
        tell(error)
    else:
        st.rerun()


def _facts(results: Results) -> None:
    photo = results.photo()
    megapixels = photo.width_px * photo.height_px / 1e6
    lens = (
        "its file tells the focal length"
        if photo.focal_px is not None
        else "its file says nothing of the lens; the room's lines will have to"
    )
    st.caption(
        f"{photo.width_px} × {photo.height_px} pixels ({megapixels:.1f} megapixels); {lens}."
    )
    tell_findings(photo.findings)


def _typed_wall(work: Work) -> None:
    st.subheader("No photo? Type the wall's size")
    wall = work.document.wall
    width = length_field(work, "Width of the wall", wall.width_mm, "wall-width", least_mm=100)
    height = length_field(work, "Height of the wall", wall.height_mm, "wall-height", least_mm=100)
    if (width, height) != (wall.width_mm, wall.height_mm):
        changed = wall.model_copy(update={"width_mm": width, "height_mm": height})
        work.change(work.document.changed(wall=changed))
        st.rerun()
