"""Sets built by a rule: the planted clash is named, and no clash is cried where there is none.

The rule, fixed before any result was seen. A harmonious set has 5 to 8 pieces of 4 to 7 colours.
All take their hues from one figure of Cohen-Or et al. (2006) (i doubled in width, V, Y or I) at
one angle, their lightness within 25 of one key between 40 and 65, their chroma within 40 % of one
level between 10 and 30, and their shares from a Dirichlet distribution. A clashing piece keeps
key and rule, but its hues lie 100 degrees off (half a turn where the figure has one sector) and
its chroma level is 45.
"""

import numpy as np
import pytest

from visualiser.colour.coherence import OutlierRule, read_set
from visualiser.colour.colorimetry import lab_to_srgb, lch_to_lab, srgb_to_lab
from visualiser.colour.extraction import extract_palette
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.remedies import remedies, shared_colour
from visualiser.errors import ColourError

FIGURES = [((0, 36),), ((0, 93.6),), ((0, 93.6), (180, 18)), ((0, 18), (180, 18))]


def piece(rng, figure, angle, key, level):
    count = int(rng.integers(4, 8))
    widths = np.array([w for _, w in figure], float)
    sectors = rng.choice(len(figure), count, p=widths / widths.sum())
    hues = angle + np.array([figure[i][0] + rng.uniform(-0.5, 0.5) * figure[i][1] for i in sectors])
    lightness = np.clip(key + rng.uniform(-25, 25, count), 5, 97)
    chroma = level * rng.uniform(0.6, 1.4, count)
    shown = lab_to_srgb(lch_to_lab(np.c_[lightness, chroma, hues]))
    return palette_from_lab(srgb_to_lab(shown), rng.dirichlet(np.full(count, 2.0)))


def invented_set(seed, clash):
    rng = np.random.default_rng(seed)
    count, figure = int(rng.integers(5, 9)), FIGURES[int(rng.integers(4))]
    angle, key, level = rng.uniform(0, 360), rng.uniform(40, 65), rng.uniform(10, 30)
    pieces = [piece(rng, figure, angle, key, level) for _ in range(count)]
    at = int(rng.integers(count))
    if clash:
        off = (180 if len(figure) == 1 else 100) * rng.choice([-1, 1])
        pieces[at] = piece(rng, FIGURES[0], angle + off, key, 45)
    return pieces, at


def test_the_planted_clash_is_named():
    named = 0
    for seed in range(30):
        pieces, at = invented_set(31_000 + seed, clash=True)
        outlier = read_set(pieces).outlier
        named += outlier is not None and outlier.index == at
    assert named >= 0.9 * 30


def test_no_clash_is_cried_in_harmonious_sets():
    silent = sum(
        read_set(invented_set(32_000 + seed, clash=False)[0]).outlier is None for seed in range(30)
    )
    assert silent >= 0.9 * 30


def test_the_reason_is_given():
    """Four pieces of beige and one with a third of vivid green: the green is the reason."""
    beige = [
        palette_from_lab([[80 - i, 3, 14 + i], [60 + i, 6, 20], [35, 8, 16 - i]], [0.5, 0.3, 0.2])
        for i in range(4)
    ]
    odd = palette_from_lab([[80, 3, 14], [55, -55, 40]], [0.65, 0.35])
    outlier = read_set([*beige, odd], ["A", "B", "C", "D", "E"]).outlier
    assert outlier.index == 4
    assert outlier.swatch.lab == pytest.approx((55, -55, 40))
    assert outlier.because == "another hue"
    assert outlier.sentence.startswith("E sits least")
    assert "green" in outlier.sentence


def test_same_colours_in_other_amounts_do_not_clash():
    lab = [[80, 3, 14], [50, 30, 20], [35, -10, -20]]
    rng = np.random.default_rng(9)
    pieces = [palette_from_lab(lab, rng.dirichlet(np.ones(3))) for _ in range(6)]
    assert read_set(pieces).outlier is None
    assert read_set(pieces).strangeness == pytest.approx(np.zeros(6), abs=1e-9)


def test_remedies_bring_the_piece_closer():
    pieces, at = invented_set(31_001, clash=True)
    found = remedies(pieces, at)
    assert found
    for remedy in found:
        assert remedy.sentence.startswith(("A ", "An ", "Hang "))
        if remedy.kind != "neighbour":
            assert remedy.after < remedy.before
            assert remedy.what in remedy.sentence


def test_a_shared_accent_is_found():
    first = palette_from_lab([[80, 2, 8], [50, 60, 40]], [0.9, 0.1])
    second = palette_from_lab([[30, 0, 0], [51, 58, 41]], [0.8, 0.2])
    mine, theirs, apart = shared_colour(first, second)
    assert mine.lab == pytest.approx((50, 60, 40))
    assert theirs.lab == pytest.approx((51, 58, 41))
    assert apart < 2
    assert shared_colour(first, palette_from_lab([[30, 0, 0]], [1])) is None


def test_a_word_that_the_others_have_too_is_told_by_its_amount():
    """A black far from the others' black is black to anybody: so how much of it is said."""
    light = [
        palette_from_lab([[85 - i, 1, 6], [60, 4, 10], [16, 0, 1]], [0.6, 0.36, 0.04])
        for i in range(4)
    ]
    night = palette_from_lab([[3, 0, 0], [60, 4, 10]], [0.9, 0.1])
    sentence = read_set([*light, night], list("ABCDE")).outlier.sentence
    assert "black takes 90 % of it" in sentence
    assert "is in none of them" not in sentence


def test_a_neighbour_is_recommended_for_a_colour_of_one_name():
    """Ochre beside olive, however near by the numbers, is not two pictures with one colour."""
    ochre, olive, rust = [52, 9, 40], [50, -2, 38], [40, 38, 34]
    piece = palette_from_lab([ochre, [80, 0, 4]], [0.5, 0.5])
    near = palette_from_lab([olive, [30, 0, 0]], [0.5, 0.5])
    far = palette_from_lab([rust, [30, 0, 0]], [0.5, 0.5])
    assert shared_colour(piece, near) is None
    assert shared_colour(piece, far) is None
    same = palette_from_lab([[53, 10, 41], [30, 0, 0]], [0.5, 0.5])
    said = [r.sentence for r in remedies([piece, near, far, same], 0, list("ABCD"))]
    assert said[-1] == "Hang A beside D: both have ochre."
    trace = palette_from_lab([ochre, [30, 0, 0]], [0.02, 0.98])
    assert shared_colour(piece, trace) is None


def test_few_pieces():
    one = palette_from_lab([[50, 0, 0]], [1])
    far = palette_from_lab([[50, 60, 40]], [1])
    assert read_set([one, far]).outlier is None
    assert read_set([one, one, far]).outlier is None
    assert read_set([one, one, one, far]).outlier.index == 3
    assert read_set([one, one, one, far], rule=OutlierRule(least_evidence=1e6)).outlier is None
    with pytest.raises(ColourError, match="two pieces"):
        read_set([one])


def test_monochrome_art_lowers_confidence():
    grey = extract_palette(np.tile(np.arange(256, dtype=np.uint8)[:, None], (2, 256)))
    red = palette_from_lab([[50, 60, 40]], [1])
    judged = read_set([grey, red], ["The etching", "The red one"]).coherence
    assert not judged.trusted
    assert "The etching" in judged.sentence
