import math

import numpy as np
import pytest

from visualiser.geometry import Rect
from visualiser.inventory.piece import Moulding, Piece
from visualiser.rendering.box_sides import lit_at_foot, side_tone
from visualiser.rendering.recess import recess_light
from visualiser.rendering.shading import (
    BOUNCE,
    SIDES,
    even_light_hidden,
    even_light_in_recess,
    even_share,
    lit_beside,
    main_light_hidden,
    room_lights,
    shade,
    shadow,
    side_light,
    side_view,
    upright_factor,
)
from visualiser.survey.main_light import MainLight

BOX, DEPTH = Rect(-200, -150, 400, 300), 30.0


def cosine_directions(count, seed=0):
    """Slopes (a, b) of directions drawn in proportion to the light they bring to the wall."""
    rng = np.random.default_rng(seed)
    r, angle = np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    z = np.sqrt(1 - r * r)
    return r * np.cos(angle) / z, r * np.sin(angle) / z


def blocked(x, y, a, b, box=BOX, depth=DEPTH):
    """Whether rays from a wall point meet a box within its depth: by clipping the ray (slabs)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        tx = np.sort(np.stack([(box.left_mm - x) / a, (box.right_mm - x) / a]), axis=0)
        ty = np.sort(np.stack([(box.bottom_mm - y) / b, (box.top_mm - y) / b]), axis=0)
    enter, leave = np.maximum(tx[0], ty[0]), np.minimum(tx[1], ty[1])
    return (enter <= leave) & (leave > 0) & (enter < depth)


@pytest.mark.parametrize(("x", "y"), [(-230, 0), (-205, 100), (0, 155), (240, 190), (-201, -149)])
def test_even_light_agrees_with_counting_rays(x, y):
    """A second method: half a million cosine-weighted rays against the box."""
    rays = blocked(x, y, *cosine_directions(500_000)).mean()
    point = np.float32([x]), np.float32([y])
    assert even_light_hidden(*point, BOX, DEPTH)[0] == pytest.approx(rays, abs=0.003)


def test_upright_strip_without_end_is_the_textbook_case():
    """Differential element to an endless strip square to it: F = (1 - cos θ) / 2.

    The crossed-strings result of the handbooks for two-dimensional geometry.
    """
    far = np.float32([1e6])
    factor = upright_factor(np.float32([40.0]), -far, far, 30.0)
    assert factor[0] == pytest.approx((1 - 40 / 50) / 2, abs=1e-5)
    assert even_light_in_recess(np.float32([40.0]), 30.0)[0] == pytest.approx(factor[0], abs=1e-5)


def test_main_light_throws_the_outline_by_slope_times_depth():
    light = MainLight(slope_x=1.0, slope_y=0.5, share=1.0, radius=0.02)
    x = np.linspace(-260, -190, 281, dtype=np.float32)
    hidden = main_light_hidden(x, np.zeros_like(x), BOX, DEPTH, light)
    edge = np.interp(0.5, hidden, x)
    assert edge == pytest.approx(-200 - 30, abs=1.0)  # light from the right: shadow to the left
    right = main_light_hidden(-x, np.zeros_like(x), BOX, DEPTH, light)
    assert right[np.abs(-x - 205).argmin()] == 0


def round_light(light, count, seed=1):
    """Slopes (a, b) of directions drawn evenly from what looks like a disc of the light's breadth.

    Its angle is that of the radius along the light's own slope: slope = tan, so r cos^2.
    """
    rng = np.random.default_rng(seed)
    middle = np.array([light.slope_x, light.slope_y, 1.0])
    middle /= np.linalg.norm(middle)
    across = np.cross([0.0, 0.0, 1.0], middle)
    across /= np.linalg.norm(across)
    r = light.radius * middle[2] ** 2 * np.sqrt(rng.random(count))
    angle = 2 * np.pi * rng.random(count)
    offset = np.outer(np.cos(angle), across) + np.outer(np.sin(angle), np.cross(middle, across))
    x, y, z = (middle + r[:, None] * offset).T
    return x / z, y / z


@pytest.mark.parametrize("slope", [(-0.6, 0.8), (-1.4, 0.1), (0.0, 0.8)])
def test_main_light_agrees_with_counting_rays_to_a_round_light(slope):
    light = MainLight(*slope, share=1.0, radius=0.4)
    a, b = round_light(light, 200_000)
    for x, y in [(205, 0), (215, -60), (0, -160), (100, -175), (225, -160)]:
        counted = blocked(x, y, a, b).mean()
        drawn = main_light_hidden(np.float32([x]), np.float32([y]), BOX, DEPTH, light)[0]
        assert drawn == pytest.approx(counted, abs=0.09)


def test_a_light_far_aside_spreads_more_along_its_slope_than_across():
    """Half-widths against the extremes of directions drawn from a small round light."""
    light = MainLight(1.2, -0.9, 1.0, 0.05)
    a, b = round_light(light, 100_000)
    assert light.half_width(1, 0) == pytest.approx(np.ptp(a) / 2, rel=0.02)
    assert light.half_width(0, 1) == pytest.approx(np.ptp(b) / 2, rel=0.02)
    assert light.half_width(0.8, -0.6) == pytest.approx(np.ptp(0.8 * a - 0.6 * b) / 2, rel=0.02)
    assert light.half_width(0.6, 0.8) == pytest.approx(np.ptp(0.6 * a + 0.8 * b) / 2, rel=0.02)


def test_a_side_that_the_light_only_grazes_has_part_of_it():
    """Light on a face square to the wall, against the mean over directions drawn from the light.

    What comes from the room's other lights and evenly is the same for a light of no share.
    """
    light = MainLight(-1.4, 0.1, 1.0, 0.5)
    _, b = round_light(light, 100_000)
    up, down = shade(np.array([[0.0, 1, 0], [0, -1, 0]]), light, 0.0)
    assert up == pytest.approx(np.maximum(b, 0).mean(), abs=0.03)
    assert down == pytest.approx(np.maximum(-b, 0).mean(), abs=0.03)


def test_a_wider_light_makes_a_softer_edge():
    x = np.linspace(-300, -190, 441, dtype=np.float32)
    steepest = []
    for radius in (0.1, 0.3, 0.6):
        light = MainLight(1.0, 0.0, 1.0, radius)
        steepest.append(np.diff(main_light_hidden(x, 0 * x, BOX, DEPTH, light)).max())
    assert steepest[0] > steepest[1] > steepest[2]


def test_shadow_is_part_of_the_light():
    y, x = np.mgrid[-300:300:7, -400:400:7].astype(np.float32)
    dimmed = shadow(x, y, BOX, DEPTH, MainLight())
    assert dimmed.min() >= 0
    assert dimmed.max() <= 1


def test_the_rooms_lights_and_the_even_rest_are_all_of_the_light():
    for light in (MainLight(), MainLight(share=1.0), MainLight(share=0.0)):
        shares = sum(lamp.share for lamp in room_lights(light)) + even_share(light)
        assert shares == pytest.approx(1)


def test_the_four_sides_make_up_what_is_hidden():
    y, x = np.mgrid[-300:300:11, -400:400:11].astype(np.float32)
    sides = sum(side_view(x, y, BOX, DEPTH, side) for side in SIDES)
    outside = (np.abs(x) > 200) | (np.abs(y) > 150)
    assert sides[outside] == pytest.approx(even_light_hidden(x, y, BOX, DEPTH)[outside])


def test_a_pale_side_towards_the_window_gives_light_back():
    """Beside a white frame the lit wall loses less than beside a black one, or gains."""
    light = MainLight(-1.4, 0.1, 0.4, 0.5)
    point = np.float32([-206]), np.float32([0])
    black, white = (shadow(*point, BOX, DEPTH, light, pale)[0] for pale in (0.02, 0.8))
    assert white < 0 < black


def test_a_surface_like_the_wall_has_the_walls_light():
    for light in (MainLight(), MainLight(0.7, 0.2, 0.6)):
        assert shade(np.array([0.0, 0.0, 1.0]), light, 0.5) == pytest.approx(1)


def test_a_surface_turned_to_the_light_is_brighter():
    light = MainLight(2.0, 0.0, 0.5)
    right, left = shade(np.array([[1.0, 0, 0], [-1.0, 0, 0]]), light, 0.5)
    assert right > 1 > left


@pytest.mark.parametrize("side", ["left", "right", "bottom", "top"])
@pytest.mark.parametrize("light", [MainLight(), MainLight(1.4, 0.1, 0.4, 0.55)])
def test_the_foot_of_a_side_is_as_light_as_its_shadow_leaves_it(side, light):
    """Second way: the shadow of a large, deep black box, just off the middle of that side."""
    ox, oy = SIDES[side]
    box = Rect(-4000, -4000, 8000, 8000)
    x, y = (np.array([[4001.0 * o]], np.float32) for o in (ox, oy))
    left = 1 - shadow(x, y, box, 1000.0, light)[0, 0]
    assert lit_at_foot(ox, oy, light) == pytest.approx(left, abs=0.06)


@pytest.mark.parametrize("side", ["left", "right", "bottom", "top"])
@pytest.mark.parametrize("light", [MainLight(), MainLight(1.4, 0.1, 0.4, 0.55)])
def test_what_a_side_sees_of_the_wall_is_as_light_as_counted_rays_find_it(side, light):
    """Rays from the middle of a large black box's side to the wall, and the box's shadow there."""
    ox, oy = SIDES[side]
    depth, box = 100.0, Rect(-20_000, -20_000, 40_000, 40_000)
    down, aside = cosine_directions(100_000)
    down, aside = down[down > 1e-3], aside[down > 1e-3]  # the other half goes out into the room
    off, along = depth / 2 / down, aside * depth / 2 / down
    x, y = ox * (20_000 + off) + abs(oy) * along, oy * (20_000 + off) + abs(ox) * along
    near = (np.abs(along) < 15_000) & (off < 15_000)
    seen = 1 - shadow(*(v[near].astype(np.float32) for v in (x, y)), box, depth, light)
    assert lit_beside(ox, oy, light) == pytest.approx(seen.mean(), abs=0.03)


def test_a_pale_wall_lights_the_sides_of_what_hangs_on_it():
    """Half of what a side sees is wall: white adds half of the light there to black's none."""
    canvas = Piece("a", 400, 500, moulding=None, depth_mm=30)
    grey = np.full((4, 4, 3), 0.4, np.float32)
    for side, (ox, oy) in SIDES.items():
        white, black = (
            side_tone(side, canvas, grey, MainLight(), ground=reflectance)
            for reflectance in (1.0, 0.0)
        )
        expected = 0.4 * 0.5 * lit_beside(ox, oy, MainLight())
        assert white - black == pytest.approx(np.full(3, expected), abs=1e-6)


