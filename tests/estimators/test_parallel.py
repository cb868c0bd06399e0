"""The same numbers on one core, on several and on a cluster; what fails is named."""

from __future__ import annotations

import warnings
from collections.abc import Iterator

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.chained_equations import chained_equations
from analysis.estimators.parallel import TaskFault, _told, run_all
from analysis.estimators.regression.cluster_bootstrap import bootstrap_logistic


def _draws(task: int, generator: np.random.Generator, *, data: np.ndarray) -> float:
    """Linear algebra as well as draws: both have to be the same everywhere."""
    picked = data[generator.integers(0, len(data), len(data))]
    return float(np.linalg.inv(picked.T @ picked).sum() + generator.normal() + task)


def _fails_at_three(task: int, generator: np.random.Generator) -> int:
    if task == 3:
        raise ZeroDivisionError("three cannot be divided")
    return task


def _ends_its_process(task: int, generator: np.random.Generator) -> None:
    import os

    os._exit(1)


DATA = np.random.default_rng(4).normal(size=(3000, 40))


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    """A local cluster of two workers; its address."""
    distributed = pytest.importorskip("distributed")
    with (
        warnings.catch_warnings(),
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
    ):
        warnings.simplefilter("ignore")
        yield cluster.scheduler_address


def test_one_core_two_cores_and_a_cluster_give_the_same_numbers(scheduler: str) -> None:
    alone = run_all(_draws, list(range(12)), 7, workers=1, shared={"data": DATA})
    assert len(set(alone)) == 12
    assert run_all(_draws, list(range(12)), 7, workers=2, shared={"data": DATA}) == alone
    assert run_all(_draws, list(range(12)), 7, cluster=scheduler, shared={"data": DATA}) == alone
    assert run_all(_draws, list(range(12)), 8, workers=1, shared={"data": DATA}) != alone


def test_a_bootstrap_and_imputations_are_the_same_on_a_cluster(scheduler: str) -> None:
    draw = np.random.default_rng(2)
    x = np.column_stack([np.ones(400), draw.normal(size=(400, 2))])
    y = (draw.random(400) < 1 / (1 + np.exp(-x[:, 1]))).astype(float)
    both = [
        bootstrap_logistic(
            y, x, ("intercept", "a", "b"), cluster=np.arange(400) // 2, seed=3, replicates=120, workers=1, dask=dask
        )
        for dask in (None, scheduler)
    ]
    assert (both[0].draws == both[1].draws).all()
    frame = pd.DataFrame({"a": np.where(draw.random(400) < 0.3, np.nan, x[:, 1]), "y": y}, index=np.zeros(400))
    made = [
        chained_equations(frame, {"a": "numeric", "y": "binary"}, seed=3, imputations=4, cycles=2, dask=dask)
        for dask in (None, scheduler)
    ]
    assert (made[0].values["a"] == made[1].values["a"]).all()
    assert made[0].completed(3).notna().all(axis=None)  # an index that repeats does no harm


def test_a_task_has_its_own_numbers_by_its_place() -> None:
    """More tasks later do not change those before."""
    few = run_all(_draws, [0, 1], 7, workers=1, shared={"data": DATA})
    more = run_all(_draws, [0, 1, 2], 7, workers=1, shared={"data": DATA})
    assert more[:2] == few
    assert run_all(_draws, [], 7, shared={"data": DATA}) == []


@pytest.mark.parametrize("workers", [1, 2])
def test_the_task_that_failed_is_named(workers: int) -> None:
    with pytest.raises(TaskFault, match=r"Task 4 of 6 failed: ZeroDivisionError, three cannot be divided \(in _fails"):
        run_all(_fails_at_three, list(range(6)), 1, workers=workers)


def test_the_task_that_failed_on_a_cluster_is_named(scheduler: str) -> None:
    with pytest.raises(TaskFault, match="Task 4 of 6 failed: ZeroDivisionError"):
        run_all(_fails_at_three, list(range(6)), 1, cluster=scheduler)


@pytest.mark.filterwarnings("ignore:A worker stopped")
def test_a_worker_that_dies_is_told() -> None:
    with pytest.raises(TaskFault, match="ended without an answer"):
        run_all(_ends_its_process, [1, 2, 3], 1, workers=2)


def test_a_cluster_that_is_not_there_is_told() -> None:
    pytest.importorskip("distributed")
    with pytest.raises(TaskFault, match=r"No Dask scheduler answers at 'tcp://127\.0\.0\.1:9'"):
        run_all(_fails_at_three, [1, 2], 1, cluster="tcp://127.0.0.1:9")
    with pytest.raises(TaskFault, match="No Dask scheduler answers at 'nonsense://x'"):
        run_all(_fails_at_three, [1, 2], 1, cluster="nonsense://x")


def test_less_than_one_worker_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        run_all(_fails_at_three, [1], 1, workers=0)


def test_progress_goes_to_standard_error(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("analysis.estimators.parallel.SHOWN_EVERY", (0.0, 0.0))
    assert list(_told(iter("abc"), 3, "Resampling")) == ["a", "b", "c"]
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines() == ["Resampling: 1 of 3", "Resampling: 2 of 3", "Resampling: 3 of 3"]
    list(_told(iter("abc"), 3, ""))
    assert capsys.readouterr().err == ""
