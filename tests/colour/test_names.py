"""Colour names against the publication's own structure and its maximum-contrast list."""

import csv
import warnings
from importlib import resources

import numpy as np
import pytest

from visualiser.colour.colorimetry import D65, adaptation, from_hex, srgb_to_lab, xyz_to_lab
from visualiser.colour.difference import delta_e_2000
from visualiser.colour.names import (
    colour_name,
    colour_word,
    hue_family,
    hue_name,
    iscc_nbs,
    stylist_words,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

# K. L. Kelly, "Twenty-two colors of maximum contrast", Color Eng. 3(6):26-27, 1965: ISCC-NBS
# name and Munsell notation of each centroid. Those that lie within sRGB; from memory.
KELLY_1965 = [
    ("grayish yellow", "4.4Y 7.2/3.8"),
    ("strong purple", "6.5P 4.3/9.2"),
    ("very light blue", "2.7PB 7.9/6.0"),
    ("strong purplish pink", "5.6RP 6.8/9.0"),
    ("strong blue", "2.9PB 4.1/10.4"),
    ("strong yellowish pink", "8.4R 7.0/9.5"),
    ("strong violet", "0.2P 3.7/10.1"),
    ("strong reddish brown", "0.3YR 3.1/9.9"),
    ("deep yellowish brown", "8.8YR 3.1/5.0"),
    ("dark olive green", "8.0GY 2.2/3.6"),
    ("strong purplish red", "7.3RP 4.4/11.4"),
    ("medium gray", "3.3GY 5.4/0.1"),
]


def test_the_table_has_the_systems_267_names():
    """NBS Special Publication 440 (1976): 267 blocks at level 3, 29 hues and 13 at levels 2, 1."""
    names = iscc_nbs().names
    assert len(names) == len(set(names)) == 267
    assert len({hue_name(n) for n in names}) == 29
    assert len({hue_family(n) for n in names}) == 13


@pytest.mark.parametrize(("name", "munsell"), KELLY_1965)
def test_centroids_agree_with_their_munsell_notations(name, munsell):
    """Through the Munsell renotation data (Newhall, Nickerson & Judd 1943) of colour-science."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        xyz = colour.xyY_to_XYZ(colour.munsell_colour_to_xyY(munsell))
    illuminant_c = np.array([0.98074, 1.0, 1.18232])  # ASTM E308, 2 degree observer
    lab = xyz_to_lab(xyz @ adaptation(illuminant_c, D65).T)
    vocabulary = iscc_nbs()
    listed = vocabulary.lab[vocabulary.names.index(name)]
    assert delta_e_2000(lab, listed) < 3
    assert colour_name(lab) == name


def test_every_centroid_has_its_own_name():
    vocabulary = iscc_nbs()
    own = np.array(vocabulary.nearest(vocabulary.lab))
    # Three pairs of blocks share a listed colour to the last code; all others are themselves.
    assert (own != np.array(vocabulary.names)).sum() <= 3


@pytest.mark.parametrize(
    ("keyword", "family"),
    [
        ("crimson", "red"),
        ("yellow", "yellow"),
        ("green", "green"),
        ("blue", "blue"),
        ("white", "white"),
        ("black", "black"),
        ("gray", "gray"),
        ("purple", "purple"),
        ("olive", "olive"),
        ("darkorange", "orange"),
        ("pink", "pink"),
        ("saddlebrown", "brown"),
    ],
)
def test_plain_words_agree_with_the_css_keywords(keyword, family):
    """W3C, CSS Color Module Level 3, section 4.3, as listed in colour-science.

    The screen's own red and CSS orange are left out: in Munsell hue they are 8R and 8YR, which
    the ISCC-NBS blocks rightly call reddish orange and orange yellow.
    """
    code = colour.notation.CSS_COLOR_3_EXTENDED[keyword]
    assert hue_family(colour_name(srgb_to_lab(from_hex(code)))) == family


def test_no_colour_name():
    with pytest.raises(ValueError, match="ISCC-NBS"):
        hue_family("greenfinch")


def test_every_block_has_a_stylists_word_and_british_spelling():
    """NBS Special Publication 440: all 267 blocks are covered; ordinary words stay ordinary."""
    table = resources.files("visualiser.colour").joinpath("stylist_words.csv").read_text("utf-8")
    rows = list(csv.DictReader(table.splitlines()))
    assert {r["block"] for r in rows} - {""} == set(iscc_nbs().names)
    assert not any("gray" in r["word"] for r in rows)


def test_words_agree_with_what_people_call_colours(published):
    """xkcd colour survey, 2010 (CC0): 59 words of ours at the colour most often called so.

    The survey showed full-strength screen colours one at a time; pictures are duller, so words
    for pale and muted colours lie nearer to grey with us.
    """
    rows = published("colour_survey_terms.csv")
    vocabulary = stylist_words()
    same, apart = 0, []
    for row in rows:
        lab = np.array([float(row[k]) for k in ("L", "a", "b")])
        own = [i for i, word in enumerate(vocabulary.names) if word == row["word"]]
        same += colour_word(lab) == row["word"]
        apart.append(float(delta_e_2000(lab, vocabulary.lab[own]).min()))
    assert len(rows) == 59
    assert same >= 0.7 * len(rows)
    assert np.mean(np.array(apart) <= 10) >= 0.85


@pytest.mark.parametrize(
    ("what", "code", "words"),
    [
        ("cream paper", "#f3e9d2", {"cream", "ivory"}),
        ("gypsum plaster", "#e2ddd3", {"off-white", "stone"}),
        ("varnished gold ground", "#b08d3c", {"gold", "old gold", "ochre"}),
        ("iron gall ink wash", "#1c2433", {"ink blue", "midnight blue"}),
        ("rusted iron", "#8f4223", {"rust", "brick red"}),
        ("dried sage", "#a3ad94", {"sage"}),
        ("plaited straw", "#c0b783", {"straw"}),
        ("ground mustard", "#b5a83e", {"mustard"}),
    ],
)
def test_rooms_and_papers_have_their_words(what, code, words):
    """What such a surface is called; its colour as commonly seen: common practice, no source."""
    assert colour_word(srgb_to_lab(from_hex(code))) in words, what
