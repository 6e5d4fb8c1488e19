"""Mock-ups of a wall that was joined from several photos, drawn in these photos themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import ProjectError
from visualiser.photo.photo import Photo
from visualiser.project.store import Project
from visualiser.rendering.mockup import Mockup, MockupOptions
from visualiser.survey.survey import Survey

BEYOND = 0.25
"""How far beyond a photo's border, as a share of its size, pieces may reach that are still drawn in
it."""


def mockup_in_photo(
    job: Project,
    number: int,
    option_id: str | None = None,
    options: MockupOptions | None = None,
) -> Mockup:
    """Draw an option in one of the photos that the job's wall was joined from.

    Parameters
    ----------
    job
        A job whose wall was joined.
    number
        Which photo, from 1.
    option_id
        Which option; the chosen one when None.
    options
        How to draw; as the job says when None. What was outlined in the joined picture is of that
        picture alone and not drawn here.

    Raises
    ------
    ProjectError
        If there is no such photo, or nothing of the option is seen in it.
    """
    from visualiser.rendering.compositing import prepare_wall, render_mockup
    from visualiser.survey.light import estimate_light

    photo, plane = job.view(number)
    whole, survey = job.photo(), job.survey()
    seen = replace(survey, plane=plane)
    arrangement = pieces_in_view(photo, seen, job.arrangement(option_id))
    if not arrangement.placements:
        raise ProjectError(
            f"Nothing of this option is seen in photo {number}.",
            hint="Choose another photo, or the picture of the whole wall.",
        )
    options = replace(
        options or job.mockup_options(option_id), paint_out_px=(), foreground=(), wall_taps=()
    )
    # One wall: what the sheet tells of its paint holds in photos that do not show the sheet too.
    paint = estimate_light(whole, survey).wall_reflectance
    wall = prepare_wall(photo, seen, options, wall_reflectance=paint)
    return render_mockup(photo, seen, arrangement, options, wall=wall)


def pieces_in_view(photo: Photo, survey: Survey, arrangement: Arrangement) -> Arrangement:
    """Leave out the pieces that a photo does not show any of, as far as it can be drawn."""
    size = np.array([photo.width_px, photo.height_px], float)
    plane = survey.plane
    assert plane is not None
    kept = []
    for piece_id, rect in arrangement.rects().items():
        corners = rect.corners()
        xyz = np.c_[corners + survey.datum_mm, np.zeros(4)]
        ahead = (xyz @ plane.rotation.T + plane.translation_mm)[:, 2]
        if ahead.min() <= 0:
            continue
        px = survey.to_photo(corners)
        shown = (px.max(axis=0) > 0).all() and (px.min(axis=0) < size).all()
        near = (px > -BEYOND * size).all() and (px < (1 + BEYOND) * size).all()
        if shown and near:
            kept.append(piece_id)
    placements = tuple(p for p in arrangement.placements if p.piece_id in kept)
    return replace(arrangement, placements=placements)
