"""The page's scripts by themselves: run by node's test runner, and their types checked."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.app.from_npm import unpacked
from visualiser.app.scripts import joined

SCRIPTS = Path(__file__).parents[2] / "visualiser" / "app"
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


def test_the_modules_of_a_page_go_into_one_script(tmp_path):
    """They are sent as one: a name that two of them give would stop the whole page."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    entries = {
        entry
        for path in SCRIPTS.rglob("*.py")
        for entry in re.findall(r'\bjoined\("([^"]+)"\)', path.read_text("utf-8"))
    }
    assert len(entries) >= 4
    for entry in entries:
        script = tmp_path / f"{entry.replace('/', '-')}.mjs"
        script.write_text(joined(entry), "utf-8")
        ran = subprocess.run(
            [node, "--check", str(script)], capture_output=True, text=True, check=False, timeout=60
        )
        assert ran.returncode == 0, ran.stderr[-2000:]


@pytest.mark.slow
def test_the_types_of_the_scripts(tmp_path):
    """TypeScript's own checker reads the modules as they are, with their JSDoc."""
    compiler = unpacked("typescript@5", tmp_path) / "lib" / "tsc.js"
    settings = {
        "compilerOptions": {
            "allowJs": True,
            "checkJs": True,
            "noEmit": True,
            "target": "es2023",
            "lib": ["es2023", "dom", "dom.iterable"],
            "module": "esnext",
            "moduleResolution": "bundler",
        },
        "include": [f"{SCRIPTS}/**/*.js"],
    }
    (tmp_path / "tsconfig.json").write_text(json.dumps(settings))
    command = ["node", str(compiler), "-p", str(tmp_path)]
    ran = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert ran.returncode == 0, ran.stdout[-3000:]
