"""The wall beside every step, put together from the job."""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app import scene, wall_canvas
from visualiser.app.dispatch import snapped_mark
from visualiser.app.fields import tell, unit_of
from visualiser.app.following import (
    bare_wall_ready,
    draw_mockup,
    is_awaited,
    mockup_at_hand,
    survey_if_known,
)
from visualiser.app.media import picture_address
from visualiser.app.option_pictures import drawn_wall
from visualiser.app.results import Results
from visualiser.app.session import EDIT_TROUBLE
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import Picture, Step
from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import VisualiserError
from visualiser.inventory.piece import FINISHES
from visualiser.survey.survey import Survey


def show_wall(work: Work, results: Results, step: Step) -> None:
    """Mount the wall view with what the step wants to see."""
    if trouble := EDIT_TROUBLE.take():
        tell(trouble)
    document = work.document
    try:
        survey = survey_if_known(results) if results.wall_known else None
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
        "job": work.job_id,
        "step": step.key,
        "revision": work.project.document.revision,
        "answered": work.all_answered,
        "option": option_on_view(work),
        "unit": unit_of(work),
        "shapes": view.shapes,
        "contours": view.contours,
        "compare": view.compare,
        "pieces": [],
        "kept": sorted(view.kept),
        "still": not view.pieces_move,
        "bar": {"finishes": list(FINISHES)},
        "proposals": [_proposal(one, results) for one in view.proposals],
        "awaited": None,
        "snapped": snapped.shown() if (snapped := snapped_mark(work)) else None,
    }
    if view.picture is None and is_awaited(results):
        data["awaited"] = "Measuring the wall …"
    if view.pieces and data["mapping"] is not None and document.options:
        _add_pieces(data, work, results, mockup=view.mockup)
    wall_canvas.mount(data)


def _proposal(arrangement: Arrangement, results: Results) -> dict[str, Any]:
    """One proposal as the strip below the wall shows it."""
    name = arrangement.name or arrangement.family
    return {
        "name": name[:1].upper() + name[1:],
        "family": arrangement.family,
        "words": f"{arrangement.score:.0f} of 100",
        "items": scene.piece_items(arrangement, _faces(arrangement, results)),
    }


def _faces(arrangement: Arrangement, results: Results) -> dict[str, str]:
    """Addresses of the pictures that pieces are dragged about by."""
    return {
        piece_id: _address(picture, f"face-{piece_id}")
        for piece_id, picture in results.faces(arrangement).items()
    }


def _other_picture(picture: Picture) -> dict[str, Any]:
    return {
        "base": _address(picture.jpeg, "base"),
        "width": picture.width_px,
        "height": picture.height_px,
        "mapping": None,
    }


def _address(picture: bytes, place: str, mimetype: str = "image/jpeg") -> str:
    return picture_address(picture, mimetype, place, inside=wall_canvas.pictures_inside())


def _photographed(
    work: Work, results: Results, survey: Survey | None, *, cleared: bool
) -> dict[str, Any]:
    photo = results.photo()
    ready = cleared and bare_wall_ready(work, results)
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
    drawing = results.kept(f"drawn-wall-{size}", lambda: drawn_wall(size))
    return {
        "base": _address(drawing, "base", "image/png"),
        "width": size[0],
        "height": size[1],
        "mapping": scene.straight_mapping(survey),
        "guides": scene.guide_data(survey, results.document.guidelines),
        "extent": scene.extent(survey),
    }


def _add_pieces(data: dict[str, Any], work: Work, results: Results, *, mockup: bool) -> None:
    option_id = option_on_view(work)
    try:
        arrangement = results.arrangement(option_id)
    except VisualiserError as error:
        tell(error)
        return
    data["pieces"] = scene.piece_items(arrangement, _faces(arrangement, results))
    if mockup and work.document.photo is not None:
        if bare_wall_ready(work, results):
            draw_mockup(work, results)  # quick by now: one message then brings place and picture
        drawn = mockup_at_hand(results, option_id)
        if drawn:
            data["mock"] = _address(drawn, "mock")
        elif drawn is None:
            data["awaited"] = "Drawing the finished picture …"
