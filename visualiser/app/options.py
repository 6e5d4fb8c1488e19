"""The options of a job: which one is on view."""

from __future__ import annotations

import streamlit as st

from visualiser.app.fields import plain, shortened
from visualiser.app.state import Work, option_on_view


def option_picker(work: Work) -> None:
    """Let the person switch between the job's options, where there are any."""
    options = work.document.options
    if options:
        names = {o.id: f"{o.id.upper()} · {shortened(o.name or o.family, 40)}" for o in options}
        chosen = st.pills(
            "Option",
            list(names),
            default=option_on_view(work),
            format_func=lambda key: plain(names[key]),
            key=f"option-{work.generation}-{option_on_view(work)}-{len(options)}",
            required=True,
            wrap=True,
        )
        if chosen and chosen != option_on_view(work):
            work.change(work.document.changed(chosen=chosen))
            st.rerun()
