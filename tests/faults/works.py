"""Pieces of work that the tests kill between their steps on the disk."""

import io

from PIL import Image

from visualiser.project import batch_run
from visualiser.project.batch import make_item
from visualiser.project.exchange import export_zip
from visualiser.project.store import open_project
from visualiser.project.writing import write_atomically


def picture(colour="red"):
    buffer = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(buffer, "PNG")
    return buffer.getvalue()


def take_in_a_photo(folder):
    job = open_project(folder)
    entry = job.add_file("photos", "new.png", picture("blue"), ".png")
    job.save(job.document.changed(photo=entry))


def pack(folder, place):
    write_atomically(place, export_zip(open_project(folder)))


def make_plans(listing, items):
    """Make the plan of each job, in this process: it is the one that is killed."""
    batch_run.work_here = lambda items, products, _: (make_item(i, products) for i in items)
    for _ in batch_run.run(listing, items, ("plan",), at_once=1):
        pass
