"""What the panels say of lengths, names and weights, in the unit that the person has set."""

import json

import pytest

from tests.app.conftest import make_job, opened_page
from visualiser.app.fields import lengths_in, shortened
from visualiser.app.steps.wall import _taped_at

CENTRE_MM = 1524.0


@pytest.mark.parametrize(
    ("sentence", "unit", "said"),
    [
        # 25.4 mm are one inch by definition (international yard and pound agreement, 1959).
        ("Its centre is 1524 mm high.", "in", "Its centre is 60 in high."),
        ("Its centre is 1524 mm high.", "cm", "Its centre is 152.4 cm high."),
        ("The outline is 1270 x 635 mm.", "in", "The outline is 50 × 25 in."),
        ("it is 127 mm; 50.8 to 76.2 mm holds.", "in", "it is 5 in; 2 to 3 in holds."),
        ("The roll is 914 mm (36 in) wide.", "in", "The roll is 36 in wide."),
        ("The roll is 914 mm (36 in) wide.", "mm", "The roll is 914 mm wide."),
        ("It is 1\u00a0220 mm (48 1/16 in) long.", "cm", "It is 122.0 cm long."),
        ("Lower it by 7 mm (1/4 in).", "in", "Lower it by 1/4 in."),
        ("A focal length of 4 mmm or P20 mm-x", "mm", "A focal length of 4 mmm or P20 mm-x"),
    ],
)
def test_lengths_of_the_core_are_written_in_the_persons_unit(sentence, unit, said):
    assert lengths_in(sentence, unit).replace(" ", " ") == said


def test_what_belongs_together_stays_on_one_line():
    said = lengths_in("Pieces 4 · Pebbles, 5 · Reeds: ± 3 mm.", "mm")
    assert said == "Pieces 4\u00a0·\u00a0Pebbles, 5\u00a0·\u00a0Reeds: ±\u00a03 mm."


def test_thousands_are_parted_in_millimetres_as_in_the_fields():
    assert lengths_in("1524 mm", "mm").replace(" ", " ") == "1 524 mm"


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
        told = [row["held"].partition(" each")[0].split() for row in rows]
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
