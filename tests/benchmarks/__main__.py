"""``python -m tests.benchmarks [NAME ...]``: what is measured, against which goal, and whether it is met."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.cohort import cohort
from tests.benchmarks.incidence import incidence
from tests.benchmarks.loading import loading
from tests.benchmarks.quality import quality
from tests.benchmarks.rates import rates
from tests.benchmarks.reading import reading
from tests.benchmarks.registries import work_folder
from tests.benchmarks.regression import regression
from tests.benchmarks.results import Line, closing, table
from tests.benchmarks.start_up import start_up
from tests.benchmarks.unit_size import unit_size
from tests.benchmarks.waiting import waiting

BENCHMARKS: dict[str, Callable[..., list[Line]]] = {
    "start_up": start_up,
    "rates": rates,
    "unit_size": unit_size,
    "cohort": cohort,
    "loading": loading,
    "reading": reading,
    "quality": quality,
    "waiting": waiting,
    "incidence": incidence,
    "regression": regression,
}


def main(arguments: list[str] | None = None) -> int:
    """Run some benchmarks, or all; 1 when a goal is missed."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks",
        description="Times are medians of runs taken in turn, each in a process of its own; a ratio is the median of "
        "the ratios within the turns. Ratios between 0.77 and 1.3 are ties.",
    )
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"{', '.join(BENCHMARKS)}; all when none is named")
    parser.add_argument("--pairs", type=int, help="how many runs of each")
    parser.add_argument("--operations", type=int, help="how large a registry, for loading and waiting")
    parser.add_argument("--folder", type=Path, help="where registries are kept between runs")
    asked = parser.parse_args(arguments)
    strange = set(asked.names) - set(BENCHMARKS)
    if strange:
        parser.error(f"there is no {', '.join(sorted(strange))}; choose from {', '.join(BENCHMARKS)}")
    folder = asked.folder or work_folder()
    more: dict[str, int] = {} if asked.pairs is None else {"pairs": asked.pairs}
    lines = []
    for name in asked.names or BENCHMARKS:
        print(f"{name} ...", file=sys.stderr, flush=True)
        sized = asked.operations is not None and name in ("loading", "waiting")
        lines += BENCHMARKS[name](folder, **more, **({"operations": asked.operations} if sized else {}))
    print(table(lines))
    print(closing(lines))
    return int(any(line.met is False for line in lines))


if __name__ == "__main__":
    sys.exit(main())
