"""Which columns may stand in a model: what arises after access may not be held alike, unless it is named a mediator."""

from __future__ import annotations

from dataclasses import replace

from analysis.cohort.columns import FAIR, CohortColumn, column_named
from analysis.design.terms import Term
from analysis.reports.ratio.model_file import Adjuster, Model
from analysis.reports.ratio.rows import OF_THE_RATIO
from registry.schema.errors import GravelbookError

WORDS = ("code",)
NUMBERS = ("whole", "number")


def checked(model: Model) -> Model:
    """The model with each term in the shape its column asks for.

    A column of codes is taken by levels. Raises GravelbookError for a column that the cohort does not have (with the
    nearest names), for one that holds dates, text or keys, for an adjuster that arises after access or at follow-up
    and is not named a mediator, and for one that arises at no known time.
    """
    exposure = _shaped(model.exposure, model.place)
    adjusters = tuple(_fair(one, model) for one in model.adjusters)
    for one in adjusters:
        if one.term.column == exposure.column:
            raise GravelbookError(
                f"{model.place}: {exposure.column} is the exposure and an adjuster too; name it once."
            )
    _refuse_parts_of_the_ratio(model.place, exposure.column, {one.term.column for one in adjusters})
    return replace(model, exposure=exposure, adjusters=adjusters)


def _refuse_parts_of_the_ratio(place: str, exposure: str, held: set[str]) -> None:
    """Refuse to hold alike what the ratio is made of: nothing of it would be left to vary."""
    if exposure not in OF_THE_RATIO:
        return
    same = sorted(held & set(OF_THE_RATIO))
    if same:
        raise GravelbookError(f"{place}: {same[0]} says the same as the exposure {exposure}; leave it out.")
    sheath, scope = sorted(held & {"sheath_inner_fr", "sheath_model"}), sorted(held & {"scope_fr", "scope_model"})
    if sheath and scope:
        raise GravelbookError(
            f"{place}: {sheath[0]} and {scope[0]} together make the ratio, so that with both held alike nothing of it "
            "is left to vary. Leave one of them out; with the scope held alike the question is that of the sheath."
        )


def _fair(one: Adjuster, model: Model) -> Adjuster:
    term = _shaped(one.term, model.place)
    column = column_named(term.column, where=f"{model.place}: ")
    if column.arises in FAIR or one.mediator:
        return Adjuster(term, one.mediator)
    when = "at no time that is declared" if column.arises is None else f"{column.arises.value.replace('_', ' ')}"
    raise GravelbookError(
        f"{model.place}: {term.column} ({column.label}) arises {when}, so that the exposure may have brought it about; "
        "held alike, it would take away part of the effect or make one where there is none. Leave it out, or, if the "
        "question is what is left beside it, write mediator = true under it."
    )


def _shaped(term: Term, place: str) -> Term:
    column = column_named(term.column, where=f"{place}: ")
    if column.holds in WORDS:
        if term.shape not in ("linear", "levels"):
            raise GravelbookError(f"{place}: {term.column} holds words, so that its shape is levels, not {term.shape}.")
        return replace(term, shape="levels", per=1.0, reference=_reference(term, column, place))
    if column.holds in NUMBERS:
        if term.shape == "levels":
            raise GravelbookError(
                f"{place}: {term.column} holds numbers, so that its shape is linear, spline or bands, not levels."
            )
        return term
    raise GravelbookError(
        f"{place}: {term.column} ({column.label}) holds {column.holds}s, and a model takes numbers or codes."
    )


def _reference(term: Term, column: CohortColumn, place: str) -> str | None:
    if term.reference is None or not column.levels or term.reference in column.levels or column.joined:
        return term.reference
    raise GravelbookError(
        f"{place}: {term.reference!r} is on no list of {term.column}. Allowed are {', '.join(column.levels)}."
    )
