"""The as-hung check on paper: what to nudge, every piece's deviation, and the gaps."""

from __future__ import annotations

import math

from visualiser.as_hung.report import AsHungReport, PieceDeviation
from visualiser.photo.photo import PixelsRgb
from visualiser.printing.as_hung_picture import deviation_picture
from visualiser.printing.booklet import Booklet
from visualiser.printing.page import MARGIN_MM, Page
from visualiser.printing.table import Cell, Column, draw_table, name_and_mark
from visualiser.sizes import PaperSize, paper_size
from visualiser.units import format_both, format_half_width


def as_hung_pdf(
    report: AsHungReport,
    pixels: PixelsRgb,
    title: str = "",
    paper: PaperSize | None = None,
) -> bytes:
    """Print an as-hung check.

    Parameters
    ----------
    report
        What the check found.
    pixels
        The photo that was checked, (H, W, 3) uint8.
    title
        Name of the job.
    paper
        Upright paper; A4 when None.

    Returns
    -------
    The PDF.
    """
    sheet = paper or paper_size("a4")
    booklet = Booklet(
        f"{title}: as hung" if title else "As hung",
        "How far each hung piece is off its place and off level, and what to nudge",
    )

    def page(heading: str) -> tuple[Page, float]:
        new = booklet.page(sheet.width_mm, sheet.height_mm, heading)
        new.text(MARGIN_MM, sheet.height_mm - 16, heading, 14, bold=True, role="H1")
        return new, sheet.height_mm - 22

    first, y = page("What to nudge")
    wide = first.width_mm - 2 * MARGIN_MM
    picture = deviation_picture(pixels, report, longest_px=1600)
    tall = min(wide * picture.shape[0] / picture.shape[1], 0.45 * sheet.height_mm)
    across = tall * picture.shape[1] / picture.shape[0]
    spoken = "The photo with deviations drawn ten times enlarged"
    first.picture(picture, MARGIN_MM, y - tall, across, spoken)
    y -= tall + 6
    sentences = list(report.corrections) or ["Every piece that was found hangs as planned."]
    sentences += [p.sentence for p in report.pieces if p.verdict in ("not found", "unsure")]
    sentences += [str(finding) for finding in report.findings]
    for sentence in sentences:
        if y < 24:
            first, y = page("What to nudge, continued")
        y = first.paragraph(MARGIN_MM, y, wide, sentence, 10)
        y -= 1.5
    first, y = page("Every piece, and the gaps")
    limits = report.tolerances
    y = first.paragraph(
        MARGIN_MM,
        y,
        wide,
        f"Right means within {format_both(limits.gap_mm)} of its place and within "
        f"{limits.level_deg:g}° of level. The group is laid on the plan so that the fewest pieces "
        "need to move; ± is the 95 % half-width.",
        9,
    )
    first, y = draw_table(
        first,
        y - 3,
        [
            Column("Piece", 30),
            Column("Verdict", 24),
            Column("Sideways", 44),
            Column("Up or down", 44),
            Column("Off level", 40),
        ],
        [_piece_row(report, piece) for piece in report.pieces],
        lambda: page("Every piece, continued"),
    )
    if report.gaps:
        draw_table(
            first,
            y - 8,
            [
                Column("Gap between", 46),
                Column("Planned", 44),
                Column("As hung", 48),
                Column("±", 44),
            ],
            [
                (
                    (
                        f"{report.called(gap.first_id)} and {report.called(gap.second_id)}",
                        gap.direction,
                    ),
                    (format_both(gap.planned_mm),),
                    (format_both(gap.hung_mm),),
                    (format_half_width(gap.half_width_mm),),
                )
                for gap in report.gaps
            ],
            lambda: page("Gaps, continued"),
        )
    return booklet.to_bytes()


def _piece_row(report: AsHungReport, piece: PieceDeviation) -> tuple[Cell, ...]:
    name = name_and_mark(report.called(piece.piece_id), piece.piece_id)
    if math.isnan(piece.dx_mm):
        return (name, (piece.verdict,), ("",), ("",), ("",))
    seen = (f"here hangs {report.called(piece.seen_id)}",) if piece.verdict == "swapped" else ()
    sideways = "right" if piece.dx_mm > 0 else "left"
    height = "high" if piece.dy_mm > 0 else "low"
    low_end = "left" if piece.tilt_deg > 0 else "right"
    return (
        name,
        (piece.verdict, *seen),
        (
            f"{format_both(abs(piece.dx_mm))} {sideways}",
            format_half_width(piece.dx_half_width_mm),
        ),
        (f"{format_both(abs(piece.dy_mm))} {height}", format_half_width(piece.dy_half_width_mm)),
        (
            f"{abs(piece.tilt_deg):.2f}°, {low_end} end low",
            f"± {piece.tilt_half_width_deg:.2f}°",
        ),
    )
