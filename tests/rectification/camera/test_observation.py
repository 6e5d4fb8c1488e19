import numpy as np
import pytest

from visualiser.rectification.camera.adjustment import adjust
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.line_observation import (
    AXES,
    Direction,
    Hung,
    LinesObservation,
)
from visualiser.rectification.camera.observation import TapeObservation
from visualiser.rectification.camera.projection import (
    FLIP,
    CameraState,
    Lens,
    rotation_from_vector,
    vector_from_rotation,
)
from visualiser.rectification.camera.reference_observation import ReferenceObservation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.marks import TapedLength
from visualiser.rectification.reference import EdgeSamples, Reference

LENS = Lens(1500.0, 1000.0, 740.0, 0.04, -0.01)
CAMERA = CameraState(
    rotation_from_vector(np.array([0.08, 0.25, 0.03])) @ FLIP,
    np.array([150.0, -80.0, 2900.0]),
    LENS,
)


OFF = np.array([0.004, -0.003, 0.002, 3, -2, 15, 0.01, 0.004, -0.002, 2, -1])


def seen(xyz):
    return CAMERA.project(np.asarray(xyz, float))[0]


def edge(start, end, count=12, noise=0.0, seed=0, camera=CAMERA):
    """Samples of a straight edge in space as the camera sees it."""
    t = np.linspace(0.05, 0.95, count)[:, None]
    points = camera.project(np.asarray(start) + t * (np.asarray(end, float) - start))[0]
    tangent = np.gradient(points, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normal = np.c_[-tangent[:, 1], tangent[:, 0]]
    rng = np.random.default_rng(seed)
    shift = rng.normal(0, 1, (count, 1)) * noise
    return EdgeSamples(points + shift * normal, normal, np.full(count, max(noise, 0.05)))


def reference(turn_deg=0.0, centre=(0.0, 0.0), noise=0.0, seed=0):
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    local = np.array([[-105, 148.5], [105, 148.5], [105, -148.5], [-105, -148.5]])
    corners = np.c_[local @ np.array([[c, s], [-s, c]]) + centre, np.zeros(4)]
    sides = tuple(
        edge(corners[i], corners[(i + 1) % 4], noise=noise, seed=[seed, i]) for i in range(4)
    )
    return Reference("a4", seen(corners), 210.0, 297.0, sides=sides)


def sheet(at_origin=True, use_corners=False, **kwargs):
    ref = reference(**kwargs)
    return ReferenceObservation(ref, ref.sides, at_origin, use_corners, ModelTerms())


def room_lines(noise=0.0):
    edges = [
        edge([-1500, 1100, 0], [1500, 1100, 0], noise=noise, seed=1),
        edge([-1500, -1300, 18], [1200, -1300, 18], noise=noise, seed=2),
        edge([1300, -1200, 20], [1300, 800, 20], noise=noise, seed=3),
        edge([-700, -900, 400], [600, -500, 500], noise=noise, seed=4),
    ]
    kinds = ("level", "level", "plumb", "straight")
    return LinesObservation.of(edges, [Direction(k, 1e-3) for k in kinds], CAMERA)


def askew_lines():
    """Edges of an adjoining wall not quite square to this one, of a sofa, and one on the wall."""
    edges = [
        edge([-1500, 1100, 0], [1500, 1100, 0]),
        edge([-1400, 1100, 100], [-1400, 1100, 900]),
        edge([-1400, -1100, 100], [-1380, -1100, 900]),
        edge([-500, -800, 300], [600, -800, 320]),
    ]
    wall, away, sofa = (
        Direction("level", 1e-3),
        Direction("away", 1e-3, 0.02),
        Direction("level", 1e-3, 0.03),
    )
    return LinesObservation.of(edges, [wall, away, away, sofa], CAMERA)


def hung_lines():
    """Edges of two pictures that hang askew and lean, and one of the room."""
    edges = [
        edge([-1500, 1100, 0], [1500, 1100, 0]),
        edge([-600, 300, 20], [-200, 306, 20]),
        edge([-200, 306, 20], [-193, -200, 8]),
        edge([500, 400, 20], [504, -100, 10]),
    ]
    first, second = Hung(0, 0.02, 0.01), Hung(2, 0.004, 0.01)
    directions = [
        Direction("level", 1e-3),
        Direction("level", 2e-3, hung=first),
        Direction("plumb", 2e-3, hung=first),
        Direction("plumb", 2e-3, hung=second),
    ]
    return LinesObservation.of(edges, directions, CAMERA)


OBSERVATIONS = {
    "sides": sheet,
    "second": lambda: sheet(at_origin=False, turn_deg=-3.0, centre=(900.0, 60.0)),
    "corners": lambda: sheet(use_corners=True),
    "lines": room_lines,
    "askew lines": askew_lines,
    "hung lines": hung_lines,
    "tape": lambda: TapeObservation(TapedLength((300.0, 400.0), (1500.0, 900.0), 2000.0)),
}


@pytest.mark.parametrize("name", OBSERVATIONS)
def test_derivatives_agree_with_central_differences(name):
    observation = OBSERVATIONS[name]()
    camera = CAMERA.moved(0.1 * OFF)
    rng = np.random.default_rng(5)
    own = observation.own_start(camera)
    own = own + rng.normal(0, 1, len(own)) * np.where(np.abs(own) > 10, 0.1, 0.001)
    _, by_camera, by_own = observation.linearise(camera, own)
    for i in range(11):
        step = np.zeros(11)
        step[i] = 1e-2 if i in (3, 4, 5, 9, 10) else 1e-5
        ahead = observation.linearise(camera.moved(step), own).residual
        behind = observation.linearise(camera.moved(-step), own).residual
        numeric = (ahead - behind) / (2 * step[i])
        scale = np.abs(by_camera[:, i]).max() + 1e-6
        assert by_camera[:, i] == pytest.approx(numeric, abs=1e-4 * scale), f"camera {i}"
    for i in range(len(own)):
        step = np.zeros(len(own))
        step[i] = 1e-5
        ahead = observation.linearise(camera, own + step).residual
        behind = observation.linearise(camera, own - step).residual
        numeric = (ahead - behind) / (2 * step[i])
        scale = np.abs(by_own[:, i]).max() + 1e-6
        assert by_own[:, i] == pytest.approx(numeric, abs=1e-4 * scale), f"own {i}"


@pytest.mark.parametrize("name", ["sides", "second", "corners", "lines"])
def test_the_truth_leaves_no_residual(name):
    observation = OBSERVATIONS[name]()
    own = observation.own_start(CAMERA)
    residual = observation.linearise(CAMERA, own).residual
    assert np.abs(residual).max() < 0.02


def test_room_lines_follow_their_axes():
    assert set(AXES) == {"plumb", "level", "away"}


PRIOR = LensPrior(Lens(1520.0, 999.5, 749.5), np.diag([0.03, 0.04, 0.02, 8.0, 8.0]) ** 2)


def test_adjustment_agrees_with_scipy():
    """A second method: scipy's trust-region solver on the same residuals and priors."""
    from scipy.optimize import least_squares

    observations = [sheet(turn_deg=1.0, noise=0.05), room_lines(noise=0.05)]
    ours = adjust(CAMERA, observations, PRIOR, scale_by_residuals=False)
    free = [o.own_sigma > 0 for o in observations]
    counts = [int(f.sum()) for f in free]
    root = np.linalg.cholesky(np.linalg.inv(PRIOR.covariance)).T

    def residuals(x):
        camera, at, parts = CAMERA.moved(x[:11]), 11, []
        for observation, mask, count in zip(observations, free, counts, strict=True):
            own = observation.own_start(CAMERA)
            own[mask] += x[at : at + count]
            parts.append(observation.linearise(camera, own).residual)
            parts.append(own[mask] / observation.own_sigma[mask])
            at += count
        return np.concatenate([*parts, root @ PRIOR.deviation(camera.lens)])

    def huber(z):
        # As ours: quadratic within two sigmas, linear beyond.
        size = np.sqrt(z)
        flat = np.where(z <= 4, z, 4 * size - 4)
        first = np.where(z <= 4, 1.0, 2 / np.maximum(size, 1e-9))
        second = np.where(z <= 4, 0.0, -1 / np.maximum(size, 1e-9) ** 3)
        return np.array([flat, first, second])

    start = np.zeros(11 + sum(counts))
    theirs = least_squares(residuals, start, loss=huber, x_scale="jac", xtol=1e-9)
    camera = CAMERA.moved(theirs.x[:11])
    assert 2 * theirs.cost == pytest.approx(ours.cost, rel=1e-3)
    assert camera.translation_mm == pytest.approx(ours.camera.translation_mm, abs=1.0)
    assert camera.rotation == pytest.approx(ours.camera.rotation, abs=2e-4)
    assert camera.lens.focal_px == pytest.approx(ours.camera.lens.focal_px, rel=1e-3)


def test_the_same_input_gives_the_same_answer():
    observations = [sheet(noise=0.1), room_lines(noise=0.1)]
    first, second = (adjust(CAMERA, observations, PRIOR) for _ in range(2))
    assert (first.camera.rotation == second.camera.rotation).all()
    assert (first.covariance == second.covariance).all()


def test_more_evidence_never_widens_the_covariance():
    """Criminisi, Reid & Zisserman (BMVC 1997), section 7: uncertainty falls with more points."""
    few = adjust(CAMERA, [sheet()], PRIOR, scale_by_residuals=False).covariance
    more = adjust(CAMERA, [sheet(), room_lines()], PRIOR, scale_by_residuals=False).covariance
    assert np.linalg.eigvalsh(few - more).min() > -1e-6 * np.abs(few).max()


def test_a_thing_s_roll_is_found_from_both_its_edges_and_moves_no_camera():
    """A frame turned by 1.2 degrees, the camera known from the sheet: so its edges say."""
    roll = np.radians(1.2)
    c, s = np.cos(roll), np.sin(roll)
    corners = np.array([[-200, 250], [200, 250], [200, -250]]) @ np.array([[c, s], [-s, c]])
    corners = np.c_[corners + [700, 100], np.zeros(3)]
    edges = [edge(corners[0], corners[1], count=24), edge(corners[1], corners[2], count=24)]
    hung = Hung(0, np.radians(1.3), np.radians(0.7))
    lines = LinesObservation.of(
        edges, [Direction("level", 1e-4, hung=hung), Direction("plumb", 1e-4, hung=hung)], CAMERA
    )
    solution = adjust(CAMERA, [sheet(), room_lines(), lines], PRIOR)
    assert solution.own[-1][-2] == pytest.approx(roll, abs=np.radians(0.1))
    turn = vector_from_rotation(solution.camera.rotation @ CAMERA.rotation.T)
    # About the direction out of the wall, which is how it would be taken for the camera's.
    assert CAMERA.rotation[:, 2] @ turn == pytest.approx(0.0, abs=np.radians(0.1))
