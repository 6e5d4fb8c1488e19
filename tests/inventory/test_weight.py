from dataclasses import replace

import pytest

from visualiser.inventory.piece import Mat, Moulding, Piece
from visualiser.inventory.weight import ACRYLIC_KG_M3, GLASS_KG_M3, pane_kg, piece_weight

INCH = 25.4


@pytest.mark.parametrize(
    ("thickness_mm", "density", "expected_kg"),
    [
        (2.0, GLASS_KG_M3, 1.032),
        (2.5, GLASS_KG_M3, 1.290),
        (2.0, ACRYLIC_KG_M3, 0.491),
        (3.0, ACRYLIC_KG_M3, 0.737),
    ],
)
def test_16_by_20_inch_panes(thickness_mm, density, expected_kg):
    """EN 572-1: 2.5 kg per m² and mm of float glass; acrylic 1.19 g/cm³; pane of 0.20645 m²."""
    assert pane_kg(16 * INCH, 20 * INCH, thickness_mm, density) == pytest.approx(
        expected_kg, abs=5e-4
    )


def test_an_estimate_worked_by_hand():
    """50 × 70 cm oak frame, rails 20 × 25 mm, rebate 6 mm, glass 2 mm, backing 3 mm."""
    piece = Piece("a", 500, 700, moulding=Moulding(20, 25, "oak"), mat=Mat(60, 60, 60))
    weight = piece_weight(piece)
    rails = 2 * (0.5 + 0.7 - 0.04) * 0.020 * 0.025 * 0.75 * 706
    sheet = (0.5 - 0.028) * (0.7 - 0.028)
    expected = rails + sheet * (0.002 * 2500 + 0.003 * 700 + 1.0)
    assert weight.kg == pytest.approx(expected, rel=1e-9)
    assert weight.estimated
    assert sum(kg for _, kg in weight.parts_kg) == pytest.approx(weight.kg)
    assert weight.parts_kg[0][0] == "glass"
    assert weight.heavy_kg == pytest.approx(expected * (1 + 1.96 * 0.25))


def test_glass_of_unknown_thickness_counts_as_the_thickest_usual():
    """EN 572-1: 2.5 kg per m² and mm. 3 mm for a picture, 6 mm for a mirror (common practice)."""
    piece = Piece("a", 500, 700, moulding=Moulding(20, 25, "oak"))
    thick = piece_weight(replace(piece, glazing_mm=3.0)).kg
    assert piece_weight(piece).upper_kg == pytest.approx(thick)
    assert thick - piece_weight(piece).kg == pytest.approx(0.472 * 0.672 * 1 * 2.5)
    assert piece_weight(piece).heavy_kg >= thick


@pytest.mark.parametrize(("thickness_mm", "low_kg", "high_kg"), [(4.0, 10.5, 14), (6.0, 14.5, 18)])
def test_a_mirror_weighs_its_glass(thickness_mm, low_kg, high_kg):
    """800 × 1100 mm of 4 mm glass, 2.5 kg/(m² mm): pane 0.8276 m² of 8.3 kg; of 6 mm 12.4 kg."""
    mirror = Piece("m", 800, 1100, kind="mirror", glazing_mm=thickness_mm)
    weight = piece_weight(mirror)
    assert dict(weight.parts_kg)["glass"] == pytest.approx(0.8276 * 2.5 * thickness_mm, rel=1e-3)
    assert low_kg < weight.kg < high_kg
    unsaid = piece_weight(Piece("m", 800, 1100, kind="mirror"))
    assert unsaid.heavy_kg >= piece_weight(Piece("m", 800, 1100, kind="mirror", glazing_mm=6)).kg
    assert unsaid.glass_m2 == pytest.approx(0.8276, rel=1e-3)


def test_the_scales_come_before_the_estimate():
    weighed = piece_weight(Piece("a", 500, 700, weight_kg=4.0, weight_sigma_kg=0.1))
    assert (weighed.kg, weighed.sigma_kg, weighed.estimated) == (4.0, 0.1, False)


def test_without_glass_and_as_canvas_it_is_lighter():
    framed = piece_weight(Piece("a", 500, 700)).kg
    open_front = piece_weight(Piece("a", 500, 700, glazing="none")).kg
    canvas = piece_weight(Piece("a", 500, 700, moulding=None)).kg
    metal = piece_weight(Piece("a", 500, 700, moulding=Moulding(finish="silver"))).kg
    assert canvas < open_front < framed
    assert metal < framed
