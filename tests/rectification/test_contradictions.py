"""References and lengths that contradict each other, on walls whose truth is what we drew."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.test_fit import EXACT, SIZE, clicked, photo_of
from tests.synthetic.wall_photo import draw_scene
from visualiser import Marks, TapedLength, fit_wall_plane


@pytest.fixture(scope="module", params=[5, 6])
def pair(request):
    scene = draw_scene(
        request.param, lines=request.param == 6, clutter=False, second=True, long_side=SIZE
    )
    first = replace(clicked(scene), origin="clicked")
    second = clicked(scene, scene.to_photo(scene.second_corners_mm), 1)
    return scene, photo_of(scene), first, replace(second, origin="clicked")


def typed(reference, factor):
    return replace(
        reference,
        kind="custom",
        width_mm=reference.width_mm * factor,
        height_mm=reference.height_mm * factor,
    )


def codes(plane):
    return {f.code for f in plane.findings}


def test_two_that_are_true_do_not_contradict_each_other(pair):
    _, photo, first, second = pair
    plane = fit_wall_plane(photo, [first, second], terms=EXACT)
    assert codes(plane).isdisjoint({"references-contradict", "reference-left-out"})


@pytest.mark.parametrize("factor", [0.95, 1.05])
def test_a_wrong_size_is_named_and_doubted(pair, factor):
    """Typed 5 % wrong beside a true A4 sheet."""
    _, photo, first, second = pair
    plane = fit_wall_plane(photo, [first, typed(second, factor)], terms=EXACT)
    assert codes(plane) & {"references-contradict", "reference-left-out"}
    said = next(f for f in plane.findings if f.code.startswith("reference"))
    assert "typed" in said.text
    if said.code == "references-contradict":
        assert "typed" in said.hint


def test_where_the_first_is_wrong_the_region_takes_in_the_truth(pair):
    """The first was typed 4 % short, the second is a true sheet."""
    scene, photo, first, second = pair
    plane = fit_wall_plane(photo, [typed(first, 0.96), second], terms=EXACT)
    if "references-contradict" not in codes(plane):
        assert "reference-left-out" in codes(plane)
        return
    assert "typed" in next(f for f in plane.findings if f.code == "references-contradict").hint
    ends = plane.to_wall(scene.to_photo(np.array([[-400.0, 0.0], [400.0, 0.0]])))
    length, half = plane.length(*ends)
    assert abs(length - 800) <= half


def test_taped_lengths_that_agree_cast_doubt_on_the_reference(pair):
    """The sheet was typed 6 % long; two lengths taped on the wall say so."""
    scene, photo, first, _ = pair
    ends = [[(-500.0, 100.0), (500.0, 100.0)], [(-400.0, -200.0), (450.0, 150.0)]]
    taped = tuple(
        TapedLength(*map(tuple, scene.to_photo(np.array(e))), float(np.hypot(*np.subtract(*e))))
        for e in ends
    )
    plane = fit_wall_plane(photo, [typed(first, 1.06)], Marks(taped=taped), terms=EXACT)
    said = next(f for f in plane.findings if f.code == "reference-doubted")
    sizes = f"{scene.sheet_mm[0]:.0f}"
    assert abs(float(said.text.split("measures ")[1].split(" ")[0]) / float(sizes) - 1) < 0.02
    length, half = plane.length(*plane.to_wall(scene.to_photo(np.array(ends[0]))))
    assert abs(length - 1000) <= half
    wrong = (replace(taped[0], length_mm=1.06 * 1000), replace(taped[1], length_mm=700.0))
    apart = fit_wall_plane(photo, [first], Marks(taped=wrong), terms=EXACT)
    assert "reference-doubted" not in codes(apart)
