"""Rows of rates by multiple imputation of the size class of the largest fragment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.clustered import intervals_from_counts
from analysis.estimators.ordered_imputation import FULLY_SEEN, NOTHING_SEEN, impute_classes
from analysis.estimators.pooled_proportion import AT_THE_MEAN, ON_LOGIT, PooledProportion, pooled_proportion
from analysis.outcomes.size_classes import CLASS_THRESHOLDS, SIZE_CLASSES, possible_classes
from analysis.reports.request.grouping import BoolArray, Grouping, IntArray
from analysis.reports.stone_free.modelled import with_records
from analysis.reports.stone_free.packed import Packed
from analysis.reports.stone_free.unscanned_covariates import MISSING_IN_WORDS, Covariates
from analysis.reports.stone_free.unscanned_units import eligible_units, place_of

FloatArray = npt.NDArray[np.float64]
SEEN = {"adequate": FULLY_SEEN, "inadequate": 0, "none": NOTHING_SEEN}
PLACE = {one.code: at for at, one in enumerate(CLASS_THRESHOLDS)}


@dataclass(frozen=True, eq=False)
class ImputedClasses:
    """classes: shape (imputations, units), the largest class of the parts of each eligible unit (0 for others); None,
    with the reason, where there is no model. modelled, drawn: parts that the model learnt from, parts whose class was
    drawn. parts: all of them.
    """

    classes: npt.NDArray[np.int8] | None
    imputations: int
    modelled: int
    drawn: int
    parts: int
    columns: tuple[str, ...]
    spoken: tuple[str, ...]
    seed: int
    reason: str | None

    def as_dict(self) -> dict[str, Any]:
        """The model, ready for JSON."""
        return {
            "model": "ordered logistic, of the size class, over those with a study adequate at every size; fitted "
            "anew to a resample of patients for each imputation",
            "classes": list(SIZE_CLASSES),
            "covariates": list(self.spoken),
            "columns": list(self.columns),
            "missing": MISSING_IN_WORDS,
            "imperfect_studies": "what a study that is not adequate at every size shows keeps its own size; how often "
            "such studies overlook what is there is estimated from how much they show, and what one did not show is "
            "less likely there. What it showed is no covariate: nobody whose class is known without it has it",
            "imputations": self.imputations,
            "seed": self.seed,
            "modelled": self.modelled,
            "drawn": self.drawn,
            "pooled": f"{ON_LOGIT}, Barnard-Rubin degrees of freedom; {AT_THE_MEAN} if any has none or all stone-free",
            "reason": self.reason,
        }


def imputed_classes(
    units: Packed, parts: pd.DataFrame, covariates: Covariates, *, imputations: int, seed: int
) -> ImputedClasses:
    """Impute the class of every part and take the largest of each unit.

    parts: from `unit_parts`. covariates: one row a row of `possible_classes(parts)`, in its order.
    """
    rows = possible_classes(parts)
    place = place_of(units, rows["unit_id"])
    kept = eligible_units(units)[place]
    rows, place = rows[kept], place[kept]
    made = impute_classes(
        lowest=rows["lowest"],
        highest=rows["highest"],
        shown_highest=rows["shown_highest"],
        seen=rows["seen"].map(SEEN).to_numpy(dtype=np.int64),
        left_out=rows["settled_without"],
        cluster=rows["patient_id"],
        covariates=covariates.matrix[kept],
        names=covariates.names,
        classes=len(SIZE_CLASSES),
        imputations=imputations,
        seed=seed,
    )
    largest = None
    if made.classes is not None:
        largest = np.zeros((imputations, units.units), dtype=np.int8)
        for drawn, of_units in zip(made.classes, largest, strict=True):
            np.maximum.at(of_units, place, drawn)
    return ImputedClasses(
        largest,
        imputations,
        made.modelled,
        made.drawn,
        len(rows),
        made.covariates,
        covariates.spoken,
        seed,
        made.reason,
    )


def imputed_rows(
    base: pd.DataFrame, found: ImputedClasses, units: Packed, grouping: Grouping, level: float
) -> pd.DataFrame:
    """The rows of a bound, whose n is the eligible, with rate and limits of the pooled imputations.

    stone_free: the mean number over imputations. low, high: sides as if independent; low_clustered, high_clustered:
    each imputation's variance times its design effect, degrees of freedom from the patients. reason: what there is
    to say of a row, such as that it is Wilson's at the mean.
    """
    made = base.assign(unscanned="imputed")
    if found.classes is None:
        none = dict.fromkeys(("rate", "low", "high", "low_clustered", "high_clustered", "stone_free"))
        return with_records(made, [{**none, "n_effective": None, "reason": found.reason}] * len(base))
    inside = eligible_units(units) & (grouping.codes >= 0)
    counts = _counts(found.classes[:, inside], units.patient[inside], grouping.codes[inside], len(grouping), level)
    records = []
    for group, code, n, patients in base[["group", "threshold", "n", "patients"]].itertuples(index=False, name=None):
        free, deff = (values[:, PLACE[code], group].tolist() for values in (counts.free, counts.design_effect))
        # Draws of one group are pooled alike at every threshold, or rates might not rise with it.
        mean = bool(((counts.free[:, :, group] == 0) | (counts.free[:, :, group] == n)).any())
        plain = pooled_proportion(free, n, at_the_mean=mean, level=level)
        wide = pooled_proportion(free, n, design_effect=deff, complete_df=patients - 1.0, at_the_mean=mean, level=level)
        records.append(_record(plain, wide if patients >= 2 else None, float(np.mean(free))))
    return with_records(made, records)


def _record(plain: PooledProportion, wide: PooledProportion | None, free: float) -> dict[str, Any]:
    return {
        "stone_free": free,
        "rate": plain.estimate,
        "low": plain.low,
        "high": plain.high,
        "low_clustered": wide.low if wide else None,
        "high_clustered": wide.high if wide else None,
        "n_effective": None,
        "reason": plain.reason or (AT_THE_MEAN if plain.method == AT_THE_MEAN else None),
    }


@dataclass(frozen=True, eq=False)
class _Counts:
    """Shape (imputations, thresholds of the classes, groups)."""

    free: FloatArray
    design_effect: FloatArray


def _counts(classes: npt.NDArray[np.int8], patient: IntArray, group: IntArray, groups: int, level: float) -> _Counts:
    width = max(1, int(patient.max(initial=0)) + 1)
    pairs, pair = np.unique(group * width + patient, return_inverse=True)
    n = np.bincount(pair, minlength=len(pairs)).astype(np.float64)
    shape = (len(classes), len(CLASS_THRESHOLDS), groups)
    free, effect = np.zeros(shape), np.ones(shape)
    for at, drawn in enumerate(classes):
        for place in range(len(CLASS_THRESHOLDS)):
            mark: BoolArray = drawn <= place
            events = np.bincount(pair, weights=mark.astype(np.float64), minlength=len(pairs)).astype(np.float64)
            made = intervals_from_counts(events=events, n=n, group=pairs // width, groups=groups, level=level)
            free[at, place], effect[at, place] = made.events, np.nan_to_num(made.design_effect, nan=1.0)
    return _Counts(free, effect)
