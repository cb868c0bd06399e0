"""How far the rule, the first and the second grader agree on the same complications."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analysis.estimators.agreement import METHODS, Weights, kappa
from analysis.outcomes.complications.therapy_levels import GRADES, number_of
from analysis.reports.complications.gathered import Gathered
from analysis.reports.complications.units import Units
from analysis.reports.sections.report import Column, Section

PAIRS = (
    ("rule", "first grader", "proposal", "first"),
    ("rule", "second grader", "proposal", "second"),
    ("first grader", "second grader", "first", "second"),
)
WEIGHTS: tuple[Weights, ...] = ("linear", "quadratic")


def agreement_sections(gathered: Gathered, units: Units, level: float) -> list[Section]:
    """Two sections: `agreement` (weighted kappa) and `agreement_table` (who graded what), whatever the window."""
    own = set(units.frame["patient_id"]) if units.name == "patient" else set()
    inside = gathered.events["operation_id"].isin(units.frame["operation_id"]) | gathered.events["patient_id"].isin(own)
    events = gathered.events[inside]
    rows: list[dict[str, Any]] = []
    cells: list[dict[str, Any]] = []
    for one, other, column, against in PAIRS:
        table = _table(events, column, against)
        pair = f"{one} and {other}"
        either = events[column].notna() | events[against].notna()
        unknown = int((either & ~(events[column].notna() & events[against].notna())).sum())
        for weights in WEIGHTS:
            found = kappa(table, weights=weights, level=level)
            rows.append(
                {
                    "group": {},
                    "pair": pair,
                    "weights": weights,
                    "method": METHODS[weights],
                    "n": found.n,
                    "unknown": unknown,
                    "observed": found.observed,
                    "estimate": found.estimate,
                    "low": found.low,
                    "high": found.high,
                    "reason": found.reason,
                }
            )
        if table.any():
            for at, grade in enumerate(GRADES):
                counts = {name: int(table[at, place]) for place, name in enumerate(GRADES)}
                cells.append(
                    {"group": {}, "pair": pair, "grade": grade, "n": None, "graded": int(table[at].sum()), **counts}
                )
    return [_kappas(rows), _cells(cells)]


def _table(events: pd.DataFrame, column: str, against: str) -> np.ndarray[Any, np.dtype[np.int64]]:
    both = events[events[column].notna() & events[against].notna()]
    table = np.zeros((len(GRADES), len(GRADES)), dtype=np.int64)
    places = (number_of(grade) - 1 for grade in (*both[column], *both[against]))
    found = np.fromiter(places, dtype=np.int64, count=2 * len(both)).reshape(2, -1)
    np.add.at(table, (found[0], found[1]), 1)
    return table


def _kappas(rows: list[dict[str, Any]]) -> Section:
    reasons = dict.fromkeys(f"{row['pair']}: {row['reason']}." for row in rows if row["reason"])
    return Section(
        name="agreement",
        title="Agreement on the grade, of complications that both graded",
        rows=rows,
        columns=(
            Column("who", "pair"),
            Column("weights", "weights"),
            Column("n", "n", "count"),
            Column("alike", "observed", "percent"),
            Column("kappa", "estimate", "ratio"),
            Column("interval", "low high", "ratio_range"),
            Column("one only", "unknown", "count", free=True),
        ),
        definition={
            "id": "weighted-kappa",
            "source": "Cohen J, Psychol Bull 1968;70:213-220; standard error Fleiss JL, Cohen J, Everitt BS, Psychol "
            "Bull 1969;72:323-327",
            "categories": list(GRADES),
        },
        notes=(
            *reasons,
            "Linear weights count a disagreement by the steps between two grades, quadratic by their square. The "
            "interval takes complications as independent. What the rule cannot grade is in 'one only'; people may have "
            "seen the rule's proposal.",
        ),
    )


def _cells(cells: list[dict[str, Any]]) -> Section:
    return Section(
        name="agreement_table",
        title="Who graded what: the first named in rows, the second in columns",
        rows=cells,
        columns=(
            Column("who", "pair"),
            Column("grade", "grade"),
            *(Column(grade, grade, "count") for grade in GRADES),
        ),
    )
