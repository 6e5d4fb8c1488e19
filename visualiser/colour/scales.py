"""The scales that colours are judged on: limits, words and sentences, as data.

All limits are ours, meant to be replaced; what each number is, the line below its scale says.
"""

from __future__ import annotations

import math

from visualiser.colour.judgement import Scale

_END = math.inf

COHERENCE = Scale.of(
    "coherence",
    "ΔE00",
    (9, "one palette", "These pieces share one palette and read as a single set."),
    (18.5, "related", "These pieces are clearly related in colour."),
    (26, "varied", "These pieces vary in colour; a shared mat or frame would tie them."),
    (_END, "unrelated", "These pieces have little colour in common."),
)
"""Mean palette distance over all pairs of a set.

Related ends where it tells sets of one hand or kind best from pieces thrown together: 18.5, where
86 % are told right (16: 79 %); half of what is thrown together lies beyond 26. From 18 sets of 92
paintings and prints, tests/data/picture_sets.csv."""

WALL_CONTRAST = Scale.of(
    "contrast with the wall",
    "ΔE00",
    (6, "melts in", "The piece nearly melts into the wall behind it."),
    (15, "quiet", "The piece stands out quietly from the wall."),
    (35, "clear", "The piece stands out clearly from the wall."),
    (_END, "strong", "The piece stands out strongly from the wall."),
)
"""Share-weighted CIEDE2000 of a piece's colours to the wall's paint."""

ROOM_FIT = Scale.of(
    "piece and room",
    "ΔE00",
    (12, "belongs", "The piece takes up the room's colours."),
    (22, "related", "The piece is related to the room's colours."),
    (32, "contrasts", "The piece contrasts with the room."),
    (_END, "stands alone", "The piece has little colour in common with the room."),
)
"""Palette distance from a piece to the room."""

TEMPERATURE = Scale.of(
    "temperature",
    "WC",
    (0.05, "cool", "The colours are cool, as pictures go."),
    (0.38, "balanced", "The colours are neither warm nor cool, as pictures go."),
    (_END, "warm", "The colours are warm, as pictures go."),
)
"""Chromatic part of Ou et al.'s warm-cool scale, weighted by share.

Paint, paper and varnish are yellowish: of 271 paintings and prints of open collections the middle
one lies at 0.23. So the limits leave a sixth to a quarter of them on either side, not grey."""

LIGHTNESS_KEY = Scale.of(
    "lightness key",
    "L*",
    (38, "low key", "The set is dark overall."),
    (58, "middle key", "The set is neither light nor dark overall."),
    (_END, "high key", "The set is light overall."),
)
"""Share-weighted mean L*. A third of those 271 pictures are dark by it, a fifth light."""

CHROMA_LEVEL = Scale.of(
    "chroma level",
    "C*",
    (7, "neutral", "The colours are close to neutral."),
    (14, "muted", "The colours are muted."),
    (26, "moderate", "The colours are of moderate strength."),
    (_END, "vivid", "The colours are vivid."),
)
"""Share-weighted mean C*ab. A tenth of the 271 are neutral by it, a third muted, a tenth vivid."""
