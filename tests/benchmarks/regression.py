"""The default ratio model, its bootstrap and its imputations, against the general library's, with the same numbers."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from tests.benchmarks.pairs import Measured, in_turn, measure, ours, yardstick
from tests.benchmarks.results import Line

OF_FORMULA, OF_FORMULA_REFITS, OF_LIBRARY_IMPUTATIONS = 0.5, 0.05, 0.25
WITHIN = 1e-8
"""How far the same estimate may differ, as a share of it or of 1."""
MISSING_INFORMATION = 0.25
"""Of a coefficient of a column that lacks a fifth of its values, a little more than that."""
SEED = 1


def regression(
    folder: Path,
    *,
    rows: int = 100_000,
    fewer: int = 10_000,
    replicates: int = 1_000,
    refits: int = 50,
    imputations: int = 20,
    cycles: int = 10,
    pairs: int = 5,
) -> list[Line]:
    """All in one thread but for the line that says so: second threads of linear algebra wait for each other on a busy
    machine, and the general library, which leaves them on, would lose by that alone.

    refits: resamples that the yardsticks fit, at most the 50 that ours draws from one stream of random numbers.
    Raises ValueError when a coefficient is not the yardstick's: a time says something of the same work only.
    """
    with tempfile.TemporaryDirectory(dir=folder) as many, tempfile.TemporaryDirectory(dir=folder) as few:
        measure(ours("ratio_inputs", many, rows))
        measure(ours("ratio_inputs", few, fewer))
        resampled, refitted = ("ratio_bootstrap", few, replicates, SEED, refits), (refits, replicates, SEED)
        found = in_turn(
            {
                "model": lambda: measure(ours("ratio_model", many)),
                "arrays": lambda: _one_thread(yardstick("logit_arrays", many)),
                "formula": lambda: _one_thread(yardstick("logit_formula", many)),
                "bootstrap": lambda: measure(ours(*resampled, 1)),
                "on all cores": lambda: measure(ours(*resampled, 0)),
                "array refits": lambda: _one_thread(yardstick("logit_refits", few, "arrays", *refitted)),
                "formula refits": lambda: _one_thread(yardstick("logit_refits", few, "formula", *refitted)),
                "imputed": lambda: measure(ours("ratio_imputed", few, imputations, cycles)),
                "library imputed": lambda: _one_thread(yardstick("chained_imputations", few, imputations, cycles)),
            },
            pairs,
        )
    off = [
        max(same_numbers(found["model"], found[other], "b") for other in ("arrays", "formula")),
        max(
            same_numbers(found["bootstrap"], found[other], "d")
            for other in ("on all cores", "array refits", "formula refits")
        ),
    ]
    near = errors_apart(found["imputed"], found["library imputed"], imputations)
    columns = int(found["model"][0].told["columns"])
    model = f"ratio model, {rows:,} sides, {columns} columns"
    bootstrap = f"{replicates:,} resamples of patients, {fewer:,} sides"
    mice = f"{imputations} imputations, {cycles} cycles, {fewer:,} sides"
    same, drawn = f"coefficients within {off[0]:.0e}", f"the same draws within {off[1]:.0e}"
    scaled = f"yardstick {refits} run, scaled; {drawn}"
    return [
        Line(f"{model}: to a formula", found["model"], found["formula"], OF_FORMULA, note=same),
        Line(f"{model}: to coded arrays", found["model"], found["arrays"], note="ours codes them too"),
        Line(f"{bootstrap}: to a formula", found["bootstrap"], found["formula refits"], OF_FORMULA_REFITS, note=scaled),
        Line(f"{bootstrap}: to coded arrays", found["bootstrap"], found["array refits"], note=scaled),
        Line(f"{bootstrap}: all cores to one", found["on all cores"], found["bootstrap"], note="the same numbers"),
        Line(
            f"{mice}, three columns",
            found["imputed"],
            found["library imputed"],
            OF_LIBRARY_IMPUTATIONS,
            note=f"with the fits; estimates within {near:.2f} standard errors",
        ),
    ]


def same_numbers(runs: list[Measured], others: list[Measured], start: str) -> float:
    """The furthest that numbers named `start` and a count are apart, as a share of 1 or of the number.

    Raises ValueError when that is more than WITHIN, or when one has numbers that the other lacks.
    """
    one, other = (_numbers(told[0], start) for told in (runs, others))
    if not one or len(one) != len(other):
        raise ValueError(f"There are {len(one)} numbers here and {len(other)} there: not the same work.")
    off = _largest(abs(a - b) / max(1.0, abs(a)) for a, b in zip(one, other, strict=True))
    if not off <= WITHIN:
        raise ValueError(f"The numbers are {off:.1e} apart, more than {WITHIN:g}: not the same work.")
    return off


def errors_apart(runs: list[Measured], others: list[Measured], imputations: int) -> float:
    """The furthest that pooled coefficients are apart, in standard errors.

    Their draws are not the same: each has a simulation error of sqrt(f / m) standard errors with a fraction f of
    information missing and m imputations. Raises ValueError when they are further apart than three times the error of
    their difference, or when one has numbers that the other lacks.
    """
    one, errors, other = _numbers(runs[0], "b"), _numbers(runs[0], "e"), _numbers(others[0], "b")
    if not one or len(one) != len(other):
        raise ValueError(f"There are {len(one)} numbers here and {len(other)} there: not the same work.")
    off = _largest(abs(a - b) / error for a, b, error in zip(one, other, errors, strict=True))
    most = 3 * math.sqrt(2 * MISSING_INFORMATION / imputations)
    if not off <= most:
        raise ValueError(f"Pooled estimates are {off:.2f} standard errors apart, more than {most:.2f}.")
    return off


def _largest(values: Iterable[float]) -> float:
    """NaN when one is: `max` may pass over it."""
    held = list(values)
    return math.nan if any(map(math.isnan, held)) else max(held)


def _one_thread(command: Sequence[str]) -> Measured:
    return measure(["env", "OPENBLAS_NUM_THREADS=1", "OMP_NUM_THREADS=1", *command])


def _numbers(run: Measured, start: str) -> list[float]:
    found = []
    while (name := f"{start}{len(found)}") in run.told:
        found.append(run.told[name])
    return found
