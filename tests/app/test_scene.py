"""What the wall view is handed: each thing with one outline, in whatever step it is seen."""

import numpy as np

from visualiser.app import scene
from visualiser.app.results import Results
from visualiser.project.measuring import survey_typed
from visualiser.project.wall_entries import FurnitureEntry, ZoneEntry

SOFA_PX = ((200.0, 420.0), (230.0, 400.0), (520.0, 400.0), (520.0, 540.0), (200.0, 540.0))
SWITCH_PX = ((600.0, 300.0), (612.0, 300.0), (612.0, 312.0), (600.0, 312.0))


def outlines(shapes):
    return {shape["label"]: np.array(shape["points"]) for shape in shapes}


def test_what_is_marked_has_one_outline_in_every_step(jobs_folder, room):
    _, project = room.job(quick=True)
    marks = project.document.marks.model_copy(
        update={
            "furniture": (FurnitureEntry(kind="sofa", points_px=SOFA_PX),),
            "zones": (ZoneEntry(kind="switch", points_px=SWITCH_PX),),
        }
    )
    survey = Results(project.save(project.document.changed(marks=marks))).survey()
    to_drag = outlines(scene.mark_shapes(marks, editable=True))
    to_look_at = outlines(scene.survey_shapes(survey, marks))
    for name in ("sofa", "switch"):
        np.testing.assert_array_equal(to_look_at[name], to_drag[name])


def test_what_is_typed_is_drawn_where_it_stands(jobs_folder, room):
    _, project = room.typed_job()
    box = ((1000.0, 800.0), (2800.0, 800.0), (2800.0, 0.0), (1000.0, 0.0))
    marks = project.document.marks.model_copy(
        update={"furniture": (FurnitureEntry(kind="sofa", points_mm=box),)}
    )
    survey = survey_typed(project.document.wall, marks)
    (sofa,) = outlines(scene.survey_shapes(survey, marks)).values()
    # To scale: 4 m of wall over 1600 px, 60 px of margin, y down from the top at 2.5 m.
    expected = [[460, 740], [1180, 740], [1180, 1060], [460, 1060]]
    np.testing.assert_allclose(sorted(map(tuple, sofa)), sorted(map(tuple, expected)))
