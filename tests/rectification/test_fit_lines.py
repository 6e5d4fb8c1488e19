"""Which lines take part, and as what: edges drawn through a known lens before a known wall."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.lines.test_detect import FINE_HEIGHT, FINE_WIDTH, FOCAL, piece
from visualiser.photo.frame import FrameEvidence
from visualiser.photo.photo import Photo
from visualiser.rectification import fit_lines
from visualiser.rectification.camera.adjustment import adjust
from visualiser.rectification.camera.lens_alternatives import lens_alternatives
from visualiser.rectification.camera.lens_profile import lens_prior
from visualiser.rectification.camera.projection import CameraState, Lens, vector_from_rotation
from visualiser.rectification.camera.reference_observation import ReferenceObservation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.edges.locate import no_samples
from visualiser.rectification.lines.detect import _merged as merged
from visualiser.rectification.lines.straightness import vote_on_distortion
from visualiser.rectification.reference import Reference

SHEET_MM = np.array([[-105, 148.5], [105, 148.5], [105, -148.5], [-105, -148.5]])
DISTANCE_MM = 2000.0
PHOTO = Photo(np.full((FINE_HEIGHT, FINE_WIDTH, 3), 128, np.uint8), FOCAL, 0.02)
PRIOR = lens_prior(PHOTO, ModelTerms(), None)


def fitted(lines, prior=PRIOR, budget=None):
    """A camera straight before the wall, its sheet clicked in the middle, and these lines."""
    lens = Lens(FOCAL, FINE_WIDTH / 2, FINE_HEIGHT / 2, 0, 0)
    camera = CameraState(np.diag([1.0, -1, -1]), np.array([0, 0, DISTANCE_MM]), lens)
    corners = SHEET_MM * [1, -1] * FOCAL / DISTANCE_MM + [FINE_WIDTH / 2, FINE_HEIGHT / 2]
    nothing = tuple(no_samples() for _ in range(4))
    sheet = Reference("a4", corners, 210, 297, origin="clicked")
    base = ReferenceObservation(sheet, nothing, True, True, ModelTerms())
    by_straightness = fit_lines.sort_by_straightness(lines, prior)
    alone = adjust(camera, [base], prior)
    return fit_lines.fit_with_lines(
        alone, [base], by_straightness, prior, FINE_WIDTH, ModelTerms(), budget=budget
    )


def test_an_edge_joined_of_two_that_no_lens_straightens_is_taken_apart(monkeypatch):
    """The second piece lies 20 px off the first's line, 1 % of the length of both.

    Middles of real edges stray by 0.1 % of their length, one sigma (York Urban and a house): 6 px
    here may be a bow.
    """
    k1 = -0.05
    found = [
        piece("a", [100, 1500], [1250, 1500], k1),
        piece("b", [1300, 1520], [1900, 1520], k1),
        piece("c", [100, 200], [2400, 200], k1),
        piece("d", [100, 1700], [2400, 1700], k1),
    ]
    joined = [merged(found[:2]), *found[2:]]
    seen = []

    def voted(lines, lens, sigma, bow_share):
        seen.append({line.name for line in lines})
        return vote_on_distortion(lines, lens, sigma, bow_share)

    monkeypatch.setattr(fit_lines, "vote_on_distortion", voted)
    fit = fitted(joined)
    assert seen == [{"a", "c", "d"}, {"a", "b", "c", "d"}]
    assert {line.name for line in fit.lines} == {"a", "b", "c", "d"}


def test_an_edge_joined_of_two_side_by_side_is_taken_apart_in_the_fit():
    """The second lies 0.8 px beside the first: a bow that a lens may have, but a step."""
    found = [
        piece("a", [100, 1500], [1250, 1500]),
        piece("b", [1300, 1500.8], [1900, 1500.8]),
        piece("c", [100, 200], [2400, 200]),
        piece("d", [100, 1700], [2400, 1700]),
        piece("e", [300, 150], [300, 1800]),
    ]
    joined = [merged(found[:2]), *found[2:]]
    assert [line.name for line in fit_lines.sort_by_straightness(joined, PRIOR).straight] == [
        "a", "c", "d", "e"
    ]  # fmt: skip
    fit = fitted(joined)
    assert {line.name for line in fit.lines} == {"a", "b", "c", "d", "e"}


@pytest.mark.parametrize(("askew_deg", "length_px", "kind"), [
    (0.1, 600, "plumb"),
    (0.8, 600, "straight"),
    (1.2, 600, "straight"),
    (1.2, 700, "straight"),
    (0.1, 1500, "plumb"),
])  # fmt: skip
def test_pictures_in_a_column_are_no_door_frame(askew_deg, length_px, kind):
    """Two frames hung askew look like one edge of a metre: they do not turn the room.

    The corner and the door beside it tell how the camera is tipped to 1.7 degrees, the sheet to 4:
    where both sigmas of what edges stray by leave it open, the column may have its say, and the
    turn that it gives stays within what is stated.
    """
    lean = length_px * np.tan(np.radians(askew_deg))
    lines = [
        piece("ceiling", [60, 150], [2500, 150]),
        piece("skirting", [60, 1800], [2500, 1800]),
        piece("corner", [200, 160], [200, 1790]),
        piece("door", [400, 500], [400, 1790]),
        piece("column", [1800, 250], [1800 + lean, 250 + length_px]),
    ]
    fit = fitted(lines)
    kinds = {line.name: d.kind for line, d in zip(fit.lines, fit.directions, strict=True)}
    assert kinds == {
        "ceiling": "level",
        "skirting": "level",
        "corner": "plumb",
        "door": "plumb",
        "column": kind,
    }
    if length_px < 0.35 * FINE_WIDTH:  # as long as only a building's edges are, it has its say
        turn = vector_from_rotation(fit.solution.camera.rotation @ np.diag([1.0, -1, -1]))
        if kind == "straight":
            assert np.degrees(np.abs(turn)).max() < 0.06
        else:
            stated = np.sqrt(np.diag(fit.solution.covariance)[:3])
            assert (np.abs(turn) < stated).all()
            assert np.degrees(np.abs(turn)).max() < askew_deg


STRAY = [
    piece("ceiling", [60, 150], [2500, 150]),
    piece("skirting", [60, 1800], [2500, 1800]),
    piece("corner", [200, 160], [200, 1790]),
    piece("door", [2300, 400], [2300, 1790]),
    piece("stray", [300, 1700], [790, 1330]),
]
"""The last points at the picture's middle, as level edges away from the wall do at the axis."""


