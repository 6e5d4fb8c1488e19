import numpy as np
import pytest

from visualiser.geometry import Polygon, Rect
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.survey.light import estimate_light, inside_polygon
from visualiser.survey.main_light import main_light
from visualiser.survey.paper_light import PAPER_REFLECTANCE
from visualiser.survey.survey import Furniture, Survey

LENS = Lens(600, 399.5, 299.5)
ROTATION = np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, -1]])
ALBEDO = np.array([0.5, 0.45, 0.38])


def wall(light, sheet=0.87, thing=None, albedo=ALBEDO):
    """Survey and photo of a wall under a light given as a function of wall mm."""
    translation = np.array([0.0, 0, 3000])
    half = np.array([105.0, 148.5])
    corners_mm = half * [[-1, 1], [1, 1], [1, -1], [-1, -1]]
    blank = WallPlane(LENS, ROTATION, translation, np.zeros((4, 2)), 0.0, np.eye(11))
    corners = blank.to_photo(corners_mm)
    plane = WallPlane(LENS, ROTATION, translation, corners, 0.0, np.eye(11))
    gy, gx = np.mgrid[0:600, 0:800].astype(float)
    x, y = plane.to_wall(np.c_[gx.ravel(), gy.ravel()]).T
    falling = np.asarray(light(x, y)).reshape(len(x), -1)
    linear = falling * albedo
    if sheet:
        on = (np.abs(x) < half[0]) & (np.abs(y) < half[1])
        linear[on] = falling[on] * sheet
    furniture = ()
    if thing:
        on = (x > thing.left_mm) & (x < thing.right_mm) & (y > thing.bottom_mm) & (y < thing.top_mm)
        linear[on] = 0.03
        furniture = (Furniture("sofa", thing),)
    survey = Survey(Polygon.from_rect(Rect(-2600, -2000, 5200, 4000)), plane, furniture=furniture)
    return survey, Photo(to_pixels(linear.reshape(600, 800, 3).astype(np.float32)))


def light_at(found, survey, x, y):
    px = survey.to_photo(np.array([[x, y]]))[0].round().astype(int)
    return found.white_in(px[0], px[1], 1, 1)[0, 0]


def sideways(x, y):
    return 0.7 * np.exp(x / 5000 + y / 9000)


@pytest.mark.parametrize(("x", "y"), [(-1500, 0), (300, 700), (1600, -900)])
def test_light_of_white_is_found_over_the_wall(x, y):
    survey, photo = wall(sideways)
    found = estimate_light(photo, survey)
    assert light_at(found, survey, x, y) == pytest.approx(
        sideways(x, y) * 0.87 / PAPER_REFLECTANCE, rel=0.03
    )
    assert found.wall_reflectance == pytest.approx(ALBEDO, rel=0.03)


