"""Colours of frame finishes and mat boards, nominal, to judge a picture's surround by."""

from __future__ import annotations

FINISHES: dict[str, str] = {
    "oak": "#b48a5a",
    "walnut": "#5f402d",
    "black": "#1d1b1a",
    "white": "#e9e6df",
    "brass": "#b8944f",
    "silver": "#b9bbbd",
    "natural": "#d2b68f",
}
"""Nominal sRGB of frame finishes: ours, no standard. Stock varies; measure if it matters."""

MATS: dict[str, str] = {
    "bright white": "#f7f7f5",
    "warm white": "#f4f1ea",
    "cream": "#efe4cb",
    "sand": "#d8c7a6",
    "pale grey": "#d3d3d0",
    "mid grey": "#8f8f8d",
    "charcoal": "#3c3c3e",
    "black": "#1f1e1d",
    "sage": "#a9b49a",
    "dusty blue": "#9fb0c0",
    "navy": "#26324a",
    "terracotta": "#b5694a",
}
"""Nominal sRGB of mat boards: ours, no standard."""
