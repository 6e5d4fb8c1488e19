import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.inventory.piece import Hanger, Mat, Moulding, Piece
from visualiser.survey.survey import Survey


@pytest.fixture
def wall():
    return Survey.from_size(4000, 2500)


@pytest.fixture
def three_over_nothing():
    """Three weighed pieces in a row, one of each kind of hanger with hooks."""
    pieces = (
        Piece(
            "heron",
            500,
            700,
            mat=Mat(60, 60, 70),
            hanger=Hanger("d-rings", 90, 420),
            weight_kg=4.2,
            weight_sigma_kg=0.1,
        ),
        Piece(
            "reeds",
            600,
            800,
            hanger=Hanger("wire", None, 400, 500, 250),
            weight_kg=5.0,
            weight_sigma_kg=0.1,
        ),
        Piece(
            "shore",
            500,
            700,
            moulding=Moulding(20, 25),
            hanger=Hanger("sawtooth", 12),
            weight_kg=3.0,
            weight_sigma_kg=0.1,
        ),
    )
    placements = (
        Placement("heron", 1293, 1524),
        Placement("reeds", 1900, 1524),
        Placement("shore", 2507, 1524),
    )
    return Arrangement(pieces, placements)
