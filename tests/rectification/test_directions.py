"""Sorting room lines by what they are likely to be."""

import numpy as np
import pytest

from visualiser.rectification.directions import _borne_out


@pytest.mark.parametrize(
    ("kinds", "shares", "kept"),
    [
        # The edge of a shadow on the ceiling, and stripes as long as the wall is high.
        ("level plumb plumb", (0.10, 0.55, 0.12), "straight plumb plumb"),
        ("level level plumb", (0.10, 0.30, 0.60), "level level plumb"),
        ("level level", (0.10, 0.15), "straight straight"),
        ("straight plumb", (0.90, 0.40), "straight plumb"),
    ],
)
def test_a_short_line_counts_only_beside_one_of_a_buildings_length(kinds, shares, kept):
    assert _borne_out(kinds.split(), np.array(shares)) == kept.split()
