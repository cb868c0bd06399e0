"""How many there are in all, from two lists that were drawn up apart and share some; else what share one list has.

The estimate is Chapman's (Univ Calif Publ Stat 1951;1:131-160), N = (n1 + 1)(n2 + 1) / (m + 1) - 1, and its variance
Seber's (Biometrika 1970;57:313-318), (n1 + 1)(n2 + 1)(n1 - m)(n2 - m) / ((m + 1)^2 (m + 2)). The interval is the
transformed logit one (Sadinle, Commun Stat Simul Comput 2009;38:1909-1924), which holds for small numbers too and never
falls below what was counted. All three from memory.

It holds only if a case's being on one list says nothing about its being on the other, if all cases are as likely to be
on a list, if none was joined to the wrong one, and if both lists are of the same time. A registry that is filled from
the theatre list is not apart from it: there the lines that it has are no more than a share.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

ESTIMATE = "Chapman"
INTERVAL = "transformed logit"


@dataclass(frozen=True)
class Total:
    """How many there are in all. ``low`` to ``high`` is the interval at ``level``."""

    first: int
    second: int
    both: int
    estimate: float
    variance: float
    low: float
    high: float
    level: float

    @property
    def seen(self) -> int:
        """How many are on either list."""
        return self.first + self.second - self.both


@dataclass(frozen=True)
class Share:
    """A share with its Wilson interval; None where nothing was counted."""

    present: int
    of: int
    share: float | None
    low: float | None
    high: float | None
    level: float


def chapman(first: int, second: int, both: int, *, level: float = 0.95) -> Total:
    """Estimate how many there are in all.

    Args:
        first: how many the first list has.
        second: how many the second list has.
        both: how many both have.
        level: of the interval.

    Raises:
        ValueError: both lists cannot share more than either has.
    """
    if not 0 <= both <= min(first, second):
        raise ValueError(f"{both} on both lists of {first} and {second}")
    only_first, only_second = first - both, second - both
    estimate = (first + 1) * (second + 1) / (both + 1) - 1
    variance = (first + 1) * (second + 1) * only_first * only_second / ((both + 1) ** 2 * (both + 2))
    a, b, c = only_first + 0.5, only_second + 0.5, both + 0.5
    spread = math.exp(_normal(level) * math.sqrt(1 / a + 1 / b + 1 / c + c / (a * b)))
    base, unseen = first + second - both - 0.5, a * b / c
    low, high = base + unseen / spread, base + unseen * spread
    # The half that stands for none keeps the lower end half a case below what was counted.
    return Total(first, second, both, estimate, variance, max(low, first + second - both), high, level)


def share_present(present: int, of: int, *, level: float = 0.95) -> Share:
    """The share that is present, with Wilson's interval (J Am Stat Assoc 1927;22:209-212).

    Args:
        present: how many are there.
        of: of how many.
        level: of the interval.

    Raises:
        ValueError: more are there than there are.
    """
    if not 0 <= present <= of:
        raise ValueError(f"{present} of {of}")
    if of == 0:
        return Share(0, 0, None, None, None, level)
    from scipy.stats import binomtest

    interval = binomtest(present, of).proportion_ci(confidence_level=level, method="wilson")
    return Share(present, of, present / of, float(interval.low), float(interval.high), level)


def _normal(level: float) -> float:
    """The normal deviate of a two-sided interval."""
    from statistics import NormalDist

    return NormalDist().inv_cdf((1 + level) / 2)
