"""Which changes make a client's answer stale: those of what the client saw, and no others."""

import pytest

from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.inventory.piece import Moulding
from visualiser.project.answering import read_answer, reply_key, with_answer
from visualiser.project.document import Document, OptionEntry, PieceEntry

SHOWN = OptionEntry(id="a", name="Calm", placements=(Placement("heron", 500, 1500),))
JOB = Document(
    pieces=tuple(PieceEntry(id=name, width_mm=400, height_mm=500) for name in ("heron", "tide")),
    options=(SHOWN,),
)


def taken(job):
    """The answer to the job as it was shown, taken in by the job as it is."""
    key = reply_key(JOB, SHOWN)
    return with_answer(job, read_answer(f"I choose option A\nKey: {key}\n".encode()))


def with_piece(piece_id, **changes):
    pieces = (p.model_copy(update=changes) if p.id == piece_id else p for p in JOB.pieces)
    return JOB.changed(pieces=tuple(pieces))


@pytest.mark.parametrize(
    "job",
    [
        JOB,
        with_piece("tide", width_mm=900),
        with_piece("heron", name="The heron"),
        JOB.replacing(SHOWN.model_copy(update={"name": "Quiet", "remark": "asked on Monday"})),
    ],
    ids=["none", "a piece that does not hang", "a title", "the option's name"],
)
def test_what_the_client_did_not_see_may_change(job):
    assert taken(job).chosen == "a"


@pytest.mark.parametrize(
    "job",
    [
        with_piece("heron", width_mm=410),
        with_piece("heron", moulding=Moulding(31, 25, "black")),
        JOB.replacing(SHOWN.model_copy(update={"placements": (Placement("heron", 501, 1500),)})),
        JOB.replacing(SHOWN.model_copy(update={"placements": (Placement("tide", 500, 1500),)})),
    ],
    ids=["size", "frame", "place", "piece"],
)
def test_what_the_client_saw_may_not(job):
    with pytest.raises(ProjectError, match="has been changed"):
        taken(job)
