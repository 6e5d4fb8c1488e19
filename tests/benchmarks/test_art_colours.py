"""Colour advice on real pictures, figures side by side. Run with ``-m benchmark -s``.

``ART_PICTURES`` names a folder of paintings and prints; nothing of them is kept. Sets come from
tests/data/picture_sets.csv, which also says where pictures may be fetched.
"""

import os
import warnings
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from visualiser.colour.coherence import OutlierRule
from visualiser.colour.colorimetry import lab_to_linear, lab_to_srgb, lch_to_lab, srgb_to_lab
from visualiser.colour.difference import delta_e_2000
from visualiser.colour.distance import pairwise_distances
from visualiser.colour.extraction import extract_palette
from visualiser.colour.harmony import mutual_harmony
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.set_model import fitted, measures
from visualiser.colour.theme import summarise
from visualiser.photo.decoding import load_reduced

pytestmark = pytest.mark.benchmark

FOLDER = os.environ.get("ART_PICTURES", "")
KINDS = {".jpg", ".jpeg", ".png", ".webp"}


@pytest.fixture(scope="module")
def art():
    """Up to 90 pictures of the folder, 320 px a side, evenly taken in the order of their names."""
    if not FOLDER:
        pytest.skip("ART_PICTURES names no folder")
    cv2.setNumThreads(1)
    paths = sorted(p for p in Path(FOLDER).iterdir() if p.suffix.lower() in KINDS)
    return [load_reduced(p.read_bytes(), 320).pixels for p in paths[:: max(len(paths) // 90, 1)]]


@pytest.fixture(scope="module")
def picture_sets():
    """Palettes and set number of each of the committed pieces."""
    table = Path(__file__).resolve().parents[1] / "data" / "picture_sets.csv"
    lines = [line for line in table.read_text("utf-8").splitlines() if not line.startswith("#")]
    pieces = {}
    for line in lines[1:]:
        name, rest = line.rsplit('",', 1)
        piece, *values = rest.split(",")
        pieces.setdefault((name, piece), []).append([float(v) for v in values])
    names = list(dict.fromkeys(name for name, _ in pieces))
    palettes = [palette_from_lab(np.array(p)[:, :3], np.array(p)[:, 3]) for p in pieces.values()]
    return palettes, np.array([names.index(name) for name, _ in pieces])


def k_means(lab, count):
    from sklearn.cluster import KMeans

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return KMeans(count, n_init=1, random_state=0).fit(lab).cluster_centers_


def some(lab):
    flat = lab.reshape(-1, 3)
    return flat[:: max(len(flat) // 6000, 1)]


def test_recolouring(art):
    """Mean CIEDE2000 to the nearest swatch: ours, k-means, Pillow's median cut."""
    rows = []
    for pixels in art[::3]:
        palette = extract_palette(pixels, trim=False)
        count, lab = len(palette.swatches), some(srgb_to_lab(pixels))
        cut = Image.fromarray(pixels).quantize(count).getpalette()[: 3 * count]
        cut = srgb_to_lab(np.array(cut, np.uint8).reshape(-1, 3))
        sets = (palette.lab, k_means(lab, count), cut)
        rows.append([np.min([delta_e_2000(lab, c) for c in s], axis=0).mean() for s in sets])
    ours, means, median_cut = np.mean(rows, axis=0)
    print(f"\nrecolouring dE00: ours {ours:.2f}, k-means {means:.2f}, median cut {median_cut:.2f}")
    assert ours < median_cut


def with_patch(pixels, part, rng):
    """Picture with one vivid colour on a part of its area in 1 to 4 discs, and that colour."""
    lab = srgb_to_lab(pixels)
    height, width = lab.shape[:2]
    ground = extract_palette(pixels).lab
    for _ in range(2000):
        vivid = lch_to_lab([rng.uniform(35, 75), rng.uniform(45, 70), rng.uniform(0, 360)])
        linear = lab_to_linear(vivid)
        shown = (linear >= 0).all() and (linear <= 1).all()
        if shown and delta_e_2000(vivid, ground).min() > 20:
            break
    discs = int(rng.integers(1, 5))
    rows, columns = np.mgrid[:height, :width]
    for _ in range(discs):
        y, x = rng.uniform(0.1, 0.9, 2) * (height, width)
        lab[np.hypot(rows - y, columns - x) ** 2 < part * height * width / discs / np.pi] = vivid
    return lab_to_srgb(lab), vivid


def test_planted_accents(art):
    """How many patches of 0.5, 1 and 2 % have a swatch within 10, and by k-means of as many."""
    for part in (0.005, 0.01, 0.02):
        ours = means = 0
        for seed, pixels in enumerate(art):
            shown, vivid = with_patch(pixels, part, np.random.default_rng(seed))
            palette = extract_palette(shown)
            ours += delta_e_2000(palette.lab, vivid).min() < 10
            if seed % 3 == 0:
                centres = k_means(some(srgb_to_lab(shown)), len(palette.swatches))
                means += delta_e_2000(centres, vivid).min() < 10
        print(f"{part:.1%}: kept {ours} of {len(art)}; k-means {means} of {len(art[::3])}")
        assert ours >= 0.95 * len(art)


def test_words(art):
    """How the words spread: a word that fits nearly every picture says nothing."""
    themes = [summarise(extract_palette(p)) for p in art]
    for kind in ("temperature", "lightness", "chroma"):
        bands = [getattr(t, kind).band for t in themes]
        print(kind, {band: bands.count(band) for band in sorted(set(bands))})
        assert max(bands.count(band) for band in set(bands)) <= 0.75 * len(bands)
    print("with an accent:", sum(bool(t.accents) for t in themes), "of", len(themes))


def test_harmony_is_no_judge_of_pictures(picture_sets):
    """Why it is not used: it follows lightness, and does not know pieces of one set."""
    palettes, label = picture_sets
    pairs = np.triu_indices(len(palettes), 1)
    harmony = np.array(
        [mutual_harmony(palettes[i], palettes[j]) for i, j in zip(*pairs, strict=True)]
    )
    light = np.array([p.shares @ p.lab[:, 0] for p in palettes])
    follows = np.corrcoef(harmony, light[pairs[0]] + light[pairs[1]])[0, 1]
    same = label[pairs[0]] == label[pairs[1]]
    distance = pairwise_distances(palettes)[pairs]
    by_harmony = (harmony[same][:, None] > harmony[~same]).mean()
    by_distance = (distance[same][:, None] < distance[~same]).mean()
    print(f"\nharmony: r with lightness {follows:.2f}, pairs of one set {by_harmony:.2f}; ", end="")
    print(f"palette distance {by_distance:.2f}")
    assert by_distance > by_harmony + 0.2


def test_outliers_before_and_now(picture_sets):
    """Named, other piece accused, and clean sets accused, of 370 and 370; each set held out."""
    palettes, label = picture_sets
    described, distances = measures(palettes), pairwise_distances(palettes)
    near = [[delta_e_2000(p.lab[:, None], q.lab).min(1) for q in palettes] for p in palettes]

    def strange(rows):
        return np.array(
            [
                palettes[i].shares @ np.min([near[i][j] for j in rows if j != i], axis=0)
                for i in rows
            ]
        )

    def nearest_colours(rows):
        """What was asked before: twice as far from the nearest colours as usual, and 5 more."""
        own = strange(rows)
        usual = np.array([strange(np.delete(rows, k)).mean() for k in range(len(rows))])
        return np.where((own - usual >= 5) & (own >= 2 * usual), own - usual, -np.inf)

    def mean_distance(rows):
        """Mean palette distance at least 1.7 times the rest's own, and 8 more."""
        table = distances[np.ix_(rows, rows)]
        own = table.sum(1) / (len(rows) - 1)
        rest = [np.delete(np.delete(table, k, 0), k, 1) for k in range(len(rows))]
        usual = np.array([r[np.triu_indices(len(r), 1)].mean() for r in rest])
        return np.where((own >= 1.7 * usual) & (own - usual >= 8), own - usual, -np.inf)

    rng = np.random.default_rng(1)
    kinds = [k for k in range(label.max() + 1) if (label == k).sum() >= 4]
    models = {
        k: fitted([described[label == j] for j in range(label.max() + 1) if j != k]) for k in kinds
    }
    least = OutlierRule().least_evidence
    tally = {name: [0, 0, 0] for name in ("nearest colours", "mean distance", "model")}
    for trial in range(370):
        kind = kinds[trial % len(kinds)]
        own = np.flatnonzero(label == kind)
        rest = rng.choice(own, min(len(own), int(rng.integers(3, 7))), replace=False)
        planted = np.append(rest, rng.choice(np.flatnonzero(label != kind)))
        clean = rng.choice(own, min(len(own), int(rng.integers(4, 7))), replace=False)
        for rows, at in ((planted, len(rest)), (clean, None)):
            judged = {
                "nearest colours": nearest_colours(rows),
                "mean distance": mean_distance(rows),
                "model": models[kind].evidence(described[rows]),
            }
            for name, value in judged.items():
                if value.max() >= (least if name == "model" else 0):
                    tally[name][2 if at is None else int(value.argmax() != at)] += 1
    for name, (named, other, accused) in tally.items():
        print(f"{name}: named {named}, another piece {other}, clean sets accused {accused}")
    assert tally["model"][0] > tally["mean distance"][0]
    assert sum(tally["model"][1:]) < sum(tally["mean distance"][1:])
