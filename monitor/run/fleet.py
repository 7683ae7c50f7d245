"""The same job over many recordings: in place, over all cores, or on a cluster (Dask distributed).

A job is a picklable callable that is given one item; on a cluster the workers must see the same files under the
same names. What fails is told at the end and holds nothing else up.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent import futures
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")
NO_DASK: Final = "a cluster needs Dask distributed, which is not installed: pip install 'bightwatch[fleet]'"
NO_ARROW: Final = "Parquet needs pyarrow, which is not installed: pip install 'bightwatch[review]'"


@dataclass(frozen=True, slots=True)
class Done(Generic[Item, Result]):
    """What came of one item: a result, or why there is none."""

    item: Item
    result: Result | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Where:
    """Where to work. `scheduler`: address of a Dask scheduler; else so many processes; 1: in this one."""

    processes: int = 1
    scheduler: str | None = None


def over(
    job: Callable[[Item], Result],
    items: Sequence[Item],
    where: Where,
    each: Callable[[int], None] = lambda done: None,
) -> list[Done[Item, Result]]:
    """The job on every item, in their order; `each` hears how many are done. Raises ValueError without Dask."""
    found: dict[int, Done[Item, Result]] = {}
    for number, done in _run(_Tried(job), items, where):
        found[number] = done
        each(len(found))
    return [found[number] for number in range(len(items))]


@dataclass(frozen=True, slots=True)
class _Tried(Generic[Item, Result]):
    """A job whose faults are results, so that they cross from one process to another."""

    job: Callable[[Item], Result]

    def __call__(self, item: Item) -> Done[Item, Result]:
        try:
            return Done(item, self.job(item))
        except Exception as error:  # whatever is wrong with one recording, the others go on
            return Done(item, None, str(error) or type(error).__name__)


def _run(
    job: _Tried[Item, Result], items: Sequence[Item], where: Where
) -> Iterator[tuple[int, Done[Item, Result]]]:
    if where.scheduler is not None:
        yield from _on_cluster(job, items, where.scheduler)
    elif where.processes <= 1 or len(items) <= 1:
        yield from enumerate(map(job, items))
    else:
        # Spawned, as Windows has it: a forked process would inherit threads in the middle of their work.
        context = multiprocessing.get_context("spawn")
        with futures.ProcessPoolExecutor(min(where.processes, len(items)), mp_context=context) as pool:
            waiting = {pool.submit(job, item): number for number, item in enumerate(items)}
            for future in futures.as_completed(waiting):
                number = waiting[future]
                lost = future.exception()  # the process died: killed, or out of memory
                yield number, Done(items[number], None, str(lost)) if lost else future.result()


def _on_cluster(
    job: _Tried[Item, Result], items: Sequence[Item], scheduler: str
) -> Iterator[tuple[int, Done[Item, Result]]]:
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise ValueError(NO_DASK) from None
    client = Client(scheduler)  # type: ignore[no-untyped-call]
    try:
        waiting = {client.submit(job, item, pure=False): number for number, item in enumerate(items)}
        for future in as_completed(waiting):  # type: ignore[no-untyped-call]
            number = waiting[future]
            if future.status == "finished":
                yield number, future.result()
            else:
                yield number, Done(items[number], None, str(future.exception()))
    finally:
        client.close()  # type: ignore[no-untyped-call]


def write_table(rows: Sequence[Mapping[str, Any]], to: Path) -> None:
    """Rows as Parquet, which pandas and DuckDB open. Raises ValueError without pyarrow."""
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise ValueError(NO_ARROW) from None
    parquet.write_table(pyarrow.Table.from_pylist(list(rows)), to)
