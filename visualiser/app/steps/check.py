"""Check: one more photo of the hung group, and what to nudge."""

from __future__ import annotations

import math

import streamlit as st

from visualiser.app import under_way
from visualiser.app.comparing import compare_photo
from visualiser.app.fields import (
    bullets,
    length,
    names_of,
    nothing_yet,
    plain,
    tell,
    tell_findings,
    unit_of,
)
from visualiser.app.options import option_picker
from visualiser.app.results import Results
from visualiser.app.session import Kept
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import View
from visualiser.app.steps.wall import KINDS
from visualiser.app.uploads import PICTURE_KINDS, fresh_upload, keep_picture
from visualiser.as_hung.report import AsHungReport, PieceDeviation
from visualiser.errors import VisualiserError
from visualiser.project.contents import checked_content, refuse_overlap
from visualiser.project.entries import FileEntry
from visualiser.survey.survey import Survey

_SPOT = "as-hung"
_MADE: Kept[tuple[str, tuple[AsHungReport, bytes]]] = Kept("as-hung-made")
ANY_SHEET = "look for any usual sheet"


def view(_work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the plan beside the check."""
    return View(mockup=True)


def show(work: Work, results: Results) -> None:
    """Take the second photo and compare it with the plan."""
    if not work.document.options:
        nothing_yet("There is no arrangement to check against.", "arrange", "Arrange")
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
    made = _compared(work, results, work.document.as_hung_photo, kind)
    if made is not None:
        report, picture = made
        _corrections(work, report)
        st.image(picture, width="stretch", alt="The hung group with the plan's outlines over it")
        _tell_report(work, report)


def _compared(
    work: Work, results: Results, entry: FileEntry, kind: str | None
) -> tuple[AsHungReport, bytes] | None:
    """Compare beside the page, once for all that it depends on; None until that is done."""
    option_id = option_on_view(work)
    asked = f"{results.option_key(option_id)}|{entry.model_dump_json()}|{kind}"
    trouble: VisualiserError | None = None
    try:
        if outcome := under_way.take_outcome(_SPOT):
            _MADE.put(outcome)
    except VisualiserError as error:
        trouble = error
    kept = _MADE.get()
    made = kept[1] if kept is not None and kept[0] == asked else None
    if under_way.is_under_way(_SPOT, asked):
        under_way.watch(_SPOT, "Comparing the hung group with the plan")
        return None
    under_way.give_up(_SPOT)  # the plan or the photo has changed meanwhile
    by_itself = made is None and trouble is None and not under_way.has_ended(_SPOT, asked)
    if by_itself or (
        made is None and st.button("Compare with the plan", type="primary", width="stretch")
    ):
        arrangement = results.arrangement(option_id)
        refuse_overlap(arrangement.rects())
        data = checked_content(entry, work.project.read_file)
        likely = work.document.marks.reference.kind
        under_way.begin(_SPOT, asked, compare_photo, data, arrangement, kind, likely)
        st.rerun()
    if trouble is not None:
        tell(trouble)
    return made


def _deviations(work: Work, piece: PieceDeviation) -> tuple[str, str, str]:
    """Say how far and which way a piece is off its place and off level."""
    if math.isnan(piece.dx_mm):
        return "–", "–", "–"

    def directed(off_mm: float, half_width_mm: float, words: tuple[str, str]) -> str:
        """Write the way before the length, as its ± stands behind it."""
        word = "" if abs(off_mm) < 0.5 else words[off_mm > 0] + " "
        return word + length(work, abs(off_mm), half_width_mm)

    tilt = f"{abs(piece.tilt_deg):.1f}° ±\u00a0{piece.tilt_half_width_deg:.1f}°"
    low_end = "left" if piece.tilt_deg > 0 else "right"
    return (
        directed(piece.dx_mm, piece.dx_half_width_mm, ("left", "right")),
        directed(piece.dy_mm, piece.dy_half_width_mm, ("low", "high")),
        tilt if tilt.startswith("0.0°") else f"{tilt}, {low_end} end low",
    )


def _corrections(work: Work, report: AsHungReport) -> None:
    if report.all_right:
        st.success("Every piece hangs as planned.", icon=":material/check:")
    elif report.corrections:
        st.subheader("What to nudge")
        bullets(report.corrections, unit_of(work))
    else:
        judged = sum(piece.verdict == "right" for piece in report.pieces)
        st.markdown(
            f"Nothing to nudge: {judged} of {len(report.pieces)} pieces hang as planned, and of "
            "the others this photo does not tell."
        )


def _tell_report(work: Work, report: AsHungReport) -> None:
    names = names_of(work)
    columns = ("Piece", "Verdict", "Sideways", "Up or down", "Off level")
    rows: dict[str, list[str]] = {column: [] for column in columns}
    for piece in report.pieces:
        name = names.get(piece.piece_id, piece.piece_id)
        values = (name, piece.verdict, *_deviations(work, piece))
        for column, value in zip(rows.values(), values, strict=True):
            column.append(plain(value))
    st.table(rows)
    bullets((p.sentence for p in report.pieces if p.verdict == "not found"), unit_of(work))
    if any(piece.verdict == "unsure" for piece in report.pieces):
        st.caption("Unsure: this photo cannot tell, to the tolerance, whether the piece is right.")
    tell_findings(report.findings, unit_of(work))