def test_a_side_seen_aslant_takes_on_the_wall():
    """Fresnel: at 80 degrees a coat mirrors 39 % (handbook value for index 1.5, from memory)."""
    piece = Piece("a", 400, 500, moulding=Moulding(20, 30, "custom", "flat", "#000000"))
    aslant = math.radians(80)
    view = (math.cos(aslant), 0.0, math.sin(aslant))
    wall = np.array([0.2, 0.4, 0.3])
    paper = np.zeros((1, 1, 3), np.float32)
    tone = side_tone("right", piece, paper, MainLight(), view, wall)
    assert tone == pytest.approx(0.388 * wall * lit_at_foot(1, 0, MainLight()), rel=0.01)


def test_only_the_lip_towards_the_light_shades_the_recess():
    """Closed form: light from the left at slope 1.4 ± 0.3 under a black lip 10 mm high.

    The left lip's shadow is whole to 11 mm and gone at 17 mm; the right one throws none.
    """
    light = MainLight(-1.4, 0.0, 1.0, 0.3)
    places = np.array([[1.0, 10.5, 17.5, 200.0, 399.5]], np.float32)
    y = np.full_like(places, 200.0)
    lit = recess_light(places, y, Rect(0, 0, 400, 400), 10.0, light, 0.0)
    assert lit[0] == pytest.approx([0, 0, 1, 1, 1], abs=1e-6)


def test_a_white_lip_gives_back_at_its_foot():
    """Even light at the foot of a long wall: half is hidden, and half of what the wall sends comes.

    The wall sees half the room and half the floor: 1/2 + 1/2 of its reflectance.
    """
    even = MainLight(0.0, 0.0, 0.0, 0.3)
    foot, y = np.array([[0.0]], np.float32), np.array([[2000.0]], np.float32)
    black, white = (
        float(recess_light(foot, y, Rect(0, 0, 4000, 4000), 10.0, even, r)[0, 0]) for r in (0, 0.8)
    )
    given = 0.8 * float(side_light(1.0, 0.0, even, BOUNCE))
    assert white - black == pytest.approx(0.5 * given, abs=0.01)
    assert black < white < 1
