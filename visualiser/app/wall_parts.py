"""Parts of the wall in doubt while it is shown in another colour: painted, or left, by a tap."""

from __future__ import annotations

import streamlit as st

from visualiser.app import scene
from visualiser.app.commands import WALL
from visualiser.app.following import bare_wall_ready
from visualiser.app.marking import change_marks
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.scene import Shape
from visualiser.app.session import Kept
from visualiser.app.state import Work, option_on_view
from visualiser.project.wall_entries import WallTapEntry
from visualiser.rendering.wall_doubts import DoubtfulPlace

_WAITING: Kept[tuple[bool, int]] = Kept("wall-part-waiting")
"""Whether a ring that waits to be dragged is to mean wall, and how many there were before it."""


def part_shapes(work: Work, results: Results) -> list[Shape]:
    """Show what a person said of the wall's parts, the ring that waits, and what is in doubt."""
    shapes = scene.wall_part_shapes(work.document.marks)
    if (wall := _waiting(work)) is not None:
        photo = results.photo()
        shapes.append(scene.waiting_shape(wall, (photo.width_px / 2, photo.height_px / 2)))
    return [*shapes, *doubtful_shapes(work, results)]


def _waiting(work: Work) -> bool | None:
    """Whether the ring that waits means wall; None if none does."""
    kept = _WAITING.get()
    if kept is None or kept[1] != len(work.document.marks.wall_taps):
        _WAITING.take()
        return None
    return kept[0]


def doubtful_shapes(work: Work, results: Results) -> list[Shape]:
    """Outline in the photo what may be wall and is not painted; a tap paints it."""
    return [
        {
            "id": f"doubt-{index}",
            "kind": "likely",
            "label": f"{index}: wall?",
            "points": [[round(float(x), 1), round(float(y), 1)] for x, y in place.outline_px],
            "closed": True,
            "editable": False,
            "offer": {"stands": False, "name": WALL, "points": [list(place.inside_px)]},
        }
        for index, place in enumerate(_places(work, results), 1)
    ]


def choose_wall_parts(work: Work, results: Results) -> None:
    """Offer what may be wall; list what a person has said of the wall's parts."""
    taps = work.document.marks.wall_taps
    places = _places(work, results)
    if places:
        counted = "One place" if len(places) == 1 else f"{len(places)} places"
        st.caption(f"{counted} may be wall: tap it in the photo to paint it, or say so here.")
        if pressed("Paint all of these", key="doubts-all", width="stretch"):
            said = tuple(WallTapEntry(at_px=place.inside_px) for place in places)
            change_marks(work, wall_taps=(*taps, *said))
    more, less = st.columns(2)
    for place, wall, label in ((more, True, "Paint a part"), (less, False, "Leave a part")):
        if pressed(label, at=place, width="stretch"):
            _WAITING.put((wall, len(taps)))
            st.rerun()
    if (waiting := _waiting(work)) is not None:
        st.caption(f"Drag the ring in the photo onto what is {'wall' if waiting else 'no wall'}.")
    for index, tap in enumerate(taps):
        text, button = st.columns([1.5, 1], vertical_alignment="center")
        words = f"{'wall' if tap.wall else 'no wall'} {index + 1}"
        text.markdown(words)
        if button.button("Remove", key=f"remove-tap-{index}", help=f"Remove {words}"):
            change_marks(work, wall_taps=taps[:index] + taps[index + 1 :])


def _places(work: Work, results: Results) -> tuple[DoubtfulPlace, ...]:
    """Places in doubt, once the wall has been made ready in its new colour."""
    option_id = option_on_view(work)
    if work.document.option(option_id).wall_colour is None or not bare_wall_ready(work, results):
        return ()
    return results.doubtful_places(option_id)
