"""Coverage and bias over thousands of cohorts whose truth is known: `python -m tests.simulation --help`."""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

from tests.simulation.claims import CLAIMS, broken
from tests.simulation.measures import measured
from tests.simulation.report import as_text
from tests.simulation.scenarios import SCENARIOS
from tests.simulation.study import study

COMMAND = "python -m tests.simulation"


def main(arguments: list[str] | None = None) -> int:
    """Run the study, write its table as text and CSV, and print it; 1 when a claim does not hold."""
    asked = _parser().parse_args(arguments)
    chosen = {name: SCENARIOS[name] for name in asked.scenario or SCENARIOS}
    began = time.monotonic()
    found = study(
        cohorts=asked.cohorts,
        size=asked.size,
        seed=asked.seed,
        workers=asked.workers,
        scenarios=chosen,
        progress=lambda scenario, done: _tell(scenario, done, asked.cohorts),
    )
    table = measured(found)
    took = time.monotonic() - began
    made_by = f"{COMMAND} --cohorts {asked.cohorts} --size {asked.size} --seed {asked.seed}"
    wrong = {name: broken(found, table, name) for name in chosen if name in CLAIMS}
    text = as_text(table, wrong, made_by)
    asked.output.mkdir(parents=True, exist_ok=True)
    (asked.output / "coverage_and_bias.txt").write_text(text, encoding="utf-8")
    table.to_csv(asked.output / "coverage_and_bias.csv", index=False, float_format="%.6f", lineterminator="\n")
    print(text)
    print(f"{len(chosen) * asked.cohorts} cohorts in {took:.0f} s; written to {asked.output}", file=sys.stderr)
    return int(any(wrong.values()))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog=COMMAND, description=__doc__)
    parser.add_argument("--cohorts", type=_whole_number, default=5000, help="cohorts of each scenario (%(default)s)")
    parser.add_argument("--size", type=_whole_number, default=300, help="operations of a cohort (%(default)s)")
    parser.add_argument("--seed", type=int, default=20_240_601, help="the same seed, the same table (%(default)s)")
    parser.add_argument("--workers", type=_whole_number, default=os.cpu_count() or 1, help="processes (%(default)s)")
    parser.add_argument("--scenario", action="append", choices=SCENARIOS, help="only this one; may be repeated")
    parser.add_argument("--output", type=Path, default=Path("build/simulation"), help="folder (%(default)s)")
    return parser


def _whole_number(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError(f"{text} is not above 0")
    return number


def _tell(scenario: str, done: int, of: int) -> None:
    end = "\r" if sys.stderr.isatty() and done < of else "\n"
    if end == "\r" or done == of or done % 1000 == 0:
        print(f"{scenario}: {done} of {of} cohorts", end=end, file=sys.stderr, flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
