"""What the data can carry, looked at before any model: distinct values, operators, overlap; and refusals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analysis.reports.ratio.effects import shown
from analysis.reports.ratio.exposure_values import MOST_SHOWN, distinct, same_value, support_column
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.overlap import (
    MUCH,
    Overlap,
    Parts,
    alone_by,
    apart,
    never_overlaps,
    overlap,
    parts_of,
)
from analysis.reports.ratio.rows import Rows
from registry.schema.errors import GravelbookError
from registry.schema.plurals import counted

FEWEST = 5
ALWAYS = ("sex", "pre_stented", "cumulative_mm", "operator", "year")


@dataclass(frozen=True, eq=False)
class Support:
    """column: whose values are looked at. values: those that occur among rows with outcome and exposure known; parts:
    which rows have each (quarters of a number with many values). overlaps: of every column looked at. cautions: plain
    sentences about what cannot be told apart.
    """

    column: str
    values: tuple[Any, ...]
    parts: Parts
    frame: pd.DataFrame
    overlaps: tuple[Overlap, ...]
    cautions: tuple[str, ...]


def support_of(model: Model, rows: Rows, frame: pd.DataFrame) -> Support:
    """Look at the support of a model. frame: rows with outcome and exposure known.

    Raises GravelbookError, in a plain sentence, when these rows cannot answer: none are there, the exposure has one
    value, or an adjuster (an operator above all) never occurs at two values.
    """
    column = support_column(model.exposure)
    if not len(frame):
        raise GravelbookError(f"{model.place}: {_nobody(rows)}")
    values = distinct(frame[column])
    if len(distinct(frame[model.exposure.column])) < 2:
        raise GravelbookError(
            f"{model.place}: {model.exposure.column} is {shown(distinct(frame[model.exposure.column])[0])} in all "
            f"{counted(len(frame), rows.unit)} with the outcome known, so that these data cannot say what goes with "
            "it. A comparison needs at least two values."
        )
    if model.fit == "likelihood":
        _refuse_lone_levels(model, rows, frame)
    parts = _parts(frame, column, values)
    adjusted = [one.term.column for one in model.adjusters]
    for name in adjusted:
        _refuse_apart(model, frame, name, column, parts)
    looked = [name for name in dict.fromkeys((*ALWAYS, *adjusted)) if name != column and name in frame.columns]
    overlaps = [one for name in looked for one in overlap(frame, name, parts)]
    cautions = _cautions(frame, column, parts, looked, overlaps)
    return Support(column, tuple(values), parts, frame, tuple(overlaps), tuple(cautions))


def refuse_contrast_apart(model: Model, support: Support, first: Any, second: Any) -> None:
    """Refuse to compare two values between which an adjuster does not overlap at all.

    Raises GravelbookError with the adjuster's name.
    """
    exposure = support.frame[model.exposure.column]
    pair = {value: same_value(exposure, value) for value in (first, second)}
    if not all(own.any() for own in pair.values()):  # a value between observed ones: its neighbours carry it
        return
    for one in model.adjusters:
        if apart(support.frame, one.term.column, pair):
            raise GravelbookError(
                f"{model.place}: {shown(first)} and {shown(second)} cannot be compared with {one.term.column} held "
                f"alike: {_without(support.frame, one.term.column, pair)}. Whatever a model printed would be its own "
                f"assumption. Compare other values, or leave {one.term.column} out and say that it was."
            )


def _refuse_lone_levels(model: Model, rows: Rows, frame: pd.DataFrame) -> None:
    """An effect of a category of one or two rows would come with an interval that says nothing of chance."""
    if model.exposure.shape != "levels":
        return
    many = frame[model.exposure.column].astype(object).value_counts()
    lone = {str(level): int(count) for level, count in many.items() if 0 < count < FEWEST}
    if lone:
        told = ", ".join(f"{level} ({count})" for level, count in lone.items())
        raise GravelbookError(
            f"{model.place}: fewer than {FEWEST} {rows.unit}s have {model.exposure.column} {told}, too few for an "
            "effect of their own: errors that allow for clusters would come out next to nothing. Leave them out with "
            '--rules, or use method = "exact" or "firth" under [fit].'
        )


def _nobody(rows: Rows) -> str:
    many = rows.frame["outcome_state"].value_counts()
    known = rows.frame[rows.frame["outcome_state"] == "known"]
    told = ", ".join(f"{state} {count:,}" for state, count in many.items() if count)
    exposed = known["exposure_state"].value_counts()
    lacking = ", ".join(f"{state} {count:,}" for state, count in exposed.items() if count)
    return (
        f"no {rows.unit} has both the outcome and the exposure known, so that there is nothing to answer from. Of the "
        f"cohort the outcome is: {told or 'nobody is in it'}; of those known the exposure is: {lacking or 'nobody'}."
    )


def _parts(frame: pd.DataFrame, column: str, values: Sequence[Any]) -> dict[Any, np.ndarray[Any, Any]]:
    if len(values) <= MOST_SHOWN:
        return parts_of(frame, column, values)
    numbers = frame[column].to_numpy(dtype=np.float64)
    cuts = np.unique(np.quantile(numbers, [0.25, 0.5, 0.75]))
    code = np.searchsorted(cuts, numbers, side="right")
    return {f"{numbers[code == at].min():.4g} to {numbers[code == at].max():.4g}": code == at for at in np.unique(code)}


def _refuse_apart(model: Model, frame: pd.DataFrame, name: str, column: str, parts: Parts) -> None:
    if name not in frame.columns:
        return
    coded = isinstance(frame[name].dtype, pd.CategoricalDtype) or name == "operator"
    if coded and alone_by(frame, name, column):
        used = frame[[name, column]].dropna().drop_duplicates()
        told = ", ".join(f"{who} {shown(value)}" for who, value in used.to_numpy(dtype=object)[:12])
        said = "operator used two values" if name == "operator" else f"value of {name} goes with two values"
        raise GravelbookError(
            f"{model.place}: no {said} of the exposure ({told}), so that what goes with {column} cannot be told from "
            f"what goes with {name}, and holding {name} alike leaves nothing to compare. Leave {name} out and say that "
            "it was, or wait for data in which it varies."
        )
    if never_overlaps(frame, name, parts):
        raise GravelbookError(
            f"{model.place}: {name} does not overlap between any two values of {column}: "
            f"{_without(frame, name, parts)}. The two cannot be told apart in these data; leave {name} out and say "
            "that it was, or ask of other rows."
        )


def _without(frame: pd.DataFrame, name: str, parts: Parts) -> str:
    said = []
    for value, own in parts.items():
        mine = frame.loc[own, name].dropna()
        if not len(mine):
            continue
        if pd.api.types.is_numeric_dtype(mine.dtype) and not isinstance(mine.dtype, pd.CategoricalDtype):
            said.append(f"at {shown(value)} it is {float(mine.min()):g} to {float(mine.max()):g}")
        else:
            said.append(f"at {shown(value)} it is {', '.join(sorted(set(mine.astype(str))))}")
    return "; ".join(said[:6])


def _cautions(
    frame: pd.DataFrame, column: str, parts: Parts, looked: Sequence[str], overlaps: Sequence[Overlap]
) -> list[str]:
    said = []
    if column != "operator" and alone_by(frame, "operator", column):
        said.append(
            f"Every operator used one value of {column} only: what goes with it cannot be told from what goes with "
            "the operator."
        )
    for name in looked:
        pairs = apart(frame, name, parts)
        if pairs and name != "operator":
            told = "; ".join(f"{shown(first)} and {shown(second)}" for first, second in pairs[:4])
            more = f" and {len(pairs) - 4} more" if len(pairs) > 4 else ""
            said.append(f"{name} does not overlap at all between {told}{more}: there the model alone speaks.")
    much = sorted({one.column for one in overlaps if one.largest is not None and one.largest > MUCH})
    if much:
        said.append(
            f"Unlike between values of {column} by more than {MUCH:g} standard deviations: {', '.join(much)}. A crude "
            "comparison mixes their effects in."
        )
    return said
