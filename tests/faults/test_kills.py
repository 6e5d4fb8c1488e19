"""No kill at any moment costs a job, a catalogue or a save that was acknowledged."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills a process as POSIX does")
ROOT = Path(__file__).resolve().parents[2]
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def killed(kind, kills, seed, folder):
    run = subprocess.run(
        [sys.executable, "tests/faults/killing.py", kind, str(kills), str(seed), str(folder)],
        cwd=ROOT,
        env={**os.environ, **ONE_THREAD, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(run.stdout)


@pytest.mark.parametrize("kind", ["saves", "catalogue"])
def test_a_few_kills(kind, tmp_path):
    told = killed(kind, 40, 1, tmp_path)
    assert told["lost"] == []
    assert told["promises"] > 0


@pytest.mark.slow
@pytest.mark.parametrize("part", range(5))
@pytest.mark.parametrize("kind", ["saves", "catalogue"])
def test_a_thousand_kills(kind, part, tmp_path):
    told = killed(kind, 200, 100 + part, tmp_path)
    assert told["lost"] == []
    assert told["promises"] > 200 // 10
