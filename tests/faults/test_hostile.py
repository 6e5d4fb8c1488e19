"""Spoiled files give a `VisualiserError` in a few words or a value, never anything else, in bounded
memory.

100 000 cases for each reader: ``python -m pytest -m slow tests/faults/test_hostile.py``, or as
many as ``VISUALISER_FUZZ_CASES`` says, from case ``VISUALISER_FUZZ_FIRST`` on.
"""

import itertools
import os
import time

import pytest
from hypothesis import HealthCheck, given, settings

from tests.faults.fuzzing import many_spoiled, parsers, spoiled
from tests.memory import peak_bytes
from visualiser.errors import LONGEST_WORDS, VisualiserError

CASES = 200
MANY_CASES = int(os.environ.get("VISUALISER_FUZZ_CASES", "100_000"))
FIRST_CASE = int(os.environ.get("VISUALISER_FUZZ_FIRST", "0"))
MOST_BYTES = 1e9
MOST_S = 10.0
"""Of processor time, for any one case."""
MOST_WORDS = 2 * LONGEST_WORDS + 1
NAMES = (
    "photo", "private", "project", "pieces-csv", "pieces-json", "zip", "catalogue", "lengths",
    "plan", "batch-list", "measured", "answer", "artworks",
)  # fmt: skip


@pytest.fixture
def target(tmp_path):
    (tmp_path / "target").mkdir()
    return tmp_path / "target"


@pytest.fixture
def parser(request, tmp_path):
    (tmp_path / "corpus").mkdir()
    return parsers(tmp_path / "corpus")[request.param]


def read_or_refused(parser, data, target):
    """Whether a file was read; where it was refused, in no more words than anyone reads."""
    said = ""
    try:
        parser.read(data, target)
    except VisualiserError as error:
        said = str(error)
    assert len(said) <= MOST_WORDS
    return not said


@pytest.mark.parametrize("parser", NAMES, indirect=True)
def test_spoiled_files_are_refused_in_a_sentence_or_read(parser, target):
    @settings(
        max_examples=CASES,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(spoiled(parser))
    def attempt(data):
        read_or_refused(parser, data, target)

    for whole in parser.corpus:
        parser.read(whole, target)
    attempt()


@pytest.mark.slow
@pytest.mark.timeout(3000)
@pytest.mark.parametrize("parser", NAMES, indirect=True)
def test_very_many_spoiled_files(parser, target):
    read, slowest_s = 0, 0.0
    cases = itertools.islice(
        many_spoiled(parser, FIRST_CASE + MANY_CASES, seed=10), FIRST_CASE, None
    )
    for number, data in enumerate(cases, FIRST_CASE):
        began_s = time.process_time()
        try:
            read += read_or_refused(parser, data, target)
        except Exception as error:
            error.add_note(f"case {number}: {data[:1000]!r}")
            raise
        slowest_s = max(slowest_s, time.process_time() - began_s)
        assert slowest_s < MOST_S, f"case {number}: {data[:1000]!r}"
    print(  # noqa: T201
        f"{read} of {MANY_CASES} could be read; slowest {slowest_s:.2f} s; "
        f"peak {peak_bytes() / 1e6:.0f} MB"
    )
    assert 0 < read < MANY_CASES
    assert peak_bytes() < MOST_BYTES
