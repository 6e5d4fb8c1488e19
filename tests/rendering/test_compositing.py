from dataclasses import replace

import numpy as np
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.colour.colorimetry import hex_to_linear
from visualiser.errors import PieceError
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece
from visualiser.photo.linear_light import to_linear
from visualiser.photo.photo import Photo
from visualiser.rendering.compositing import prepare_wall, render_mockup
from visualiser.rendering.foreground import Foreground
from visualiser.rendering.mockup import MockupOptions
from visualiser.survey.main_light import MainLight


def hang(*pieces_at):
    pieces = tuple(piece for piece, _, _ in pieces_at)
    return Arrangement(pieces, tuple(Placement(p.id, x, y) for p, x, y in pieces_at))


def plain(level, size=(40, 60)):
    return Artwork(np.full((*size, 3), level, np.uint8))


def black_frame(name="a", width=500.0, height=400.0, depth=25.0):
    return Piece(
        name,
        width,
        height,
        moulding=Moulding(30, depth, "black"),
        mat=Mat(40, 40, 40),
        artwork=plain(90),
    )


def edge_line(luma, start, end, outward, reach=2.5):
    """Line through the half-height crossings between two corners, as (point, direction)."""
    import cv2

    t = np.linspace(0.15, 0.85, 160)[:, None, None]
    d = np.arange(-reach, reach + 0.01, 0.1)
    points = start + t * (end - start) + d[None, :, None] * outward
    profile = cv2.remap(
        luma, points[..., 0].astype(np.float32), points[..., 1].astype(np.float32), 1
    )
    crossings = []
    for row, line in zip(profile, points, strict=True):
        half = (row[:5].mean() + row[-5:].mean()) / 2
        signs = np.flatnonzero(np.diff(np.sign(row - half)))
        k = signs[np.argmin(np.abs(d[signs]))]
        f = (half - row[k]) / (row[k + 1] - row[k])
        crossings.append(line[k] + f * (line[k + 1] - line[k]))
    return np.array(crossings)


def seen_through_a_lens(photo):
    """The photo with edges as soft as a lens leaves them, so that sharpness can be read."""
    import cv2

    return replace(photo, pixels=cv2.GaussianBlur(photo.pixels, (0, 0), 0.6))


@pytest.mark.parametrize("view", ["oblique", "frontal"])
def test_drawn_outline_lies_where_the_wall_says(request, painted, view):
    """Edges found in the drawn pixels against the projection of the frame's front edges."""
    survey = request.getfixturevalue(view)
    photo = seen_through_a_lens(painted(survey))
    piece = black_frame(depth=0.01)  # flat: no sides and no shadow beside the edges measured
    mockup = render_mockup(
        photo, survey, hang((piece, 0, 1500)), MockupOptions(shadows=False, grain=False)
    )
    luma = to_linear(mockup.pixels).mean(axis=2)
    half = np.array([250.0, 200.0])
    outline = (half * [[-1, 1], [1, 1], [1, -1], [-1, -1]]) + [0, 1500]
    corners = survey.to_photo(outline)
    assert np.allclose(mockup.corners_px["a"], corners, atol=0.2)
    for a, b in zip(range(4), [1, 2, 3, 0], strict=True):
        along = corners[b] - corners[a]
        outward = np.array([along[1], -along[0]]) / np.linalg.norm(along)
        found = edge_line(luma, corners[a], corners[b], outward)
        # The true edge is a curve in the photo: compare with points projected along it.
        t = np.linspace(0, 1, 400)[:, None]
        true = survey.to_photo(outline[a] + t * (outline[b] - outline[a]))
        nearest = [np.argmin(np.linalg.norm(true - point, axis=1)) for point in found]
        gaps = (found - true[nearest]) @ outward
        assert np.sqrt(np.mean(np.square(gaps))) < 0.1


def test_pixels_that_nothing_touches_keep_their_bytes(oblique, painted):
    photo = painted(oblique, noise=0.01)
    mockup = render_mockup(photo, oblique, hang((black_frame(), 0, 1500)))
    same = (mockup.pixels == photo.pixels).all(axis=2)
    assert same[:, 675:].all()
    assert same[:60].all()


def test_sides_mirror_the_paint_that_is_tried(oblique, painted):
    """Against the mock-up on a wall that has that paint: seen aslant, a black side shows it."""
    blue = tuple(float(v) for v in hex_to_linear("#4f6d9a"))
    arrangement = hang((black_frame(depth=80.0), 0, 1500))
    tried = MockupOptions(wall_colour="#4f6d9a", grain=False)
    tried = render_mockup(painted(oblique), oblique, arrangement, tried)
    really = painted(oblique, albedo=blue)
    really = render_mockup(really, oblique, arrangement, MockupOptions(grain=False))
    # Middle of the left side, which the camera sees from the left, half way from wall to front.
    px = oblique.project(np.array([[-250.0, y, 40.0] for y in range(1400, 1600, 5)]))
    x, y = px.round().astype(int).T
    seen, expected = (m.pixels[y, x].mean(axis=0) for m in (tried, really))
    assert seen == pytest.approx(expected, abs=1.5)  # 8-bit levels, rounded in both
    assert seen[2] > seen[0] + 8


