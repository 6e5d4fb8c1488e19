"""The first page: open the sample job, start one, take one in, or go on with an earlier one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from visualiser.app import command_bar, jobs
from visualiser.app.fields import plain, shortened, tell
from visualiser.app.job_pictures import job_picture
from visualiser.app.presses import pressed
from visualiser.app.reach import only_this_computer
from visualiser.app.serving import UPLOAD_MB
from visualiser.app.session import WAY, Way
from visualiser.app.uploads import PICTURE_KINDS, decoded, keep_picture, take_upload
from visualiser.errors import VisualiserError
from visualiser.project.samples import sample_picture

if TYPE_CHECKING:
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from visualiser.project.store import Project


def show() -> None:
    """Offer the ways to begin."""
    st.title("Hang it before you hang it")
    st.markdown(
        "Photograph the wall with a sheet of paper taped to it. See your framed pieces on it to "
        "true scale, judge their colours, and take a measured plan to the wall."
    )
    command_bar.mount_typing()
    _go(WAY.get_or_make(Way))
    sample, own, kept = st.columns(3, gap="large")
    with sample:
        st.subheader("Look around")
        if picture := sample_picture(jobs.FIRST_SAMPLE):
            st.image(picture, width="stretch", alt="A reading room with five pictures over a sofa")
        st.write("A furnished room with five pieces on its wall, ready to be moved about.")
        if pressed("Open the sample job", type="primary", icon=":material/door_open:"):
            _begin(jobs.sample_job, step="arrange")
    with own:
        _own_job()
    with kept:
        _kept_jobs()


def _own_job() -> None:
    st.subheader("Start a job")
    name = st.text_input("Name of the job", max_chars=80, placeholder="Stair hall, second floor")
    upload = st.file_uploader(
        "Photo of the wall",
        PICTURE_KINDS,
        max_upload_size=60,
        help="On a tablet or phone this also offers the camera. A4 or Letter, taped flat.",
    )
    _begin_with(
        upload, "first-photo", lambda file, data: _with_photo(name or "New job", file, data), "wall"
    )
    if pressed("Start without a photo", help="Type the wall's size instead."):
        _begin(lambda: jobs.new_job(name or "New job"))


def _kept_jobs() -> None:
    st.subheader("Go on")
    if only_this_computer():
        recent = jobs.recent_jobs()
        if not recent:
            st.caption("Jobs you start are listed here.")
        for job_id, name, saved in recent:
            label = plain(shortened(name or job_id, 28))
            card = st.container(key=f"card-{job_id}")  # on a phone, too, picture beside words
            shown, button = card.columns([1, 3], vertical_alignment="center", gap="small")
            if picture := job_picture(job_id):
                shown.image(picture, width=96, alt=f"Wall of {shortened(name or job_id, 60)}")
            if pressed(
                label,
                at=button,
                key=f"open-{job_id}",
                icon=":material/folder_open:",
                width="stretch",
            ):
                way = WAY.get_or_make(Way)
                way.job_id, way.step = job_id, None
                _go(way)
            button.caption(f"{saved:%d %b, %H:%M}")
    else:
        st.caption("On a shared server a job is opened by its own address: keep its link.")
    packed = st.file_uploader("Or open a job from its zip", ["zip"], max_upload_size=UPLOAD_MB)
    _begin_with(packed, "job-zip", lambda _, data: jobs.unpack_job(data))
    if only_this_computer():
        _large_zip()


def _large_zip() -> None:
    """Take in a zip that is too long for the browser, from where it lies on this computer."""
    with st.expander(f"A zip of more than {UPLOAD_MB} MB"):
        typed = st.text_input(
            "Where it lies on this computer",
            placeholder="/home/me/stair-hall.zip",
            help="The whole path of the zip file.",
        )
        if pressed("Open it", key="open-large-zip") and typed.strip():
            place = Path(typed.strip().strip('"'))
            _begin(lambda: jobs.unpack_job(place))


def _begin_with(
    upload: UploadedFile | None,
    spot: str,
    make: Callable[[str, bytes], tuple[str, Project]],
    step: str | None = None,
) -> None:
    way = WAY.get_or_make(Way)

    def keep(name: str, data: bytes) -> None:
        way.job_id, way.step = make(name, data)[0], step

    try:
        if take_upload(upload, spot, keep):
            _go(way)
    except VisualiserError as error:
        tell(error)


def _begin(make: Callable[[], tuple[str, Project]], step: str | None = None) -> None:
    way = WAY.get_or_make(Way)
    try:
        way.job_id, way.step = make()[0], step
    except VisualiserError as error:
        tell(error)
        return
    _go(way)


def _go(way: Way) -> None:
    if way.job_id is None:
        return
    st.query_params["job"] = way.job_id
    if way.step is not None:
        st.query_params["step"] = way.step
    st.rerun()


def _with_photo(name: str, file_name: str, data: bytes) -> tuple[str, Project]:
    from visualiser.app.lenses import lens_at_hand
    from visualiser.app.state import Work
    from visualiser.photo.limits import check_wall_size
    from visualiser.project.wall_entries import MarksEntry

    picture = decoded(data)  # before a folder is made for it
    check_wall_size(picture.width_px, picture.height_px)
    job_id, project = jobs.new_job(name)
    work = Work.opened(job_id, project)
    photo = keep_picture(work, "photos", file_name, data)
    marks = MarksEntry(lens=lens_at_hand(lambda: picture))
    return job_id, project.save(project.document.changed(photo=photo, marks=marks), step=False)
