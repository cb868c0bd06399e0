"""The values of the exposure that occur, and what may be asked between them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from analysis.design.terms import Term
from analysis.reports.ratio.effects import shown
from analysis.reports.ratio.model_file import LOOSEST, PUBLISHED_BANDS, RATIO
from analysis.reports.ratio.rows import OF_THE_RATIO
from registry.schema.errors import GravelbookError

SAME = 0.006
"""A value typed with two decimals stands for the observed one that is nearer than this."""
MOST_SHOWN = 20


def support_column(term: Term) -> str:
    """The column whose values tell what supports the model: of bands of the ratio, the ratio itself."""
    return RATIO if term.column in OF_THE_RATIO else term.column


def against_what_occurs(term: Term, frame: pd.DataFrame) -> Term:
    """Published bands against the loosest one that occurs, when nobody stands in the loosest of all."""
    if term.column != PUBLISHED_BANDS or term.reference != LOOSEST:
        return term
    met = distinct(frame[term.column])
    return term if not met or LOOSEST in met else replace(term, reference=met[0])


def distinct(values: pd.Series) -> list[Any]:
    """The values that occur, numbers rising, codes in the order of their list."""
    known = values.dropna()
    if isinstance(known.dtype, pd.CategoricalDtype):
        return [str(each) for each in known.cat.categories if (known == each).any()]
    if pd.api.types.is_numeric_dtype(known.dtype):
        return [float(each) for each in np.unique(known.to_numpy(dtype=np.float64))]
    return sorted(str(each) for each in known.unique())


def same_value(values: pd.Series, value: Any) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which rows have a value."""
    if isinstance(value, str):
        return np.asarray(values.astype(object) == value, dtype=bool)
    return np.asarray(values.to_numpy(dtype=np.float64, na_value=np.nan) == value, dtype=bool)


def places_of_risk(term: Term, frame: pd.DataFrame) -> list[Any]:
    """Where risks are told: at every value that occurs; of a number with many, at observed ones spread over them; of
    bands of a number, at the observed value in the middle of each band's rows."""
    found = distinct(frame[term.column])
    if term.shape == "bands":
        values = frame[term.column].to_numpy(dtype=np.float64)
        code = np.searchsorted(np.asarray(term.cuts), values, side="right")
        return [float(np.quantile(values[code == at], 0.5, method="nearest")) for at in np.unique(code)]
    if len(found) <= MOST_SHOWN or isinstance(found[0], str):
        return found
    values = frame[term.column].to_numpy(dtype=np.float64)
    spread = np.quantile(values, [0, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 1], method="nearest")
    return [float(each) for each in np.unique(spread)]


def rows_at(term: Term, frame: pd.DataFrame, value: Any) -> tuple[str, int]:
    """What a risk at a value speaks for, in words, and how many rows: those with the value, or with its band."""
    if term.shape != "bands":
        return shown(value), int(same_value(frame[term.column], value).sum())
    from analysis.design.transforms import band_labels

    values = frame[term.column].to_numpy(dtype=np.float64)
    codes = np.searchsorted(np.asarray(term.cuts), values, side="right")
    place = int(np.searchsorted(np.asarray(term.cuts), value, side="right"))
    return band_labels(term.cuts)[place], int((codes == place).sum())


def contrast_of(term: Term, frame: pd.DataFrame, asked: tuple[Any, Any], where: str) -> tuple[Any, Any]:
    """The two values that are compared, as the model takes them.

    Numbers have to lie within the observed range; of categories they are observed, a ratio standing for its band.
    Raises GravelbookError, with what is there.
    """
    first, second = (_one(term, frame, value, where) for value in asked)
    if first == second or _band(term, first) == _band(term, second) is not None:
        raise GravelbookError(
            f"{where}: {asked[0]} and {asked[1]} stand in one category ({shown(first)}), so that there is nothing to "
            "compare. Name values of two."
        )
    return first, second


def _one(term: Term, frame: pd.DataFrame, value: Any, where: str) -> Any:
    if term.shape == "levels":
        return _level(term, frame, value, where)
    number = _number(value)
    values = np.asarray(distinct(frame[term.column]), dtype=np.float64)
    if number is None:
        raise GravelbookError(f"{where}: {value!r} is no number, and {term.column} holds numbers.")
    near = values[np.argmin(np.abs(values - number))]
    if abs(near - number) < SAME and abs(near - number) <= 0.01 * abs(near):
        return float(near)
    if not values[0] <= number <= values[-1]:
        raise GravelbookError(
            f"{where}: {term.column} {number:g} lies outside what was observed, {values[0]:.4g} to {values[-1]:.4g}; "
            "nothing is read off beyond the data. Name values within."
        )
    if term.shape == "bands":
        told = ", ".join(f"{each:.4g}" for each in values[:MOST_SHOWN])
        raise GravelbookError(
            f"{where}: no row has {term.column} {number:g}, and categories are compared at values that were observed: "
            f"{told}."
        )
    return number


def _level(term: Term, frame: pd.DataFrame, value: Any, where: str) -> str:
    met = [str(each) for each in distinct(frame[term.column])]
    number = _number(value)
    if str(value) in met:
        return str(value)
    if number is not None and term.column == PUBLISHED_BANDS:
        ratios = frame[RATIO].to_numpy(dtype=np.float64)
        near = np.abs(ratios - number) < SAME
        if near.any():
            return str(frame.loc[near, PUBLISHED_BANDS].iloc[0])
        told = ", ".join(f"{each:.4g}" for each in distinct(frame[RATIO])[:MOST_SHOWN])
        raise GravelbookError(
            f"{where}: no row has the ratio {number:g}, and bands are compared at ratios that were observed: {told}."
        )
    raise GravelbookError(f"{where}: nobody has {term.column} {value!r}. What occurs is: {', '.join(met)}.")


def _band(term: Term, value: Any) -> int | None:
    return int(np.searchsorted(np.asarray(term.cuts), value, side="right")) if term.shape == "bands" else None


def _number(value: Any) -> float | None:
    try:
        return float(value)
    except (TypeError, ValueError):
        return None
