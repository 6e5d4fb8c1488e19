"""The first page: open the sample job, start one, take one in, or go on with an earlier one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from visualiser.app import command_bar, jobs
from visualiser.app.fields import plain, shortened, tell
from visualiser.app.job_pictures import job_picture
from visualiser.app.reach import only_this_computer
from visualiser.app.serving import UPLOAD_MB
from visualiser.app.uploads import PICTURE_KINDS, fresh_upload, keep_picture
from visualiser.errors import VisualiserError
from visualiser.project.samples import sample_picture

if TYPE_CHECKING:
    from visualiser.project.store import Project


def show() -> None:
    """Offer the ways to begin."""
    st.title("Hang it before you hang it")
    st.markdown(
        "Photograph the wall with a sheet of paper taped to it. See your framed pieces on it to "
        "true scale, judge their colours, and take a measured plan to the wall."
    )
    command_bar.mount_typing()
    sample, own, kept = st.columns(3, gap="large")
    with sample:
        st.subheader("Look around")
        if picture := sample_picture(jobs.FIRST_SAMPLE):
            st.image(picture, width="stretch", alt="A reading room with five pictures over a sofa")
        st.write("A furnished room with five pieces on its wall, ready to be moved about.")
        if st.button("Open the sample job", type="primary", icon=":material/door_open:"):
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
    try:
        data = fresh_upload(upload, "first-photo")
    except VisualiserError as error:
        tell(error)
        return
    if data is not None and upload is not None:
        _begin(lambda: _with_photo(name or "New job", upload.name, data), step="wall")
    if st.button("Start without a photo", help="Type the wall's size instead."):
        _begin(lambda: jobs.new_job(name or "New job"))


def _kept_jobs() -> None:
    st.subheader("Go on")
    if only_this_computer():
        recent = jobs.recent_jobs()
        if not recent:
            st.caption("Jobs you start are listed here.")
        for job_id, name, saved in recent:
            label = f"{plain(shortened(name or job_id, 28))} · {saved:%d %b, %H:%M}"
            shown, button = st.columns([1, 3], vertical_alignment="center", gap="small")
            if picture := job_picture(job_id):
                shown.image(picture, width=96, alt=f"Wall of {shortened(name or job_id, 60)}")
            if button.button(
                label, key=f"open-{job_id}", icon=":material/folder_open:", width="stretch"
            ):
                _open(job_id)
    else:
        st.caption("On a shared server a job is opened by its own address: keep its link.")
    packed = st.file_uploader("Or open a job from its zip", ["zip"], max_upload_size=UPLOAD_MB)
    try:
        data = fresh_upload(packed, "job-zip")
    except VisualiserError as error:
        tell(error)
        return
    if data is not None:
        _begin(lambda: jobs.unpack_job(data))
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
        if st.button("Open it", key="open-large-zip") and typed.strip():
            place = Path(typed.strip().strip('"'))
            _begin(lambda: jobs.unpack_job(place))


def _begin(make: Callable[[], tuple[str, Project]], step: str | None = None) -> None:
    try:
        job_id, _ = make()
    except VisualiserError as error:
        tell(error)
        return
    _open(job_id, step)


def _open(job_id: str, step: str | None = None) -> None:
    st.query_params["job"] = job_id
    if step is not None:
        st.query_params["step"] = step
    st.rerun()


def _with_photo(name: str, file_name: str, data: bytes) -> tuple[str, Project]:
    from visualiser.app.lenses import lens_at_hand
    from visualiser.app.state import Work
    from visualiser.photo.decoding import load_photo
    from visualiser.photo.limits import check_wall_size
    from visualiser.project.wall_entries import MarksEntry

    decoded = load_photo(data)  # before a folder is made for it
    check_wall_size(decoded.width_px, decoded.height_px)
    job_id, project = jobs.new_job(name)
    work = Work.opened(job_id, project)
    photo = keep_picture(work, "photos", file_name, data)
    marks = MarksEntry(lens=lens_at_hand(lambda: decoded))
    return job_id, project.save(project.document.changed(photo=photo, marks=marks), step=False)