def trimmed_prior():
    """The axis may lie 400 px from the middle."""
    photo = replace(PHOTO, frame=FrameEvidence(0.0, (400.0, 400.0)))
    return lens_alternatives(photo, ModelTerms())[0].prior


def test_the_edge_that_alone_places_the_axis_is_tried_without_its_word():
    """In a whole photo the axis is known, and every edge is checked by others."""
    trimmed, whole = fitted(STRAY, trimmed_prior()), fitted(STRAY)
    assert [d.kind for d in trimmed.directions] == ["level", "level", "plumb", "plumb", "away"]
    ((sorting, kept),) = fit_lines._without_lone_lines(trimmed, 0.0)
    assert [d.kind for d in sorting.directions] == [
        "level", "level", "plumb", "plumb", "straight"
    ]  # fmt: skip
    assert kept.straight == trimmed.lines
    assert fit_lines._without_lone_lines(whole, 0.0) == []


def bowed(name, start, end, bow_px):
    """A piece whose middle lies so far beside the chord of its ends."""
    straight = piece(name, start, end)
    t = np.linspace(-1, 1, len(straight.samples))[:, None]
    points = straight.samples.points_px + bow_px * (1 - t**2) * straight.samples.normals_px
    return replace(straight, samples=replace(straight.samples, points_px=points))


def test_an_edge_costs_the_more_the_more_it_bows_and_no_less_once_it_is_called_bent():
    """Called bent, an edge of 1 m that bows by 5 mm must not explain more than left out."""
    prices, bent = [], []
    for bow_px in (0.0, 2.0, 4.0, 7.0, 12.0):
        fit = fitted([*STRAY[:4], bowed("shelf", [900, 1300], [1700, 1300], bow_px)])
        prices.append(fit.price)
        bent.append([line.name for line in fit.bent])
    assert bent[0] == []
    assert bent[-1] == ["shelf"]
    assert (np.diff(prices) > -0.5).all()
