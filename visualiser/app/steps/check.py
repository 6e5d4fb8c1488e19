"""Check: one more photo of the hung group, and what to nudge."""

from __future__ import annotations

import math

import streamlit as st

from visualiser.app.fields import bullets, length, plain, tell, tell_findings
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.steps.arrange import option_picker
from visualiser.app.steps.wall import KINDS
from visualiser.app.uploads import PICTURE_KINDS, fresh_upload, keep_picture
from visualiser.app.wall_view import View, option_on_view
from visualiser.errors import VisualiserError
from visualiser.hanging.as_hung import check_as_hung
from visualiser.hanging.deviations import AsHungReport
from visualiser.photo.decoding import load_photo
from visualiser.photo.encoding import encode_jpeg
from visualiser.printing.as_hung_picture import deviation_picture
from visualiser.project.contents import checked_content, refuse_overlap
from visualiser.project.document import FileEntry
from visualiser.survey.survey import Survey

ANY_SHEET = "look for any usual sheet"


def view(_work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the plan beside the check."""
    return View(mockup=True)


def show(work: Work, results: Results) -> None:
    """Take the second photo and compare it with the plan."""
    if not work.document.options:
        st.info("There is no arrangement to check against. Make one in the step Arrange.")
        return
    option_picker(work)
    st.markdown(
        "Photograph the group once it hangs, from about where the first photo was taken. A sheet "
        "taped beside it makes the check sharper; without one the frames' own sizes are used."
    )
    upload = st.file_uploader("Photo of the hung group", PICTURE_KINDS, max_upload_size=60)
    try:
        data = fresh_upload(upload, "as-hung")
        if data is not None and upload is not None:
            kept = keep_picture(work, "photos", upload.name, data)
            work.change(work.document.changed(as_hung_photo=kept))
            st.rerun()
    except VisualiserError as error:
        tell(error)
        return
    if work.document.as_hung_photo is None:
        return
    asked = st.selectbox(
        "On the wall beside it",
        [ANY_SHEET, *(key for key in KINDS if key not in ("custom", "card"))],
        format_func=lambda key: KINDS.get(key, key),
        key="as-hung-reference",
    )
    kind = None if asked == ANY_SHEET else asked
    if st.button("Compare with the plan", type="primary", width="stretch"):
        st.session_state["as-hung-asked"] = True
    if st.session_state.get("as-hung-asked"):
        with st.spinner("Comparing the hung group with the plan …"):
            report, picture = _report(work, results, work.document.as_hung_photo, kind)
        st.image(picture, width="stretch", alt="The hung group with the plan's outlines over it")
        _tell_report(work, report)


def _report(
    work: Work, results: Results, entry: FileEntry, kind: str | None
) -> tuple[AsHungReport, bytes]:
    arrangement = results.arrangement(option_on_view(work))
    refuse_overlap(arrangement.rects())
    read = work.project.read_file
    likely = work.document.marks.reference.kind

    def compare() -> tuple[AsHungReport, bytes]:
        photo = load_photo(checked_content(entry, read))
        report = check_as_hung(photo, arrangement, reference=kind, likely=likely)
        return report, encode_jpeg(deviation_picture(photo.pixels, report, longest_px=1600))

    key = f"as-hung|{results.option_key(option_on_view(work))}|{entry.model_dump_json()}|{kind}"
    return results.kept(key, compare)


def _tell_report(work: Work, report: AsHungReport) -> None:
    if report.all_right:
        st.success("Every piece hangs as planned.", icon=":material/check:")
    bullets(report.corrections)
    rows: dict[str, list[str]] = {"Piece": [], "Across": [], "Up": [], "Tilt": [], "": []}
    for piece in report.pieces:
        if math.isnan(piece.dx_mm):
            values = (piece.piece_id, "–", "–", "–", piece.verdict)
        else:
            values = (
                piece.piece_id,
                length(work, piece.dx_mm, piece.dx_half_width_mm),
                length(work, piece.dy_mm, piece.dy_half_width_mm),
                f"{piece.tilt_deg:+.1f}° ± {piece.tilt_half_width_deg:.1f}",
                piece.verdict,
            )
        for column, value in zip(rows.values(), values, strict=True):
            column.append(plain(value))
    st.table(rows)
    for piece in report.pieces:
        if piece.verdict in ("not found", "unsure"):
            st.caption(plain(piece.sentence))
    tell_findings(report.findings)
