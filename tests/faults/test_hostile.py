"""Spoiled files give a `VisualiserError` or a value, never anything else, in bounded memory.

50 000 cases for each parser: ``python -m pytest -m slow tests/faults/test_hostile.py``.
"""

import contextlib

import pytest
from hypothesis import HealthCheck, given, settings

from tests.faults.fuzzing import many_spoiled, parsers, spoiled
from tests.memory import peak_bytes
from visualiser.errors import VisualiserError

CASES, MANY_CASES = 200, 50_000
MOST_BYTES = 1.5e9
NAMES = (
    "photo", "project", "pieces-csv", "pieces-json", "zip", "catalogue", "lengths", "plan",
    "batch-list",
)  # fmt: skip


@pytest.fixture
def target(tmp_path):
    (tmp_path / "target").mkdir()
    return tmp_path / "target"


@pytest.fixture
def parser(request, tmp_path):
    (tmp_path / "corpus").mkdir()
    return parsers(tmp_path / "corpus")[request.param]


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
        with contextlib.suppress(VisualiserError):
            parser.read(data, target)

    for whole in parser.corpus:
        parser.read(whole, target)
    attempt()


@pytest.mark.slow
@pytest.mark.timeout(3000)
@pytest.mark.parametrize("parser", NAMES, indirect=True)
def test_very_many_spoiled_files(parser, target):
    read = 0
    for number, data in enumerate(many_spoiled(parser, MANY_CASES, seed=10)):
        try:
            parser.read(data, target)
            read += 1
        except VisualiserError:
            pass
        except Exception as error:
            error.add_note(f"case {number}: {data[:1000]!r}")
            raise
    print(f"{read} of {MANY_CASES} could be read; peak {peak_bytes() / 1e6:.0f} MB")  # noqa: T201
    assert 0 < read < MANY_CASES
    assert peak_bytes() < MOST_BYTES
