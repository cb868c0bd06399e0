"""The threads of linear algebra are one within, and what they were without."""

from __future__ import annotations

import scipy.linalg
from threadpoolctl import threadpool_info, threadpool_limits

from analysis.design.one_thread import one_thread


def threads() -> set[int]:
    assert scipy.linalg
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


def test_one_thread_and_then_as_many_as_before() -> None:
    with threadpool_limits(2, user_api="blas"):
        assert threads() == {2}
        with one_thread():
            assert threads() == {1}
            with one_thread():
                assert threads() == {1}
            assert threads() == {1}
        assert threads() == {2}
