"""Many tasks on all cores, or on a Dask cluster that is there already; the same seed, the same numbers anywhere."""

from __future__ import annotations

import sys
import time
import traceback
import warnings
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

Task = TypeVar("Task")
Result = TypeVar("Result")
SHOWN_EVERY = 0.2, 30.0
"""Seconds between two words on progress: on a screen, and in a log."""


class TaskFault(RuntimeError):  # noqa: N818  (a house word)
    """A task failed in its worker, or the workers cannot be used; one paragraph."""


@dataclass(frozen=True)
class _Failed:
    """What a worker sends back in place of a result: an exception itself may not travel between processes."""

    said: str
    at: str


def run_all(
    function: Callable[..., Result],
    tasks: Sequence[Task],
    seed: int,
    workers: int | None = None,
    cluster: str | None = None,
    *,
    shared: Mapping[str, Any] | None = None,
    doing: str = "",
) -> list[Result]:
    """function(task, generator, **shared) of every task, in the order of the tasks.

    generator: numpy's PCG64, its own for each task, spawned from the seed by place (SeedSequence.spawn), so that the
    numbers depend neither on how many cores there are nor on who works first; libraries are kept to one thread while a
    task runs, since sums in another order round otherwise. workers: processes, all cores if None; 1 works in this
    process. cluster: address of a running Dask scheduler (`tcp://host:8786`), which then does the work whatever
    `workers` says; its workers need this package in the same version. shared: what all tasks read (arrays are sent
    once, and not to be written to). doing: words; when given, progress is told on standard error.

    Raises TaskFault when a task fails (which, where and why), when a worker dies, or when the cluster cannot be used;
    ValueError for fewer than one worker.
    """
    if workers is not None and workers < 1:
        raise ValueError(f"workers is {workers}; at least one is needed.")
    seeds = np.random.SeedSequence(seed).spawn(len(tasks))
    given = dict(shared or {})
    if cluster is not None:
        made = _on_cluster(function, tasks, seeds, given, cluster)
    elif workers == 1 or len(tasks) < 2:
        made = _here(function, tasks, seeds, given)
    else:
        made = _in_processes(function, tasks, seeds, given, workers)
    results: list[Result] = []
    for at, one in enumerate(_told(made, len(tasks), doing)):
        if isinstance(one, _Failed):
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # that those still waiting are not begun is meant
                made.close()
            raise TaskFault(f"Task {at + 1} of {len(tasks)} failed: {one.said} (in {one.at}). No result is given.")
        results.append(one)
    return results


def _one(function: Callable[..., Any], task: Any, seed: np.random.SeedSequence, shared: Mapping[str, Any]) -> Any:
    try:
        return function(task, np.random.Generator(np.random.PCG64(seed)), **shared)
    except Exception as fault:  # whatever it is, it is named where it is read
        last = traceback.extract_tb(fault.__traceback__)[-1]
        words = str(fault) or "no words"
        return _Failed(f"{type(fault).__name__}, {words.rstrip('.')}", f"{last.name}, line {last.lineno}")


def _here(
    function: Callable[..., Any], tasks: Sequence[Any], seeds: Sequence[np.random.SeedSequence], shared: dict[str, Any]
) -> Generator[Any, None, None]:
    from threadpoolctl import threadpool_limits

    for task, own in zip(tasks, seeds, strict=True):
        with threadpool_limits(1):
            made = _one(function, task, own, shared)
        yield made


def _in_processes(
    function: Callable[..., Any],
    tasks: Sequence[Any],
    seeds: Sequence[np.random.SeedSequence],
    shared: dict[str, Any],
    workers: int | None,
) -> Generator[Any, None, None]:
    from joblib import Parallel, cpu_count, delayed, parallel_config
    from joblib.externals.loky.process_executor import TerminatedWorkerError

    many = min(workers or cpu_count(), len(tasks))
    try:
        with parallel_config(backend="loky", inner_max_num_threads=1):
            pool = Parallel(n_jobs=many, return_as="generator", batch_size="auto")
            yield from pool(delayed(_one)(function, task, own, shared) for task, own in zip(tasks, seeds, strict=True))
    except TerminatedWorkerError:
        raise TaskFault(
            "A worker process ended without an answer, for lack of memory as a rule. No result is given; use fewer "
            f"workers than {many}."
        ) from None


def _on_cluster(
    function: Callable[..., Any],
    tasks: Sequence[Any],
    seeds: Sequence[np.random.SeedSequence],
    shared: dict[str, Any],
    address: str,
) -> Generator[Any, None, None]:
    try:
        import distributed
    except ImportError:
        raise TaskFault(
            "A cluster is used through the package dask.distributed, which is not installed. Install this package "
            "with its extra `cluster`, or name no cluster and the cores of this computer do the work."
        ) from None
    try:
        connect: Any = distributed.Client  # its methods have no types
        client = connect(address, timeout=10, set_as_default=False)
    except (OSError, ValueError) as fault:
        raise TaskFault(
            f"No Dask scheduler answers at {address!r} ({type(fault).__name__}). Give the address of one that runs, "
            "such as tcp://host:8786, or name no cluster."
        ) from None
    try:
        _check_workers(client, address)
        kept = {name: client.scatter(value, broadcast=True, hash=False) for name, value in shared.items()}
        waiting = [
            client.submit(_of_futures, function, task, own, tuple(kept), *kept.values(), pure=False)
            for task, own in zip(tasks, seeds, strict=True)
        ]
        for future in waiting:
            yield _fetched(future, address)
    finally:
        client.close()


def _of_futures(
    function: Callable[..., Any], task: Any, seed: np.random.SeedSequence, names: tuple[str, ...], *values: Any
) -> Any:
    return _one(function, task, seed, dict(zip(names, values, strict=True)))


def _fetched(future: Any, address: str) -> Any:
    try:
        return future.result()
    except Exception as fault:  # a worker that died, or could not read the task
        raise TaskFault(
            f"The cluster at {address} could not do a task: {type(fault).__name__}, {str(fault).rstrip('.')}. Its "
            "workers need this package in the same version, and memory enough. No result is given."
        ) from None


def _check_workers(client: Any, address: str) -> None:
    """Raise TaskFault without workers, or where they would not give the same numbers."""
    versions = client.get_versions()
    if not versions["workers"]:
        raise TaskFault(f"The Dask scheduler at {address} has no workers. Start some, or name no cluster.")
    own = versions["client"]["packages"]
    for name in ("python", "numpy"):
        theirs = {each["packages"].get(name) for each in versions["workers"].values()}
        if theirs != {own[name]}:
            told = ", ".join(sorted(str(each) for each in theirs))
            raise TaskFault(
                f"The workers of the cluster at {address} have {name} {told}, and here it is {own[name]}, so that the "
                "numbers might differ. Use the same version, or name no cluster."
            )


def _told(made: Iterable[Any], many: int, doing: str) -> Iterator[Any]:
    """Hand results on, and tell on standard error how many there are."""
    screen = sys.stderr.isatty()
    pause, before = SHOWN_EVERY[0 if screen else 1], time.monotonic()
    shown = False
    for done, one in enumerate(made, start=1):
        if doing and (time.monotonic() - before >= pause or (shown and done == many)):
            before, shown = time.monotonic(), True
            start, end = ("\r", "" if done < many else "\n") if screen else ("", "\n")
            print(f"{start}{doing}: {done:,} of {many:,}", end=end, file=sys.stderr, flush=True)
        yield one
