"""A PDF page measured in millimetres from the lower left: text, lines and pictures on it."""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from visualiser.printing.fonts import MISSING_NOTE
from visualiser.printing.line_breaking import POINT_MM, fitted, leading_mm, wrapped
from visualiser.printing.tagging import Role, Structure

Align = Literal["left", "centre", "right"]
INK, SOFT, FAINT, TINT = "#1a1a1a", "#5a5a5a", "#b4b4b4", "#efece6"
MARGIN_MM = 12.0
FLOOR_MM = 14.0
"""What is printed ends above this: the footer is below."""


class Page:
    """One page. Lengths in mm from the lower left corner, y up; font sizes in points.

    Parameters
    ----------
    canvas, structure
        Of the document; its form "page-count" says in the footer how many pages there are.
    footer
        Title to stand in the footer; None for a page without one.
    """

    def __init__(
        self,
        canvas: Canvas,
        structure: Structure,
        width_mm: float,
        height_mm: float,
        number: int,
        footer: str | None,
    ) -> None:
        self.width_mm = width_mm
        self.height_mm = height_mm
        self.number = number
        self._canvas = canvas
        self._structure = structure
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
        setting = fitted(text, bold, size_pt, most_mm)
        self._missing |= setting.missing
        width = setting.width_pt(size_pt)
        shift = {"left": 0.0, "centre": -width / 2, "right": -width}[align]
        canvas = self._canvas
        as_seen = all(part.font is not None and not part.missing for part in setting.parts)
        with self._structure.content(role, "" if as_seen else text):
            canvas.saveState()
            canvas.translate(x_mm * mm, y_mm * mm)
            canvas.rotate(angle_deg)
            for part in setting.parts:
                own = part.width_pt(size_pt)
                if part.font is not None:
                    canvas.setFont(part.font, size_pt)
                    canvas.setFillColor(HexColor(colour))
                    canvas.drawString(shift, 0, part.text)
                else:
                    image, below = part.picture(size_pt, colour)
                    scale = own / image.width
                    canvas.drawImage(
                        ImageReader(image), shift, -below, own, image.height * scale, mask="auto"
                    )
                shift += own
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
            self.text(self.width_mm / 2, 5, MISSING_NOTE, 8, align="centre", colour=SOFT)
        if self._footer is None:
            return
        self.text(10, 5, self._footer, 8, colour=SOFT, most_mm=self.width_mm / 3)
        label = f"page {self.number}"
        right = self.width_mm - 18
        self.text(right, 5, label, 8, align="right", colour=SOFT)
        with self._structure.artifact():
            self._canvas.saveState()
            self._canvas.translate(right * mm, 5 * mm)
            self._canvas.doForm("page-count")
            self._canvas.restoreState()


NewPage = Callable[[str], tuple[Page, float]]
"""Starts a page of a heading; gives it and the height to go on from."""
