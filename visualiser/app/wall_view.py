"""The wall beside every step: put together from the job, and listening to what is done in it."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import streamlit as st

from visualiser.app import scene, wall_canvas
from visualiser.app.edits import apply_edit, checked_points
from visualiser.app.fields import tell, tell_above, unit_of
from visualiser.app.letting_go import Snapped, let_go
from visualiser.app.media import picture_address
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.errors import VisualiserError
from visualiser.survey.survey import Survey

if TYPE_CHECKING:
    from visualiser.app.steps import Step

SQUARED_SHAPE = "squared-corners"
"""Shape, and place in the session, of corners that belong to no job yet: an artwork's."""
_SNAPPED = "snapped-mark"
"""The mark that was put on an edge last."""
_MEASURED = "wall-measured"
"""What the wall has been measured for, and the error if it could not be."""
_CLEARED = "wall-cleared"
"""What the wall behind the pieces has been made ready for; that takes a moment."""
_MOCKUP = "mockup-on-view"
"""What the mock-up has been drawn for, and its JPEG; empty if it could not be drawn."""


@dataclass(frozen=True, slots=True)
class Picture:
    """Another picture to show in the wall's place: a JPEG, and the size its points are in."""

    jpeg: bytes
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class View:
    """What a step wants to see of the wall besides the photo."""

    shapes: list[scene.Shape] = field(default_factory=list)
    contours: list[dict[str, Any]] = field(default_factory=list)
    pieces: bool = True
    mockup: bool = False
    compare: bool = False
    pieces_move: bool = True
    """Whether pieces take the pointer; not while outlines are drawn over them."""
    picture: Picture | None = None
    kept: frozenset[str] = frozenset()
    """Pieces that stay where they are."""


def show_wall(work: Work, results: Results, step: Step) -> None:
    """Mount the wall view with what the step wants to see."""
    if trouble := st.session_state.pop("edit-trouble", None):
        tell(trouble)
    document = work.document
    try:
        survey = _survey_if_known(results) if results.wall_known else None
        view = step.view(work, results, survey)
    except VisualiserError as error:
        tell(error)
        return
    if view.picture is None and not results.wall_known:
        st.info(
            "The wall is shown here once there is a photo of it, or its size is typed.",
            icon=":material/image:",
        )
        return
    try:
        if view.picture is not None:
            data = _other_picture(view.picture)
        elif document.photo is None:
            data = _typed(results)
        else:
            data = _photographed(work, results, survey, cleared=step.mockup)
    except VisualiserError as error:
        tell(error)
        return
    data |= {
        "title": f"Wall of {document.name or 'this job'}",
        "epoch": work.epoch,
        "seen": work.seen,
        "unit": unit_of(work),
        "shapes": view.shapes,
        "contours": view.contours,
        "compare": view.compare,
        "pieces": [],
        "kept": sorted(view.kept),
        "still": not view.pieces_move,
        "awaited": None,
        "snapped": snapped.shown() if (snapped := _snapped(work)) else None,
    }
    if view.picture is None and document.photo is not None and not _measured(results):
        data["awaited"] = "Measuring the wall …"
    if view.pieces and data["mapping"] is not None and document.options:
        _add_pieces(data, work, results, mockup=view.mockup)
    wall_canvas.mount(data, take_edit)


def _other_picture(picture: Picture) -> dict[str, Any]:
    return {
        "base": _address(picture.jpeg, "base"),
        "width": picture.width_px,
        "height": picture.height_px,
        "mapping": None,
    }


def _address(picture: bytes, place: str, mimetype: str = "image/jpeg") -> str:
    return picture_address(picture, mimetype, place, inside=wall_canvas.pictures_inside())


def _measured(results: Results) -> bool:
    """Tell whether the photo has been measured, well or not, as the job is now."""
    known = st.session_state.get(_MEASURED)
    return known is not None and known[0] == results.survey_key


def _survey_if_known(results: Results) -> Survey | None:
    """Take the survey if it is at hand: the photo is shown first, and measured after that."""
    if results.document.photo is not None and not _measured(results):
        return None
    try:
        return results.survey()
    except VisualiserError:
        return None


def measure_after_showing(results: Results) -> bool:
    """Measure a wall that has only been shown so far.

    Returns
    -------
    Whether there is now more to show.
    """
    if results.document.photo is None or _measured(results):
        return False
    trouble: VisualiserError | None = None
    try:
        results.survey()
    except VisualiserError as error:
        trouble = error
    st.session_state[_MEASURED] = (results.survey_key, trouble)
    return True


def tell_unmeasured(results: Results) -> None:
    """Say why pieces cannot be shown on the wall, where that is so."""
    known = st.session_state.get(_MEASURED)
    trouble = known[1] if known is not None and _measured(results) else None
    tell_above(trouble)
    if trouble is not None:
        st.caption("The step Wall is where this is put right.")


def _photographed(
    work: Work, results: Results, survey: Survey | None, *, cleared: bool
) -> dict[str, Any]:
    photo = results.photo()
    ready = cleared and _bare_wall_ready(work, results)
    base = results.shown_bare_wall(option_on_view(work)) if ready else results.shown_photo()
    data: dict[str, Any] = {
        "base": _address(base, "base"),
        "width": photo.width_px,
        "height": photo.height_px,
        "mapping": None,
    }
    if survey is not None:
        data["mapping"] = scene.mapping_data(survey)
        data["guides"] = scene.guide_data(survey, results.document.guidelines)
        data["extent"] = scene.extent(survey)
    return data


