"""A booklet of PDF pages with embedded fonts: outline, page numbers, the same bytes every time."""

from __future__ import annotations

import io

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from visualiser.errors import PrintingError
from visualiser.printing.fonts import PLAIN
from visualiser.printing.line_breaking import POINT_MM
from visualiser.printing.page import SOFT, Page
from visualiser.printing.tagging import Structure
from visualiser.wording import Lengths, sentence

# Streams as bytes instead of base-85 text: a fifth smaller and quicker. The library reads this only
# from its own settings, and nothing else here uses it.
rl_config.useA85 = 0

LONGEST_PAGE_MM = 14400 * POINT_MM
"""200 in: ISO 32000-1:2008, annex C.2, the largest page without a user unit."""


class Booklet:
    """Pages of one document, made one after the other.

    Parameters
    ----------
    title
        Shown by the reader's window and read out first.
    subject
        One sentence on what it is for.
    """

    def __init__(self, title: str, subject: str = "") -> None:
        self._title = title
        self._buffer = io.BytesIO()
        # Invariant: the same job gives the same bytes.
        self.canvas = Canvas(self._buffer, invariant=True, pageCompression=1, lang="en-GB")
        self.canvas.setTitle(title)
        self.canvas.setSubject(subject)
        self.canvas.setViewerPreference("DisplayDocTitle", "true")
        self.canvas.setViewerPreference("PrintScaling", "None")
        self._structure = Structure(self.canvas)
        self._page: Page | None = None
        self._count = 0

    def page(self, width_mm: float, height_mm: float, heading: str, footer: bool = True) -> Page:
        """Close the page at hand and start a new one, listed in the outline by its heading.

        Raises
        ------
        PrintingError
            If a page cannot be as large as that.
        """
        if not 0 < max(width_mm, height_mm) <= LONGEST_PAGE_MM:
            raise PrintingError(
                sentence(
                    "A page of ", Lengths((width_mm, height_mm)), " is larger than PDF allows."
                ),
                hint="Tile it over several sheets instead.",
            )
        self._close()
        self._count += 1
        self.canvas.setPageSize((width_mm * mm, height_mm * mm))
        key = f"page-{self._count}"
        self.canvas.bookmarkPage(key)
        self.canvas.addOutlineEntry(heading, key, 0)
        self._page = Page(
            self.canvas,
            self._structure,
            width_mm,
            height_mm,
            self._count,
            self._title if footer else None,
        )
        return self._page

    def to_bytes(self) -> bytes:
        """Close the last page and return the document.

        Raises
        ------
        ValueError
            If it has no page.
        """
        if self._page is None:
            raise ValueError("a booklet needs a page")
        self._close()
        # How many pages there are is known only now: each footer holds a place for it.
        self.canvas.beginForm("page-count")
        self.canvas.setFont(PLAIN, 8)
        self.canvas.setFillColor(HexColor(SOFT))
        self.canvas.drawString(0, 0, f" of {self._count}")
        self.canvas.endForm()
        self._structure.write()
        self.canvas.save()
        return self._buffer.getvalue()

    def _close(self) -> None:
        if self._page is not None:
            self._page.finish()
            self.canvas.showPage()
            self._structure.next_page()
