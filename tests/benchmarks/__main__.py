"""``python -m tests.benchmarks [NAME ...]``: what is measured, against which goal, and whether it is met."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.cohort import cohort
from tests.benchmarks.loading import loading
from tests.benchmarks.rates import rates
from tests.benchmarks.registries import work_folder
from tests.benchmarks.results import Line, closing, table
from tests.benchmarks.start_up import start_up
from tests.benchmarks.unit_size import unit_size

BENCHMARKS: dict[str, Callable[..., list[Line]]] = {
    "start_up": start_up,
    "rates": rates,
    "unit_size": unit_size,
    "cohort": cohort,
    "loading": loading,
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
    parser.add_argument("--folder", type=Path, help="where registries are kept between runs")
    asked = parser.parse_args(arguments)
    strange = set(asked.names) - set(BENCHMARKS)
    if strange:
        parser.error(f"there is no {', '.join(sorted(strange))}; choose from {', '.join(BENCHMARKS)}")
    folder = asked.folder or work_folder()
    more = {} if asked.pairs is None else {"pairs": asked.pairs}
    lines = []
    for name in asked.names or BENCHMARKS:
        print(f"{name} ...", file=sys.stderr, flush=True)
        lines += BENCHMARKS[name](folder, **more)
    print(table(lines))
    print(closing(lines))
    return int(any(line.met is False for line in lines))


if __name__ == "__main__":
    sys.exit(main())
