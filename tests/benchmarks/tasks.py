"""The work that the table times: ours, the usual general-purpose way, and the least anyone needs.

Each task takes a size, 0 to 2, prepares what is not timed, and returns three functions: ours, the
peer (what someone would write with the usual library), and the floor (decoding, one warp, a copy:
work that no program doing the job can do without).
"""

import io
import json
import os
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

import visualiser as vis
from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.colour.colorimetry import srgb_to_lab
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.search import PaletteIndex, nearest_palettes, search_distance
from visualiser.photo.encoding import encode_jpeg
from visualiser.photo.photo import Photo
from visualiser.printing.hanging_plan import plan_pdf
from visualiser.project.document import OptionEntry
from visualiser.project.samples import create_sample, sample_folder
from visualiser.rectification.fit import fit_wall_plane
from visualiser.rendering.compositing import prepare_wall, render_mockup
from visualiser.rendering.mockup import MockupOptions
from visualiser.sizes import paper_size
from visualiser.survey.survey import Survey

SCALES = (0.5, 0.71, 1.0)  # of the sides: each size has about twice the pixels of the last
TURN = np.array([[1, 0.02, 3], [0.01, 1, 2], [1e-6, 0, 1]])


def scaled_photo(name, size):
    """A sample photo at one of the scales, as a file and decoded."""
    whole = vis.load_photo((sample_folder() / "photos" / f"{name}.jpg").read_bytes())
    sides = (round(whole.width_px * SCALES[size]), round(whole.height_px * SCALES[size]))
    pixels = cv2.resize(whole.pixels, sides, interpolation=cv2.INTER_AREA)
    focal = whole.focal_px and whole.focal_px * SCALES[size]
    return encode_jpeg(pixels), Photo(pixels, focal, camera=whole.camera)


def decode(file):
    return np.asarray(Image.open(io.BytesIO(file)).convert("RGB"))


def warp(pixels):
    return cv2.warpPerspective(pixels, TURN, pixels.shape[1::-1])


@cache
def job():
    return create_sample("breakfast-room", Path(tempfile.mkdtemp()) / "job")


@cache
def surveyed():
    return job().photo(), job().survey(), job().arrangement()


def reference_finding(size):
    file, photo = scaled_photo("reading-room", size)

    def quadrilaterals():
        """Find sheets as textbooks do: edges, outlines, four corners."""
        edges = cv2.Canny(
            cv2.GaussianBlur(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), (5, 5), 0), 50, 150
        )
        outlines, _ = cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        near = [cv2.approxPolyDP(o, 0.02 * cv2.arcLength(o, True), True) for o in outlines]
        return [n for n in near if len(n) == 4 and cv2.isContourConvex(n)]

    return lambda: vis.find_references(photo, "a4"), quadrilaterals, lambda: decode(file)


def plane_fit(size):
    _, photo = scaled_photo("reading-room", size)
    found = vis.find_references(photo, "a4")
    corners = found[0].corners_px
    sheet = np.array([[0, 297], [210, 297], [210, 0], [0, 0]], float)
    return (
        lambda: fit_wall_plane(photo, found),
        lambda: cv2.findHomography(corners, sheet),
        lambda: photo.pixels.copy(),
    )


def palette(size):
    from sklearn.cluster import KMeans

    side = (300, 424, 600)[size]
    art = sample_folder() / "artworks" / "pears-and-jug.jpg"
    pixels = np.asarray(Image.open(art).convert("RGB").resize((side, side)))

    def k_means():
        lab = srgb_to_lab(pixels).reshape(-1, 3)
        return KMeans(6, n_init=1, random_state=0).fit(lab).cluster_centers_

    return lambda: vis.extract_palette(pixels), k_means, lambda: srgb_to_lab(pixels)


