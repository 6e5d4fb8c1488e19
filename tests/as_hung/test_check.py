"""The as-hung check on drawn scenes whose truth is known by construction.

Path-traced photographs are checked in tests/benchmarks; here boxes are drawn by an exact painter,
so that every claim of the check can be held against the numbers the scene was drawn from.
"""

from dataclasses import replace

import cv2
import numpy as np
import pypdfium2
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.as_hung.check import check_as_hung
from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.judge import Tolerances, keep_the_most
from visualiser.as_hung.place import relaid
from visualiser.as_hung.report import correction
from visualiser.errors import MeasurementError
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece
from visualiser.photo.linear_light import to_levels, to_linear
from visualiser.photo.photo import Photo
from visualiser.printing.as_hung_page import as_hung_pdf
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane

WIDTH, HEIGHT, FOCAL = 1600, 1200, 1230.0
MOULDING, MAT, DEPTH = 22.0, 45.0, 24.0


def camera(yaw_deg=14.0, distance_mm=2400.0):
    yaw = np.radians(yaw_deg)
    rotation = np.array([[np.cos(yaw), 0, np.sin(yaw)], [0, -1, 0], [np.sin(yaw), 0, -np.cos(yaw)]])
    lens = Lens(FOCAL, (WIDTH - 1) / 2, (HEIGHT - 1) / 2, k1=-0.03)
    sigma = np.r_[np.radians([0.05] * 3), [1.0, 1.0, 4.0], 0.003, 0.002, 0.001, 1.0, 1.0]
    corners = np.array([[10.0, 10], [20, 10], [20, 20], [10, 20]])
    return WallPlane(
        lens,
        rotation,
        [0.0, 0.0, distance_mm],
        corners,
        0.0,
        np.diag(sigma**2),
        level_sigma_deg=0.05,
    )


def artwork(seed):
    rng = np.random.default_rng(seed)
    pixels = np.full((300, 220, 3), rng.integers(120, 230, 3), np.uint8)
    for _ in range(6):
        centre = (int(rng.integers(20, 200)), int(rng.integers(20, 280)))
        colour = [int(c) for c in rng.integers(0, 255, 3)]
        cv2.circle(pixels, centre, int(rng.integers(20, 70)), colour, -1)
    return Artwork(pixels)


