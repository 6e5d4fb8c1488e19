"""What a stranger's file holds is quoted in a sentence, not in a megabyte."""

import pytest

from visualiser.arrangement.plan_file import FORMAT, read_plan
from visualiser.errors import LONGEST_WORDS, ArrangementError, PieceError, VisualiserError
from visualiser.inventory.piece_csv import pieces_from_csv
from visualiser.inventory.piece_json import pieces_from_json

MEGABYTE = "9" * 1_000_000


def test_words_are_cut_off_where_nobody_would_read_on():
    error = VisualiserError("a" * LONGEST_WORDS, hint=MEGABYTE)
    assert error.message == "a" * LONGEST_WORDS
    assert len(error.hint) == LONGEST_WORDS
    assert error.hint.endswith("…")


@pytest.mark.parametrize(
    ("read", "content"),
    [
        (pieces_from_csv, f"id,width,height,{MEGABYTE}\np1,400,500,1"),
        (pieces_from_csv, f"id,width,height,weight kg\np1,400,500,{MEGABYTE}"),
        (pieces_from_csv, f"id,width,height,glazing\np1,400,500,{MEGABYTE}"),
        (pieces_from_json, f'[{{"id": "p1", "width_mm": "{MEGABYTE}", "height_mm": 500}}]'),
        (pieces_from_json, f'[{{"id": "p1", "width_mm": 5{"0" * 4000}, "height_mm": 500}}]'),
    ],
)
def test_a_message_about_a_megabyte_is_a_sentence(read, content):
    with pytest.raises(PieceError) as caught:
        read(content)
    assert len(str(caught.value)) < 2 * LONGEST_WORDS + 2


@pytest.mark.parametrize("version", ["9" * 4000, "10000", "0", "1e400", '"2"', "null"])
def test_a_number_of_no_version_is_damage(version):
    with pytest.raises(ArrangementError, match="damaged"):
        read_plan(f'{{"format": "{FORMAT}", "version": {version}, "slots": []}}'.encode())
