"""Everything one job gives, made in one go: for many jobs at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from visualiser.errors import VisualiserError
from visualiser.project.store import Project, open_project

PRODUCTS = ("mockup", "plan", "templates")
"""What can be made of a job, and the order it is made in."""


def make(job: Project, product: str) -> tuple[str, bytes]:
    """Make one product of a job's chosen arrangement.

    Parameters
    ----------
    job
        The job.
    product
        One of `PRODUCTS`.

    Returns
    -------
    File name and content.

    Raises
    ------
    VisualiserError
        If the job cannot be read, measured, drawn or hung.
    ValueError
        If there is no such product.
    """
    makers: dict[str, Callable[[Project], tuple[str, bytes]]] = {
        "mockup": _mockup,
        "plan": _plan,
        "templates": _templates,
    }
    if product not in makers:
        raise ValueError(f"no product {product!r}; there are {', '.join(PRODUCTS)}")
    return makers[product](job)


def job_folders(text: str, beside: Path) -> list[Path]:
    """Read a list of jobs: one folder a line, relative to the list; ``#`` starts a remark."""
    lines = (line.split("#", 1)[0].strip() for line in text.splitlines())
    return [beside / line for line in lines if line]


def make_all(
    folders: list[Path], products: list[str]
) -> Iterator[tuple[Path, str, str, bytes] | tuple[Path, str, VisualiserError]]:
    """Make the products of many jobs, one at a time; a job that fails does not stop the rest.

    Yields
    ------
    Folder, product, file name and content; or folder, product and what went wrong.
    """
    for folder in folders:
        try:
            job = open_project(folder)
        except VisualiserError as error:
            yield folder, "", error
            continue
        for product in products:
            try:
                name, data = make(job, product)
            except VisualiserError as error:
                yield folder, product, error
            else:
                yield folder, product, name, data


def _mockup(job: Project) -> tuple[str, bytes]:
    import visualiser as vis
    from visualiser.photo.encoding import encode_jpeg

    drawn = vis.render_mockup(job.photo(), job.survey(), job.arrangement(), job.mockup_options())
    return "mockup.jpg", encode_jpeg(drawn.pixels, title=job.document.name or None)


def _plan(job: Project) -> tuple[str, bytes]:
    import visualiser as vis
    from visualiser.printing.hanging_plan import plan_pdf
    from visualiser.sizes import paper_size

    plan = vis.plan_hanging(job.arrangement(), job.survey(), job.document.wall.kind)
    return "plan.pdf", plan_pdf(plan, paper_size("a4"), job.document.name)


def _templates(job: Project) -> tuple[str, bytes]:
    import visualiser as vis
    from visualiser.printing.templates import templates_pdf
    from visualiser.sizes import paper_size

    plan = vis.plan_hanging(job.arrangement(), job.survey(), job.document.wall.kind)
    return "templates.pdf", templates_pdf(plan, paper_size("a4"))
