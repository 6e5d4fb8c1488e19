"""``visualiser demo``: the whole road on the sample photos."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated, Any

import typer

from visualiser.cli.output import AsJson, print_json, say, write_file
from visualiser.cli.wall import half_width_at


def demo(
    out: Annotated[Path, typer.Option(help="Folder for the jobs and pictures.")] = Path("out/demo"),
    as_json: AsJson = False,
) -> None:
    """Measure two sample walls, draw their mock-ups to true scale, and say where the files are."""
    import visualiser as vis
    from visualiser.photo.encoding import encode_jpeg
    from visualiser.project.made_files import refuse_place
    from visualiser.project.samples import create_sample, sample_names
    from visualiser.units import format_both, format_half_width

    results: list[dict[str, Any]] = []
    for name in sample_names()[:2]:
        started = time.monotonic()
        folder = _free(out / name)
        refuse_place(folder)
        job = create_sample(name, folder)
        photo, survey = job.photo(), job.survey()
        arrangement = job.arrangement()
        mockup = vis.render_mockup(photo, survey, arrangement, job.mockup_options())
        picture = folder / "out" / "mockup.jpg"
        write_file(picture, encode_jpeg(mockup.pixels, title=job.document.name or None))
        plane = survey.plane
        assert plane is not None
        near, at_1m = (half_width_at(photo, plane, r) for r in (0.0, 1000.0))
        group = arrangement.bounds
        took = time.monotonic() - started
        results.append(
            {
                "job": str(folder),
                "mockup": str(picture),
                "pieces": len(arrangement.placements),
                "group_mm": [round(group.width_mm), round(group.height_mm)],
                "centre_height_mm": round(group.centre_mm[1]),
                "reference_tilt_deg": round(plane.reference_tilt_deg, 2),
                "uncertainty_mm": {"at_reference": round(near, 1), "at_1m": round(at_1m, 1)},
                "seconds": round(took, 1),
            }
        )
        say(
            f"{job.document.name or name}: {len(arrangement.placements)} pieces, a group of "
            f"{format_both(group.width_mm)} by {format_both(group.height_mm)}, its centre "
            f"{format_both(group.centre_mm[1])} above the floor.\n"
            f"  Measured from the sheet on the wall, taped {plane.reference_tilt_deg:+.1f}° off "
            f"level: {format_half_width(near)} at the sheet, {format_half_width(at_1m)} one metre "
            "away.\n"
            f"  {picture}",
            as_json=as_json,
        )
    if as_json:
        print_json({"done": True, "jobs": results})


def _free(folder: Path) -> Path:
    """Keep what an earlier run left: the next free name beside it."""
    number, free = 2, folder
    while free.exists():
        free = folder.with_name(f"{folder.name}-{number}")
        number += 1
    return free
