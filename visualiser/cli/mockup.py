"""``visualiser mockup``: draw a job's arrangement over its photo."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from visualiser.cli.output import (
    AsJson,
    finding_data,
    print_json,
    say,
    say_findings,
    working,
    write_file,
)


def mockup(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    out: Annotated[Path, typer.Option(help="Picture to write, .jpg or .png.")],
    option: Annotated[str, typer.Option(help="Which of the job's options to draw.")] = "",
    as_json: AsJson = False,
) -> None:
    """Draw an arrangement to true scale over the photograph of the wall."""
    import visualiser as vis
    from visualiser.photo.encoding import encode_jpeg, encode_png

    with working("Drawing the mock-up …"):
        job = vis.open_project(project)
        arrangement = job.arrangement(option or None)
        survey = job.survey()
        result = vis.render_mockup(
            job.photo(), survey, arrangement, job.mockup_options(option or None)
        )
        encode = encode_png if out.suffix.lower() == ".png" else encode_jpeg
        data = encode(result.pixels, title=arrangement.name or None)
    write_file(out, data)
    if as_json:
        print_json(
            {
                "done": True,
                "file": str(out),
                "pieces": {
                    piece_id: {
                        "corners_px": corners.round(2).tolist(),
                        "centre_mm": list(arrangement.rect(piece_id).centre_mm),
                    }
                    for piece_id, corners in result.corners_px.items()
                },
                "findings": finding_data(result.findings),
            }
        )
        return
    say(f"{out} shows {len(arrangement.placements)} pieces to true scale.", as_json=False)
    say_findings(result.findings, as_json=False)
