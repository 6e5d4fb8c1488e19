"""The program's page: the first one, or the job that the address names.

The first page loads little, so that it is there soon; what a job needs follows beside it.
"""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

import streamlit as st
from PIL import Image, ImageDraw

from visualiser.app import jobs, starting
from visualiser.app.fields import tell
from visualiser.app.presses import forget_presses, waiting_presses
from visualiser.app.session import HOLD, WAY, WORK
from visualiser.app.warming import warm_up
from visualiser.errors import ProjectError

if TYPE_CHECKING:
    from visualiser.app.state import Work

_STYLE = "page.css"


def run() -> None:
    """Draw the page once, from the job's state."""
    st.set_page_config(page_title="Wall visualiser", page_icon=_icon(), layout="wide")
    st.html(f"<style>{_style()}</style>")
    begun_with = waiting_presses()
    work = _work_at_hand()
    if work is None:
        starting.show()
    else:
        from visualiser.app import job_page

        job_page.show(work)
    forget_presses(begun_with)
    warm_up()


@cache
def _style() -> str:
    return (resources.files("visualiser.app") / _STYLE).read_text("utf-8")


def _icon() -> Image.Image:
    """Draw three frames on a wall; Streamlit's own icons would be fetched from the network."""
    icon = Image.new("RGB", (32, 32), "#22595c")
    draw = ImageDraw.Draw(icon)
    for box in ((4, 7, 14, 24), (18, 7, 27, 14), (18, 17, 27, 24)):
        draw.rectangle(box, fill="#efece5", outline="#d3ab72", width=2)
    return icon


def _work_at_hand() -> Work | None:
    """Find the job that the page's address names, the one this page holds, or none."""
    job_id = st.query_params.get("job")
    if job_id is None:
        WORK.take()
        HOLD.take()
        return None
    from visualiser.app.state import Work
    from visualiser.project.store import open_project

    WAY.take()
    before, hold = WORK.get(), HOLD.get()
    if before is None or hold is None or hold.job_id != job_id:
        before = hold = None
    try:
        project = open_project(before.project.folder) if before else jobs.find_job(job_id)
        work = Work.opened(job_id, project, hold)
    except ProjectError as error:
        if before is None:
            tell(error)
            return None
        work = Work(before.project, before.hold, unreadable=error)
    WORK.put(work)
    HOLD.put(work.hold)
    return work
