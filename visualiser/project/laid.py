"""A layout read off a photo, added to a job: its pieces with their pictures, and an option."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from visualiser.errors import ProjectError
from visualiser.laid_out.arranging import hang_as_laid
from visualiser.laid_out.layout import Layout
from visualiser.project.document import Document
from visualiser.project.filling import KeepFile, with_pieces
from visualiser.project.store import Project
from visualiser.survey.survey import Survey


def with_layout(
    document: Document,
    keep: KeepFile,
    survey: Survey | None,
    layout: Layout,
    kept: Sequence[str],
    *,
    even_gaps: bool = False,
) -> tuple[Document, str, dict[str, str]]:
    """Fill a job with confirmed pieces of a layout, and the layout as a further option.

    Parameters
    ----------
    document
        The job; it is not saved.
    keep
        Keeps a picture with the job.
    survey
        Its wall; None while nothing is known of it: the pieces come without their places then.
    layout, kept, even_gaps
        As for `add_layout`.

    Returns
    -------
    The job, the option's letter (empty without one), and the id that each piece has in the job.

    Raises
    ------
    ProjectError
        If nothing is kept, or a picture cannot be.
    ArrangementError
        If the wall has no place for the group.
    """
    chosen = [piece for piece in layout.pieces if piece.id in set(kept)]
    if not chosen:
        raise ProjectError(
            "No piece of the layout is to be added.", hint="Confirm the pieces that are yours."
        )
    taken = {piece.id for piece in document.pieces}
    ids: dict[str, str] = {}
    for piece in chosen:
        number = 1
        while f"p{number}" in taken:
            number += 1
        ids[piece.id] = f"p{number}"
        taken.add(f"p{number}")
    renamed = replace(layout, pieces=tuple(replace(p, id=ids[p.id]) for p in chosen))
    pieces = [piece.as_piece() for piece in renamed.pieces]
    if survey is None:
        return with_pieces(document, keep, pieces), "", ids
    hung = hang_as_laid(renamed, survey, document.guidelines, even_gaps=even_gaps, pieces=pieces)
    document, letter = with_pieces(document, keep, pieces).with_option(hung)
    if document.chosen is None and len(document.options) == 1:
        document = document.changed(chosen=letter)
    return document, letter, ids


def add_layout(
    project: Project, layout: Layout, kept: Sequence[str], *, even_gaps: bool = False
) -> tuple[Project, str, dict[str, str]]:
    """Add confirmed pieces of a layout to a job, and the layout as a further option.

    Parameters
    ----------
    project
        The job; its wall must be known.
    layout
        As `read_layout` gives it.
    kept
        Ids of the pieces that a person confirmed.
    even_gaps
        Whether the gaps become those of the job's rules.

    Returns
    -------
    The job as saved, the option's letter, and the id that each piece has in the job.

    Raises
    ------
    ProjectError
        If nothing is kept, or the job cannot be saved.
    ArrangementError
        If the wall has no place for the group; nothing is added then.
    """
    document, letter, ids = with_layout(
        project.document, project.add_file, project.survey(), layout, kept, even_gaps=even_gaps
    )
    return project.save(document), letter, ids
