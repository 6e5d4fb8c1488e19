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
from visualiser.app.presses import pressed
from visualiser.app.results import Results, reduced_jpeg
from visualiser.app.session import Kept
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import Picture, View
from visualiser.app.steps.nudges import EXAGGERATED, nudges_in_photo
from visualiser.app.steps.wall import KINDS, SHEETS
from visualiser.app.uploads import PICTURE_KINDS, keep_picture, take_upload
from visualiser.as_hung.report import AsHungReport, PieceDeviation
from visualiser.errors import VisualiserError
from visualiser.photo.decoding import load_photo
from visualiser.project.contents import checked_content, refuse_overlap
from visualiser.project.entries import FileEntry
from visualiser.survey.survey import Survey

_SPOT = "as-hung"
_KIND_KEY = "as-hung-reference"
_MADE: Kept[tuple[str, AsHungReport]] = Kept("as-hung-made")
_TROUBLE: Kept[VisualiserError] = Kept("as-hung-trouble")
"""Why the photo that was compared last could not be, until it has been shown."""
HOW_TO_PHOTOGRAPH = (
    "Photograph the group once it hangs, from about where the first photo was taken. A sheet "
    "taped beside it makes the check sharper; without one the frames' own sizes are used."
)
ANY_SHEET = "look for any usual sheet"
VERDICTS = {"right": "as planned", "nudge": "to nudge", "swapped": "changed places"}
"""Verdicts as the table says them: a piece that hangs right may hang right of its place."""


def view(work: Work, results: Results, _survey: Survey | None) -> View:
    """Show the hung wall with what to nudge drawn into it; the plan while there is no photo."""
    _take_outcome()
    entry = work.document.as_hung_photo
    if entry is None or not work.document.options:
        return View(mockup=True)
    picture = results.kept(f"hung|{results.file_key(entry)}", lambda: _hung_photo(work, entry))
    report = _report(_asked(work, results, entry))
    marks = [] if report is None else nudges_in_photo(report, unit_of(work), picture.width_px)
    return View(picture=picture, contours=marks, pieces=False)


def _hung_photo(work: Work, entry: FileEntry) -> Picture:
    photo = load_photo(checked_content(entry, work.project.read_file))
    return Picture(reduced_jpeg(photo.pixels), photo.width_px, photo.height_px)


def _take_outcome() -> None:
    try:
        under_way.take_outcome(_SPOT, _MADE.put)
    except VisualiserError as error:
        _TROUBLE.put(error)


def _asked(work: Work, results: Results, entry: FileEntry) -> str:
    """All that a comparison depends on."""
    kind = st.session_state.get(_KIND_KEY, ANY_SHEET)
    return f"{results.option_key(option_on_view(work))}|{results.file_key(entry)}|{kind}"


def _report(asked: str) -> AsHungReport | None:
    kept = _MADE.get()
    return kept[1] if kept is not None and kept[0] == asked else None


def show(work: Work, results: Results) -> None:
    """Take the second photo and compare it with the plan."""
    if not work.document.options:
        nothing_yet("There is no arrangement to check against.", "arrange", "Arrange")
        return
    option_picker(work)
    if work.document.as_hung_photo is None:
        st.markdown(HOW_TO_PHOTOGRAPH)
        if take_hung_photo(work, "as-hung"):
            st.rerun()
        return
    told_first = st.container()
    with st.expander("Another photo, or what is beside the group"):
        st.caption(HOW_TO_PHOTOGRAPH)
        if take_hung_photo(work, "as-hung"):
            st.rerun()
        asked = st.selectbox(
            "On the wall beside it",
            [ANY_SHEET, *SHEETS],
            format_func=lambda key: KINDS.get(key, key),
            key=_KIND_KEY,
        )
    kind = None if asked == ANY_SHEET else asked
    with told_first:
        report = _compared(work, results, work.document.as_hung_photo, kind)
        if report is not None:
            _corrections(work, report)
            _tell_report(work, report)


def take_hung_photo(work: Work, spot: str) -> bool:
    """Take in the photo of the hung group; tell whether one was taken just now."""
    upload = st.file_uploader(
        "Photo of the hung group", PICTURE_KINDS, max_upload_size=60, key=f"photo-{spot}"
    )

    def keep(name: str, data: bytes) -> None:
        kept = keep_picture(work, "photos", name, data)
        work.change(work.document.changed(as_hung_photo=kept))

    try:
        return take_upload(upload, spot, keep, "Reading the photo …")
    except VisualiserError as error:
        tell(error)
        return False


def _compared(
    work: Work, results: Results, entry: FileEntry, kind: str | None
) -> AsHungReport | None:
    """Compare beside the page, once for all that it depends on; None until that is done."""
    asked = _asked(work, results, entry)
    trouble, report = _TROUBLE.take(), _report(asked)
    if under_way.is_under_way(_SPOT, asked):
        under_way.watch(_SPOT, "Comparing the hung group with the plan")
        return None
    under_way.give_up(_SPOT)  # the plan or the photo has changed meanwhile
    by_itself = report is None and trouble is None and not under_way.has_ended(_SPOT, asked)
    if by_itself or (
        report is None and pressed("Compare with the plan", type="primary", width="stretch")
    ):
        arrangement = results.arrangement(option_on_view(work))
        refuse_overlap(arrangement.rects())
        data = checked_content(entry, work.project.read_file)
        likely = work.document.marks.reference.kind
        under_way.begin(_SPOT, asked, compare_photo, data, arrangement, kind, likely)
        st.rerun()
    if trouble is not None:
        tell(trouble)
    return report


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
        st.caption(
            "In the photo: white dashes as planned, coloured as hung, both in their true places. "
            f"Arrows point to where a piece goes; they are drawn {EXAGGERATED} times as long."
        )
    else:
        judged = sum(piece.verdict == "right" for piece in report.pieces)
        st.markdown(
            f"Nothing to nudge: {judged} of {len(report.pieces)} pieces hang as planned, and of "
            "the others this photo does not tell."
        )


def _tell_report(work: Work, report: AsHungReport) -> None:
    names = names_of(work)
    st.subheader("Piece by piece")
    for piece in report.pieces:
        name = names.get(piece.piece_id, piece.piece_id)
        verdict = VERDICTS.get(piece.verdict, piece.verdict)
        said = f"**{plain(name)}** · {plain(verdict)}"
        if not math.isnan(piece.dx_mm):
            sideways, height, level = (plain(text) for text in _deviations(work, piece))
            said += f"  \nSideways {sideways} · height {height} · off level {level}"
        st.markdown(said)
    bullets((p.sentence for p in report.pieces if p.verdict == "not found"), unit_of(work))
    if any(piece.verdict == "unsure" for piece in report.pieces):
        st.caption("Unsure: this photo cannot tell, to the tolerance, whether the piece is right.")
    tell_findings(report.findings, unit_of(work))
