"""What is taken to the wall, as one file: the measured plan and the templates."""

from __future__ import annotations

import io
import zipfile

from visualiser.hanging.plan import HangingPlan
from visualiser.printing.hanging_plan import plan_pdf
from visualiser.printing.templates import templates_pdf
from visualiser.sizes import PaperSize

_EARLIEST = (1980, 1, 1, 0, 0, 0)
"""Date of the files inside: the first that a zip can hold, so that equal papers are equal files."""


def papers_zip(plan: HangingPlan, paper: PaperSize, title: str, stem: str) -> bytes:
    """Pack the measured plan and the templates into one zip.

    Parameters
    ----------
    plan
        The hanging plan.
    paper
        Paper that both are printed on.
    title
        What stands at the head of every page.
    stem
        What the names of the files inside begin with.
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as packed:  # PDFs are compressed already
        for name, pages in (
            ("plan", plan_pdf(plan, paper, title)),
            ("templates", templates_pdf(plan, paper, title=title)),
        ):
            packed.writestr(zipfile.ZipInfo(f"{stem}-{name}.pdf", _EARLIEST), pages)
    return buffer.getvalue()