def test_an_empty_arrangement_only_hides_the_sheet(oblique, painted):
    photo = painted(oblique)
    bare = painted(oblique).pixels.copy()
    options = MockupOptions(hide_reference=False)
    assert np.array_equal(render_mockup(photo, oblique, hang(), options).pixels, bare)
    hidden = render_mockup(photo, oblique, hang()).pixels
    x, y = oblique.plane.reference_corners_px.mean(axis=0).astype(int)
    filled = to_linear(hidden[y - 3 : y + 3, x - 3 : x + 3]).mean(axis=(0, 1))
    wall = 0.75 * np.exp(900 / 4000) * np.array([0.62, 0.58, 0.5])
    assert filled == pytest.approx(wall, rel=0.01)


def test_print_has_the_light_of_its_place(oblique, painted):
    """A grey of known reflectance shows that reflectance of the light where it hangs."""
    photo = painted(oblique)
    reflectance = to_linear(np.full((1, 1, 3), 150, np.uint8))[0, 0, 0]
    piece = Piece("a", 500, 400, moulding=None, depth_mm=0.1, artwork=plain(150))
    for x in (-300, 700):
        mockup = render_mockup(photo, oblique, hang((piece, x, 1500)))
        cx, cy = oblique.to_photo(np.array([[x, 1500.0]]))[0].round().astype(int)
        shown = to_linear(mockup.pixels[cy - 6 : cy + 6, cx - 6 : cx + 6]).mean(axis=(0, 1))
        expected = reflectance * 0.75 * np.exp(-x / 4000)
        assert shown == pytest.approx(expected, rel=0.06)


def test_shadow_dims_the_wall_and_fades(oblique, painted):
    photo = painted(oblique)
    mockup = render_mockup(photo, oblique, hang((black_frame(depth=30), 0, 1500)))
    ratios = []
    for below in (8, 30, 400):
        x, y = oblique.to_photo(np.array([[0.0, 1300.0 - below]]))[0].round().astype(int)
        ratios.append(to_linear(mockup.pixels)[y, x].mean() / to_linear(photo.pixels)[y, x].mean())
    assert ratios[0] < ratios[1] < 1
    assert ratios[0] < 0.85
    assert ratios[2] == pytest.approx(1, abs=1e-6)


def test_large_fine_artwork_does_not_alias(frontal, painted):
    """A one-texel chequerboard much finer than the photo must come out as its mean light."""
    board = np.zeros((2400, 3000, 3), np.uint8)
    board[::2, ::2] = 255
    board[1::2, 1::2] = 255
    piece = Piece("a", 500, 400, moulding=None, depth_mm=0.1, artwork=Artwork(board))
    photo = painted(frontal)
    mockup = render_mockup(photo, frontal, hang((piece, 0, 1500)), MockupOptions(grain=False))
    cx, cy = frontal.to_photo(np.array([[0.0, 1500.0]]))[0].round().astype(int)
    patch = to_linear(mockup.pixels[cy - 15 : cy + 15, cx - 15 : cx + 15])
    assert patch.std() / patch.mean() < 0.02
    assert patch.mean() == pytest.approx(0.5 * 0.75, rel=0.06)


def test_preview_shows_the_same_at_its_size(oblique, painted):
    photo = painted(oblique)
    arrangement = hang((black_frame(), 0, 1500))
    full = render_mockup(photo, oblique, arrangement)
    small = render_mockup(photo, oblique, arrangement, MockupOptions(max_side_px=400))
    assert small.pixels.shape == (300, 400, 3)
    assert np.allclose((small.corners_px["a"] + 0.5) * 2 - 0.5, full.corners_px["a"], atol=1e-6)


def test_same_seed_same_picture(oblique, painted):
    photo = painted(oblique, noise=0.01)
    arrangement = hang((black_frame(), 0, 1500))
    first, second = (render_mockup(photo, oblique, arrangement).pixels for _ in range(2))
    assert np.array_equal(first, second)


def test_piece_larger_than_the_wall_is_named(oblique, painted):
    piece = Piece("door", 7000, 400)
    with pytest.raises(PieceError, match=r"door is 7000 x 400 mm.*Check its size"):
        render_mockup(painted(oblique), oblique, hang((piece, 0, 1500)))


