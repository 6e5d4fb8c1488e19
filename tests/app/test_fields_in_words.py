"""What the panels say of lengths, names and weights, in the unit that the person has set."""

import json

import pytest

from tests.app.conftest import make_job, opened_page
from visualiser.app.fields import lengths_in, shortened
from visualiser.app.steps.wall import _taped_at
from visualiser.wording import Length, sentence

CENTRE_MM = 1524.0


def test_lengths_of_the_core_are_written_in_the_persons_unit():
    """25.4 mm are one inch by definition (international yard and pound agreement, 1959)."""
    high = sentence("Its centre is ", Length(1524.0), " high.")
    assert lengths_in(high, "in") == "Its centre is 60 in high."
    assert lengths_in(high, "mm").replace("\u00a0", " ") == "Its centre is 1 524 mm high."
    assert lengths_in("A plain word of 4 mm is nobody's length.", "in").startswith(
        "A plain word of 4"
    )


def test_what_belongs_together_stays_on_one_line():
    said = lengths_in("Pieces 4 · Pebbles, 5 · Reeds: ± 3 mm.", "mm")
    assert said == "Pieces 4\u00a0·\u00a0Pebbles, 5\u00a0·\u00a0Reeds: ±\u00a03 mm."


def test_a_long_name_is_cut_to_its_room():
    assert shortened("Three rows in the long gallery", 12) == "Three rows…"
    assert shortened("Heron", 5) == "Heron"


@pytest.mark.parametrize(
    ("tilt_deg", "said"),
    [
        (0.04, "The sheet is taped level"),
        (-0.04, "The sheet is taped level"),
        (1.23, "The sheet is taped 1.2° counter-clockwise off level"),
        (-1.23, "The sheet is taped 1.2° clockwise off level"),
    ],
)
def test_a_level_sheet_is_not_said_to_lean(tilt_deg, said):
    assert _taped_at(tilt_deg) == said


def test_hooks_carry_pounds_where_lengths_are_in_inches(jobs_folder):
    job_id, project = make_job()

    def carried():
        page = opened_page(job_id, "hang")
        (rows,) = [
            json.loads(part.proto.json)["pieces"]
            for part in page.get("bidi_component")
            if '"held"' in part.proto.json
        ]
        told = [row["held"].partition(" on ")[0].split() for row in rows]
        told_of = [part.value for part in (*page.markdown, *page.error)]  # no boxes for advice
        assert any("Heron" in text for text in told_of)
        assert not any("p1" in text for text in told_of)
        return [float(number) for number, _ in told], {unit for _, unit in told}

    kg, unit = carried()
    assert unit == {"kg"}
    project.save(project.document.changed(units="in"))
    lb, unit = carried()
    assert unit == {"lb"}
    # One pound is 0.45359237 kg (NIST SP 811, B.8); both are printed to a tenth.
    assert lb == pytest.approx([value / 0.45359237 for value in kg], abs=0.05 / 0.4536 + 0.05)


def test_a_failure_of_the_whole_page_is_said_once(jobs_folder):
    import io

    from PIL import Image

    buffer = io.BytesIO()
    Image.new("RGB", (800, 600), (150, 150, 145)).save(buffer, "JPEG")
    job_id, _ = make_job(photo=buffer.getvalue(), corners=False)
    for step in ("colours", "mockup", "hang"):
        page = opened_page(job_id, step)
        assert len(page.error) == 1
