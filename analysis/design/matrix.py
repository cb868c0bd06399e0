"""One frozen matrix from a frame and the terms of a model: what was coded how, and which rows fell out."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.design.errors import DesignError
from analysis.design.ranks import name_dependent
from analysis.design.terms import Interaction, Term, formula_of
from analysis.design.transforms import transforms

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Coefficient:
    """One column of the matrix. term: the column of the frame it comes from (two, joined by `:`, of a product; empty
    for the intercept). label: what it stands for, in words."""

    name: str
    term: str
    label: str


@dataclass(frozen=True, eq=False)
class Design:
    """A matrix and all that made it.

    formula: as it is printed. x: shape (rows, columns), the intercept first. columns: of each what it is. rows: place
    in the frame of each row kept. dropped: rows that fell out, by the first column that was missing, in the order of
    the terms. levels: of each term of words its levels, the reference first. knots: of each spline.
    """

    formula: str
    terms: tuple[Term, ...]
    x: FloatArray
    columns: tuple[Coefficient, ...]
    rows: IntArray
    dropped: Mapping[str, int]
    levels: Mapping[str, tuple[str, ...]]
    knots: Mapping[str, tuple[float, ...]]
    spec: Any

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the columns."""
        return tuple(column.name for column in self.columns)

    def places(self, term: str) -> IntArray:
        """Where the columns of a term stand (of a product: `first:second`)."""
        return np.flatnonzero([column.term == term for column in self.columns]).astype(np.int64)

    def curved_places(self, term: str) -> IntArray:
        """The columns of a spline beyond its straight one: zero for them is a straight line."""
        return self.places(term)[1:]

    def encode(self, frame: pd.DataFrame) -> FloatArray:
        """The matrix of other rows, coded as these were: same levels, same knots.

        Raises DesignError for a missing value or a level that was not met when the model was made.
        """
        frame = _coded(frame, self.terms, self._known)
        made = self.spec.get_model_matrix(frame, context=self._context, na_action="raise")
        return np.asarray(made, dtype=np.float64)

    @cached_property
    def _context(self) -> dict[str, Any]:
        return transforms()

    @property
    def _known(self) -> Mapping[str, tuple[str, ...]]:
        return {term.column: self.levels[term.column] for term in self.terms if term.shape == "levels"}


def design_of(
    frame: pd.DataFrame,
    terms: Sequence[Term],
    *,
    outcome: str = "outcome",
    interactions: Sequence[Interaction] = (),
    needed: Sequence[str] = (),
) -> Design:
    """Code a frame.

    frame: one row an observation; numbers as float or whole, words as category or text. outcome: what stands left in
    the printed formula. needed: further columns without which a row is of no use (outcome, cluster).

    Rows with a missing value are left out, counted by the first column that lacks one. Raises DesignError for a column
    that is not there (with the nearest names), words taken as numbers, a column or level that does not vary, columns
    that say the same, and when no row is left.
    """
    terms = tuple(terms)
    _check_names(frame, [*needed, *(term.column for term in terms)])
    _check_products(terms, interactions)
    rows, dropped = _complete(frame, [*needed, *(term.column for term in terms)])
    if not len(rows):
        told = ", ".join(f"{name} {count:,}" for name, count in dropped.items())
        raise DesignError(f"No row has all that the model needs. Rows that lack it: {told or 'there were none'}.")
    own = list(dict.fromkeys(term.column for term in terms))  # a cohort has many more, which need not be copied
    kept = _coded(frame[own].iloc[rows], terms, {})
    _check_varies(kept, terms)
    formula = formula_of(outcome, terms, interactions)
    matrix = _matrix(formula, kept)
    x = np.asarray(matrix, dtype=np.float64)
    spec = matrix.model_spec
    columns = _columns(spec, terms)
    dependent = name_dependent(x, [column.label for column in columns])
    if dependent:
        raise DesignError(
            f"The columns {', '.join(dependent)} say the same as others of the model (a linear combination), so "
            "that their effects cannot be told apart. Leave one of them out."
        )
    return Design(
        formula=formula,
        terms=terms,
        x=x,
        columns=columns,
        rows=rows,
        dropped=dropped,
        levels={term.column: _levels(kept, term) for term in terms if term.shape in ("levels", "bands")},
        knots={
            term.column: tuple(spec.transform_state[term.written()]["knots"])
            for term in terms
            if term.shape == "spline"
        },
        spec=spec,
    )


def _matrix(formula: str, kept: pd.DataFrame) -> Any:
    from formulaic import Formula
    from formulaic.errors import FactorEvaluationError

    try:
        right = Formula(formula.partition("~")[2].strip())
        return right.get_model_matrix(kept, context=transforms(), na_action="raise")
    except FactorEvaluationError as fault:
        if isinstance(fault.__cause__, DesignError):  # what we refused ourselves, in its own words
            raise fault.__cause__ from None
        raise


def _check_names(frame: pd.DataFrame, names: Sequence[str]) -> None:
    known = [str(name) for name in frame.columns]
    for name in names:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=3, cutoff=0.5)
            hint = f"The nearest are: {', '.join(near)}." if near else f"Known are: {', '.join(known[:40])}."
            raise DesignError(f"{name!r} is no column of the data. {hint}")


