"""The wall view's scripts by themselves, run by node's test runner where node is installed."""

import shutil
import subprocess
from pathlib import Path

import pytest

TESTS = Path(__file__).parent / "wall_canvas"


def test_the_arithmetic_of_the_wall_view():
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    ran = subprocess.run(
        [node, "--test", *map(str, sorted(TESTS.glob("*.test.mjs")))],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert ran.returncode == 0, ran.stdout[-3000:]