def painted(plane, frames, artworks, wall=(170, 176, 168), rail=(40, 38, 36), seed=0):
    """Draw boxes exactly: three times supersampled, then noise of an ordinary phone.

    Mouldings' edges are broken to a radius of 1.5 mm, as they are by sandpaper: what has not turned
    half way to the front is as dark as the side.
    """
    scale = 3
    image = np.full((HEIGHT * scale, WIDTH * scale, 3), wall, np.uint8)

    def fill(points_xyz, colour):
        px = plane.project(np.asarray(points_xyz)) * scale + (scale - 1) / 2
        cv2.fillPoly(image, [np.round(px * 16).astype(np.int32)], colour, cv2.LINE_8, 4)

    def edge(a, b, count=24):
        t = np.linspace(0, 1, count)[:, None]
        return a + t * (b - a)

    def face(corners, colour):
        fill(np.vstack([edge(corners[i], corners[(i + 1) % 4]) for i in range(4)]), colour)

    for frame, art in zip(frames, artworks, strict=True):
        front, back = frame.corners_xyz_mm(front=True), frame.corners_xyz_mm(front=False)
        for i in range(4):
            j = (i + 1) % 4
            face(
                np.array([front[i], front[j], back[j], back[i]]), tuple(int(0.6 * c) for c in rail)
            )
        face(front, tuple(int(0.6 * c) for c in rail))

        def inside(inset, corners=front, frame=frame):
            u, v = inset / frame.width_mm, inset / frame.height_mm
            quad = [(u, v), (1 - u, v), (1 - u, 1 - v), (u, 1 - v)]
            return np.array(
                [
                    (1 - b) * ((1 - a) * corners[0] + a * corners[1])
                    + b * ((1 - a) * corners[3] + a * corners[2])
                    for a, b in quad
                ]
            )

        face(inside(1.5 * (1 - np.sqrt(0.5))), rail)
        face(inside(MOULDING), (238, 234, 226))
        window = plane.project(inside(MOULDING + MAT)) * scale + (scale - 1) / 2
        h, w = art.pixels.shape[:2]
        source = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32) - 0.5
        matrix = cv2.getPerspectiveTransform(source, window.astype(np.float32))
        size = (image.shape[1], image.shape[0])
        drawn = cv2.warpPerspective(art.pixels, matrix, size, flags=cv2.INTER_LINEAR)
        mask = np.zeros(image.shape[:2], np.uint8)
        cv2.fillConvexPoly(mask, np.round(window).astype(np.int32), 255)
        image[mask > 0] = drawn[mask > 0]
    # A lens blurs light, not codes.
    light = cv2.resize(to_linear(image), (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    small = to_levels(cv2.GaussianBlur(light, (0, 0), 0.5))
    noisy = small + np.random.default_rng(seed).normal(0, 1.5, small.shape)
    return np.clip(np.round(noisy), 0, 255).astype(np.uint8)


def group(count=4, with_art=True):
    """Return a row of equal pieces, 60 mm apart, and its plan."""
    pieces = tuple(
        Piece(
            f"P{i}",
            320.0,
            420.0,
            moulding=Moulding(MOULDING, DEPTH),
            mat=Mat(MAT, MAT, MAT),
            artwork=artwork(i) if with_art else None,
        )
        for i in range(count)
    )
    places = tuple(
        Placement(p.id, 380.0 * (i - (count - 1) / 2), 1524.0) for i, p in enumerate(pieces)
    )
    return Arrangement(pieces, places)


def hung(arrangement, errors, dy=-1524.0):
    return [
        HungFrame(320.0, 420.0, DEPTH, p.x_mm + ex, p.y_mm + dy + ey, tilt, 0.6)
        for p, (ex, ey, tilt) in zip(arrangement.placements, errors, strict=True)
    ]


ERRORS = [(0.0, 0.0, 0.0), (9.0, -4.0, 0.8), (-1.0, 0.5, 0.1), (0.5, 7.0, -1.2)]


@pytest.fixture(scope="module")
def report_of_four():
    plan = group()
    plane = camera()
    pixels = painted(plane, hung(plan, ERRORS), [p.artwork for p in plan.pieces])
    return check_as_hung(Photo(pixels), plan, plane=plane)


def test_offsets_and_tilts_are_those_the_scene_was_drawn_with(report_of_four):
    measured = np.array([[p.dx_mm, p.dy_mm, p.tilt_deg] for p in report_of_four.pieces])
    off = measured - np.array(ERRORS)
    off[:, :2] -= off[:, :2].mean(axis=0)
    assert np.abs(off[:, :2]).max() < 1.5
    assert np.abs(off[:, 2]).max() < 0.12


def test_half_widths_hold_the_truth(report_of_four):
    measured = np.array([[p.dx_mm, p.dy_mm, p.tilt_deg] for p in report_of_four.pieces])
    widths = np.array(
        [
            [p.dx_half_width_mm, p.dy_half_width_mm, p.tilt_half_width_deg]
            for p in report_of_four.pieces
        ]
    )
    off = measured - np.array(ERRORS)
    off[:, :2] -= off[:, :2].mean(axis=0)
    assert (np.abs(off) <= 1.3 * widths).all()
    assert widths[:, :2].max() < 3.0  # an interval that holds everything would be worthless


def test_verdicts_and_corrections_name_the_two_that_are_off(report_of_four):
    assert [p.verdict for p in report_of_four.pieces] == ["right", "nudge", "right", "nudge"]
    assert len(report_of_four.corrections) == 2
    second = report_of_four.pieces[1].sentence
    assert "left" in second
    assert "lower its right end" in second
    fourth = report_of_four.pieces[3].sentence
    assert "down" in fourth
    assert "raise its right end" in fourth


def test_gaps_are_planned_gaps_plus_the_drawn_errors(report_of_four):
    assert [(g.first_id, g.second_id) for g in report_of_four.gaps] == [
        ("P0", "P1"),
        ("P1", "P2"),
        ("P2", "P3"),
    ]
    for gap, drawn in zip(report_of_four.gaps, (69.0, 50.0, 61.5), strict=True):
        assert gap.planned_mm == pytest.approx(60.0)
        assert gap.hung_mm == pytest.approx(drawn, abs=1.2)


def test_swapped_pictures_are_named():
    plan = group()
    plane = camera()
    shown = [plan.pieces[i].artwork for i in (0, 2, 1, 3)]
    pixels = painted(plane, hung(plan, [(0, 0, 0)] * 4), shown)
    report = check_as_hung(Photo(pixels), plan, plane=plane)
    assert [p.seen_id for p in report.pieces] == ["P0", "P2", "P1", "P3"]
    assert [p.verdict for p in report.pieces] == ["right", "swapped", "swapped", "right"]
    assert len(report.corrections) == 1


def test_a_missing_piece_is_not_found_where_bare_wall_is():
    plan = group()
    plane = camera()
    errors = [ERRORS[0], ERRORS[2], ERRORS[3]]
    frames = [f for i, f in enumerate(hung(plan, [(0, 0, 0)] * 4)) if i != 1]
    pixels = painted(plane, frames, [plan.pieces[i].artwork for i in (0, 2, 3)])
    report = check_as_hung(Photo(pixels), plan, plane=plane)
    assert len(errors) == len(frames)
    assert [p.verdict for p in report.pieces] == ["right", "not found", "right", "right"]
    assert "not found" in report.pieces[1].sentence


def test_another_wall_is_refused():
    plan = group()
    rng = np.random.default_rng(3)
    pixels = np.clip(rng.normal(150, 3, (HEIGHT, WIDTH, 3)), 0, 255).astype(np.uint8)
    with pytest.raises(MeasurementError, match="another wall"):
        check_as_hung(Photo(pixels), plan, plane=camera())


def test_a_sheet_that_measures_nothing_is_left_out_and_the_frames_are_the_scale(monkeypatch):
    def leans(*_):
        raise MeasurementError("The reference leans.", hint="Tape it flat.")

    plan = group()
    pixels = painted(camera(), hung(plan, ERRORS), [p.artwork for p in plan.pieces])
    monkeypatch.setattr("visualiser.as_hung.scale.find_references", lambda *_: [])
    monkeypatch.setattr("visualiser.as_hung.scale.fit_wall_plane", leans)
    report = check_as_hung(Photo(pixels), plan, reference="a4")
    left_out = next(f for f in report.findings if f.code == "sheet-left-out")
    assert (left_out.text, left_out.hint) == ("The reference leans.", "Tape it flat.")
    assert "scale-from-group" in {f.code for f in report.findings}
    assert [p.verdict == "not found" for p in report.pieces] == [False] * 4
    bare = np.full_like(pixels, 160)
    with pytest.raises(MeasurementError, match="leans"):
        check_as_hung(Photo(bare), plan, reference="a4")


def test_the_plan_is_laid_anew_where_clear_frames_have_it():
    places = hung(group(5), [(0, 0, 0)] * 5)
    seen = {
        k: replace(places[k], x_mm=places[k].x_mm + 52, y_mm=places[k].y_mm - 40) for k in (0, 3)
    }
    assert relaid(places, seen) == places  # two do not outvote the group
    seen[4] = replace(places[4], x_mm=places[4].x_mm - 70)  # one astray
    after = relaid(places, seen)
    moved = [(a.x_mm - b.x_mm, a.y_mm - b.y_mm) for a, b in zip(after, places, strict=True)]
    assert np.array(moved) == pytest.approx(np.tile([52.0, -40.0], (5, 1)))


def test_two_of_different_size_that_changed_over_are_named():
    plan = group()
    small = replace(plan.pieces[2], width_mm=300.0, height_mm=360.0)
    plan = Arrangement((*plan.pieces[:2], small, plan.pieces[3]), plan.placements)
    frames = hung(plan, [(0, 0, 0), (2.0, -1.0, 0.2), (-2.0, 1.0, 0.0), (0, 0, 0)])
    frames[1] = replace(frames[1], width_mm=300.0, height_mm=360.0)
    shown = [plan.pieces[i].artwork for i in (0, 2, 1, 3)]
    plane = camera()
    report = check_as_hung(Photo(painted(plane, frames, shown)), plan, plane=plane)
    assert [p.seen_id for p in report.pieces] == ["P0", "P2", "P1", "P3"]
    assert [p.verdict for p in report.pieces[1:3]] == ["swapped", "swapped"]
    assert report.corrections == ("Change over P1 and P2.",)


def test_a_blurred_photo_is_refused():
    plan, plane = group(), camera()
    pixels = painted(plane, hung(plan, ERRORS), [p.artwork for p in plan.pieces])
    with pytest.raises(MeasurementError, match="blurred"):
        check_as_hung(Photo(cv2.GaussianBlur(pixels, (0, 0), 7)), plan, plane=plane)


def test_half_a_group_of_equal_frames_is_refused():
    """Which of four equal frames the two in the picture are, nobody can tell."""
    plan, plane = group(with_art=False), camera()
    pixels = painted(plane, hung(plan, ERRORS), [artwork(i) for i in range(4)])
    half = Photo(np.ascontiguousarray(pixels[:, : WIDTH // 2]))
    with pytest.raises(MeasurementError, match="Only 2 of the 4"):
        check_as_hung(half, plan, plane=plane)


@pytest.mark.parametrize(
    ("wall", "rail"),
    [((42, 45, 60), (36, 35, 40)), ((232, 230, 226), (238, 236, 231))],
    ids=["dark on dark", "white on white"],
)
def test_frames_of_the_walls_colour_are_measured_or_refused(wall, rail):
    """A frame that is told is within its half-widths; the others are refused with a reason."""
    plan, plane = group(), camera()
    shown = [p.artwork for p in plan.pieces]
    pixels = painted(plane, hung(plan, ERRORS), shown, wall=wall, rail=rail)
    report = check_as_hung(Photo(pixels), plan, plane=plane)
    told = [k for k, p in enumerate(report.pieces) if p.verdict != "not found"]
    assert len(told) >= 3
    measured = np.array([[report.pieces[k].dx_mm, report.pieces[k].dy_mm] for k in told])
    widths = [[report.pieces[k].dx_half_width_mm, report.pieces[k].dy_half_width_mm] for k in told]
    off = measured - np.array(ERRORS)[told, :2]
    assert (np.abs(off - off.mean(axis=0)) <= 1.3 * np.array(widths)).all()
    for piece in report.pieces:
        assert piece.verdict != "not found" or "no edge stands out" in piece.sentence


def test_glare_a_shadow_and_a_plant_spoil_no_measurement():
    plan, plane = group(), camera()
    pixels = painted(plane, hung(plan, ERRORS), [p.artwork for p in plan.pieces])

    def px(x, y):
        return plane.to_photo(np.array([[x, y]]))[0].round().astype(int)

    # A soft shadow below and beside the first, glare on the second, a plant before the third.
    shade = np.zeros(pixels.shape[:2], np.float32)
    cv2.rectangle(shade, px(-752.0, 214.0), px(-392.0, -236.0), 1.0, -1)
    clear = np.zeros_like(shade)
    cv2.fillConvexPoly(
        clear,
        np.round(plane.project(hung(plan, ERRORS)[0].corners_xyz_mm(front=True))).astype(int),
        1,
    )
    shade = cv2.GaussianBlur(shade, (0, 0), 5) * (1 - clear)
    spoilt = pixels * (1 - 0.25 * shade[..., None])
    cv2.ellipse(
        spoilt, [int(v) for v in px(-190.0, 60.0)], (40, 60), 20, 0, 360, (250, 250, 250), -1
    )
    for k in range(7):
        tip = px(120.0 + 40 * k, -60.0 + 25 * (k % 3))
        cv2.line(spoilt, px(230.0, -420.0), tip, (50, 90, 45), 7, cv2.LINE_AA)
    report = check_as_hung(Photo(spoilt.round().astype(np.uint8)), plan, plane=plane)
    measured = np.array([[p.dx_mm, p.dy_mm, p.tilt_deg] for p in report.pieces])
    off = measured - np.array(ERRORS)
    off[:, :2] -= np.nanmedian(off[:, :2], axis=0)
    told = np.isfinite(off[:, 0])
    assert told.sum() >= 3
    assert np.abs(off[told, :2]).max() < 3.0
    assert np.abs(off[told, 2]).max() < 0.3
    assert {p.seen_id for p in report.pieces if p.seen_id} <= {"P0", "P1", "P2", "P3"}
    assert not any(p.verdict == "swapped" for p in report.pieces)


def test_read_on_the_wall_plane_a_front_is_off_by_depth_times_the_slant():
    """Similar triangles: a point ``d`` off the wall is seen at the wall point beyond it."""
    plan = group()
    plane = camera()
    frame = replace(hung(plan, ERRORS)[3], lean_deg=0.0, tilt_deg=0.0)
    read_on_wall = plane.to_wall(plane.project(frame.corners_xyz_mm(front=True)))
    eye = plane.camera_mm
    slant = (frame.x_mm - eye[0]) / (eye[2] - DEPTH)
    assert read_on_wall[:, 0].mean() - frame.x_mm == pytest.approx(DEPTH * slant, abs=1e-6)
    assert abs(DEPTH * slant) > 6.0


def test_the_fewest_pieces_are_moved():
    offsets = np.array([[0.0, 0], [1, 0], [0.5, 1], [12, 0], [0, -9]])
    shift = keep_the_most(offsets, 3.0, np.ones(5, bool))
    kept = np.abs(offsets - shift).max(axis=1) <= 3.0
    assert kept.tolist() == [True, True, True, False, False]


def test_corrections_say_which_end_and_by_how_much():
    """An end rises by width times the sine of the tilt: 500 mm at 1 degree is 8.7 mm."""
    text = correction("C", 500.0, 0.0, 0.0, -1.0, Tolerances())
    assert text == "Raise the right end of C by 9 mm (5/16 in)."
    assert correction("C", 500.0, 2.0, -2.0, 0.2, Tolerances()) == ""


def test_the_printed_page_carries_every_correction(report_of_four):
    """The printed page carries every correction word for word (read back with pypdfium2)."""
    pixels = np.full((HEIGHT, WIDTH, 3), 128, np.uint8)
    document = pypdfium2.PdfDocument(as_hung_pdf(report_of_four, pixels, "Landing"))
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    words = " ".join(text.split())
    for sentence in report_of_four.corrections:
        assert " ".join(sentence.split()) in words
    for piece in report_of_four.pieces:
        assert piece.piece_id in words
