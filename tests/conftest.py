"""A browser for the tests that need one, and what spares every test the same work."""

import functools
import os
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# How long an example takes says what else the machine does, not whether the code is right.
settings.register_profile("any load", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any load")

# Tests run in as many processes as there are cores: threads of the linear algebra would only wait
# for one another. Set before NumPy is loaded, here and in what the tests start.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")
if "PYTEST_XDIST_WORKER" in os.environ:  # what is timed alone has all of OpenCV's threads
    os.environ.setdefault("OPENCV_FOR_THREADS_NUM", "1")

# And each of the programs that they start reads compiled what the one before it has compiled.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers():
    """Have more workers than cores by half: while a test waits for a browser, another computes."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return cores + cores // 2


def pytest_configure(config):
    """Hand files out in the order they are collected in, not the one with most tests first."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items):
    """Begin with the browser: few long tests, which at the end would keep one worker alone.

    What ends the run are the examples of docstrings, hundreds of files of a moment each.
    """
    driven = {item.path for item in items if item.get_closest_marker("browser")}
    items.sort(key=lambda item: item.path not in driven)  # each file as it was


@pytest.fixture(autouse=True)
def _own_main():
    """Put back the main module, which a page run in this process replaces: spawning reads it."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main


@pytest.fixture(scope="session", autouse=True)
def _one_parser():
    """Build the command line's parser once: the runner of the tests builds it for each call."""
    import typer.testing

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(typer.testing, "_get_command", functools.cache(typer.testing._get_command))
        yield


@pytest.fixture(scope="module")
def browser():
    """Debian's chromium, closed with the module.

    While it is open its driver keeps an event loop running in this thread, and a process forked
    then shares its pipe: tests of other modules that run a loop of their own, or fork, would fail.
    """
    if not CHROMIUM.exists():
        if os.environ.get("CI") == "true":
            pytest.fail(f"{CHROMIUM} is not installed; the continuous check must not skip this")
        pytest.skip(f"{CHROMIUM} is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield chromium
        chromium.close()
