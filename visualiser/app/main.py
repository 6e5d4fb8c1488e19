"""The program's page: the first one, or the job that the address names.

The first page loads little, so that it is there soon; what a job needs follows beside it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st
from PIL import Image, ImageDraw

from visualiser.app import jobs, starting
from visualiser.app.fields import tell
from visualiser.app.session import HOLD, WORK
from visualiser.app.warming import warm_up
from visualiser.errors import ProjectError

if TYPE_CHECKING:
    from visualiser.app.state import Work

STYLE = """<style>
[data-testid="stMainBlockContainer"] { padding: 1.1rem 1.6rem 3rem; max-width: 1700px; }
[data-testid="stHeader"] { height: 0; min-height: 0; }
[data-testid="stCaptionContainer"] { opacity: 0.85 !important; color: inherit !important; }
[data-testid="stBaseButton-primary"] {
  background: #22595c !important; border-color: #22595c !important; color: #fff !important;
}
/* Links to headings would be stops on a keyboard's way that lead nowhere new. */
[data-testid="stHeaderActionElements"] { display: none; }
h1, h2, h3 { letter-spacing: 0; }
h2 { font-size: 1.45rem !important; padding: 0.1rem 0 0.3rem !important; }
h3 { font-size: 1.08rem !important; padding: 0.6rem 0 0.45rem !important; }
[data-testid="stMetricValue"] { font-size: 1.35rem; }
[data-testid="stMarkdownContainer"] li { margin-top: 0.1em; margin-bottom: 0.1em; }
[data-testid="stMarkdownContainer"] li > p { margin-bottom: 0.35em; }
[data-testid="stMarkdownContainer"] ul + p { margin-top: 0.5em; }
[data-testid="stTable"] th { color: inherit !important; font-weight: 600; }
[data-testid="stFileUploaderDropzoneInstructions"], [data-testid="stFileUploaderDropzone"] span {
  color: inherit !important;
}
input::placeholder, textarea::placeholder {
  color: inherit !important; -webkit-text-fill-color: inherit !important; opacity: 0.75 !important;
}
[data-testid="stTable"] td, [data-testid="stTable"] th { padding: 0.3rem 0.45rem !important; }
/* Where the bar says what is not saved yet, no dialogue lies over the work for it. */
body:has(.st-key-top-bar) [data-testid="stDialog"]:not(:has([data-testid="stVerticalBlock"])) {
  display: none !important;
}
/* The photo stays in view while the panel beside it is read to its end. */
@media (min-width: 641px) {
  [data-testid="stColumn"]:has(> [data-testid="stVerticalBlock"] > .st-key-wall-side),
  [data-testid="stColumn"]:has(> div > [data-testid="stVerticalBlock"] > .st-key-wall-side) {
    position: sticky; top: 0.6rem; align-self: flex-start;
  }
}
/* The button that enlarges a picture stays within it. */
[data-testid="stFullScreenFrame"]:has([data-testid="stImage"]) [data-testid="stElementToolbar"] {
  top: 0.4rem; right: 0.4rem;
}
/* A tablet held upright: the job's name has its own line, and the panel half the width or more. */
@media (max-width: 900px) {
  [data-testid="stMainBlockContainer"] { padding: 0.7rem; }
  .st-key-top-bar [data-testid="stHorizontalBlock"] { flex-wrap: wrap; row-gap: 0.5rem; }
  .st-key-top-bar [data-testid="stColumn"] { flex: 1 1 0; min-width: 0; }
  .st-key-top-bar [data-testid="stColumn"]:first-child { flex: 1 1 100%; }
  [data-testid="stColumn"]:has(.st-key-wall-side) { max-width: 50%; }
}
</style>"""


def run() -> None:
    """Draw the page once, from the job's state."""
    st.set_page_config(page_title="Wall visualiser", page_icon=_icon(), layout="wide")
    st.html(STYLE)
    work = _work_at_hand()
    if work is None:
        starting.show()
    else:
        from visualiser.app import job_page

        job_page.show(work)
    warm_up()


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