def _check_products(terms: Sequence[Term], interactions: Sequence[Interaction]) -> None:
    named = [term.column for term in terms]
    twice = sorted({name for name in named if named.count(name) > 1})
    if twice:
        raise DesignError(f"{twice[0]!r} stands in the model twice; name each column once.")
    for one in interactions:
        for name in (one.first, one.second):
            if name not in named:
                raise DesignError(f"The product {one.first} x {one.second} needs {name!r} as a term of its own too.")


def _complete(frame: pd.DataFrame, names: Sequence[str]) -> tuple[IntArray, dict[str, int]]:
    left = np.ones(len(frame), dtype=bool)
    dropped: dict[str, int] = {}
    for name in dict.fromkeys(names):
        lacking = left & frame[name].isna().to_numpy(dtype=bool)
        if lacking.any():
            dropped[name] = int(lacking.sum())
        left &= ~lacking
    return np.flatnonzero(left).astype(np.int64), dropped


def _coded(frame: pd.DataFrame, terms: Sequence[Term], known: Mapping[str, Sequence[str]]) -> pd.DataFrame:
    """The terms' columns alone: numbers as float64, words as categories of the levels that occur."""
    made: dict[str, Any] = {}
    for term in terms:
        values = frame[term.column]
        if term.shape == "levels":
            made[term.column] = _words(values, term, known.get(term.column))
        elif isinstance(values.dtype, pd.CategoricalDtype) or not pd.api.types.is_numeric_dtype(values.dtype):
            raise DesignError(
                f"{term.column} holds words, and the model takes it as a number ({term.shape}). Take it by levels."
            )
        else:
            made[term.column] = values.to_numpy(dtype=np.float64, na_value=np.nan)
    return pd.DataFrame(made, index=frame.index)


def _words(values: pd.Series, term: Term, known: Sequence[str] | None) -> Any:
    given = isinstance(values.dtype, pd.CategoricalDtype)
    codes, each = (values.cat.codes.to_numpy(), values.cat.categories) if given else pd.factorize(values)
    words = [str(one) for one in each]  # of each level once rather than of each row
    met = {words[code] for code in np.unique(codes) if code >= 0}
    if (codes < 0).any():
        met.add(str(values[codes < 0].iloc[0]))  # a missing value, which is no level
    levels = list(known) if known is not None else [one for one in (words if given else sorted(met)) if one in met]
    strange = sorted(met - set(levels))
    if strange:
        raise DesignError(
            f"{term.column} is {strange[0]!r} in some row, and the model was made without such rows. Its levels are: "
            f"{', '.join(levels)}."
        )
    if term.reference is not None and term.reference not in levels:
        raise DesignError(
            f"{term.column}: nobody has the reference {term.reference!r}. What occurs is: {', '.join(levels)}."
        )
    place = {level: at for at, level in enumerate(levels)}
    places = np.array([place.get(word, -1) for word in words], dtype=np.int64)
    coded: IntArray = np.where(codes < 0, -1, places[codes])
    return pd.Categorical.from_codes(coded, categories=pd.Index(levels))


def _check_varies(kept: pd.DataFrame, terms: Sequence[Term]) -> None:
    for term in terms:
        if kept[term.column].nunique(dropna=False) < 2:
            only = _plain(kept[term.column].iloc[0])
            raise DesignError(
                f"{term.column} is {only} in all {len(kept):,} rows that have all that the model needs, so that it can "
                "explain nothing. Leave it out, or ask of other rows."
            )


def _plain(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _levels(kept: pd.DataFrame, term: Term) -> tuple[str, ...]:
    if term.shape == "bands":
        from analysis.design.transforms import band_labels

        return tuple(band_labels(term.cuts))
    levels = [str(each) for each in kept[term.column].cat.categories]
    first = term.reference if term.reference is not None else levels[0]
    return (first, *(each for each in levels if each != first))


def _columns(spec: Any, terms: Sequence[Term]) -> tuple[Coefficient, ...]:
    by_text = {term.written(): term for term in terms}
    found = []
    for part in spec.structure:
        of = [by_text[str(factor)] for factor in part.term.factors if str(factor) in by_text]
        for name in part.columns:
            found.append(Coefficient(name, ":".join(term.column for term in of), _label(name, of)))
    return tuple(found)


def _label(name: str, terms: Sequence[Term]) -> str:
    """A column in words: `age_years, per 10`, `technique: semirigid`, `sheath_to_scope_ratio, curve 2`."""
    if not terms:
        return "intercept"
    rest, said = name, []
    for term in terms:
        rest = rest.removeprefix(":").removeprefix(term.written())
        within = re.match(r"\[(?:T\.)?(.*?)\](?=:|$)", rest)
        rest = rest[within.end() :] if within else rest
        said.append(_part(term, within[1] if within else ""))
    return " x ".join(said)


def _part(term: Term, within: str) -> str:
    if term.shape == "linear":
        return term.column if term.per == 1 else f"{term.column}, per {term.per:g}"
    if term.shape == "spline":
        return term.column if within == "1" else f"{term.column}, curve {int(within) - 1}"
    return f"{term.column}: {within}"
