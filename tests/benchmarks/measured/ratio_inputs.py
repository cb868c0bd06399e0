"""Draws treated sides with all that the default ratio model asks for, for its benchmark and the yardsticks alike.

    python -m tests.benchmarks.measured.ratio_inputs FOLDER ROWS

Into the folder: ``sides.parquet``, as a cohort has them, some values missing; ``arrays.npz``, the outcome, the patient
and the coded columns of the sides that lack nothing; ``gaps.parquet``, numbers alone (a level is 0 or 1), three of the
columns with every fifth value missing.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.design.matrix import design_of
from analysis.design.terms import Term
from analysis.reports.ratio.model_file import read_model
from tests.benchmarks.measured.stopwatch import Stopwatch

RATIOS, LOGIT_OF_RATIO = (1.2, 1.3, 1.4, 1.5, 1.6), 0.12  # per 0.1
SIDES_A_PATIENT = 1.2
LACKING, GAPS = 0.02, 0.2
INCOMPLETE = ("age_years", "cumulative_mm", "density_hu")


def main() -> None:
    folder, rows = Path(sys.argv[1]), int(sys.argv[2])
    watch = Stopwatch()
    sides = drawn(rows)
    sides.to_parquet(folder / "sides.parquet")
    design = design_of(sides, terms(sides), needed=["stone_free", "study_number"])
    kept = sides.iloc[design.rows]
    y = kept["stone_free"].to_numpy(dtype=np.float64)
    np.savez(folder / "arrays.npz", y=y, x=design.x, patient=np.unique(kept["study_number"], return_inverse=True)[1])
    gaps(sides).to_parquet(folder / "gaps.parquet")
    watch.say(rows=len(y), columns=design.x.shape[1])


def terms(sides: pd.DataFrame) -> tuple[Term, ...]:
    """Of the model that comes with the program; words are taken by levels."""
    return tuple(
        replace(term, shape="levels") if isinstance(sides[term.column].dtype, pd.CategoricalDtype) else term
        for term in read_model().terms
    )


def drawn(rows: int) -> pd.DataFrame:
    """One row a treated side; what is missing is so by chance."""
    rng = np.random.default_rng(1)
    patients = max(1, int(rows / SIDES_A_PATIENT))
    patient = rng.integers(patients, size=rows)

    def words(**chance: float) -> pd.Series:
        made = pd.Categorical.from_codes(rng.choice(len(chance), rows, p=[*chance.values()]), list(chance))
        return pd.Series(made)

    sides = pd.DataFrame(
        {
            "study_number": [f"P{number:07}" for number in patient],
            "sheath_to_scope_ratio": rng.choice(RATIOS, rows),
            "age_years": rng.integers(18, 90, rows).astype(np.float64),
            "sex": words(female=0.4, male=0.57, other=0.03),
            "cumulative_mm": np.round(rng.gamma(4.0, 4.0, rows), 1),
            "density_hu": np.round(rng.normal(950, 250, rows).clip(100, 1900)),
            "any_lower_pole": words(no=0.6, yes=0.4),
            "hydronephrosis": words(none=0.5, mild=0.3, moderate=0.15, severe=0.05),
            "pre_stented": words(no=0.7, yes=0.3),
            "positive_culture_before": words(no=0.8, yes=0.2),
            "suction": words(none=0.7, through_sheath=0.3),
            "operator_prior_cases": rng.integers(0, 400, rows).astype(np.float64),
            "year": rng.integers(2016, 2026, rows),
        }
    )
    of_patient = rng.normal(0, 0.7, patients)[patient]
    logit = (
        1.2
        + LOGIT_OF_RATIO * (sides["sheath_to_scope_ratio"] - 1.4) / 0.1
        - 0.06 * (sides["cumulative_mm"] - 16)
        - 0.5 * (sides["any_lower_pole"] == "yes")
        + 0.4 * (sides["suction"] == "through_sheath")
        + of_patient
    )
    sides["stone_free"] = (rng.random(rows) < 1 / (1 + np.exp(-logit))).astype(np.float64)
    for column in ("density_hu", "hydronephrosis", "positive_culture_before", "operator_prior_cases"):
        sides[column] = sides[column].mask(rng.random(rows) < LACKING)
    return sides


def gaps(sides: pd.DataFrame) -> pd.DataFrame:
    """The sides that lacked nothing as numbers, and then holes in three columns; year from the first."""
    rng = np.random.default_rng(2)
    whole = sides.dropna().drop(columns="study_number").reset_index(drop=True)
    made = pd.get_dummies(whole, drop_first=True, dtype=np.float64).astype(np.float64)
    made["year"] -= made["year"].min()
    for column in INCOMPLETE:
        made[column] = made[column].mask(rng.random(len(made)) < GAPS)
    return made


if __name__ == "__main__":
    main()
