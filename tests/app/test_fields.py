"""What is told in one box, and what stays plain text."""

from streamlit.testing.v1 import AppTest


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
    shared, alone = (part.value for part in page.info)
    assert "Fern" in shared
    assert "Reeds" in shared
    assert shared.count("Keep the crop") == 1
    assert alone.startswith("The sheet leans")
