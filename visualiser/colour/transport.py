"""The cheapest way to turn one set of amounts into another: the transportation problem, exactly.

Palettes are small (a few swatches each) but there are many of them, so the simplex method here
solves a whole stack of problems at once: every array's first axis is the stack. The inverse of a
basis of this problem holds only -1, 0 and 1, so updating it by pivots loses no digits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Flows = NDArray[np.float64]
"""(B, m, n) amounts moved from each source to each sink."""

_SPREAD = 1e-10
"""While pivoting, sources are enlarged by this fraction, each a little differently, so that no two
ways tie and the method cannot run in circles. The flows returned are for the true amounts."""


def transport(supplies: ArrayLike, demands: ArrayLike, costs: ArrayLike) -> Flows:
    """Cheapest flows for a stack of balanced transportation problems.

    Parameters
    ----------
    supplies
        (B, m) amounts at the sources, 0 or more.
    demands
        (B, n) amounts at the sinks, 0 or more, with the same total as the supplies.
    costs
        (B, m, n) cost of moving one unit.

    Returns
    -------
    Flows (B, m, n).

    Raises
    ------
    ValueError
        If shapes disagree, an amount is negative, or totals differ by more than 1e-6.

    References
    ----------
    G. B. Dantzig, "Application of the simplex method to a transportation problem", in Activity
    Analysis of Production and Allocation (1951), pp. 359-373.

    Examples
    --------
    >>> moved = transport([[0.75, 0.25]], [[0.5, 0.5]], [[[0.0, 1.0], [1.0, 0.0]]])
    >>> moved[0].round(6).tolist()
    [[0.5, 0.25], [0.0, 0.25]]
    """
    supply, demand = np.array(supplies, np.float64), np.array(demands, np.float64)
    cost = np.asarray(costs, np.float64)
    count, m = supply.shape
    n = demand.shape[1]
    if cost.shape != (count, m, n) or demand.shape[0] != count:
        raise ValueError(
            f"expected costs of shape {(count, m, n)} for supplies {supply.shape} and demands "
            f"{demand.shape}, got {cost.shape}"
        )
    if (supply < 0).any() or (demand < 0).any():
        raise ValueError("amounts must be 0 or more")
    total = supply.sum(1)
    if not np.allclose(total, demand.sum(1), rtol=0, atol=1e-6):
        raise ValueError("supplies and demands must have the same total")
    if not count:
        return np.zeros((0, m, n))
    demand *= (total / np.maximum(demand.sum(1), 1e-300))[:, None]
    nodes = np.concatenate([supply, demand[:, :-1]], axis=1)
    extra = _SPREAD * np.maximum(total, 1e-300)[:, None] * (1 + np.arange(m) / m)
    supply += extra
    demand[:, -1] += extra.sum(1)

    rows, columns = _first_basis(supply, demand, cost)
    inverse = _inverse_basis(rows, columns, m, n)
    enlarged = np.concatenate([supply, demand[:, :-1]], axis=1)
    amounts = np.einsum("bkp,bp->bk", inverse, enlarged)
    tolerance = 1e-12 * np.maximum(np.abs(cost).reshape(count, -1).max(1), 1e-300)
    active = np.arange(count)
    while active.size:
        # Prices: what a unit is worth at each source and sink, by the basis; the last sink's is 0.
        along = cost[active[:, None], rows[active], columns[active]]
        prices = np.einsum("bk,bkp->bp", along, inverse[active])
        sinks = np.concatenate([prices[:, m:], np.zeros((len(active), 1))], axis=1)
        reduced = (cost[active] - prices[:, :m, None] - sinks[:, None, :]).reshape(len(active), -1)
        entering = reduced.argmin(1)
        running = reduced[np.arange(len(active)), entering] < -tolerance[active]
        active, entering = active[running], entering[running]
        _pivot(active, entering // n, entering % n, m, rows, columns, amounts, inverse)

    amounts = np.einsum("bkp,bp->bk", inverse, nodes)
    flows = np.zeros((count, m, n))
    flows[np.arange(count)[:, None], rows, columns] = np.maximum(amounts, 0)
    return flows


def _first_basis(
    supply: NDArray[np.float64], demand: NDArray[np.float64], cost: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Least-cost rule: routes (B, m + n - 1) of a spanning tree, the cheapest open ones first."""
    (count, m), n = supply.shape, demand.shape[1]
    left, wanted, open_cost = supply.copy(), demand.copy(), cost.copy()
    stack = np.arange(count)
    rows_open, columns_open = np.full(count, m), np.full(count, n)
    rows = np.empty((count, m + n - 1), np.intp)
    columns = np.empty_like(rows)
    for step in range(m + n - 1):
        row, column = np.divmod(open_cost.reshape(count, -1).argmin(1), n)
        rows[:, step], columns[:, step] = row, column
        here, there = left[stack, row], wanted[stack, column]
        moved = np.minimum(here, there)
        left[stack, row] -= moved
        wanted[stack, column] -= moved
        # Close one line a step, and never the last of its kind, or the tree would fall apart.
        close_row = ((here <= there) & (rows_open > 1)) | (columns_open == 1)
        open_cost[stack[close_row], row[close_row]] = np.inf
        open_cost[stack[~close_row], :, column[~close_row]] = np.inf
        rows_open -= close_row
        columns_open -= ~close_row
    return rows, columns


def _inverse_basis(
    rows: NDArray[np.intp], columns: NDArray[np.intp], m: int, n: int
) -> NDArray[np.float64]:
    """Inverse (B, routes, nodes) of the basis; the last sink's row is left out as redundant."""
    count, size = rows.shape
    basis = np.zeros((count, size + 1, size))
    stack, route = np.arange(count)[:, None], np.arange(size)
    basis[stack, rows, route] = 1
    basis[stack, m + columns, route] = 1
    return np.asarray(np.rint(np.linalg.inv(basis[:, : m + n - 1])))


def _pivot(
    active: NDArray[np.intp],
    row: NDArray[np.intp],
    column: NDArray[np.intp],
    m: int,
    rows: NDArray[np.intp],
    columns: NDArray[np.intp],
    amounts: NDArray[np.float64],
    inverse: NDArray[np.float64],
) -> None:
    """Bring one route into each active basis in place of the one it empties first."""
    stack = np.arange(len(active))
    held = inverse[active]
    # Which basic routes the entering one takes from (+1) or adds to (-1).
    sink = m + column
    priced = sink < held.shape[2]  # the last sink has no row of its own
    change = held[stack, :, row]
    change[priced] += held[stack[priced], :, sink[priced]]

    amount = amounts[active]
    limit = np.where(change > 0.5, amount, np.inf)
    leaving = limit.argmin(1)
    moved = limit[stack, leaving]
    amount -= moved[:, None] * change
    amount[stack, leaving] = moved
    amounts[active] = amount
    rows[active, leaving], columns[active, leaving] = row, column

    # Product form of the inverse: the pivot element is always 1.
    pivot_row = held[stack, leaving]
    change[stack, leaving] -= 1
    inverse[active] = held - change[:, :, None] * pivot_row[:, None, :]
