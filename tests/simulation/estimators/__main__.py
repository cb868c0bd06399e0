"""Bias and coverage of every estimator where the truth is known: `python -m tests.simulation.estimators --help`."""

from __future__ import annotations

import argparse
import importlib
import pkgutil
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pandas as pd

import tests.simulation.estimators as here
from tests.simulation.estimators.runner import Scenario, run, strays


def scenarios() -> dict[str, Scenario]:
    """All scenarios of this folder: what its files hold under SCENARIOS."""
    found: dict[str, Scenario] = {}
    for file in sorted(pkgutil.iter_modules(here.__path__), key=lambda each: each.name):
        if not file.name.startswith(("test_", "__")):
            module = importlib.import_module(f"{here.__name__}.{file.name}")
            found.update({each.name: each for each in getattr(module, "SCENARIOS", ())})
    return found


def _one(name: str, replicates: int, seed: int) -> pd.DataFrame:
    return run(scenarios()[name], replicates, seed)


def main(arguments: list[str] | None = None) -> int:
    """Run, print and write the table; 1 when an estimator strays by more than three simulation errors."""
    known = scenarios()
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--replicates", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=20_240_601)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--scenario", action="append", choices=list(known), help="only this one; may be repeated")
    parser.add_argument("--output", type=Path, default=Path("build/simulation/estimators.csv"))
    asked = parser.parse_args(arguments)
    began, tables = time.monotonic(), []
    with ProcessPoolExecutor(asked.workers) as pool:
        futures = {name: pool.submit(_one, name, asked.replicates, asked.seed) for name in asked.scenario or known}
        for name, future in futures.items():
            tables.append(future.result())
            print(f"{name}: {time.monotonic() - began:.0f} s", file=sys.stderr)
    table = pd.concat(tables, ignore_index=True)
    asked.output.parent.mkdir(parents=True, exist_ok=True)
    table.to_csv(asked.output, index=False, float_format="%.6f", lineterminator="\n")
    print(table.to_string(index=False, float_format=lambda value: f"{value:.4f}"))
    found = strays(table)
    print("\n".join(found) or "Every estimator lies within three simulation errors of its truth.")
    return int(bool(found))


if __name__ == "__main__":
    raise SystemExit(main())
