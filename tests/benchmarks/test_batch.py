"""A batch on two cores against one, and its memory over two hundred mock-ups.

Run with ``pytest -m benchmark -s tests/benchmarks/test_batch.py`` on a machine that does nothing
else.
"""

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

from visualiser.project.samples import create_sample, sample_folder
from visualiser.project.store import open_project

ROOT = Path(__file__).resolve().parents[2]
COUNT = 200

pytestmark = pytest.mark.benchmark


def listing(folder, count):
    """A shop's list: many artworks in turn in one frame of one room."""
    job = folder / "room"
    create_sample("breakfast-room", job)
    piece = open_project(job).document.pieces[0].id
    pictures = sorted((sample_folder() / "artworks").glob("*.jpg"))
    rows = [f"room,{pictures[k % len(pictures)]},{piece},item{k:03d}" for k in range(count)]
    place = folder / "list.csv"
    place.write_text("\n".join(["job,artwork,piece,name", *rows]))
    return place


def batch(place, at_once, cores):
    command = [sys.executable, "-m", "visualiser", "batch", str(place), "--only", "mockup"]
    return subprocess.Popen(
        [*command, "--at-once", str(at_once), "--anew"],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        preexec_fn=lambda: os.sched_setaffinity(0, cores),
    )


@pytest.mark.skipif(
    not hasattr(os, "sched_setaffinity") or (os.cpu_count() or 1) < 2, reason="needs two cores"
)
def test_two_cores_do_nearly_twice_the_work(tmp_path, capsys):
    # Starting, and measuring the wall once in each process, take some seconds however many follow.
    place = listing(tmp_path, 120)
    seconds = []
    for at_once in (1, 2):
        started = time.perf_counter()
        assert batch(place, at_once, set(range(at_once))).wait(600) == 0
        seconds.append(time.perf_counter() - started)
    one, two = seconds
    with capsys.disabled():
        print(f"\n120 mock-ups: one core {one:.1f} s, two cores {two:.1f} s: {one / two:.2f} times")
    assert one / two >= 1.8


@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="holds a batch to its cores")
def test_memory_stays_flat(tmp_path, capsys):
    place = listing(tmp_path, COUNT)
    run = batch(place, 2, os.sched_getaffinity(0))
    process, seen = psutil.Process(run.pid), []
    while run.poll() is None:
        try:
            family = [process, *process.children(recursive=True)]
            held = sum(p.memory_info().rss for p in family)
        except psutil.NoSuchProcess:
            continue
        done = len(list((tmp_path / "room" / "out").glob("item*.jpg")))
        seen.append((done, held / 2**20))
        time.sleep(0.2)
    assert run.returncode == 0
    done, held = np.array(seen).T
    early = np.median(held[(done >= COUNT // 8) & (done < COUNT // 2)])
    late = np.median(held[(done >= 3 * COUNT // 4) & (done < COUNT)])
    with capsys.disabled():
        print(
            f"\n{COUNT} mock-ups: {early:.0f} MB held between the {COUNT // 8}th and the "
            f"{COUNT // 2}th, {late:.0f} MB in the last quarter, {held.max():.0f} MB at most"
        )
    assert late == pytest.approx(early, rel=0.1)
