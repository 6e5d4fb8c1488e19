"""A booklet of PDF pages measured in millimetres from the lower left, with embedded fonts."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from visualiser.errors import PrintingError
from visualiser.printing.fonts import MISSING_NOTE, PLAIN, Setting, set_line
from visualiser.printing.tagging import Role, Structure

# Streams as bytes instead of base-85 text: a fifth smaller and quicker. The library reads this only
# from its own settings, and nothing else here uses it.
rl_config.useA85 = 0

Align = Literal["left", "centre", "right"]
INK, SOFT, FAINT, TINT = "#1a1a1a", "#5a5a5a", "#b4b4b4", "#efece6"
POINT_MM = 25.4 / 72
LONGEST_PAGE_MM = 14400 * POINT_MM
"""200 in: ISO 32000-1:2008, annex C.2, the largest page without a user unit."""


_INSIDE_LENGTH = re.compile(r"(?<=\d) (?=\d|mm\b|cm\b|in\b|kg\b|N\b|s\b)|(?<=±) (?=\d)")


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
        self.title = title
        self._buffer = io.BytesIO()
        # Invariant: the same job gives the same bytes.
        self.canvas = Canvas(self._buffer, invariant=True, pageCompression=1, lang="en-GB")
        self.canvas.setTitle(title)
        self.canvas.setSubject(subject)
        self.canvas.setViewerPreference("DisplayDocTitle", "true")
        self.canvas.setViewerPreference("PrintScaling", "None")
        self.structure = Structure(self.canvas)
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
                f"A page of {width_mm:.0f} x {height_mm:.0f} mm is larger than PDF allows.",
                hint="Tile it over several sheets instead.",
            )
        self._close()
        self._count += 1
        self.canvas.setPageSize((width_mm * mm, height_mm * mm))
        key = f"page-{self._count}"
        self.canvas.bookmarkPage(key)
        self.canvas.addOutlineEntry(heading, key, 0)
        self._page = Page(self, width_mm, height_mm, self._count, footer)
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
        self.canvas.setFont(PLAIN, 7)
        self.canvas.setFillColor(HexColor(SOFT))
        self.canvas.drawString(0, 0, f" of {self._count}")
        self.canvas.endForm()
        self.structure.write()
        self.canvas.save()
        return self._buffer.getvalue()

    def _close(self) -> None:
        if self._page is not None:
            self._page.finish()
            self.canvas.showPage()
            self.structure.next_page()


class Page:
    """One page. Lengths in mm from the lower left corner, y up; font sizes in points."""

    def __init__(
        self, booklet: Booklet, width_mm: float, height_mm: float, number: int, footer: bool
    ) -> None:
        self.width_mm = width_mm
        self.height_mm = height_mm
        self.number = number
        self._booklet = booklet
        self._canvas = booklet.canvas
        self._structure = booklet.structure
        self._footer = footer
        self._missing = False

    # --- text

    def text(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        size_pt: float = 9.0,
        *,
        bold: bool = False,
        align: Align = "left",
        angle_deg: float = 0.0,
        colour: str = INK,
        role: Role = "P",
        most_mm: float | None = None,
    ) -> float:
        """Set one line with its baseline at a place; return its width.

        ``most_mm`` shortens a line that is wider, with an ellipsis.
        """
        setting = _fitted(text, bold, size_pt, most_mm)
        self._missing |= setting.missing
        width = setting.width_pt(size_pt)
        shift = {"left": 0.0, "centre": -width / 2, "right": -width}[align]
        canvas = self._canvas
        as_seen = setting.font is not None and not setting.missing
        with self._structure.content(role, "" if as_seen else text):
            canvas.saveState()
            canvas.translate(x_mm * mm, y_mm * mm)
            canvas.rotate(angle_deg)
            if setting.font is not None:
                canvas.setFont(setting.font, size_pt)
                canvas.setFillColor(HexColor(colour))
                canvas.drawString(shift, 0, setting.text)
            else:
                image, below = setting.picture(size_pt, colour)
                scale = width / image.width
                canvas.drawImage(
                    ImageReader(image), shift, -below, width, image.height * scale, mask="auto"
                )
            canvas.restoreState()
        return width * POINT_MM

    def paragraph(
        self,
        x_mm: float,
        y_mm: float,
        width_mm: float,
        text: str,
        size_pt: float = 9.0,
        *,
        bold: bool = False,
        colour: str = INK,
    ) -> float:
        """Set text in lines of a width, the first baseline at ``y_mm``; return the next one's."""
        step = leading_mm(size_pt)
        for line in wrapped(text, width_mm, size_pt, bold):
            self.text(x_mm, y_mm, line, size_pt, bold=bold, colour=colour)
            y_mm -= step
        return y_mm

    # --- lines and shapes

    def line(
        self,
        points_mm: Sequence[tuple[float, float]],
        width_pt: float = 0.6,
        *,
        colour: str = INK,
        dash_mm: Sequence[float] = (),
        closed: bool = False,
        fill: str | None = None,
    ) -> None:
        """Draw a line through points, or the outline of a shape."""
        canvas = self._canvas
        with self._structure.artifact():
            canvas.saveState()
            canvas.setStrokeColor(HexColor(colour))
            canvas.setLineWidth(width_pt)
            if dash_mm:
                canvas.setDash([d * mm for d in dash_mm])
            if fill:
                canvas.setFillColor(HexColor(fill))
            path = canvas.beginPath()
            path.moveTo(points_mm[0][0] * mm, points_mm[0][1] * mm)
            for x, y in points_mm[1:]:
                path.lineTo(x * mm, y * mm)
            if closed:
                path.close()
            canvas.drawPath(path, stroke=int(width_pt > 0), fill=int(fill is not None))
            canvas.restoreState()

    def box(
        self,
        x_mm: float,
        y_mm: float,
        width_mm: float,
        height_mm: float,
        line_pt: float = 0.6,
        *,
        colour: str = INK,
        fill: str | None = None,
        dash_mm: Sequence[float] = (),
    ) -> None:
        """Draw a rectangle from its lower left corner."""
        right, top = x_mm + width_mm, y_mm + height_mm
        corners = [(x_mm, y_mm), (right, y_mm), (right, top), (x_mm, top)]
        self.line(corners, line_pt, colour=colour, fill=fill, dash_mm=dash_mm, closed=True)

    def circle(
        self, x_mm: float, y_mm: float, radius_mm: float, width_pt: float = 0.6, fill: str = ""
    ) -> None:
        """Draw a circle."""
        with self._structure.artifact():
            self._canvas.saveState()
            self._canvas.setLineWidth(width_pt)
            self._canvas.setStrokeColor(HexColor(INK))
            if fill:
                self._canvas.setFillColor(HexColor(fill))
            self._canvas.circle(x_mm * mm, y_mm * mm, radius_mm * mm, fill=int(bool(fill)))
            self._canvas.restoreState()

    def cross(self, x_mm: float, y_mm: float, arm_mm: float, width_pt: float = 0.5) -> None:
        """Draw an upright cross whose lines meet at a place."""
        self.line([(x_mm - arm_mm, y_mm), (x_mm + arm_mm, y_mm)], width_pt)
        self.line([(x_mm, y_mm - arm_mm), (x_mm, y_mm + arm_mm)], width_pt)

    def arrow(
        self, start_mm: tuple[float, float], end_mm: tuple[float, float], width_pt: float = 0.6
    ) -> None:
        """Draw a line with a filled head at its end."""
        (x0, y0), (x1, y1) = start_mm, end_mm
        along = math.atan2(y1 - y0, x1 - x0)
        head = 2.2 + width_pt
        wings = [
            (x1 - head * math.cos(along + a), y1 - head * math.sin(along + a))
            for a in (0.35, -0.35)
        ]
        self.line([start_mm, end_mm], width_pt)
        self.line([end_mm, *wings], 0, fill=INK, closed=True)

    def picture(
        self,
        pixels: NDArray[np.uint8],
        x_mm: float,
        y_mm: float,
        width_mm: float,
        spoken: str,
        *,
        dpi: float = 250.0,
    ) -> float:
        """Place a picture, reduced to what printing shows; return its height.

        Raises
        ------
        ValueError
            If the pixels are not (H, W, 3) uint8.
        """
        if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.dtype != np.uint8:
            raise ValueError(f"expected (H, W, 3) uint8 pixels, got {pixels.shape} {pixels.dtype}")
        image = Image.fromarray(np.ascontiguousarray(pixels))
        most_px = round(width_mm / 25.4 * dpi)
        if image.width > most_px:
            height_px = max(round(image.height * most_px / image.width), 1)
            image = image.resize((most_px, height_px), Image.Resampling.LANCZOS, reducing_gap=3.0)
        height_mm = width_mm * int(pixels.shape[0]) / int(pixels.shape[1])
        packed = io.BytesIO()
        image.save(
            packed, "JPEG", quality=88, subsampling=0
        )  # embedded as it is, not as raw pixels
        packed.seek(0)
        with self._structure.content("Figure", spoken):
            self._canvas.drawImage(
                ImageReader(packed), x_mm * mm, y_mm * mm, width_mm * mm, height_mm * mm
            )
        return height_mm

    @contextmanager
    def clipped(
        self, x_mm: float, y_mm: float, width_mm: float, height_mm: float
    ) -> Iterator[None]:
        """Keep what is drawn inside a rectangle."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        path.rect(x_mm * mm, y_mm * mm, width_mm * mm, height_mm * mm)
        self._canvas.clipPath(path, stroke=0, fill=0)
        yield
        self._canvas.restoreState()

    # --- the end of a page

    def finish(self) -> None:
        """Write the footer: title, page number, and what a box in the text means."""
        if self._missing:
            self.text(self.width_mm / 2, 5, MISSING_NOTE, 7, align="centre", colour=SOFT)
        if not self._footer:
            return
        self.text(10, 5, self._booklet.title, 7, colour=SOFT, most_mm=self.width_mm / 3)
        label = f"page {self.number}"
        right = self.width_mm - 18
        self.text(right, 5, label, 7, align="right", colour=SOFT)
        with self._structure.artifact():
            self._canvas.saveState()
            self._canvas.translate(right * mm, 5 * mm)
            self._canvas.doForm("page-count")
            self._canvas.restoreState()


def text_width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Width of one line."""
    return set_line(text, bold).width_pt(size_pt) * POINT_MM