def catalogue_query(size):
    count = (25_000, 50_000, 100_000)[size]
    rng = np.random.default_rng(1)
    about = srgb_to_lab(rng.random((count, 1, 3)))
    lab = about + rng.normal(0, 1, (count, 8, 3)) * [8, 12, 12]
    shares = rng.gamma(1.2, size=(count, 8))
    shares /= shares.sum(1, keepdims=True)
    index = PaletteIndex.of(lab, shares)
    goal = [palette_from_lab(lab[7], shares[7])]

    def all_of_them():
        rows = np.array_split(np.arange(count), count // 500)
        return np.argsort(np.concatenate([search_distance(index, r, goal) for r in rows]))[:20]

    return lambda: nearest_palettes(index, goal, 20), all_of_them, lambda: lab.copy()


def proposals(size):
    from scipy.optimize import differential_evolution

    count = (3, 6, 12)[size]
    rng = np.random.default_rng(count)
    sides = rng.choice([210, 250, 297, 300, 400, 420, 500], size=(count, 2)).astype(float)
    pieces = [vis.Piece(f"P{i}", w, h) for i, (w, h) in enumerate(sides)]
    wall = Survey.from_size(5000, 2700)
    first, second = np.triu_indices(count, 1)

    def untidy(centres):
        """Overlap at a gap of 57 mm, and how wide and off the eye line the group is."""
        at = centres.reshape(count, 2)
        reach = (sides[first] + sides[second]) / 2 + 57 - np.abs(at[first] - at[second])
        overlap = np.prod(np.maximum(reach, 0), axis=1).sum()
        return overlap + np.ptp(at, axis=0).prod() + 100 * abs(at[:, 1].mean() - 1524)

    bounds = [(300, 4700), (300, 2400)] * count
    return (
        lambda: vis.propose(pieces, wall, count=3),
        lambda: differential_evolution(untidy, bounds, rng=0, maxiter=100, polish=False),
        lambda: [untidy(np.zeros(2 * count)) for _ in range(count**2)],
    )


def pasted(photo, survey, arrangement):
    """Paste artworks flat, as a homography and a mask do."""
    out = photo.pixels.copy()
    for piece in arrangement.pieces:
        corners = survey.to_photo(arrangement.rect(piece.id).corners())
        art = piece.artwork.pixels if piece.artwork else np.zeros((8, 8, 3), np.uint8)
        h, w = art.shape[:2]
        square = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
        turn = cv2.getPerspectiveTransform(square, corners.astype(np.float32))
        drawn = cv2.warpPerspective(art, turn, out.shape[1::-1])
        cover = cv2.warpPerspective(np.full((h, w), 255, np.uint8), turn, out.shape[1::-1])
        out[cover > 127] = drawn[cover > 127]
    return out


def mockup(size):
    photo, survey, arrangement = surveyed()
    longest = round(photo.width_px * SCALES[size])
    options = MockupOptions(max_side_px=longest if size < 2 else None)
    file = encode_jpeg(cv2.resize(photo.pixels, None, fx=SCALES[size], fy=SCALES[size]))
    return (
        lambda: render_mockup(photo, survey, arrangement, options),
        lambda: pasted(photo, survey, arrangement),
        lambda: warp(decode(file)),
    )


def documents(size):
    from reportlab.pdfgen.canvas import Canvas

    count = (4, 12, 40)[size]
    pieces = tuple(vis.Piece(f"p{k}", 300, 400) for k in range(count))
    places = tuple(
        Placement(f"p{k}", 300 + (k % 10) * 470, 500 + (k // 10) * 460) for k in range(count)
    )
    arrangement, wall = Arrangement(pieces, places), Survey.from_size(5200, 2700)
    a4 = paper_size("a4")

    def plain_page():
        page = Canvas(io.BytesIO(), invariant=True)
        for row in range(count):
            page.rect(50 + row % 10 * 45, 500 + row // 10 * 40, 30, 40)
            page.drawString(50, 480 - row * 11, f"p{row}: 300 mm from the side, 400 mm up, 2.0 kg")
        page.save()

    def page_of_nothing():
        page = Canvas(io.BytesIO(), invariant=True)
        page.showPage()
        page.save()

    plan = lambda: plan_pdf(vis.plan_hanging(arrangement, wall, "brick"), a4)  # noqa: E731
    return plan, plain_page, page_of_nothing


def as_hung(size):
    file, photo = scaled_photo("breakfast-room-hung", size)
    _, _, arrangement = surveyed()
    works = [piece.artwork.pixels for piece in arrangement.pieces if piece.artwork]

    def matched():
        """Find each artwork by matched features and a homography."""
        finder, matcher = cv2.SIFT_create(), cv2.BFMatcher()
        there, there_marks = finder.detectAndCompute(photo.pixels, None)
        for work in works:
            here, here_marks = finder.detectAndCompute(work, None)
            pairs = matcher.knnMatch(here_marks, there_marks, k=2)
            good = [a for a, b in pairs if a.distance < 0.75 * b.distance]
            if len(good) >= 4:
                start = np.array([here[m.queryIdx].pt for m in good])
                end = np.array([there[m.trainIdx].pt for m in good])
                cv2.findHomography(start, end, cv2.RANSAC, 3)

    return (
        lambda: vis.check_as_hung(photo, arrangement, reference="a4"),
        matched,
        lambda: decode(file),
    )


def edit_and_redraw(size):
    """One round trip of the app: a piece is moved, saved, and the preview drawn again."""
    photo, survey, arrangement = surveyed()
    small = MockupOptions(max_side_px=(800, 1130, 1600)[size])
    wall = prepare_wall(photo, survey, small)
    reduced = Photo(cv2.resize(photo.pixels, wall.pixels.shape[1::-1]))
    moves = iter(range(1, 10_000))
    state = [vis.open_project(job().folder)]  # as the last size left it

    def ours():
        first, *others = arrangement.placements
        places = (replace(first, x_mm=first.x_mm - next(moves) % 50), *others)
        option = state[0].document.options[0].model_copy(update={"placements": places})
        assert isinstance(option, OptionEntry)
        state[0] = state[0].save(state[0].document.changed(options=(option,)))
        now = replace(arrangement, placements=places)
        render_mockup(photo, survey, now, small, wall=wall)

    def peer():
        with tempfile.TemporaryFile() as file:
            file.write(json.dumps([[p.piece_id, p.x_mm] for p in arrangement.placements]).encode())
        pasted(reduced, wall.survey, arrangement)

    def one_write():
        with tempfile.TemporaryFile() as file:
            file.write(b"{}")
            os.fsync(file.fileno())
        reduced.pixels.copy()

    return ours, peer, one_write


TASKS = {
    "find the reference": (reference_finding, "Canny, contours, quadrilaterals", "decode"),
    "fit the wall's plane": (plane_fit, "homography of four corners", "copy the photo"),
    "palette": (palette, "k-means in CIELAB", "convert to CIELAB"),
    "query a catalogue": (catalogue_query, "measure every palette", "copy the palettes"),
    "propose arrangements": (proposals, "differential evolution", "n² evaluations"),
    "mock-up": (mockup, "warp and paste at full size", "decode, one warp"),
    "hanging plan (PDF)": (documents, "plain page of text", "an empty page"),
    "as-hung check": (as_hung, "SIFT and homographies", "decode"),
    "move, save, redraw": (edit_and_redraw, "write, warp and paste", "one flushed write, a copy"),
}
