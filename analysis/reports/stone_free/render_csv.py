"""The answer as CSV: one row a row, every number unrounded; comparisons as a second table after a blank line."""

from __future__ import annotations

import csv
import io
import math
from typing import Any

from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.comparisons import Comparison
from analysis.reports.stone_free.modelled_rows import EXTRA
from analysis.reports.stone_free.packed import SEEN_BY
from analysis.reports.stone_free.render_json import ROW_NUMBERS, comparison_groups
from analysis.tables.spreadsheet_text import never_a_formula

COMPARED = (
    "column",
    "index",
    "comparator",
    "threshold_mm",
    "comparison",
    "unscanned",
    "way",
    "measure",
    "stone_free",
    "n",
    "estimate",
    "low",
    "high",
    "low_bootstrap",
    "high_bootstrap",
    "method",
    "reason",
    "statistic",
    "df",
    "p",
    "strata_left_out",
)


def as_csv(answer: Answer) -> str:
    """The rows of rates and, if a comparison was asked for, a blank line and the table of effects.

    Every row of rates repeats what makes it comparable: imaging, window, unit, sessions, adequacy table, as-of
    date, interval, level and the snapshot's hash.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    definition = answer.request.definition
    constant = {
        "imaging": definition.imaging,
        "window_first_day": definition.window[0],
        "window_last_day": definition.window[1],
        "unit": definition.unit,
        "sessions": definition.sessions,
        "adequacy": definition.adequacy.name,
        "interval": answer.request.interval,
        "level": answer.request.level,
        "as_of": answer.source.as_of.isoformat(),
        "snapshot": answer.source.snapshot["content_hash"],
    }
    fixed = ("threshold_mm", "comparison", "unscanned", *ROW_NUMBERS)
    seen = tuple(f"modality_{name}" for name in SEEN_BY)
    # Columns of a model's rows stand at the end of the numbers, and only when a model was asked for.
    seen += tuple(name for name in EXTRA if name in answer.rows.columns)
    writer.writerow([*answer.grouping.columns, *fixed, *seen, *constant])
    for row in answer.rows.to_dict("records"):
        label = answer.grouping.labels[row["group"]]
        writer.writerow([*map(_cell, (*label, *(row[name] for name in (*fixed, *seen)), *constant.values()))])
    if answer.comparisons:
        out.write("\n")
        writer.writerow(COMPARED)
        for one in answer.comparisons:
            writer.writerows([_cell(record.get(name)) for name in COMPARED] for record in _records(one))
    return out.getvalue()


def _records(one: Comparison) -> list[dict[str, Any]]:
    about = {
        "column": one.column,
        "index": one.index,
        "comparator": one.comparator,
        "threshold_mm": one.threshold.threshold_mm,
        "comparison": one.threshold.comparison,
        "unscanned": one.unscanned,
        "strata_left_out": "; ".join(one.strata_left_out),
    }
    made = []
    for group, told in comparison_groups(one).items():
        counts = {"stone_free": told["stone_free"], "n": told["n"]}
        made.append({**about, "way": "crude", "measure": f"rate of {group}", "estimate": told["rate"], **counts})
        if told["rate_standardised"] is not None:
            rate = told["rate_standardised"]
            made.append({**about, "way": "standardised", "measure": f"rate of {group}", "estimate": rate})
    made += [
        {**about, "way": way, "measure": measure, **vars(effect)}
        for way, effects in one.effects.items()
        for measure, effect in effects.items()
    ]
    test = one.homogeneity
    if test is not None:
        tested = {"statistic": test.statistic, "df": test.df, "p": test.p, "method": test.test, "reason": test.reason}
        made.append({**about, "way": "homogeneity", "measure": "odds_ratio", **tested})
    return made


def _cell(value: Any) -> str:
    """Numbers in full, whole millimetres without a point; a text that a spreadsheet would run is kept a text."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, float):
        return f"{value:.0f}" if value.is_integer() and abs(value) < 1e15 else repr(float(value))
    return never_a_formula(value) if isinstance(value, str) else str(value)
