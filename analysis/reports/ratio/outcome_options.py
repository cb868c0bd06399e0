"""Options of an outcome, written in a model file as at the command line of the outcome's own command."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from analysis.cohort.columns import near
from analysis.reports.ratio.model_file import Model
from analysis.reports.request.faults import MalformedOptionError
from registry.schema.errors import GravelbookError

Made = TypeVar("Made")


def options_of(model: Model, allowed: Sequence[str]) -> Mapping[str, str]:
    """The options of [outcome]. Raises GravelbookError for one that means nothing for this outcome."""
    for name in model.options:
        if name not in allowed:
            close = near(name, allowed)
            hint = f" Did you mean {close[0]}?" if close else ""
            raise GravelbookError(
                f"{model.place}, [outcome]: {name!r} means nothing for {model.outcome}.{hint} Allowed are "
                f"{', '.join(allowed) or 'none'}."
            )
    return model.options


def read_as_typed(model: Model, read: Callable[[], Made]) -> Made:
    """What `read` makes; a value that cannot be read is named as one of the model file, not of the command line."""
    try:
        return read()
    except MalformedOptionError as fault:
        said = str(fault)
        raise GravelbookError(f"{model.place}, [outcome]: {said.removeprefix('--').replace('-', '_', 1)}") from None


def who_is_counted(denominator: str) -> str:
    """Operations by what they were for, in words; empty for all of the cohort."""
    return "operations of the cohort that treated a side to remove a stone" if denominator == "intended" else ""


def one_of(model: Model, name: str, default: str, allowed: Sequence[str]) -> str:
    """One option that takes one of several words."""
    value = model.options.get(name, default)
    if value not in allowed:
        raise GravelbookError(
            f"{model.place}, [outcome] {name}: {value!r} is not known; choose one of {', '.join(allowed)}."
        )
    return value
