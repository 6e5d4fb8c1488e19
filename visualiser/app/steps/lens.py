"""The lens of the phone: measured once from photos of the printed target, then used by itself."""

from __future__ import annotations

import streamlit as st

from visualiser.app import lenses, under_way
from visualiser.app.downloads import offer
from visualiser.app.fields import plain, tell
from visualiser.app.presses import pressed
from visualiser.app.reach import only_this_computer
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.uploads import PICTURE_KINDS
from visualiser.errors import VisualiserError
from visualiser.printing.target import target_pdf
from visualiser.project.lens_entry import LensEntry
from visualiser.project.wall_entries import MarksEntry
from visualiser.rectification.kinds import TARGETS
from visualiser.statistics import COVERAGE_95

_SPOT = "lens"
_PAPERS = {"target": "A4", "target-letter": "Letter"}


def lens_in_use(work: Work, results: Results) -> None:
    """Say which lens the job's photo is measured with, and let the person do without."""
    entry = work.document.marks.lens
    if entry is None or not entry.profile().matches(results.photo()):
        return
    st.markdown(f"Lens measured for this phone: {plain(_told(entry))}.")
    used = st.toggle("Measure with this lens", entry.used, key=f"lens-used-{work.generation}")
    if used != entry.used:
        _put(work, entry.model_copy(update={"used": used}))


def measure_lens(work: Work, results: Results) -> None:
    """Take photos of the printed target in, and keep what they tell of the lens."""
    with st.expander("Measure your phone's lens, once"):
        st.caption(
            "Not needed, but it sharpens everything far from the sheet. Print the target, lay it "
            "flat, and photograph it about eight times with the phone held one way round and not "
            "zoomed: from the left, the right, above and below, large in the picture."
        )
        kind = _make_target()
        try:
            under_way.take_outcome(_SPOT, lambda outcome: _take(work, results, outcome[1]))
        except VisualiserError as error:
            tell(error)
        files = st.file_uploader(
            "Photos of the printed target",
            PICTURE_KINDS,
            accept_multiple_files=True,
            max_upload_size=60,
            help="The files as the phone wrote them: they say which phone and which zoom.",
        )
        asked = f"{kind}|{'|'.join(file.file_id for file in files)}"
        if under_way.is_under_way(_SPOT, asked):
            under_way.watch(
                _SPOT, f"Measuring the lens from {len(files)} photo{'' if len(files) == 1 else 's'}"
            )
            return
        under_way.give_up(_SPOT)
        if pressed("Measure the lens", disabled=not files, width="stretch"):
            data = [file.getvalue() for file in files]
            under_way.begin(_SPOT, asked, lenses.lens_of_files, data, kind)
            st.rerun()


def _make_target() -> str:
    """Offer the target on the paper at hand; the same one is looked for in the photos."""
    kind = st.selectbox("Target on paper", list(_PAPERS), format_func=_PAPERS.__getitem__)
    paper = TARGETS[kind]
    offer(
        "target",
        kind,
        lambda: target_pdf(paper),
        label="the target to print",
        file_name=f"target-{paper}.pdf",
        mime="application/pdf",
        help_text="Print at 100 %, not fitted to the page.",
    )
    return kind


def _take(work: Work, results: Results, entry: LensEntry) -> None:
    st.success(f"Measured: {plain(_told(entry))}.", icon=":material/check:")
    if only_this_computer():
        lenses.keep_lens(entry)
    if work.document.photo is None:
        return
    if entry.profile().matches(results.photo()):
        _put(work, entry)
    else:
        st.info(
            "This job's photo comes from another phone, zoom or size, so this lens does not apply "
            "to it."
        )


def _told(entry: LensEntry) -> str:
    """Which phone, how many photos, and the focal length with its ±."""
    half_px = COVERAGE_95 * entry.focal_px * entry.covariance[0][0] ** 0.5
    share = 100 * half_px / entry.focal_px
    return (
        f"{entry.camera}, from {entry.photos} photos of the target; focal length "
        f"{entry.focal_px:.0f} px ± {max(half_px, 1):.0f} ({max(share, 0.01):.2g} %)"
    )


def _put(work: Work, entry: LensEntry) -> None:
    marks = MarksEntry.model_validate({**dict(work.document.marks), "lens": entry})
    work.change(work.document.changed(marks=marks))
    st.rerun()
