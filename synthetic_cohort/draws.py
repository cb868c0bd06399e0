"""Random draws that stay the same for the same seed, and the few curves the model needs."""

from __future__ import annotations

import random
from datetime import date
from functools import cache
from statistics import NormalDist
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

Columns = dict[str, NDArray[Any]]


def generators(seed: int) -> tuple[np.random.Generator, random.Random]:
    """Two independent sources from one seed: for the cohort, and for the wording and detail of its records.

    The second never touches the first, so that a cohort is the same whether or not records are written from it.
    """
    model, detail = np.random.SeedSequence(seed).spawn(2)
    return np.random.Generator(np.random.PCG64(model)), random.Random(int(detail.generate_state(2, np.uint64)[0]))


def named_generator(seed: int, name: str) -> np.random.Generator:
    """A source of its own for one subject, so that what it draws moves nothing that others draw."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, crc32(name.encode())])))


def named_chance(seed: int, name: str) -> random.Random:
    """The same for the wording and detail of records."""
    state = np.random.SeedSequence([seed, crc32(name.encode()), 1]).generate_state(2, np.uint64)
    return random.Random(int(state[0]))


def expit(log_odds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Probability from log odds."""
    result: NDArray[np.float64] = 1.0 / (1.0 + np.exp(-log_odds))
    return result


def logit(probability: Any) -> Any:
    """Log odds; shares of 0 and 1 give odds that no draw passes."""
    bounded = np.clip(probability, 1e-12, 1 - 1e-12)
    return np.log(bounded) - np.log1p(-bounded)


@cache
def scores(people: int) -> NDArray[np.float64]:
    """Fixed scores of mean 0 and spread 1, one an operator, in an order that tells nothing.

    They are the same for every seed: operators' effects are part of the truth, not of the sample.
    """
    if people == 1:
        return np.zeros(1)
    normal = NormalDist()
    values = np.array([normal.inv_cdf((i + 0.5) / people) for i in range(people)])
    order = np.random.Generator(np.random.PCG64(people)).permutation(people)
    result: NDArray[np.float64] = (values / values.std())[order]
    return result


@cache
def working_days(first: date, last: date) -> NDArray[np.datetime64]:
    """Mondays to Fridays from first to last, both included."""
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    kept: NDArray[np.datetime64] = days[np.is_busday(days)]
    return kept


def year_of(days: NDArray[Any]) -> NDArray[np.int64]:
    """Calendar years of whole days."""
    return days.astype("datetime64[Y]").astype(np.int64) + 1970


def pick(uniform: NDArray[np.float64], shares: list[float]) -> NDArray[np.int64]:
    """The class that each uniform draw falls in; what the shares leave of 1 is one more class at the end."""
    return np.searchsorted(np.cumsum(shares), uniform, side="right").astype(np.int64)


def ordered(
    linear: NDArray[np.float64], uniform: NDArray[np.float64], lowest: float, highest: float
) -> NDArray[np.int64]:
    """One of three ordered classes, 0 to 2, by an ordered logit.

    Args:
        linear: what pushes upwards, in log odds.
        uniform: one draw each.
        lowest: share of class 0 where linear is 0.
        highest: share of class 2 where linear is 0.
    """
    latent = linear + logit(uniform)
    classes: NDArray[np.int64] = (latent > logit(lowest)).astype(np.int64) + (latent > logit(1 - highest))
    return classes
