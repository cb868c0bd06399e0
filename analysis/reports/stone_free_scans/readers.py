"""Agreement of readers: where an examination was read more than once, on free or not and on the largest fragment.

The examinations are those that were picked for the rates. Two readings of one examination are its first two; who read
first is by chance unless the two are named.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.agreement import Agreement, fleiss_kappa, kappa
from analysis.estimators.measurement_agreement import Form, intraclass_correlation, limits_of_agreement
from analysis.outcomes.seen import seen
from analysis.outcomes.thresholds import Threshold
from analysis.reports.sections.report import Column, Section
from analysis.reports.stone_free_scans.judgement import two_decimals
from analysis.reports.stone_free_scans.question import Question, modalities_of, seen_by_words

FREE, OPEN, RESIDUAL = 0, 1, 2
ANY_TWO = "first and second reading"

KAPPA = (
    Column("readers", "readers"),
    Column("threshold", "threshold_words"),
    Column("statistic", "statistic"),
    Column("n", "n", "count"),
    Column("agree", "observed", "percent"),
    Column("kappa", "estimate", "number", digits=2),
    Column("interval", "interval_words"),
    Column("not both decided", "unknown", "count"),
)
SIZES = (
    Column("readers", "readers"),
    Column("which", "which"),
    Column("n", "n", "count"),
    Column("difference mm", "estimate", "number", digits=2),
    Column("limits of agreement from", "lower", "number", digits=1),
    Column("to mm", "upper", "number", digits=1),
    Column("repeatability mm", "repeatability", "number", digits=1),
    Column("ICC", "icc", "number", digits=2),
    Column("interval", "interval_words"),
    Column("size not exact", "unknown", "count"),
)


def shown_at(looked: pd.DataFrame, threshold: Threshold) -> npt.NDArray[np.int64]:
    """What each reading shows at a threshold: FREE, OPEN (it settles neither) or RESIDUAL; columns of `seen.seen`."""
    low, high = looked["size_low"].to_numpy(), looked["size_high"].to_numpy()
    value = threshold.value_mm
    residual, free = (low >= value, high < value) if threshold.strict else (low > value, high <= value)
    says = looked["says"].to_numpy(dtype=bool)
    return np.where(residual, RESIDUAL, np.where(free & says, FREE, OPEN)).astype(np.int64)


def readings_of_picked(question: Question) -> pd.DataFrame:
    """Every reading of the picked studies, with what it saw and `turn`, its place among those of its examination."""
    statuses = question.own.statuses.drop_duplicates("unit_id")
    inside = statuses[statuses["status"].isin(["free", "failed", "unknown"])]
    pairs = [
        inside[[name, "renal_unit_id"]].dropna().set_axis(["examination_id", "renal_unit_id"], axis=1).astype("int64")
        for name in ("examination_id", "second_examination_id")
    ]
    wanted = pd.concat(pairs).drop_duplicates()
    readings = question.frames["readings"].merge(wanted, on=["examination_id", "renal_unit_id"])
    readings = readings.sort_values(["examination_id", "renal_unit_id", "reading_number", "reading_id"])
    readings = readings.reset_index(drop=True)
    looked = seen(readings, question.frames["fragments"])
    whose = ["examination_id", "renal_unit_id"]
    return readings.join(looked[["size_low", "size_high", "says"]]).assign(
        turn=readings.groupby(whose).cumcount(), times=readings.groupby(whose)["reading_id"].transform("size")
    )


def reader_sections(question: Question) -> list[Section]:
    """Kappa per threshold, then limits of agreement and intraclass correlation of the largest fragment."""
    readings = readings_of_picked(question)
    several = readings[readings["times"] > 1]
    first = several[several["turn"] == 0]
    blinded = several["blinded"].fillna(False)
    whole = len(readings[["examination_id", "renal_unit_id"]].drop_duplicates())
    definition = {
        "status": question.request.definition.as_dict(),
        "examinations": whole,
        "read_more_than_once": len(first),
        "modalities": modalities_of(first["modality"]),
    }
    notes = [
        f"Of {whole:,} picked examinations of a kidney {len(first):,} were read more than once: "
        f"{seen_by_words(modalities_of(first['modality']))}. Of their {len(several):,} readings {int(blinded.sum()):,} "
        "are recorded as blinded to the outcome."
    ]
    kappas = Section(
        name="reader_agreement",
        title="Readers: free or not",
        rows=[row for name, pair in _pairs(several) for row in _kappa_rows(question, name, pair)]
        + _fleiss_rows(question, several),
        columns=KAPPA,
        definition={
            **definition,
            "source": "Cohen 1960; Fleiss 1971; standard errors Fleiss, Cohen and Everitt 1969, jackknife for Fleiss",
        },
        notes=[*notes, "Not split by groups. Fleiss' kappa is for readers who change from scan to scan."],
    )
    sizes = Section(
        name="reader_sizes",
        title="Readers: the largest fragment",
        rows=[row for name, pair in _pairs(several) for row in _size_rows(question, name, pair)],
        columns=SIZES,
        definition={**definition, "source": "Bland and Altman, Lancet 1986; Shrout and Fleiss, Psychol Bull 1979"},
        notes=[
            "Difference: first less second reading, or as the two are named. Limits of agreement: between them lie "
            f"{100 * question.request.level:g} % of differences. None seen counts as 0 mm where 'all' is said. Sizes "
            "given as a range or not at all are left out."
        ],
    )
    return [kappas, sizes]


def _pairs(several: pd.DataFrame) -> Iterator[tuple[str, pd.DataFrame]]:
    """Readings two by two: the first two of all, then of each two named readers. Columns with endings _1 and _2."""
    whose = ["examination_id", "renal_unit_id"]
    first, second = (several[several["turn"] == turn] for turn in (0, 1))
    both = first.merge(second, on=whose, suffixes=("_1", "_2"))
    yield ANY_TWO, both
    named = several.dropna(subset=["reader"])
    every = named.merge(named, on=whose, suffixes=("_1", "_2"))
    every = every[(every["turn_1"] != every["turn_2"]) & (every["reader_1"] <= every["reader_2"])]
    every = every[(every["reader_1"] != every["reader_2"]) | (every["turn_1"] < every["turn_2"])]
    every = every.sort_values([*whose, "turn_1", "turn_2"]).drop_duplicates([*whose, "reader_1", "reader_2"])
    for (one, other), pair in every.groupby(["reader_1", "reader_2"], sort=True):
        yield (f"{one} twice" if one == other else f"{one} and {other}"), pair


def _half(pair: pd.DataFrame, ending: str) -> pd.DataFrame:
    return pair[[f"{name}{ending}" for name in ("size_low", "size_high", "says")]].set_axis(
        ["size_low", "size_high", "says"], axis=1
    )


def _kappa_rows(question: Question, name: str, pair: pd.DataFrame) -> list[dict[str, Any]]:
    rows = []
    for threshold in question.request.definition.thresholds:
        one, other = (shown_at(_half(pair, ending), threshold) for ending in ("_1", "_2"))
        decided = (one != OPEN) & (other != OPEN)
        table = [[int((decided & (one == a) & (other == b)).sum()) for b in (RESIDUAL, FREE)] for a in (RESIDUAL, FREE)]
        found = kappa(table, level=question.request.level)
        more = {"both_residual": table[0][0], "first_only": table[0][1], "second_only": table[1][0]}
        rows.append(_agreed(question, name, threshold, found, int((~decided).sum())) | more | {"neither": table[1][1]})
    return rows


def _fleiss_rows(question: Question, several: pd.DataFrame) -> list[dict[str, Any]]:
    """Readers taken as any: of two readings, and of three where there are."""
    rows = []
    for times, name in ((2, "any two"), (3, "any three")):
        chosen = several[(several["times"] >= times) & (several["turn"] < times)]
        if not len(chosen):
            continue
        for threshold in question.request.definition.thresholds:
            shown = pd.Series(shown_at(chosen, threshold), index=chosen.index)
            by = shown.groupby([chosen["examination_id"], chosen["renal_unit_id"]])
            decided = by.transform("min").ne(OPEN) & by.transform(lambda each: (each != OPEN).all())
            kept = (
                shown[decided]
                .eq(RESIDUAL)
                .groupby([chosen.loc[decided, "examination_id"], chosen.loc[decided, "renal_unit_id"]])
            )
            residual = kept.sum().to_numpy(dtype=np.int64)
            counts = np.stack([residual, times - residual], axis=1)
            found = fleiss_kappa(counts, level=question.request.level)
            rows.append(_agreed(question, name, threshold, found, by.ngroups - len(counts)))
    return rows


def _agreed(question: Question, name: str, threshold: Threshold, found: Agreement, unknown: int) -> dict[str, Any]:
    words = f"{threshold.comparison} {threshold.value_mm:g} mm" if threshold.value_mm else "0 mm"
    return {
        "group": {},
        "readers": name,
        "threshold_mm": threshold.value_mm,
        "comparison": threshold.comparison,
        "threshold_words": words,
        "statistic": found.method,
        "n": found.n,
        "unknown": unknown,
        "estimate": found.estimate,
        "low": found.low,
        "high": found.high,
        "interval_words": two_decimals(found.low, found.high, found.n, question.request.small_number),
        "observed": found.observed,
        "reason": found.reason,
    }


def _size_rows(question: Question, name: str, pair: pd.DataFrame) -> list[dict[str, Any]]:
    exact = pd.Series(True, index=pair.index)
    for ending in ("_1", "_2"):
        exact &= (pair[f"size_low{ending}"] == pair[f"size_high{ending}"]) & pair[f"says{ending}"].astype(bool)
    fragment = (pair["size_high_1"] > 0) & (pair["size_high_2"] > 0)
    level = question.request.level
    form: Form = "1,1" if name == ANY_TWO or name.endswith(" twice") else "2,1"
    rows = []
    for which, inside in (("all, none seen as 0 mm", pd.Series(True, index=pair.index)), ("both saw one", fragment)):
        one, other = (pair.loc[exact & inside, f"size_low{ending}"].to_numpy(np.float64) for ending in ("_1", "_2"))
        limits = limits_of_agreement(one, other, level=level)
        icc = intraclass_correlation(np.stack([one, other], axis=1), form=form, level=level)
        rows.append(
            {
                "group": {},
                "readers": name,
                "which": which,
                "n": limits.n,
                "unknown": int((inside & ~exact).sum()),
                "estimate": limits.bias,
                "low": limits.bias_low,
                "high": limits.bias_high,
                "standard_deviation": limits.standard_deviation,
                "lower": limits.lower,
                "lower_low": limits.lower_low,
                "lower_high": limits.lower_high,
                "upper": limits.upper,
                "upper_low": limits.upper_low,
                "upper_high": limits.upper_high,
                "within_deviation": limits.within_deviation,
                "repeatability": limits.repeatability,
                "icc": icc.estimate,
                "icc_low": icc.low,
                "icc_high": icc.high,
                "icc_form": icc.method,
                "interval_words": two_decimals(icc.low, icc.high, icc.n, question.request.small_number),
                "reason": limits.reason or icc.reason,
            }
        )
    return rows


def reader_cases(question: Question) -> pd.DataFrame:
    """The readings behind the agreement, one row each: examination, renal unit, reader, size range, shown at each."""
    readings = readings_of_picked(question)
    made = readings[readings["times"] > 1].reset_index(drop=True)
    columns = ["examination_id", "renal_unit_id", "reading_number", "reader", "modality", "finding"]
    shown = {
        f"at_{one.code}": np.array(["free", "open", "residual"])[shown_at(made, one)]
        for one in question.request.definition.thresholds
    }
    size = {"size_low_mm": made["size_low"], "size_high_mm": made["size_high"].replace(np.inf, np.nan)}
    return made[columns].assign(**size, **shown)
