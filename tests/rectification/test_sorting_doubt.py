"""What the doubt about lines adds to the camera's: edges before a wall straight ahead."""

import numpy as np

from tests.rectification.lines.test_detect import piece
from tests.rectification.test_fit_lines import fitted
from visualiser.rectification.camera.projection import vector_from_rotation
from visualiser.rectification.sorting_doubt import sorting_covariance

FRAME = [
    piece("ceiling", [60, 150], [2500, 150]),
    piece("skirting", [60, 1800], [2500, 1800]),
    piece("left", [200, 160], [200, 1790]),
]
TIP = 0
"""Place of the turn that tips the camera."""


def tip_sigma_deg(lines):
    fit = fitted(lines)
    alone, added = fit.solution.covariance[TIP, TIP], sorting_covariance(fit)[TIP, TIP]
    return np.degrees(np.sqrt([alone, added]))


def test_without_lines_nothing_is_added():
    assert (sorting_covariance(fitted([])) == 0).all()


def test_a_short_edge_that_alone_tells_the_tip_is_doubted():
    """As sure as its kind is beforehand: about one in three is not what it seems."""
    fitted_deg, added_deg = tip_sigma_deg([*FRAME, piece("leg", [2200, 900], [2205, 1150])])
    assert added_deg > fitted_deg


def test_long_edges_that_agree_are_hardly_doubted():
    right = [
        piece("right", [2300, 160], [2300, 1790]),
        piece("door", [1900, 400], [1900, 1790]),
        piece("jamb", [600, 400], [600, 1790]),
    ]
    fitted_deg, added_deg = tip_sigma_deg([*FRAME, *right])
    assert added_deg < fitted_deg


def test_the_sides_of_one_frame_are_doubted_together():
    """Top and foot of a picture, each checked by the other only, may both be crooked."""
    level = [piece("top", [1000, 700], [1600, 700]), piece("foot", [1000, 760], [1600, 760])]
    upright = [FRAME[2], piece("right", [2300, 160], [2300, 1790])]
    fit = fitted([*upright, *level])
    alone = fitted([*upright, level[0]])
    added = [np.linalg.norm(sorting_covariance(one)[:3, :3]) for one in (fit, alone)]
    assert added[0] > 0.5 * added[1]


LEVEL = 2
"""Place of the turn about the axis straight ahead."""


def hung_pictures(count, roll_deg):
    """Frames that all hang askew by one angle, and nothing else; the sheet is clicked level."""
    lines, turn = [], np.radians(roll_deg)
    c, s = np.cos(turn), np.sin(turn)
    for k in range(count):
        middle = np.array([450 + 560 * k, 800 + 300 * (k % 2)])
        corners = np.array([[-150, -200], [150, -200], [150, 200], [-150, 200]])
        corners = corners @ np.array([[c, s], [-s, c]]) + middle
        lines += [piece(f"{k}{side}", corners[side], corners[(side + 1) % 4]) for side in range(4)]
    return lines


def level_sigma_deg(count, roll_deg):
    fit = fitted(hung_pictures(count, roll_deg))
    whole = fit.solution.covariance + sorting_covariance(fit)
    turn = vector_from_rotation(fit.solution.camera.rotation @ np.diag([1.0, -1, -1]))
    return float(np.degrees(turn[LEVEL])), float(np.degrees(np.sqrt(whole[LEVEL, LEVEL])))


def test_two_pictures_that_hang_alike_may_both_be_askew():
    """They have eight edges that agree, and are two witnesses: not what ten edges would be."""
    found, sigma = level_sigma_deg(2, 0.8)
    assert abs(found) < 3 * sigma
    assert sigma > 0.25


def test_the_more_pictures_hang_alike_the_surer_is_the_level():
    sigmas = [level_sigma_deg(count, 0.0)[1] for count in (1, 2, 4)]
    assert sigmas == sorted(sigmas, reverse=True)
    assert sigmas[2] < 0.5 * sigmas[0]
