"""Single values as people type them, read or refused in a sentence."""

from __future__ import annotations

import datetime as dt
from typing import get_args

from analysis.estimators.proportions import ProportionMethod
from analysis.reports.request.faults import MalformedOptionError


def read_as_of(text: str | None) -> dt.date | None:
    """The as-of date as typed. Raises MalformedOptionError unless it is a date such as 2025-06-30."""
    return None if text is None else day(text, "as-of")


def day(text: str, option: str) -> dt.date:
    """A date as typed. Raises MalformedOptionError unless it is one such as 2025-06-30."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise MalformedOptionError(
            f"--{option} {text!r} is no date; write year, month and day, 2025-06-30 for example."
        ) from None


def interval_method(text: str) -> ProportionMethod:
    """The interval of a rate. Raises MalformedOptionError for one that is not known."""
    known: tuple[ProportionMethod, ...] = get_args(ProportionMethod)
    for one in known:
        if one == text:
            return one
    raise MalformedOptionError(f"--interval {text!r} is not known; choose one of {', '.join(known)}.")


def confidence_level(text: str) -> float:
    """A level between 0 and 1. Raises MalformedOptionError for any other."""
    try:
        level = float(text)
    except ValueError:
        level = 0.0
    if not 0 < level < 1:
        raise MalformedOptionError(
            f"--level {text!r} is no confidence level; give a number between 0 and 1, such as 0.95."
        )
    return level


def whole_number(text: str, option: str, low: int, high: int) -> int:
    """A whole number within limits. Raises MalformedOptionError for any other."""
    if not text.strip().isascii() or not text.strip().isdigit() or not low <= int(text) <= high:
        raise MalformedOptionError(
            f"--{option.replace('_', '-')} {text!r} has to be a whole number from {low} to {high}."
        )
    return int(text)


def measured(text: str, option: str, low: float, high: float, unit: str) -> float:
    """A number within limits, both allowed. Raises MalformedOptionError for any other."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        said = f" {unit}" if unit else ""
        raise MalformedOptionError(
            f"--{option.replace('_', '-')} {text!r} has to be a number from {low:g} to {high:g}{said}."
        )
    return value


def one_of(text: str, option: str, known: tuple[str, ...]) -> str:
    """One of several words. Raises MalformedOptionError for any other."""
    if text not in known:
        raise MalformedOptionError(f"--{option} {text!r} is not known; choose one of {', '.join(known)}.")
    return text


def several_of(text: str, option: str, known: tuple[str, ...]) -> tuple[str, ...]:
    """A list of words separated by commas, in the order typed.

    Raises MalformedOptionError for a word that is not known or one named twice.
    """
    named = tuple(word.strip() for word in text.split(","))
    for word in named:
        if word not in known:
            raise MalformedOptionError(f"--{option} {word!r} is not known; choose one or more of {', '.join(known)}.")
    if len(set(named)) != len(named):
        raise MalformedOptionError(f"--{option} {text!r} names one thing twice; name each one once.")
    return named
