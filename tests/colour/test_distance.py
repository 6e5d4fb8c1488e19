"""The earth mover's distance: the authors' example, a linear programme, and its invariants."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from visualiser.colour.difference import delta_e_2000
from visualiser.colour.distance import (
    earth_movers_distance,
    pairwise_distances,
    palette_distance,
    palette_distances,
    palette_flow,
)
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.transport import transport


def linear_programme(supply, demand, cost):
    """An independent solution: HiGHS on the textbook formulation."""
    m, n = cost.shape
    rows = np.kron(np.eye(m), np.ones(n))
    columns = np.kron(np.ones(m), np.eye(n))
    return linprog(
        cost.ravel(),
        A_eq=np.vstack([rows, columns])[:-1],
        b_eq=np.concatenate([supply, demand])[:-1],
        method="highs",
    ).fun


def random_palette(rng, count=None):
    count = count or int(rng.integers(1, 9))
    lab = np.c_[rng.uniform(5, 97, count), rng.uniform(-50, 50, (count, 2))]
    return palette_from_lab(lab, rng.dirichlet(np.ones(count)))


def test_rubners_example():
    """Rubner, Tomasi & Guibas (2000), example1 of the authors' code, 160.542770 in float32."""
    first = np.array([[100, 40, 22], [211, 20, 2], [32, 190, 150], [2, 100, 100]], float)
    second = np.array([[0, 0, 0], [50, 100, 80], [255, 255, 255]], float)
    ground = np.linalg.norm(first[:, None] - second, axis=2)
    distance = earth_movers_distance([0.4, 0.3, 0.2, 0.1], [0.5, 0.3, 0.2], ground)
    assert distance == pytest.approx(160.5427, abs=1e-4)


@pytest.mark.parametrize("shape", [(1, 1), (1, 6), (6, 1), (3, 4), (8, 8), (8, 3)])
def test_transport_agrees_with_a_linear_programme(shape):
    rng = np.random.default_rng(sum(shape))
    supply, demand = rng.dirichlet(np.ones(shape[0]), 40), rng.dirichlet(np.ones(shape[1]), 40)
    if shape[0] > 1:
        supply[:10, 0] = 0  # empty swatches
        supply /= supply.sum(1, keepdims=True)
    cost = rng.random((40, *shape)) * 100
    cost[10:20] = np.round(cost[10:20] / 40)  # ties
    cost[20:25] = 0
    flows = transport(supply, demand, cost)
    assert flows.sum(2) == pytest.approx(supply, abs=1e-12)
    assert flows.sum(1) == pytest.approx(demand, abs=1e-12)
    expected = [linear_programme(s, d, c) for s, d, c in zip(supply, demand, cost, strict=True)]
    assert (flows * cost).sum((1, 2)) == pytest.approx(expected, abs=1e-6)


def test_palette_distance_agrees_with_a_linear_programme():
    rng = np.random.default_rng(8)
    for _ in range(25):
        a, b = random_palette(rng), random_palette(rng)
        ground = delta_e_2000(a.lab[:, None], b.lab)
        expected = linear_programme(a.shares, b.shares, ground)
        assert palette_distance(a, b) == pytest.approx(expected, abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6))
def test_invariants(seed):
    rng = np.random.default_rng(seed)
    a, b = random_palette(rng), random_palette(rng)
    assert palette_distance(a, a) == pytest.approx(0, abs=1e-9)
    assert palette_distance(a, b) == pytest.approx(palette_distance(b, a), abs=1e-9)
    flow, ground = palette_flow(a, b)
    assert (flow * ground).sum() == pytest.approx(palette_distance(a, b), abs=1e-9)
    # Splitting a swatch in two halves of one colour changes nothing.
    doubled = palette_from_lab(np.repeat(a.lab, 2, axis=0), np.repeat(a.shares, 2))
    assert palette_distance(doubled, b) == pytest.approx(palette_distance(a, b), abs=1e-9)


def test_moving_every_colour_by_a_vector_costs_its_length():
    """Rubner et al. (2000), section 4: equal masses, the ground distance induced by a norm."""
    rng = np.random.default_rng(4)
    points, weights, shift = rng.random((5, 3)), rng.dirichlet(np.ones(5)), np.array([1, 2, 2])
    ground = np.linalg.norm(points[:, None] - (points + shift), axis=2)
    assert earth_movers_distance(weights, weights, ground) == pytest.approx(3)


def test_triangle_inequality_on_a_metric_ground():
    """Rubner et al. (2000), appendix: a metric where the ground is one and masses are equal."""
    rng = np.random.default_rng(5)
    points = rng.random((3, 6, 3))
    weights = rng.dirichlet(np.ones(6), 3)

    def distance(i, j):
        ground = np.linalg.norm(points[i][:, None] - points[j], axis=2)
        return earth_movers_distance(weights[i], weights[j], ground)

    assert distance(0, 2) <= distance(0, 1) + distance(1, 2) + 1e-12


def test_lists_agree_with_single_pairs():
    rng = np.random.default_rng(6)
    palettes = [random_palette(rng) for _ in range(5)]
    matrix = pairwise_distances(palettes)
    assert (matrix == matrix.T).all()
    assert matrix[1, 3] == pytest.approx(palette_distance(palettes[1], palettes[3]), abs=1e-9)
    assert palette_distances(palettes[:2], palettes)[1, 4] == pytest.approx(matrix[1, 4], abs=1e-9)


@pytest.mark.parametrize(
    ("supply", "demand", "cost", "what"),
    [
        ([[1.0]], [[0.5, 0.4]], [[[0.0, 0.0]]], "same total"),
        ([[1.0]], [[1.5, -0.5]], [[[0.0, 0.0]]], "0 or more"),
        ([[1.0]], [[0.5, 0.5]], [[[0.0], [0.0]]], "shape"),
    ],
)
def test_impossible_problems(supply, demand, cost, what):
    with pytest.raises(ValueError, match=what):
        transport(supply, demand, cost)