def bricks(spread, seed=4):
    """Reflectance (N, 1) of a running bond of 215 x 65 mm bricks whose tones differ at random."""
    rng = np.random.default_rng(seed)
    gy, gx = np.mgrid[0:600, 0:800]
    x, y = (gx.ravel() - 399.5) * 5 + 9000, (299.5 - gy.ravel()) * 5 + 9000
    row = (y // 75).astype(int)
    tones = np.exp(rng.normal(0, spread, (300, 100)))
    return tones[row, ((x + 112.5 * (row % 2)) // 225).astype(int)][:, None]


def test_bricks_of_many_tones_are_not_taken_for_light():
    """Of 50 places, where a wall's light varies by itself, the light is told as on a plain wall."""
    places = np.random.default_rng(1).uniform([-1500, -1000], [1500, 1000], (50, 2))
    survey, photo = wall(sideways, albedo=ALBEDO * bricks(0.2))
    found = estimate_light(photo, survey)
    told = np.array([light_at(found, survey, x, y)[1] for x, y in places])
    ratio = told / sideways(*places.T)
    assert np.std(np.log(ratio)) < 0.035  # white noise of so many bricks leaves the surface 0.02
    assert np.median(ratio) == pytest.approx(1, rel=0.06)


def test_a_plain_wall_keeps_the_edge_of_a_shadow():
    def shadowed(x, y):
        return sideways(x, y) * (1 - 0.12 / (1 + np.exp(-(x - 600) / 40)))

    survey, photo = wall(shadowed, albedo=ALBEDO * bricks(0.005))
    found = estimate_light(photo, survey)
    for x in (-700, 300, 900, 1300):
        assert light_at(found, survey, x, 500)[1] == pytest.approx(shadowed(x, 500), rel=0.04)


def test_light_goes_on_behind_furniture():
    survey, photo = wall(sideways, thing=Rect(-1200, -1400, 2000, 900))
    found = estimate_light(photo, survey)
    assert light_at(found, survey, -200, -1000) == pytest.approx(sideways(-200, -1000), rel=0.05)


def test_things_that_nobody_marked_are_not_taken_for_light():
    survey, photo = wall(sideways, thing=Rect(500, -1400, 900, 1100))
    unmarked = Survey(survey.outline, survey.plane)
    found = estimate_light(photo, unmarked)
    for x, y in ((-800, 300), (200, 600), (1700, 0)):
        assert light_at(found, unmarked, x, y) == pytest.approx(sideways(x, y), rel=0.06)


def test_colour_of_the_light_comes_from_the_paper():
    warm = np.array([1.0, 0.8, 0.55])
    survey, photo = wall(lambda x, y: 0.6 + 0 * x, sheet=0.0)
    tinted = photo.pixels.copy()
    linear = 0.6 * warm * ALBEDO
    tinted[:] = to_pixels(np.broadcast_to(linear, (600, 800, 3)).astype(np.float32))
    corners = survey.plane.reference_corners_px.round().astype(int)
    tinted[corners[0, 1] : corners[2, 1], corners[0, 0] : corners[2, 0]] = to_pixels(
        (0.6 * warm * 0.87)[None, None].astype(np.float32)
    )[0, 0]
    found = estimate_light(Photo(tinted), survey)
    assert light_at(found, survey, 900, 0) == pytest.approx(0.6 * warm, rel=0.03)


def test_known_paint_takes_the_papers_place():
    survey, photo = wall(sideways, sheet=0.0)
    found = estimate_light(photo, survey, wall_reflectance=ALBEDO.astype(np.float32))
    assert light_at(found, survey, 700, 100) == pytest.approx(sideways(700, 100), rel=0.03)


def test_without_white_the_assumption_is_told():
    survey, photo = wall(sideways)
    tinted = photo.pixels.copy()
    corners = survey.plane.reference_corners_px.round().astype(int)
    tinted[corners[0, 1] : corners[2, 1], corners[0, 0] : corners[2, 0]] = (200, 20, 90)
    found = estimate_light(Photo(tinted), survey)
    assert [finding.code for finding in found.findings] == ["white-assumed"]


@pytest.mark.parametrize("source", [(-2500.0, 900.0, 1600.0), (2200.0, 1000.0, 2200.0)])
def test_the_main_light_is_sought_on_its_side(source):
    """A small lamp and as much even light; inverse-square law with the cosine at the wall."""
    sx, sy, sz = source

    def lamp(x, y):
        r2 = (x - sx) ** 2 + (y - sy) ** 2 + sz**2
        near = (sx**2 + sy**2 + sz**2) / r2
        return 0.3 + 0.3 * near**1.5

    survey, photo = wall(lamp)
    main = estimate_light(photo, survey).main
    assert main.known
    # Shading tells the side; how steeply the light comes in it tells only roughly.
    assert np.sign(main.slope_x) == np.sign(sx)
    assert 0.25 < abs(main.slope_x) < 1.6
    assert main.slope_y > 0


def test_an_even_wall_says_nothing_of_direction():
    main = main_light(0.0, 0.0)
    assert not main.known
    assert main.slope_x == 0
    assert main.slope_y > 0


def test_even_odd_rule():
    square = Polygon(((0, 0), (10, 0), (10, 10), (0, 10)))
    x, y = np.array([5.0, 15.0, -1.0]), np.array([5.0, 5.0, 5.0])
    assert inside_polygon(x, y, square).tolist() == [True, False, False]


def test_a_sheet_clipped_in_one_channel_keeps_the_colour_of_the_others():
    """Warm light so strong that the sheet's red is lost: green and blue still say how warm."""
    warm = np.array([1.3, 0.9, 0.6])
    survey, photo = wall(lambda x, _: np.ones_like(x)[:, None] * warm)
    found = estimate_light(photo, survey)
    white = light_at(found, survey, 300, 200)
    assert white[1:] == pytest.approx(warm[1:], rel=0.05)
    assert 1.05 < white[0] < 1.35
    assert "sheet-overexposed" in [finding.code for finding in found.findings]


def test_the_sheet_is_held_against_the_wall_under_it():
    """Light that falls off from the sheet on all sides, as by vignetting: 10 % lost a metre off."""
    survey, photo = wall(lambda x, y: 0.9 / (1 + (x**2 + y**2) / 3000**2))
    found = estimate_light(photo, survey)
    expected = 0.9 / (1 + (500 / 3000) ** 2) * 0.87 / PAPER_REFLECTANCE
    assert light_at(found, survey, 500, 0) == pytest.approx(expected, rel=0.012)


@pytest.mark.parametrize("printed", [0.0, 0.3])
def test_noise_and_print_do_not_move_the_white_of_the_paper(printed):
    """Noise of a dim room: 5 % of the light; a third of the sheet is printed grey."""
    survey, photo = wall(lambda x, y: np.full(x.shape, 0.7))
    rng = np.random.default_rng(4)
    linear = to_linear(photo.pixels)
    corners = survey.plane.reference_corners_px
    (x0, y0), (x1, y1) = np.ceil(corners[0]).astype(int), np.floor(corners[2]).astype(int)
    linear[y0 : y0 + round(printed * (y1 - y0)), x0:x1] *= 0.3
    noisy = linear * (1 + 0.05 * rng.standard_normal((*linear.shape[:2], 1)))
    found = estimate_light(Photo(to_pixels(noisy.astype(np.float32))), survey)
    assert light_at(found, survey, 0, 0) == pytest.approx(0.7 * 0.87 / PAPER_REFLECTANCE, rel=0.01)
