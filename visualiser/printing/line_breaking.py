"""Lines of text on paper: how wide they are, how far apart, and where they break."""

from __future__ import annotations

import re

from visualiser.printing.fonts import Line, set_parts

POINT_MM = 25.4 / 72
_INSIDE_LENGTH = re.compile(r"(?<=\d) (?=\d|mm\b|cm\b|in\b|kg\b|N\b|s\b)|(?<=±) (?=\d)")


def text_width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Width of one line."""
    return set_parts(text, bold).width_pt(size_pt) * POINT_MM


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


def fitted(text: str, bold: bool, size_pt: float, most_mm: float | None) -> Line:
    """Set a line, shortened with an ellipsis where it is wider than ``most_mm``."""
    setting = set_parts(text, bold)
    if most_mm is None or setting.width_pt(size_pt) * POINT_MM <= most_mm:
        return setting
    for length in range(len(text) - 1, 0, -1):
        shorter = set_parts(text[:length].rstrip() + "…", bold)
        if shorter.width_pt(size_pt) * POINT_MM <= most_mm:
            return shorter
    return set_parts("…", bold)
