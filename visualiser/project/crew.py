"""Many entries of a batch at once: on all cores of this machine, or on a cluster of several.

Either way only a few entries are under way at a time, so that memory stays bounded however long
the list is; and an entry whose process dies is done again by another one.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any

from visualiser.errors import ProjectError
from visualiser.project.batch import Failed, Outcome, make_item
from visualiser.project.batch_list import BatchItem

_AHEAD = 2  # entries handed out for each worker, so that none waits for the next
_PATIENCE_S = 60.0
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def work_here(
    items: Iterable[BatchItem], products: tuple[str, ...], at_once: int
) -> Iterator[list[Outcome]]:
    """Make the products of many entries in processes of this machine, in the order they finish.

    An entry during which a process died is done again, alone; if that kills its process too, it
    has failed.

    Parameters
    ----------
    items
        The entries.
    products
        What to make of each.
    at_once
        How many processes.
    """
    waiting, suspects = deque(items), deque[BatchItem]()
    while waiting or suspects:
        alone = bool(suspects)
        with _processes(1 if alone else at_once) as pool:
            running: dict[Future[list[Outcome]], BatchItem] = {}
            try:
                while waiting or running or suspects:
                    source, most = (suspects, 1) if alone else (waiting, at_once * _AHEAD)
                    while source and len(running) < most:
                        item = source.popleft()
                        running[pool.submit(make_item, item, products)] = item
                    if not running:
                        break  # the suspects are done: back to all processes
                    for future in wait(running, return_when=FIRST_COMPLETED).done:
                        outcome = future.result()
                        del running[future]
                        yield outcome
            except BrokenProcessPool:
                if alone:
                    yield [_killed(item) for item in running.values()]
                else:
                    suspects.extend(running.values())


def work_on_cluster(
    items: Iterable[BatchItem], products: tuple[str, ...], address: str
) -> Iterator[list[Outcome]]:
    """Make the products of many entries on a Dask cluster, in the order they finish.

    Every worker must have this program installed and see the jobs' folders under the same paths.
    Entries of a worker that dies go to the others.

    Parameters
    ----------
    items
        The entries.
    products
        What to make of each.
    address
        Of the scheduler, such as ``tcp://192.0.2.7:8786``.

    Raises
    ------
    ProjectError
        If the scheduler cannot be reached, or is lost, or no worker is left.
    """
    with _client(address) as client:
        waiting = deque(items)
        running: dict[Any, BatchItem] = {}
        seen_workers = time.monotonic()
        while waiting or running:
            threads = _threads(client)
            now = time.monotonic()
            seen_workers = now if threads else seen_workers
            if now - seen_workers > _PATIENCE_S:
                raise _lost(address, "it has no workers left")
            while waiting and len(running) < max(threads, 1) * _AHEAD:
                item = waiting.popleft()
                running[client.submit(make_item, item, products, pure=False)] = item
            done = [future for future in running if future.done()]
            for future in done:
                item = running.pop(future)
                yield _result(future, item, address)
            if not done:
                time.sleep(0.05)


def _result(future: Any, item: BatchItem, address: str) -> list[Outcome]:
    from distributed import KilledWorker

    if future.status == "cancelled" or future.status == "lost":
        raise _lost(address, "the connection to it broke")
    try:
        outcomes: list[Outcome] = future.result()
    except KilledWorker:
        return [_killed(item)]
    except Exception as error:  # what the cluster could not even hand over
        what = f"{type(error).__name__}: {error}".replace("\n", " ")[:200]
        return [
            Failed(
                item,
                "",
                f"A worker of the cluster could not do this entry ({what}).",
                "Install the same release of this program on every worker.",
            )
        ]
    return outcomes


@contextmanager
def _client(address: str) -> Iterator[Any]:
    try:
        from distributed import Client

        connect: Any = Client
    except ImportError as error:
        raise ProjectError(
            "Working on a cluster needs Dask, which is not installed.",
            hint="Install this program with its extra named cluster.",
        ) from error
    try:
        client = connect(address, timeout=10, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise _lost(address, "it does not answer") from error
    with client:
        yield client


def _threads(client: Any) -> int:
    """How many entries the cluster can do at a time."""
    try:
        return sum(client.nthreads().values())
    except (OSError, RuntimeError):
        return 0


def _lost(address: str, why: str) -> ProjectError:
    return ProjectError(
        f"The scheduler {address} cannot be worked with: {why}.",
        hint="Start scheduler and workers, and run the same command again: it goes on where it "
        "stopped.",
    )


def _killed(item: BatchItem) -> Failed:
    return Failed(
        item,
        "",
        "The process that worked on it died each time, most likely for want of memory.",
        "Do fewer at once, or make the photo smaller.",
    )


@contextmanager
def _processes(count: int) -> Iterator[ProcessPoolExecutor]:
    """Start fresh processes, each on one thread."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, mp_context=context, initializer=_begin)
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _begin() -> None:
    """Leave an interruption to the main process, and end when that one does, however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)
