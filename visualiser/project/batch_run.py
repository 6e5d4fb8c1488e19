"""A batch from its list to the last file: what is there already, what is left, who makes it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from visualiser.project.batch import Made, Outcome
from visualiser.project.batch_list import BatchItem
from visualiser.project.crew import cores, work_here, work_on_cluster
from visualiser.project.ledger import Ledger


def run(
    listing: Path,
    items: list[BatchItem],
    products: tuple[str, ...],
    *,
    at_once: int = 0,
    scheduler: str = "",
    anew: bool = False,
) -> Iterator[list[Outcome]]:
    """Make the products of every entry that has not been made of the same things before.

    Parameters
    ----------
    listing
        The list's own place; beside it is noted what has been made.
    items
        Its entries, in `expanded` form.
    products
        What to make of each.
    at_once
        How many entries at a time on this machine; 0 for one a core.
    scheduler
        Address of a Dask scheduler to work with instead.
    anew
        Make also what is there already.

    Yields
    ------
    The outcomes of one entry, in the order they are finished.

    Raises
    ------
    ProjectError
        If the ledger cannot be written or is in use, or the cluster is lost. What has been made
        until then stays, and the next run goes on from there.
    """
    with Ledger(listing) as ledger:
        left: dict[tuple[str, ...], list[BatchItem]] = {}
        there: dict[BatchItem, list[Outcome]] = {}
        for item in items:
            kept = [] if anew else [ledger.kept(item, product) for product in products]
            there[item] = [made for made in kept if made is not None]
            missing = tuple(p for p in products if p not in {m.product for m in kept if m})
            if not missing:
                yield there[item]
            else:
                left.setdefault(missing, []).append(item)
        for missing, entries in left.items():
            crew = (
                work_on_cluster(entries, missing, scheduler)
                if scheduler
                else work_here(entries, missing, min(at_once or cores(), len(entries)))
            )
            for outcomes in crew:
                for outcome in outcomes:
                    if isinstance(outcome, Made):
                        ledger.add(outcome)
                yield [*there[outcomes[0].item], *outcomes]
