"""Many cohorts of each scenario, on as many processes as wished, with the same result on any number of them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

import pandas as pd

from synthetic_cohort.parameters import Parameters
from tests.simulation.batch import BATCH, Task, run
from tests.simulation.scenarios import SCENARIOS

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def study(
    *,
    cohorts: int,
    size: int,
    seed: int,
    level: float = 0.95,
    workers: int = 1,
    scenarios: Mapping[str, Parameters] = SCENARIOS,
    progress: Callable[[str, int], None] = lambda scenario, done: None,
) -> pd.DataFrame:
    """One row a scenario, cohort and threshold; see `batch.run` for the columns.

    cohorts: of each scenario. size: operations of a cohort. level: of the intervals. workers: processes; 1 is this
    one. progress: told the scenario and how many of its cohorts are done.
    """
    tasks = [
        Task(name, parameters, first, min(first + BATCH, cohorts), size, seed, level)
        for name, parameters in scenarios.items()
        for first in range(0, cohorts, BATCH)
    ]
    parts = []
    with _mapped(tasks, workers) as results:
        for task, part in zip(tasks, results, strict=True):
            parts.append(part)
            progress(task.scenario, task.last)
    return pd.concat(parts, ignore_index=True)


@contextmanager
def _mapped(tasks: list[Task], workers: int) -> Iterator[Iterable[pd.DataFrame]]:
    """The results in the order of the tasks."""
    if workers == 1:
        yield map(run, tasks)
        return
    with _one_thread_each(), ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield pool.map(run, tasks)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes started meanwhile calculate with one thread each: they would only be in each other's way."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
