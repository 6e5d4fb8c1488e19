"""A small job that is quick to plan."""

from visualiser.arrangement.arrangement import Placement
from visualiser.project.document import Document, OptionEntry, PieceEntry, WallEntry
from visualiser.project.store import create_project


def typed_job(folder):
    """Make a job on a wall of typed size: no photo, one arrangement of two pieces."""
    document = Document(
        name="Two on a wall",
        wall=WallEntry(kind="brick", width_mm=3000, height_mm=2500),
        pieces=tuple(PieceEntry(id=i, width_mm=400, height_mm=500) for i in ("a", "b")),
        options=(
            OptionEntry(
                id="row",
                placements=(Placement("a", 1271.5, 1524), Placement("b", 1728.5, 1524)),
            ),
        ),
    )
    return create_project(folder, document)
