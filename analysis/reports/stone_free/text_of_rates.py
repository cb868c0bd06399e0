"""The tables of rates in words and rounded numbers."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence

import pandas as pd

from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.modelled import MODELLED
from analysis.reports.stone_free.text_of_modelled import modelled_cells, models_text
from analysis.tables.plain_text import aligned, paragraph
from analysis.tables.rounding import NOTHING, percent, percent_range
from analysis.tables.small_numbers import too_few, withheld

Row = Mapping[Hashable, object]
INTERVALS = {"wilson": "Wilson", "exact": "exact (Clopper-Pearson)", "mid-p": "mid-p", "jeffreys": "Jeffreys"}
HEADS = {
    "weighted": "Weighted: those adequately studied stand for all that are eligible",
    "imputed": "Imputed: of all that are eligible, the size of what is left drawn where it is not known",
}
BOUNDS = {"lower": "lower bound", "upper": "upper bound"}


def rates_text(answer: Answer) -> str:
    """The rates of those with a known status, then the bounds, and what the columns mean."""
    if answer.rows.empty:
        return "Nobody is inside the denominator, so there is no rate."
    request = answer.request
    asked = [mode for mode in request.unscanned if mode in BOUNDS]
    parts = []
    if "complete" in request.unscanned:
        parts.append(_complete(answer))
    if asked:
        parts.append(_bounds(answer, asked))
    for mode in request.unscanned:
        if mode in MODELLED:
            rows = answer.rows[answer.rows["unscanned"] == mode]
            header, body = modelled_cells(rows, mode, request.small_number)
            parts.append("\n".join([HEADS[mode], _table(answer, rows, header, body), models_text(answer, mode, rows)]))
    notes = []
    if set(request.unscanned) - set(MODELLED):
        notes = [
            f"Intervals at {100 * request.level:g} %: {INTERVALS[request.interval]}; 'by patient' is Wilson's at the "
            "effective size, which allows for several from one patient."
        ]
    few = answer.rows["n"].between(1, request.small_number - 1).any()
    if few or answer.rows["n_adequate"].between(1, request.small_number - 1).any():
        notes.append(f"{withheld(request.small_number)}: no rate is shown from fewer than {request.small_number}.")
    return "\n\n".join([*parts, *([paragraph(" ".join(notes), indent="  ")] if notes else [])])


def _complete(answer: Answer) -> str:
    small = answer.request.small_number
    rows = answer.rows[answer.rows["unscanned"] == "complete"]
    leans = bool((rows["failed_inadequate"] > 0).any())
    adequate = ["adequate", "rate", "interval"] if leans else []
    header = ["eligible", "unknown", *adequate, "all known", "rate", "interval", "by patient"]
    header += ["weak"] if leans else []
    body = [
        [
            f"{row['eligible']:,}",
            f"{row['unknown']:,}",
            *(_rate(row, "free_adequate", "n_adequate", "_adequate", small) if leans else []),
            *_rate(row, "stone_free", "n", "", small),
            _clustered(row, small),
            *([f"{row['failed_inadequate']:,}"] if leans else []),
        ]
        for row in rows.to_dict("records")
    ]
    table = _table(answer, rows, header, body)
    if not leans:
        return table
    said = (
        "Read 'adequate' first: a study not adequate at a threshold can show that a fragment is there and never that "
        "none is, so 'all known' leans low. 'Adequate' counts those whose study is adequate, with those decided "
        "without a study; 'weak' is the number that failed on an inadequate study alone. It leans low too, by less: "
        "who was treated again or abandoned always counts, and of the others only who was scanned well enough."
    )
    return "\n\n".join([table, paragraph(said, indent="  ")])


def _bounds(answer: Answer, asked: Sequence[str]) -> str:
    """What the unknown could make of the rate: all failed, or all stone-free."""
    small = answer.request.small_number
    parts = [answer.rows[answer.rows["unscanned"] == mode] for mode in asked]
    header: list[str] = []
    for mode in asked:
        header += [BOUNDS[mode], "rate", "interval", "by patient"]
    body = []
    for each in zip(*(part.to_dict("records") for part in parts), strict=True):
        line: list[str] = []
        for row in each:
            line += [*_rate(row, "stone_free", "n", "", small), _clustered(row, small)]
        body.append(line)
    return "Of all that are eligible, the unknown counted as failed (lower) or as stone-free (upper)\n" + _table(
        answer, parts[0], header, body
    )


def _table(answer: Answer, rows: pd.DataFrame, header: list[str], body: list[list[str]]) -> str:
    words = {one.code: one.in_words() for one in answer.units.thresholds}
    lines = [[*answer.grouping.columns, "fragments", *header]]
    before: tuple[object, ...] = ()
    for group, code, cells in zip(rows["group"], rows["threshold"], body, strict=True):
        label = answer.grouping.labels[group]
        lines.append([*(["" if label == before else str(value) for value in label]), words[code], *cells])
        before = label
    return aligned(lines, left=len(answer.grouping.columns) + 1)


def _rate(row: Row, events: str, n: str, ending: str, small: int) -> list[str]:
    counts = f"{row[events]:,} of {row[n]:,}"
    if too_few(_number(row[n]), small):
        return [counts, withheld(small), NOTHING]
    rate, low, high = (_number(row[f"{name}{ending}"]) for name in ("rate", "low", "high"))
    return [counts, percent(rate), percent_range(low, high)]


def _clustered(row: Row, small: int) -> str:
    if too_few(_number(row["n"]), small):
        return NOTHING
    return percent_range(_number(row["low_clustered"]), _number(row["high_clustered"]))


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) and not pd.isna(value) else float("nan")
