"""What the app says and keeps when its folder turns read-only under it, as a process of its own.

Run in a mount namespace of its own (``unshare --mount``), with the jobs' folder as argument: it
mounts a file system there, makes a job, and turns the mount read-only. Prints JSON.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.app.conftest import artwork, drawn_room, make_job, make_typed_job, run_page
from visualiser.app import jobs, steps


def mount(folder, *options):
    subprocess.run(["mount", *options, str(folder)], check=True, capture_output=True)


def said(page):
    words = [part.value for part in (*page.error, *page.warning)]
    return {"faults": len(page.exception), "words": "\n".join(words).replace("\\", "")}


def main(folder):
    os.environ[jobs.FOLDER_VARIABLE] = str(folder)
    subprocess.run(["mount", "-t", "tmpfs", "none", str(folder)], check=True, capture_output=True)
    job_id, project = make_job()
    typed_id, _ = make_typed_job()
    page = run_page(typed_id, "photo")
    mount(folder, "-o", "remount,ro")
    told = {f"step {step.key}": said(run_page(job_id, step.key)) for step in steps.ALL}

    next(f for f in page.text_input if "Width" in f.label).set_value("5 m").run()
    told["change"] = said(page)
    told["width shown"] = next(f for f in page.text_input if "Width" in f.label).value
    told["width on disk"] = jobs.find_job(typed_id).document.wall.width_mm

    dropped = run_page(job_id, "photo")
    dropped.file_uploader[0].set_value(("hall.jpg", drawn_room(), "image/jpeg")).run()
    told["photo dropped"] = said(dropped)
    pieces = run_page(job_id, "pieces")
    pieces.file_uploader[0].set_value([("lark.png", artwork(9), "image/png")]).run()
    told["picture dropped"] = said(pieces)
    first = run_page()
    next(b for b in first.button if b.label == "Open the sample job").click().run()
    told["sample job"] = said(first)
    first = run_page()
    next(b for b in first.button if b.label == "Start without a photo").click().run()
    told["new job"] = said(first)
    told["job as before"] = jobs.find_job(job_id).document == project.document

    mount(folder, "-o", "remount,rw")
    next(b for b in page.button if b.label == "Save again").click().run()
    told["after"] = said(page)
    told["width in the end"] = jobs.find_job(typed_id).document.wall.width_mm
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
