"""The photo of a kept job made small, for the list that jobs are chosen from."""

from __future__ import annotations

import io

from PIL import Image, ImageOps

from visualiser.app import jobs
from visualiser.app.caches import cached_answer
from visualiser.errors import VisualiserError

SHOWN_PX = (240, 180)


def job_picture(job_id: str) -> bytes | None:
    """Make the photo of a job small, as a JPEG; None for a job without one that can be shown."""
    try:
        project = jobs.find_job(job_id)
        entry = project.document.photo
        if entry is None:
            return None
        key = f"job-picture|{entry.sha256 or project.folder}|{entry.path}"
        picture: bytes = cached_answer(key, lambda: _small(project.read_file(entry.path))).unwrap()
    except VisualiserError:
        return None  # the job says what is wrong once it is opened
    return picture


def _small(data: bytes) -> bytes:
    from visualiser.photo.decoding import load_reduced  # the first page waits for no decoder

    photo = load_reduced(data, min(SHOWN_PX))  # a JPEG is decoded no larger than is needed
    upright = Image.fromarray(photo.pixels)
    buffer = io.BytesIO()
    ImageOps.fit(upright, SHOWN_PX).save(buffer, "JPEG", quality=85)
    return buffer.getvalue()
