"""Files to take away: made when asked for, kept until what they show has changed."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial

import streamlit as st

from visualiser.app import under_way
from visualiser.app.fields import tell
from visualiser.app.presses import pressed
from visualiser.app.session import Kept
from visualiser.errors import VisualiserError

_ASKED: Kept[tuple[str, int]] = Kept("file-asked-for")
"""Spot of the file that was asked for last, and when."""
_SAVE_SCRIPT = """
const PATIENCE_MS = 20000, AGAIN_MS = 100;
export default function ({ data }) {
  if (data.asked_us <= (globalThis.visualiserSaved ?? 0)) return;
  globalThis.visualiserSaved = data.asked_us;
  const since = performance.now();
  const save = () => {
    const button = document.querySelector(`.st-key-save-${data.spot} button`);
    if (button) button.click();
    else if (performance.now() - since < PATIENCE_MS) setTimeout(save, AGAIN_MS);
  };
  save();
}
"""
"""Clicks the button that saves, once for each making, as soon as the page has it."""


def offer(
    spot: str,
    depends_on: str,
    make: Callable[[], bytes | partial[bytes]],
    *,
    label: str,
    file_name: str,
    mime: str,
    help_text: str | None = None,
    first: bool = False,
) -> None:
    """Offer to make a file, then to save it.

    Parameters
    ----------
    spot
        Name of this place on the page.
    depends_on
        All that the file depends on, as text; when it changes, the file is made anew.
    make
        Makes the file, or gives a call of some module's function that will make it: that takes
        long, and goes on beside the page, where it can be stopped. May raise the core's errors.
    label
        What it is called on the buttons, such as ``the hanging plan``.
    file_name, mime
        As it is saved.
    help_text
        Said beside the button.
    first
        Whether it is what most people come for.
    """
    made_before: Kept[tuple[str, bytes]] = Kept(f"made-{spot}")
    try:
        under_way.take_outcome(spot, made_before.put)
    except VisualiserError as error:
        tell(error)
    kept = made_before.get()
    if kept is None or kept[0] != depends_on:
        if under_way.is_under_way(spot, depends_on):
            under_way.watch(spot, f"Making {label}")
            return
        under_way.give_up(spot)  # the job has changed meanwhile
        if not pressed(
            f"Make {label}",
            key=f"make-{spot}",
            help=f"{help_text or ''} It is saved at once.".strip(),
            type="primary" if first else "secondary",
            width="stretch",
        ):
            return
        _ASKED.put((spot, time.time_ns() // 1000))
        try:
            with st.spinner(f"Making {label} …"):
                made = make()
                if isinstance(made, partial):
                    under_way.begin(spot, depends_on, made)
                else:
                    made_before.put((depends_on, made))
        except VisualiserError as error:
            tell(error)
            return
        st.rerun()
    st.download_button(
        f"Save {label}",
        kept[1],
        file_name=file_name,
        mime=mime,
        icon=":material/download:",
        on_click="ignore",
        key=f"save-{spot}",
        width="stretch",
    )
    asked = _ASKED.get()
    if asked is not None and asked[0] == spot:
        _save_by_itself(*asked)


def _save_by_itself(spot: str, asked_us: int) -> None:
    """Have the browser save what has been made, once: it was asked for with one click.

    It stays on the page: a run that is overtaken by the next may never reach the browser.
    """
    save = st.components.v2.component(
        "visualiser.save_made", html="<span hidden></span>", js=_SAVE_SCRIPT
    )
    save(key=f"saving-{spot}", data={"spot": spot, "asked_us": asked_us})


def file_stem(name: str) -> str:
    """Part of a job's name that may stand in a file name."""
    kept = "".join(c if c.isalnum() else "-" for c in name.lower())
    return "-".join(part for part in kept.split("-") if part)[:40] or "job"
