"""Small parts that every step is made of: lengths in the person's unit, findings, errors."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

import streamlit as st

from visualiser.app.session import WORK, Kept, go_to_step
from visualiser.errors import UnitError, VisualiserError
from visualiser.findings import Finding
from visualiser.units import Unit, format_length, format_uncertain, parse_length, round_up_mm
from visualiser.wording import in_unit

if TYPE_CHECKING:
    from visualiser.app.state import Work

KG_PER_LB = 0.45359237
"""International avoirdupois pound (NIST SP 811, B.8)."""
_TOLD_ABOVE: Kept[tuple[str, str]] = Kept("told-above")
_MOST_ALIKE = 5
_MARKS = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>$~:^])")


# GFM 0.29, 6.9 (extended autolinks): what turns into a link by itself, escaped or not.
_LINKS = re.compile(r"(?i)(https?:|ftp:|www|mailto:|xmpp:|@)(?=[/.\w\\])")
_JOINER = "\u2060"
"""WORD JOINER: shows nothing, breaks no line, and parts what would otherwise become a link."""


def plain(text: str) -> str:
    """Text that shows as it is written: nothing in it becomes a link, a picture or a format."""
    return _MARKS.sub(r"\\\1", _LINKS.sub(rf"\1{_JOINER}", text))


def unit_of(work: Work) -> Unit:
    """Tell in which unit the person reads and types lengths."""
    return work.document.units


def names_of(work: Work) -> dict[str, str]:
    """Give what each piece is called on the screen, by its id."""
    return {piece.id: piece.name or piece.id for piece in work.document.pieces}


def load(work: Work, mass_kg: float) -> str:
    """Print what a hook carries: pounds where lengths are in inches."""
    inches = unit_of(work) in ("in", "ft")
    return f"{mass_kg / KG_PER_LB:.1f} lb" if inches else f"{mass_kg:.1f} kg"


def length(work: Work, length_mm: float, half_width_mm: float | None = None) -> str:
    """Print a length in the person's unit, with its ± where it was measured."""
    unit = unit_of(work)
    if half_width_mm is None:
        text = format_length(length_mm, unit)
    else:
        text = format_uncertain(length_mm, half_width_mm, unit)
    return text.replace(" ", "\u00a0")  # never broken over two lines


def lengths_in(text: str, unit: Unit) -> str:
    """Write a sentence with its lengths in the person's unit.

    What belongs together, as a number and the name behind it, stays on one line.
    """
    return held_together(in_unit(text, unit))


def held_together(text: str) -> str:
    """Break no line between a plan's number and the name behind it, nor after a ±."""
    return re.sub(r"(?<=\d) · ", "\u00a0·\u00a0", text).replace("± ", "±\u00a0")


def half_width(work: Work, half_width_mm: float) -> str:
    """Print a ± in the person's unit, rounded up: no less than what was measured."""
    unit = unit_of(work)
    return f"± {format_length(round_up_mm(half_width_mm, unit), unit)}"


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


def nothing_yet(sentence: str, step: str, title: str) -> None:
    """Say what is missing, with a button to the step where it is made."""
    st.info(sentence)
    st.button(f"Go to {title}", on_click=go_to_step, args=(step,))


def shortened(text: str, most: int) -> str:
    """Cut a name to a length that a button or a list has room for."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def bullets(sentences: Iterable[str], unit: Unit = "mm") -> None:
    """Show sentences as one list."""
    if lines := [f"- {plain(lengths_in(sentence, unit))}" for sentence in sentences]:
        st.markdown("\n".join(lines))


def tell(error: VisualiserError) -> None:
    """Show what is wrong and what to do, unless the page has said so above."""
    if _TOLD_ABOVE.get() == (error.message, error.hint):
        return
    work = WORK.get()
    unit: Unit = "mm" if work is None else unit_of(work)
    message, hint = (plain(lengths_in(text, unit)) for text in (error.message, error.hint))
    st.error(f"**{message}**  \n{hint}", icon=":material/error:")


def tell_above(error: VisualiserError | None, *, calm: bool = False) -> None:
    """Show, at the head of a page, what is wrong with all of it; below it is not said again.

    What the person wanted so is told calmly: it is no fault.
    """
    _TOLD_ABOVE.take()
    if error is not None:
        if calm:
            st.info(f"{plain(error.message)} {plain(error.hint)}")
        else:
            tell(error)
        _TOLD_ABOVE.put((error.message, error.hint))


def tell_findings(findings: Iterable[Finding], unit: Unit = "mm") -> None:
    """Show what a person must know as quiet lines, gravest first; the rest is behind one click.

    What breaks a hard rule is boxed. A caution is always in sight; of advice and notes only the
    first, and that only where nothing graver is said.
    """
    order = ("broken", "caution", "advice", "note")
    shared: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in sorted(findings, key=lambda f: order.index(f.severity)):
        key = (finding.severity, finding.code or finding.text, finding.hint)
        shared.setdefault(key, []).append(finding)
    said, more = False, []
    for same in shared.values():
        severity, text = same[0].severity, _told_together(same, unit)
        if severity == "broken":
            st.error(text, icon=":material/block:")
        elif severity == "caution":
            st.markdown(f":material/warning: {text}")
        elif not said:
            st.markdown(f":material/lightbulb: {text}" if severity == "advice" else text)
        else:
            more.append(text)
            continue
        said = True
    if more:
        with st.expander(f"{len(more)} more to know"):
            for text in more:
                st.markdown(text)


def _told_together(same: list[Finding], unit: Unit) -> str:
    """Write findings of one kind and remedy as one piece of Markdown."""
    lines = [plain(lengths_in(text, unit)) for text in dict.fromkeys(f.text for f in same)]
    if len(lines) > _MOST_ALIKE + 1 and same[0].severity in ("advice", "note"):
        more = len(lines) - _MOST_ALIKE
        lines = [*lines[:_MOST_ALIKE], f"and {more} more like these"]
    hint = plain(lengths_in(same[0].hint, unit))
    if len(lines) == 1:
        return f"{lines[0]}  \n{hint}" if hint else lines[0]
    return "\n".join(("", *(f"- {line}" for line in lines), "", hint))
