import pytest

from visualiser.errors import HangingError
from visualiser.geometry import Rect
from visualiser.inventory.bearing import bearing, wire_rise_mm
from visualiser.inventory.hanger import HANGERS
from visualiser.inventory.piece import Hanger, Piece

INCH = 25.4


def hang(width, height, hanger, centre):
    """Bearing of a frame, and its hooks when its centre hangs at a place; all in one unit."""
    piece = Piece("a", width, height, hanger=hanger)
    bears = bearing(piece)
    return bears, bears.on_wall(Rect.from_centre(*centre, width, height))


def test_the_trades_worked_case_in_inches():
    """Trade how-to page: 20 in picture, centre at 57 in, wire 2 in below the top: hook at 65 in."""
    hanger = Hanger("wire", drop_mm=2 * INCH)
    _, hooks = hang(16 * INCH, 20 * INCH, hanger, (40 * INCH, 57 * INCH))
    assert hooks == (pytest.approx((40 * INCH, 65 * INCH), abs=1e-9),)


def test_one_hook_under_a_wire_in_millimetres():
    """600 wide, 800 high, centre (1000, 1500); points 400 apart, 220 below the top; wire 440.

    Half wire 220, half distance 200: rise √(220² − 200²) = 91.65; drop 220 − 91.65 = 128.35;
    top edge 1500 + 400 = 1900; hook at 1900 − 128.35 = 1771.65.
    """
    hanger = Hanger("wire", spacing_mm=400, wire_length_mm=440, attachment_drop_mm=220)
    bears, hooks = hang(600, 800, hanger, (1000, 1500))
    assert hooks == (pytest.approx((1000, 1771.6515), abs=1e-4),)
    assert bears.drop_origin == "from the wire"
    assert (bears.leg_run_mm, bears.leg_rise_mm) == pytest.approx((200, 91.6515), abs=1e-4)


def test_two_hooks_under_a_wire_in_inches():
    """Wire points 18 in apart, 9 in down; wire 21 in; hooks 6 in apart.

    Each leg (21 − 6)/2 = 7.5 in over a run of (18 − 6)/2 = 6 in: rise √(56.25 − 36) = 4.5 in;
    drop 9 − 4.5 = 4.5 in. Frame 24 × 30 in centred at 60 in: top at 75 in, hooks at 70 1/2 in,
    3 in either side of the centre line at 50 in.
    """
    hanger = Hanger(
        "wire",
        spacing_mm=18 * INCH,
        wire_length_mm=21 * INCH,
        attachment_drop_mm=9 * INCH,
        hooks=2,
        hook_spacing_mm=6 * INCH,
    )
    _, hooks = hang(24 * INCH, 30 * INCH, hanger, (50 * INCH, 60 * INCH))
    assert hooks[0] == pytest.approx((47 * INCH, 70.5 * INCH))
    assert hooks[1] == pytest.approx((53 * INCH, 70.5 * INCH))


def test_two_d_rings_in_millimetres():
    """500 × 700 centred at (800, 1524), rings 420 apart and 90 down: 1524 + 350 − 90 = 1784."""
    bears, hooks = hang(500, 700, Hanger("d-rings", 90, 420), (800, 1524))
    assert hooks == ((590, 1784), (1010, 1784))
    assert bears.drop_origin == "measured"


def test_two_d_rings_in_inches():
    """16 × 20 in at centre 57 in, rings 14 in apart, 3 1/4 in down: 57 + 10 − 3.25 = 63 3/4 in."""
    hanger = Hanger("d-rings", 3.25 * INCH, 14 * INCH)
    _, hooks = hang(16 * INCH, 20 * INCH, hanger, (30 * INCH, 57 * INCH))
    assert [tuple(v / INCH for v in hook) for hook in hooks] == [
        pytest.approx((23, 63.75)),
        pytest.approx((37, 63.75)),
    ]


def test_sawtooth_in_both_units():
    """8 × 10 in at 60 in, 1/2 in down: 60 + 5 − 0.5 = 64 1/2 in; 300 × 400 at 1500, 12: 1688 mm."""
    _, hooks = hang(8 * INCH, 10 * INCH, Hanger("sawtooth", 0.5 * INCH), (20 * INCH, 60 * INCH))
    assert hooks == (pytest.approx((20 * INCH, 64.5 * INCH)),)
    _, hooks = hang(300, 400, Hanger("sawtooth", 12), (700, 1500))
    assert hooks == ((700, 1688),)


def test_strips_have_no_hook():
    _, hooks = hang(300, 400, Hanger("strips"), (700, 1500))
    assert hooks == ()


@pytest.mark.parametrize("kind", ["wire", "d-rings", "sawtooth"])
def test_an_unmeasured_drop_is_called_assumed(kind):
    bears, _ = hang(500, 700, Hanger(kind), (800, 1524))
    assert bears.drop_origin == "assumed"
    assert bears.leg_rise_mm is None


def test_measured_drop_and_fixing_points_give_the_legs():
    """Points 400 apart and 220 down, drop 120: legs rise 100 over 200."""
    hanger = Hanger("wire", 120, 400, attachment_drop_mm=220)
    bears, _ = hang(600, 800, hanger, (0, 0))
    assert (bears.leg_run_mm, bears.leg_rise_mm) == (200, 100)


@pytest.mark.parametrize(
    ("hanger", "sentence"),
    [
        (Hanger("d-rings", 90, 501), "501 mm wide, its frame 500 mm"),
        (Hanger("d-rings", 700, 420), "drop 700 mm below the top edge"),
        (Hanger("wire", 60, 400, 400, 200), "too short for fixing points 400 mm apart"),
        (Hanger("wire", None, 400, 600, 100), "so long that its hook would stand 124 mm above"),
        (Hanger("wire", 200, 400, None, 150), "lower than its fixing points"),
        (Hanger("wire", 60, 400, 440, 220), "contradicts itself"),
        (Hanger("wire", 60, 300, hooks=2, hook_spacing_mm=300), "fixed 300 mm apart"),
        (Hanger("wire", 60, hooks=3), "asks for 3 hooks"),
        (Hanger("sawtooth", -5), "drop of -5 mm"),
        (Hanger("wire", attachment_drop_mm=900), "fixing points 900 mm below"),
    ],
)
def test_a_hanger_that_does_not_fit_is_named(hanger, sentence):
    with pytest.raises(HangingError, match=sentence) as caught:
        bearing(Piece("a", 500, 700, "Alder twig", hanger=hanger))
    assert "Alder twig" in caught.value.message
    assert caught.value.hint


def test_wire_geometry_worked():
    """Points 400 mm apart, wire 440 mm, one hook: sag 91.65 mm."""
    assert wire_rise_mm(400, 440) == pytest.approx(91.65, abs=5e-3)


@pytest.mark.parametrize("name", HANGERS)
def test_every_kind_bears_on_as_many_hooks_as_it_says(name):
    """As usual, and two where a spacing was measured of what has points, a bar or cords."""
    kind = HANGERS[name]
    usual = bearing(Piece("a", 600, 800, hanger=Hanger(name)))
    assert (usual.kind, len(usual.points_mm)) == (name, kind.usual_hooks)
    apart = Hanger(name, spacing_mm=300.0)
    assert apart.hook_count == (2 if kind.bears in ("points", "bar", "cords") else kind.usual_hooks)
    assert len(usual.locks_mm) == (kind.lock_up_mm is not None)
