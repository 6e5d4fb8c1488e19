"""Kill writers at random moments and look at what is left; run as a program of its own.

    python tests/faults/killing.py (saves|catalogue) KILLS SEED FOLDER

Each writer is a forked process that tells, through a pipe, what it has been promised is kept. It is
killed with SIGKILL at a random moment. Then the job or catalogue must open and hold at least that.
Prints one JSON object: how many kills, how many hit a write under way, and what was lost.
"""

import json
import os
import random
import select
import signal
import sys
import time
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from visualiser.inventory.catalogue import open_catalogue
from visualiser.inventory.catalogue_indexing import index_catalogue
from visualiser.inventory.catalogue_sources import from_folder
from visualiser.project.document import Document
from visualiser.project.store import create_project, open_project

LONGEST_S = 0.04
WARM = Path(__file__).resolve().parents[2] / "sample_photos" / "pictures"


def save_for_ever(folder, tell):
    """Save the job again and again; each promise is the revision."""
    project = open_project(folder)
    while True:
        name = f"save {project.document.revision + 1} " + "x" * 150
        project = project.save(project.document.changed(name=name))
        tell(project.document.revision)


def check_saves(folder, promised):
    document = open_project(folder).document
    if document.revision < promised:
        return f"revision {document.revision} instead of {promised}"
    if document.revision and not document.name.startswith(f"save {document.revision} "):
        return f"revision {document.revision} holds {document.name!r}"
    return None


def index_for_ever(folder, tell):
    """Add a picture and index, again and again; each promise is how many are indexed."""
    rng = np.random.default_rng(os.getpid())
    while True:
        count = len(list((folder / "works").iterdir()))
        pixels = rng.integers(0, 256, (2, 2, 3), np.uint8).repeat(8, 0).repeat(8, 1)
        Image.fromarray(pixels).save(folder / "part.png")
        (folder / "part.png").rename(folder / "works" / f"{count:05d}.png")
        report = index_catalogue(folder / "works.sqlite", from_folder(folder / "works"))
        tell(report.read + report.unchanged)


def check_catalogue(folder, promised):
    if not (folder / "works.sqlite").exists():
        return None if not promised else "no catalogue"
    found = len(open_catalogue(folder / "works.sqlite"))
    return None if found >= promised else f"{found} works instead of {promised}"


KINDS = {"saves": (save_for_ever, check_saves), "catalogue": (index_for_ever, check_catalogue)}


def kill_one(write, folder, after_s, wait_for_promise):
    """Fork a writer, kill it after a while, and return its promises.

    The while starts at once, or with the first promise: the first catches whatever a writer begins
    with, the second makes sure that something was promised, on however slow a machine.
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            write(folder, lambda promise: os.write(writing, f"{promise}\n".encode()))
        except BaseException as error:
            os.write(writing, f"failed: {error!r}\n".encode())
        finally:
            os._exit(1)
    os.close(writing)
    if wait_for_promise:
        select.select([reading], [], [], 60)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    with os.fdopen(reading, "rb") as pipe:
        told = pipe.read().decode().splitlines()
    os.waitpid(child, 0)
    return told


def run(kind, kills, seed, folder):
    write, check = KINDS[kind]
    rng = random.Random(seed)
    if kind == "saves":
        if not (folder / "project.json").exists():
            create_project(folder, Document())
    else:
        (folder / "works").mkdir(parents=True, exist_ok=True)
        cv2.setNumThreads(1)  # threads do not survive a fork
        index_catalogue(folder / "warm.sqlite", from_folder(WARM))  # imports what writers need
    lost, promises, partial = [], 0, 0
    for number in range(kills):
        if kind == "catalogue" and number % 20 == 0:
            for work in (folder / "works").iterdir():
                work.unlink()  # and so its rows: a small catalogue is quicker to read
            index_catalogue(folder / "works.sqlite", [])
        told = kill_one(write, folder, rng.uniform(0, LONGEST_S), number % 2 == 0)
        if told and told[-1].startswith("failed"):
            lost.append(f"kill {number}: {told[-1]}")
            continue
        promises += len(told)
        try:
            problem = check(folder, int(told[-1]) if told else 0)
        except Exception as error:
            problem = f"does not open: {error!r}"
        if problem:
            lost.append(f"kill {number}: {problem}")
        remains = list(folder.glob(".*.part"))
        partial += bool(remains)
        for remain in remains:
            remain.unlink()
    return {"kills": kills, "promises": promises, "hit_a_write": partial, "lost": lost}


if __name__ == "__main__":
    kind, kills, seed, folder = sys.argv[1:]
    print(json.dumps(run(kind, int(kills), int(seed), Path(folder))))  # noqa: T201
