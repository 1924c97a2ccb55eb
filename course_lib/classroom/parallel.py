"""One way to spread work: over the processors of this machine, or over a cluster. The results come in the order of the items."""

from __future__ import annotations

import sys
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from distributed import Client

T = TypeVar("T")
R = TypeVar("R")
Progress = Callable[[int, int], None]


def quiet(_done: int, _total: int) -> None:
    """Say nothing."""


def progress_line(what: str) -> Progress:
    """One line that fills up, on the error stream, so that it is in nobody's output."""

    def show(done: int, total: int) -> None:
        full = 30 * done // max(total, 1)
        end = "\n" if done == total else ""
        print(
            f"\r{what} [{'#' * full}{'.' * (30 - full)}] {done} of {total}",
            end=end,
            file=sys.stderr,
            flush=True,
        )

    return show


@contextmanager
def cluster(address: str | None) -> Generator[Client | None]:
    """A client of the dask scheduler at `address`; None without one. Raises ValueError where dask is not installed."""
    if address is None:
        yield None
        return
    try:
        from distributed import Client
    except ImportError:
        raise ValueError(
            "cluster must have dask installed, got none. Install it with: pip install 'course-lib[cluster]'"
        ) from None
    with Client(address, timeout="10s") as client:  # type: ignore[no-untyped-call]  # distributed: untyped
        yield client


def run_parallel(
    task: Callable[[T], R],
    items: Sequence[T],
    *,
    jobs: int = 1,
    client: Client | None = None,
    progress: Progress = quiet,
) -> list[R]:
    """`task` of every item, in their order. jobs: processes on this machine; client: of a dask cluster, which is used instead.

    The task must need nothing but its item: it may run in another process or on another machine.
    """
    numbered = _on_this_machine(task, items, jobs) if client is None else _on_cluster(task, items, client)
    results: dict[int, R] = {}
    for number, result in numbered:
        results[number] = result
        progress(len(results), len(items))
    return [results[number] for number in range(len(items))]


def _on_this_machine(task: Callable[[T], R], items: Sequence[T], jobs: int) -> Iterator[tuple[int, R]]:
    if jobs <= 1 or len(items) <= 1:
        yield from ((number, task(item)) for number, item in enumerate(items))
        return
    from joblib import Parallel, delayed  # here: most uses need one process only

    work = Parallel(n_jobs=jobs, return_as="generator_unordered", batch_size=1)
    yield from work(delayed(_numbered)(task, number, item) for number, item in enumerate(items))


def _on_cluster(task: Callable[[T], R], items: Sequence[T], client: Client) -> Iterator[tuple[int, R]]:
    from distributed import as_completed  # here: the extra `cluster` need not be installed

    work = client.map(_numbered, [task] * len(items), range(len(items)), items, pure=False)
    yield from (future.result() for future in as_completed(work))  # type: ignore[no-untyped-call]  # distributed: untyped


def _numbered(task: Callable[[T], R], number: int, item: T) -> tuple[int, R]:
    return number, task(item)