def leading_mm(size_pt: float) -> float:
    """Distance of baselines."""
    return size_pt * 1.3 * POINT_MM


def wrapped(text: str, width_mm: float, size_pt: float, bold: bool = False) -> list[str]:
    """Lines of a width, broken at spaces; a word that is too wide is broken anywhere.

    A number stays with its thousands, its fraction and its unit.
    """
    lines: list[str] = []
    line = ""
    for word in _INSIDE_LENGTH.sub("\u00a0", text).split(" "):
        longer = f"{line} {word}" if line else word
        if text_width_mm(longer, size_pt, bold) <= width_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        while len(word) > 1 and text_width_mm(word, size_pt, bold) > width_mm:
            fits = next(
                (
                    n
                    for n in range(len(word) - 1, 0, -1)
                    if text_width_mm(word[:n], size_pt, bold) <= width_mm
                ),
                1,
            )
            lines.append(word[:fits])
            word = word[fits:]
        line = word
    return [*lines, line] if line or not lines else lines


def _fitted(text: str, bold: bool, size_pt: float, most_mm: float | None) -> Setting:
    setting = set_line(text, bold)
    if most_mm is None or setting.width_pt(size_pt) * POINT_MM <= most_mm:
        return setting
    for length in range(len(text) - 1, 0, -1):
        shorter = set_line(text[:length].rstrip() + "…", bold)
        if shorter.width_pt(size_pt) * POINT_MM <= most_mm:
            return shorter
    return set_line("…", bold)
