"""What is told in one box, and what stays plain text."""

import re
from types import SimpleNamespace

import pytest
from streamlit.testing.v1 import AppTest

from visualiser.app.fields import half_width, plain


def _page():
    from visualiser.app.fields import tell_findings
    from visualiser.findings import Finding

    remedy = "Keep the crop."
    tell_findings(
        (
            Finding("advice", "Fern is cut.", remedy, "print-aspect", ("p1",)),
            Finding("broken", "Tide hangs over a switch.", "Move it.", "zone", ("p2",)),
            Finding("advice", "Reeds is cut.", remedy, "print-aspect", ("p3",)),
            Finding("advice", "The sheet leans.", "Tape it flat.", "sheet"),
        )
    )


def test_findings_with_one_remedy_share_it_and_the_gravest_comes_first():
    page = AppTest.from_function(_page).run()
    assert not page.exception
    assert [part.value.split(".")[0] for part in page.error] == ["Tide hangs over a switch\\"]
    # Advice beside a broken rule stands behind one click: quiet, and still there to be read.
    assert not page.info
    (behind,) = page.expander
    assert behind.label == "2 more to know"
    shared, alone = (part.value for part in behind.markdown)
    assert "Fern" in shared
    assert "Reeds" in shared
    assert shared.count("Keep the crop") == 1
    assert alone.startswith("The sheet leans")


@pytest.mark.parametrize(
    "name",
    [
        "https://evil.example/x", "HTTP://evil.example", "www.evil.example", "a@evil.example",
        "see http://evil.example.", "ftp://evil.example", "mailto:a@evil.example",
    ],
)  # fmt: skip
def test_an_address_in_a_name_is_no_link(name):
    """GFM 0.29, 6.9: the extended autolinks, matched in what is left once escapes are undone."""
    shown = re.sub(r"\\([\\`*_{}\[\]()#+\-.!|<>$~:^])", r"\1", plain(name))
    assert not re.search(r"(?i)(https?|ftp)://|www\.|mailto:\w|[\w.+-]+@[\w-]+\.", shown)
    assert shown.replace("\u2060", "") == name


def test_other_words_are_shown_as_they_are():
    assert plain("Heron at dawn, 2 x 3") == "Heron at dawn, 2 x 3"
    assert plain("Tide: low & high") == r"Tide\: low & high"


@pytest.mark.parametrize(
    ("measured_mm", "unit", "printed"),
    [
        (4.2, "mm", "± 5 mm"),
        (0.2, "mm", "± 1 mm"),
        (4.2, "in", "± 3/16 in"),
        (4.9, "in", "± 1/4 in"),
    ],
)
def test_a_half_width_is_rounded_up(measured_mm, unit, printed):
    """JCGM 100:2008, 7.2.6: an uncertainty is rounded up rather than to the nearest digit."""
    work = SimpleNamespace(document=SimpleNamespace(units=unit))
    assert half_width(work, measured_mm) == printed
