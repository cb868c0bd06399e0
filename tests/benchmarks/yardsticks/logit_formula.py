"""Yardstick: the whole model, from the sides, by a formula, as an analyst would write it.

python logit_formula.py FOLDER_OF_INPUTS
"""

import json
import sys
import time
from pathlib import Path

import pandas as pd
import statsmodels.formula.api as smf

TERMS = (
    "I(sheath_to_scope_ratio / 0.1)",
    "I(age_years / 10)",
    "C(sex)",
    "I(cumulative_mm / 5)",
    "I(density_hu / 100)",
    "C(any_lower_pole)",
    "C(hydronephrosis)",
    "C(pre_stented)",
    "C(positive_culture_before)",
    "C(suction)",
    "I(operator_prior_cases / 50)",
    "year",
)
FORMULA = f"stone_free ~ {' + '.join(TERMS)}"


def main() -> None:
    sides = pd.read_parquet(Path(sys.argv[1]) / "sides.parquet")
    started = time.perf_counter()
    model = smf.logit(FORMULA, sides)
    patient = pd.factorize(sides["study_number"])[0][model.data.row_labels]
    found = model.fit(disp=0, cov_type="cluster", cov_kwds={"groups": patient})
    coefficients, errors = found.params, found.bse
    seconds = time.perf_counter() - started
    # Words come first in its columns; told in the order of the terms.
    order = ["Intercept", *(name for term in TERMS for name in coefficients.index if name.startswith(term))]
    numbers = {f"b{at}": float(coefficients[name]) for at, name in enumerate(order)}
    print(json.dumps({"seconds": seconds, **numbers, "error": float(errors[order[1]])}))


if __name__ == "__main__":
    main()