def test_cropped_print_is_told(oblique, painted):
    piece = Piece("a", 500, 400, artwork=plain(90, (100, 40)))
    mockup = render_mockup(painted(oblique), oblique, hang((piece, 0, 1500)))
    assert "print-aspect" in [finding.code for finding in mockup.findings]


def test_pieces_partly_out_of_view_are_drawn_as_far_as_seen(oblique, painted):
    photo = painted(oblique)
    for x in (-1500, -2800, 2900):
        assert render_mockup(photo, oblique, hang((black_frame(), x, 1500))).pixels.shape == (
            600,
            800,
            3,
        )


def test_what_stands_in_front_stays_in_front(oblique, painted):
    photo = painted(oblique)
    spot = oblique.to_photo(np.array([[0.0, 1500.0]]))[0]
    square = spot + np.array([[-12, -12], [12, -12], [12, 12], [-12, 12.0]])
    options = MockupOptions(foreground=(Foreground(square, exact=True),))
    arrangement = hang((black_frame(), 0, 1500))
    x, y = spot.round().astype(int)
    shown = render_mockup(photo, oblique, arrangement, options).pixels[y, x]
    assert np.array_equal(shown, photo.pixels[y, x])


def test_options_of_colour_work_together(oblique, painted):
    arrangement = hang((black_frame(), 0, 1500))
    options = MockupOptions(
        finish="white", wall_colour="#4f6d7a", room_light="evening", max_side_px=400
    )
    plain = render_mockup(painted(oblique), oblique, arrangement, MockupOptions(max_side_px=400))
    tried = render_mockup(painted(oblique), oblique, arrangement, options)
    assert np.abs(tried.pixels.astype(int) - plain.pixels).mean() > 20


@pytest.mark.parametrize(
    ("profile", "finish"), [("flat", "black"), ("bevelled", "brass"), ("rounded", "oak")]
)
def test_every_moulding_can_be_drawn(oblique, painted, profile, finish):
    piece = Piece("a", 500, 400, moulding=Moulding(25, 30, finish, profile), artwork=plain(90))
    mockup = render_mockup(painted(oblique), oblique, hang((piece, 0, 1500)))
    x, y = mockup.corners_px["a"].mean(axis=0).astype(int)
    assert mockup.pixels[y, x].mean() < 120


def test_a_prepared_wall_gives_the_same_picture(oblique, painted):
    photo, arrangement = painted(oblique), hang((black_frame(), 0, 1500))
    wall = prepare_wall(photo, oblique)
    one = render_mockup(photo, oblique, arrangement)
    other = render_mockup(photo, oblique, arrangement, wall=wall)
    assert np.array_equal(one.pixels, other.pixels)


@pytest.mark.parametrize("level", [0, 255])
@pytest.mark.parametrize("shape", [(600, 800, 3), (12, 16, 3)])
def test_hopeless_photos_do_not_fail(oblique, level, shape):
    photo = Photo(np.full(shape, level, np.uint8))
    mockup = render_mockup(photo, oblique, hang((black_frame(), 0, 1500)))
    assert mockup.pixels.shape == shape


def test_a_dragged_piece_is_drawn_as_afresh(oblique, painted):
    """What earlier previews left behind changes nothing, wherever the pieces go."""
    photo, small = painted(oblique), MockupOptions(max_side_px=400)
    wall = prepare_wall(photo, oblique, small)
    still = Piece("b", 300, 300, artwork=plain(140))
    for x in (0, 120, 0):
        arrangement = hang((black_frame(), x, 1500), (still, 700, 1500))
        kept = render_mockup(photo, oblique, arrangement, small, wall=wall)
        fresh = render_mockup(photo, oblique, arrangement, small)
        assert np.array_equal(kept.pixels, fresh.pixels)
    other = replace(small, main_light=MainLight(1.2, 0.1, 0.6))
    lit = render_mockup(photo, oblique, arrangement, other, wall=wall)
    assert not np.array_equal(lit.pixels, kept.pixels)


def test_what_could_not_be_painted_out_is_not_repainted_as_wall(frontal, painted, monkeypatch):
    """A dark lamp beside which too little wall is bare keeps its pixels under new paint."""
    photo = painted(frontal)
    pixels = photo.pixels.copy()
    lamp = np.array([[560.0, 260.0], [640.0, 260.0], [640.0, 340.0], [560.0, 340.0]])
    pixels[260:341, 560:641] = (40, 30, 25)
    photo = Photo(pixels)
    options = MockupOptions(paint_out_px=(lamp,), wall_colour="#4f6d7a")
    monkeypatch.setattr("visualiser.rendering.compositing.paint_out", lambda *_: False)
    wall = prepare_wall(photo, frontal, options)
    assert "not-painted-out" in {f.code for f in wall.findings}
    assert np.abs(wall.pixels[280:320, 580:620].astype(int) - (40, 30, 25)).max() <= 2
