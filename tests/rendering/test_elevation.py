"""The drawing is to scale: edges of pieces lie where the mm say."""

import numpy as np
import pytest

import visualiser as vis
from visualiser.geometry import Polygon
from visualiser.inventory.piece import Moulding
from visualiser.rendering.elevation import draw_elevation
from visualiser.rendering.score_chart import draw_score
from visualiser.survey.survey import Survey

WALL = Survey.from_size(4000, 2000)


def dark_box(picture):
    """Rows and columns of the near-black frame."""
    rows, columns = np.nonzero(picture.max(axis=2) < 60)
    return columns.min(), columns.max() + 1, rows.min(), rows.max() + 1


def test_a_piece_is_drawn_to_the_scale_of_the_wall():
    """1200 px are 50 units, 0.6 of them margin each side: 1171.2 px for 4000 mm."""
    piece = vis.Piece("A", 1000, 500, moulding=Moulding(finish="black", width_mm=60))
    hung = vis.Arrangement((piece,), (vis.Placement("A", 1500, 1200),))
    bare = Survey(WALL.outline, floor_known=False)
    picture = draw_elevation(hung, bare, dimensions=False)
    left, right, top, bottom = dark_box(picture)
    scale = 1171.2 / 4000
    assert left == pytest.approx(14.4 + 1000 * scale, abs=1)
    assert right == pytest.approx(14.4 + 2000 * scale, abs=1)
    assert bottom - top == pytest.approx(500 * scale, abs=1.5)


def test_too_small_a_picture_is_refused():
    hung = vis.Arrangement((vis.Piece("A", 400, 400),), (vis.Placement("A", 1500, 1200),))
    with pytest.raises(ValueError, match="300 px"):
        draw_elevation(hung, WALL, width_px=100)
    with pytest.raises(ValueError, match="scored"):
        draw_score(hung)


def test_the_centre_line_rises_with_a_stair():
    """Over a flight pictures rest as high above each nosing: common practice, no source."""
    stair = Survey(Polygon(((0, 0), (4000, 2400), (4000, 4600), (0, 4600))))
    hung = vis.Arrangement((vis.Piece("A", 400, 400),), (vis.Placement("A", 2000, 3200),))
    picture = draw_elevation(hung, stair)
    blue = picture[..., 2].astype(int) - picture[..., 0] > 40
    (floor,) = np.nonzero((picture.max(axis=2) < 90).mean(axis=1) > 0.5)[0][-1:]
    wall = np.nonzero((picture[floor] < 90).all(axis=1))[0]
    scale = (wall[-1] - wall[0]) / 4000

    def drawn(height_mm):
        """Share of columns in which the line is seen at its height."""
        at = wall[20:-20:7]
        rows = floor - scale * height_mm((at - wall[0]) / scale)
        return np.mean(
            [blue[int(y) - 4 : int(y) + 5, x].any() for y, x in zip(rows, at, strict=True)]
        )

    assert drawn(lambda x: 1524 + 0.6 * x) > 0.3
    assert drawn(lambda x: 1524 + 0 * x) < 0.15


def test_the_score_chart_has_a_bar_for_each_term():
    (row,) = vis.propose([vis.Piece(i, 400, 400) for i in "ABC"], WALL, families=["row"], count=1)
    chart = draw_score(row)
    blue = np.abs(chart.astype(int) - (28, 92, 140)).max(axis=2) < 12
    column = blue[:, int(900 * 24 / 90)]
    bars = np.count_nonzero(np.diff(column.astype(int)) == 1)
    assert bars == sum(t.value > 0.1 for t in row.terms)
