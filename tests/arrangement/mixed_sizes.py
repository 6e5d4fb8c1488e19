"""Pieces of mixed sizes on a bare wall, as one family of arrangements lays them out."""

import numpy as np
from hypothesis import strategies as st

import visualiser as vis
from visualiser.arrangement.setting import describe
from visualiser.survey.survey import Survey

WALL = Survey.from_size(5000, 2600)
SIDES = st.sampled_from([200.0, 250.0, 300.0, 400.0, 500.0, 600.0])


def setting_of(sides):
    pieces = [vis.Piece(f"P{i}", w, h) for i, (w, h) in enumerate(sides)]
    return describe(pieces, WALL, vis.Guidelines())


def laid_out(family, sides):
    """The setting of pieces of these widths and heights, and the centres of every layout."""
    setting = setting_of(sides)
    layouts = family.lay_out(setting, np.random.default_rng(0))
    return setting, [layout.centres for layout in layouts]
