"""Corners as drawn, pixel by pixel, against the measured plane."""

import cv2
import numpy as np
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.inventory.moulding_section import edge_depth_mm
from visualiser.inventory.piece import Moulding, Piece
from visualiser.photo.linear_light import to_linear
from visualiser.rendering import framing
from visualiser.rendering.compositing import render_mockup
from visualiser.rendering.mockup import MockupOptions
from visualiser.rendering.sight_lines import camera_centre

PLACES = [(-350, 1250), (-250, 1900), (350, 1300), (600, 1850)]
SIZE = (420.0, 340.0)


def seen_on_wall(survey, points_mm, height_mm):
    """Where points off the wall are seen on it: along the line from the camera, by likeness."""
    cx, cy, cz = camera_centre(survey)
    return [cx, cy] + (points_mm - [cx, cy]) * cz / (cz - height_mm)


def gap_across(luma, edge_px):
    """How far outside a projected edge (N, 2) the drawn one lies, px: half-height crossings."""
    along = np.gradient(edge_px, axis=0)
    outward = np.c_[along[:, 1], -along[:, 0]] / np.linalg.norm(along, axis=1, keepdims=True)
    d = np.arange(-2.5, 2.51, 0.1)
    points = (edge_px[:, None] + d[None, :, None] * outward[:, None]).astype(np.float32)
    profiles = cv2.remap(luma, points[..., 0], points[..., 1], cv2.INTER_LINEAR)
    gaps = []
    for row in profiles:
        level = (row[:6].mean() + row[-6:].mean()) / 2
        crossings = np.flatnonzero(np.diff(np.sign(row - level)))
        k = crossings[np.argmin(np.abs(d[crossings]))]
        gaps.append(d[k] + 0.1 * (level - row[k]) / (row[k + 1] - row[k]))
    return np.median(gaps), outward.mean(axis=0)


@pytest.fixture
def coded(monkeypatch):
    """Draw fronts white and sides like the wall: only the fronts' own outlines are seen then."""

    def white(_piece, _rect, lines, *_):
        return np.ones((*lines.x_mm.shape, 3), np.float32)

    monkeypatch.setattr(framing, "draw_rails", white)
    monkeypatch.setattr(framing, "side_tone", lambda *_: np.array([0.62, 0.58, 0.5]))


@pytest.mark.usefixtures("coded")
@pytest.mark.parametrize("view", ["oblique", "frontal"])
@pytest.mark.parametrize("profile", ["flat", "bevelled"])
def test_every_corner_is_drawn_where_the_plane_says(request, painted, view, profile):
    survey = request.getfixturevalue(view)
    photo = painted(survey)
    for x, y in PLACES:
        piece = Piece("a", *SIZE, moulding=Moulding(40, 25, "white", profile))
        options = MockupOptions(shadows=False, grain=False, glare=False)
        hung = Arrangement((piece,), (Placement("a", x, y),))
        mockup = render_mockup(photo, survey, hung, options)
        luma = to_linear(mockup.pixels).mean(axis=2)
        outline = np.array(SIZE) / 2 * [[-1, 1], [1, 1], [1, -1], [-1, -1]] + [x, y]
        depth = edge_depth_mm(piece)
        expected = survey.to_photo(seen_on_wall(survey, outline, depth))
        assert np.allclose(mockup.corners_px["a"], expected, atol=0.05)
        t = np.linspace(0.06, 0.35, 60)[:, None]
        for i in range(4):
            here, before, after = outline[i], outline[i - 1], outline[(i + 1) % 4]
            rules, gaps = [], []
            for start, end in ((here, after), (before, here)):
                way = t if start is here else 1 - t[::-1]
                edge = survey.to_photo(seen_on_wall(survey, start + way * (end - start), depth))
                gap, outward = gap_across(luma, edge)
                rules.append(outward)
                gaps.append(gap)
            moved = np.linalg.solve(np.array(rules), np.array(gaps))
            assert np.linalg.norm(moved) <= 0.3, (view, profile, (x, y), i, gaps)
