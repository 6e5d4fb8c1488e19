"""Scales, theme, frame, wall contrast and ranking."""

import math

import numpy as np
import pytest

from visualiser.colour import scales
from visualiser.colour.colorimetry import from_hex, srgb_to_lab
from visualiser.colour.judgement import Band, Scale
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.ranking import RankingWeights, judge_contrast, rank_candidates
from visualiser.colour.theme import summarise, warmth

SCALES = [v for v in vars(scales).values() if isinstance(v, Scale)]


@pytest.mark.parametrize("scale", SCALES, ids=lambda s: s.kind)
def test_every_scale_gives_a_band_and_one_plain_sentence(scale):
    for low, band in zip([-1e3, *[b.up_to for b in scale.bands[:-1]]], scale.bands, strict=True):
        judged = scale.judge(math.nextafter(low, math.inf))
        assert judged.band == band.name
        assert judged.sentence.endswith(".")
        assert judged.sentence.count(".") == 1


def test_bands_must_rise():
    with pytest.raises(ValueError, match="rise"):
        Scale("x", "", (Band(2, "a", "A."), Band(1, "b", "B.")))
    with pytest.raises(ValueError, match="number"):
        scales.HARMONY.judge(math.nan)


def test_warm_and_cool():
    """Ou et al. (2004): warmest towards hue 50 degrees, coolest opposite, 0 for grey."""
    hues = np.arange(0, 360, 10)
    lab = np.c_[np.full(36, 60), 30 * np.cos(np.radians(hues)), 30 * np.sin(np.radians(hues))]
    assert hues[int(warmth(lab).argmax())] == 50
    assert hues[int(warmth(lab).argmin())] == 230
    assert warmth([50, 0, 0]) == 0


def test_theme_in_words():
    terracotta = srgb_to_lab(from_hex("#b5694a"))
    cream = srgb_to_lab(from_hex("#efe4cb"))
    theme = summarise(palette_from_lab([cream, terracotta], [0.6, 0.4]))
    assert theme.temperature.band == "warm"
    assert theme.lightness.band == "high key"
    assert theme.families[0][1] == pytest.approx(0.6)
    assert theme.sentence[0].isupper()
    assert "warm" in theme.sentence


def test_theme_of_greys_says_that_temperature_is_doubtful():
    theme = summarise(palette_from_lab([[20, 0, 0], [70, 0, 0]], [0.5, 0.5]))
    assert not theme.temperature.trusted
    assert theme.template is None
    assert "balanced" not in theme.sentence


def test_contrast_with_the_wall():
    white = palette_from_lab([[96, 0, 2]], [1])
    assert judge_contrast(white, [95, 0, 3]).band == "melts in"
    assert judge_contrast(white, [25, 0, 0]).band == "strong"


def test_the_kindred_candidate_comes_first():
    pieces = [palette_from_lab([[70, 10, 25], [40, 15, 30]], [0.6, 0.4])] * 2
    room = palette_from_lab([[85, 2, 8], [45, 12, 25]], [0.8, 0.2])
    kin = palette_from_lab([[68, 9, 24], [42, 14, 28]], [0.5, 0.5])
    stranger = palette_from_lab([[45, 40, -60], [30, 60, 20]], [0.5, 0.5])
    ranked = rank_candidates([stranger, kin], pieces, room, [88, 1, 6])
    assert [r.index for r in ranked] == [1, 0]
    assert ranked[0].score > ranked[1].score
    assert 0 <= ranked[1].score <= ranked[0].score <= 100
    assert ranked[0].sentence.startswith("It ")
    contrast_only = RankingWeights(kinship=0, room=0, harmony=0, contrast=1)
    wall_first = rank_candidates([stranger, kin], pieces, room, [68, 9, 24], contrast_only)
    assert wall_first[0].index == 0


def test_nothing_to_rank_against():
    with pytest.raises(ValueError, match="against"):
        rank_candidates([palette_from_lab([[50, 0, 0]], [1])])
    assert rank_candidates([], wall_lab=[80, 0, 0]) == []
