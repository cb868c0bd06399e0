"""The tables a stone-free status is worked out from, and the check that they are what they should be.

Dates are calendar days (datetime64 of any unit). A date known only to the month or the year is an
interval, `on_low` to `on_high`, both inclusive; an exact date has both alike. Identifiers are whole
numbers; those that may be missing are Int64 or float. Columns beyond the declared ones are ignored.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields

import pandas as pd

from analysis.outcomes.input_columns import COLUMNS, KEYS, Column


class TablesError(ValueError):
    """Tables that cannot be judged; `problems` lists every fault as a sentence."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("The tables cannot be judged: " + " ".join(problems))
        self.problems = problems


@dataclass(frozen=True, kw_only=True)
class Tables:
    """Frozen frames of one snapshot; `input_columns.COLUMNS` declares every column.

    sides: one row per treated side. `stage` 0 is the index side of its course, 1 and on a planned stage,
        missing an unplanned retreatment or a side without a course.
    treatments: every treatment in which a stone was gone for, of any renal unit, here or elsewhere. `kind`
        is index (begins a course), planned, unplanned or auxiliary; `course_id` is the course it belongs to
        or, for auxiliary, follows.
    examinations: one row per reading of one renal unit; an examination without a reading of that unit
        has one row with `reading_id` missing. `after_operation`: on the day of an operation, done after it.
    fragments: one row per fragment, or group of like ones, in a reading. Sizes in millimetres, the longest
        diameter of one fragment: `low_mm` to `high_mm` inclusive, alike when measured; `high_mm` missing is
        open above, and `above` says that `low_mm` itself is excluded ("larger than 4").
    stones: the stones of each course. aims: which side aimed at which stone or left it on purpose.
    losses: a renal unit lost. deaths: a patient's death.
    as_of: nothing dated later is read.
    """

    sides: pd.DataFrame
    treatments: pd.DataFrame
    examinations: pd.DataFrame
    fragments: pd.DataFrame
    stones: pd.DataFrame
    aims: pd.DataFrame
    losses: pd.DataFrame
    deaths: pd.DataFrame
    as_of: dt.date


FRAMES = tuple(field.name for field in fields(Tables) if field.name != "as_of")


def check(tables: Tables) -> None:
    """Raise TablesError, with every fault found, unless the tables can be judged."""
    found = problems(tables)
    if found:
        raise TablesError(found)


def problems(tables: Tables) -> list[str]:
    """Every fault of the tables, a sentence each with frame, column and number of rows; empty when sound."""
    found: list[str] = []
    for name in FRAMES:
        frame: pd.DataFrame = getattr(tables, name)
        lacking = [column for column in COLUMNS[name] if column not in frame.columns]
        if lacking:
            found.append(f"{name} lacks the column(s) {', '.join(lacking)}.")
            continue
        for column, kind in COLUMNS[name].items():
            found += _column_problems(name, column, frame[column], kind)
        found += _repeated(name, frame)
        if {"on_low", "on_high"} <= set(COLUMNS[name]):
            found += _count(name, frame["on_low"] > frame["on_high"], "on_low is after on_high")
    if not found:
        found += _meaning_problems(tables)
    return found


def _column_problems(name: str, column: str, values: pd.Series, kind: Column) -> list[str]:
    found = []
    if not kind.nullable:
        found += _count(name, values.isna(), f"{column} is missing")
    if not len(values) or values.isna().all():
        return found
    if kind.holds in ("id", "number"):
        fits = pd.api.types.is_numeric_dtype(values)
    else:
        fits = kind.holds != "date" or pd.api.types.is_datetime64_any_dtype(values)
    if not fits:
        return [*found, f"{name}.{column} holds {values.dtype}, not {_SPOKEN[kind.holds]}."]
    if kind.holds == "flag":
        odd = ~values.dropna().isin([True, False])
        found += _count(name, odd, f"{column} is neither true nor false")
    if kind.words:
        odd = ~values.dropna().isin(kind.words)
        found += _count(name, odd, f"{column} is none of {', '.join(kind.words)}")
    return found


_SPOKEN = {"id": "whole numbers", "number": "numbers", "date": "dates (datetime64)", "flag": "", "word": ""}


def _repeated(name: str, frame: pd.DataFrame) -> list[str]:
    key = list(KEYS[name])
    if not key:
        return []
    return _count(name, frame[frame[key].notna().all(axis=1)].duplicated(key), f"{' and '.join(key)} is repeated")


def _meaning_problems(tables: Tables) -> list[str]:
    """Faults between columns, looked for only when each column is sound."""
    fragments, examinations, sides = tables.fragments, tables.examinations, tables.sides
    found = _count("fragments", fragments["high_mm"] < fragments["low_mm"], "high_mm is below low_mm")
    found += _count("fragments", (fragments["low_mm"] < 0) | (fragments["high_mm"] < 0), "a size is below 0")
    open_below = fragments["above"].astype("boolean").fillna(False).astype(bool)
    found += _count("fragments", open_below & fragments["low_mm"].isna(), "above is true without low_mm")
    strange = ~fragments["reading_id"].isin(examinations["reading_id"].dropna())
    found += _count("fragments", strange, "reading_id is no reading of examinations")
    found += _count("examinations", examinations["slice_mm"] <= 0, "slice_mm is 0 or less")
    same = ["examination_id", "patient_id", "on_low", "on_high", "modality", "slice_mm"]
    differing = examinations[same].drop_duplicates().duplicated("examination_id")
    found += _count("examinations", differing, "rows of one examination differ in patient, date, modality or slice")
    index = sides[(sides["stage"] == 0).fillna(False).astype(bool)]
    found += _count("sides", index["course_id"].isna(), "stage is 0 without a course_id")
    found += _count("sides", index["course_id"].dropna().duplicated(), "a course has two sides of stage 0")
    return found


def _count(name: str, wrong: pd.Series, what: str) -> list[str]:
    rows = int(wrong.fillna(False).astype(bool).sum())
    return [f"{name}: {what} in {rows} row{'s' if rows > 1 else ''}."] if rows else []