def _typed(results: Results) -> dict[str, Any]:
    survey = results.survey()
    size = scene.straight_size(survey)
    drawing = results.kept(f"drawn-wall-{size}", lambda: _drawn_wall(size))
    return {
        "base": _address(drawing, "base", "image/png"),
        "width": size[0],
        "height": size[1],
        "mapping": scene.straight_mapping(survey),
        "guides": scene.guide_data(survey, results.document.guidelines),
        "extent": scene.extent(survey),
    }


def _drawn_wall(size: tuple[int, int]) -> bytes:
    from PIL import Image, ImageDraw

    width, height = size
    margin = round(scene.MARGIN_PX)
    image = Image.new("RGB", size, "#d9d5cc")
    draw = ImageDraw.Draw(image)
    draw.rectangle((margin, margin, width - margin, height - margin), fill="#efece4")
    draw.rectangle((0, height - margin, width, height), fill="#b7a78d")
    buffer = io.BytesIO()
    image.save(buffer, "PNG")
    return buffer.getvalue()


def _add_pieces(data: dict[str, Any], work: Work, results: Results, *, mockup: bool) -> None:
    option_id = option_on_view(work)
    try:
        arrangement = results.arrangement(option_id)
    except VisualiserError as error:
        tell(error)
        return
    faces = {
        piece_id: _address(picture, f"face-{piece_id}")
        for piece_id, picture in results.faces(arrangement).items()
    }
    data["pieces"] = scene.piece_items(arrangement, faces)
    if mockup and work.document.photo is not None:
        if _bare_wall_ready(work, results):
            _draw_mockup(work, results)  # quick by now: one message then brings place and picture
        kept = st.session_state.get(_MOCKUP)
        if kept and kept[0] == results.option_key(option_id) and kept[1]:
            data["mock"] = _address(kept[1], "mock")
        elif not kept or kept[0] != results.option_key(option_id):
            data["awaited"] = "Drawing the finished picture …"


def _bare_wall_ready(work: Work, results: Results) -> bool:
    if not work.document.options:
        return False
    known: str | None = st.session_state.get(_CLEARED)
    return known == results.bare_wall_key(option_on_view(work))


def _draw_mockup(work: Work, results: Results) -> bool:
    """Draw the mock-up on view, unless it has been drawn.

    Returns
    -------
    Whether there is a new picture to show.
    """
    option_id = option_on_view(work)
    key = results.option_key(option_id)
    if (kept := st.session_state.get(_MOCKUP)) and kept[0] == key:
        return False
    try:
        picture = results.preview(option_id)
        st.session_state[_CLEARED] = results.bare_wall_key(option_id)
    except VisualiserError:
        picture = b""  # the step says why
    st.session_state[_MOCKUP] = (key, picture)
    return bool(picture)


def option_on_view(work: Work) -> str | None:
    """Id of the option that is shown: the chosen one, or the first."""
    if work.document.chosen is not None:
        return work.document.chosen
    return work.document.options[0].id if work.document.options else None


def follow_with_mockup(work: Work, results: Results, step: Step) -> bool:
    """Draw the true picture of what is on view, once it has changed.

    Returns
    -------
    Whether there is a new picture to show.
    """
    document = work.document
    if document.photo is None or not document.options or not step.mockup:
        return False
    if _survey_if_known(results) is None:
        return False
    return _draw_mockup(work, results)


def _snapped(work: Work) -> Snapped | None:
    """Recall the mark put on an edge by the last change, until the marks change again."""
    snapped: Snapped | None = st.session_state.get(_SNAPPED)
    return snapped if snapped is not None and snapped.marks == work.document.marks else None


def _keep_hands_place(work: Work) -> None:
    if (snapped := _snapped(work)) is not None:
        work.amend(snapped.with_hand(work.document))


def take_edit() -> None:
    """Carry out what was done in the wall view last, unless that has been done."""
    work: Work | None = st.session_state.get("work")
    edit = wall_canvas.last_edit()
    if work is None or not edit or edit.get("seq") == work.seen:
        return
    if edit.get("epoch") != work.epoch or work.overtaken:
        work.epoch += 1  # made on top of something older: show the page's own state again
        return
    sequence = edit.get("seq")
    work.seen = sequence if isinstance(sequence, int) else 0
    try:
        if edit.get("id") == SQUARED_SHAPE:
            st.session_state[SQUARED_SHAPE] = checked_points(edit.get("points"))
            return
        if edit.get("kind") == "keep":
            _keep_hands_place(work)
            return
        if edit.get("kind") == "shape" and not edit.get("free") and work.document.photo:
            document, snapped = let_go(work.document, edit, Results(work.project).photo())
            if snapped.points != snapped.hand:
                st.session_state[_SNAPPED] = snapped
        else:
            document = apply_edit(work.document, edit, option_on_view(work))
    except VisualiserError as error:
        st.session_state["edit-trouble"] = error
        work.epoch += 1
        return
    work.change(document, from_view=edit.get("kind") == "placements")
