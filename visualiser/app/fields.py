"""Small parts that every step is made of: lengths in the person's unit, findings, errors."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

import streamlit as st

from visualiser.errors import UnitError, VisualiserError
from visualiser.findings import Finding
from visualiser.units import Unit, format_length, format_uncertain, parse_length

if TYPE_CHECKING:
    from visualiser.app.state import Work

_MARKS = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>$~:^])")


def plain(text: str) -> str:
    """Text that shows as it is written: nothing in it becomes a link, a picture or a format."""
    return _MARKS.sub(r"\\\1", text)


def unit_of(work: Work) -> Unit:
    """Tell in which unit the person reads and types lengths."""
    return work.document.units


def length(work: Work, length_mm: float, half_width_mm: float | None = None) -> str:
    """Print a length in the person's unit, with its ± where it was measured."""
    unit = unit_of(work)
    if half_width_mm is None:
        text = format_length(length_mm, unit)
    else:
        text = format_uncertain(length_mm, half_width_mm, unit)
    return text.replace(" ", "\u00a0")  # never broken over two lines


def half_width(work: Work, half_width_mm: float) -> str:
    """Print a ± in the person's unit: no measurement is certain, so never less than one step."""
    unit = unit_of(work)
    step_mm = 25.4 / 16 if unit in ("in", "ft") else 1.0
    return f"± {format_length(max(half_width_mm, step_mm), unit)}"


def length_field(
    work: Work,
    label: str,
    value_mm: float | None,
    key: str,
    *,
    help_text: str | None = None,
    least_mm: float = 0.0,
) -> float | None:
    """Let the person type a length as the trade writes it.

    Returns
    -------
    Millimetres; the old value where nothing readable was typed, None where the field is empty.
    """
    unit = unit_of(work)
    shown = "" if value_mm is None else format_length(value_mm, unit)
    typed = st.text_input(
        label,
        shown,
        key=f"{key}-{unit}-{work.generation}",
        help=help_text,
        max_chars=40,
        placeholder="24 3/8 in, 61.9 cm or 619 mm",
    )
    if typed.strip() == shown:
        return value_mm  # what was only printed keeps its full precision
    if not typed.strip():
        return None
    try:
        typed_mm = parse_length(typed, default_unit=unit)
    except UnitError as error:
        tell(error)
        return value_mm
    if typed_mm < least_mm:
        st.error(f"{plain(label)} is {format_length(typed_mm, unit)}; that is too small.")
        return value_mm
    return typed_mm


def bullets(sentences: Iterable[str]) -> None:
    """Show sentences as one list."""
    if lines := [f"- {plain(sentence)}" for sentence in sentences]:
        st.markdown("\n".join(lines))


def tell(error: VisualiserError) -> None:
    """Show what is wrong and what to do."""
    st.error(f"**{plain(error.message)}**  \n{plain(error.hint)}", icon=":material/error:")


def tell_findings(findings: Iterable[Finding]) -> None:
    """Show findings, gravest first; those with one remedy share it."""
    order = ("broken", "caution", "advice", "note")
    shared: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in sorted(findings, key=lambda f: order.index(f.severity)):
        key = (finding.severity, finding.code or finding.text, finding.hint)
        shared.setdefault(key, []).append(finding)
    for same in shared.values():
        finding = same[0]
        lines = [plain(text) for text in dict.fromkeys(f.text for f in same)]
        text = lines[0] if len(lines) == 1 else "\n".join(f"- {line}" for line in lines) + "\n"
        if finding.hint:
            text += f"  \n{plain(finding.hint)}" if len(lines) == 1 else f"\n{plain(finding.hint)}"
        if finding.severity == "broken":
            st.error(text, icon=":material/block:")
        elif finding.severity == "caution":
            st.warning(text, icon=":material/warning:")
        elif finding.severity == "advice":
            st.info(text, icon=":material/lightbulb:")
        else:
            st.caption(text)
