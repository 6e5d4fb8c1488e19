"""Scales, theme, frame, wall contrast and ranking."""

import math

import numpy as np
import pytest

from visualiser.colour import scales
from visualiser.colour.colorimetry import from_hex, srgb_to_lab
from visualiser.colour.judgement import Band, Scale
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.ranking import RankingWeights, rank_candidates
from visualiser.colour.room_fit import judge_contrast, judge_room
from visualiser.colour.theme import summarise, warmth
from visualiser.findings import Finding

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
        scales.COHERENCE.judge(math.nan)


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
    assert theme.sentence == "Light and warm: cream and terracotta."


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
    contrast_only = RankingWeights(kinship=0, room=0, contrast=1)
    wall_first = rank_candidates([stranger, kin], pieces, room, [68, 9, 24], contrast_only)
    assert wall_first[0].index == 0


def test_nothing_to_rank_against():
    with pytest.raises(ValueError, match="against"):
        rank_candidates([palette_from_lab([[50, 0, 0]], [1])])
    assert rank_candidates([], wall_lab=[80, 0, 0]) == []


def test_little_to_go_by_costs_unless_the_set_is_such_itself():
    """Three blue pieces: a picture without hue goes behind a blue one, though grey is nearer."""
    little = (Finding("advice", "The picture has no hue of its own.", "", "palette-monochrome"),)
    grey = palette_from_lab([[62, 0, -2], [50, 0, -1]], [0.6, 0.4], findings=little)
    blue = palette_from_lab([[40, 5, -35], [80, -2, -8], [30, 2, -20]], [0.4, 0.3, 0.3])
    sea = [palette_from_lab([[66, -6, -18], [50, -4, -12 - i]], [0.6, 0.4]) for i in range(3)]
    ranked = rank_candidates([grey, blue], sea)
    assert dict(ranked[1].parts)["kinship"] > dict(ranked[0].parts)["kinship"]
    assert [r.index for r in ranked] == [1, 0]
    assert "little to go by" in ranked[1].sentence
    etchings = [grey, grey]
    assert rank_candidates([grey, blue], etchings)[0].index == 0
    assert "little to go by" not in rank_candidates([grey], etchings)[0].sentence


def test_kinship_comes_first_in_the_reason():
    navy = palette_from_lab([[25, -1, -24], [92, 0, 6]], [0.6, 0.4])
    for wall in ([92, 0, 4], [25, 0, -24]):
        sentence = rank_candidates([navy], [navy], wall_lab=wall)[0].sentence
        assert sentence.startswith("It shares the set's navy and off-white")
        assert "stands out" not in sentence
    stranger = palette_from_lab([[55, 60, 50]], [1])
    assert rank_candidates([stranger], [navy])[0].sentence == "It brings vermilion to the set."


def test_the_reason_says_in_what_a_candidate_of_the_sets_colours_differs():
    """The same two colours; nearly all of the dark one, in sets of nearly all of the light one."""
    light = [palette_from_lab([[88, 2, 20 + i], [20, 5, 10]], [0.95, 0.05]) for i in range(3)]
    dark = palette_from_lab([[88, 2, 20], [20, 5, 10]], [0.1, 0.9])
    assert rank_candidates([dark], light)[0].sentence.endswith("but is much darker.")
    assert "but is" not in rank_candidates([light[0]], light)[0].sentence


def test_a_white_room_alone_holds_nothing_against_any_picture():
    room = palette_from_lab([[96, 0, 2]], [1])
    red = palette_from_lab([[45, 60, 40]], [1])
    ranked = rank_candidates([red], room=room)[0]
    assert ranked.score == 100
    assert ranked.sentence == "It suits a white room, as any picture does."


@pytest.mark.parametrize("lightness", [50.0, 55.0, 57.0, 59.0, 70.0])
def test_the_reason_agrees_with_the_judgement_of_the_wall(lightness):
    """Of one hue and chroma, from the wall's own lightness to well away from it."""
    candidate = palette_from_lab([[lightness, 0, 0]], [1])
    ranked = rank_candidates([candidate], wall_lab=[50, 0, 0])[0]
    melts = [j.band for j in ranked.judgements] == ["melts in"]
    assert ("melts into the wall" in ranked.sentence) == melts


def test_a_white_room_takes_anything_and_opposites_are_named():
    """White takes anything: common practice, no source. Orange and blue: Chevreul's opposites."""
    umber = palette_from_lab([[17, 4, 8], [45, 14, 30]], [0.8, 0.2])
    white = palette_from_lab([[93, 0, 4], [88, 0, 2]], [0.7, 0.3])
    assert judge_room(umber, white).band == "free"
    with_oak = palette_from_lab([[93, 0, 4], [55, 13, 30], [30, 6, 12]], [0.8, 0.1, 0.1])
    assert judge_room(umber, with_oak).band != "stands alone"
    blue_room = palette_from_lab([[60, -2, -30], [90, 0, 3]], [0.5, 0.5])
    orange = palette_from_lab([[66, 33, 60], [90, 1, 8]], [0.6, 0.4])
    assert "orange is the opposite of the room's sky blue" in judge_room(orange, blue_room).sentence
    assert "opposite" not in judge_room(umber, with_oak).sentence
