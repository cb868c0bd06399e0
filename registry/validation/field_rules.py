"""The rules of single fields, read off their declarations. One object says its sentence and makes its test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from registry.schema.fields import Code, Day, FieldInfo, Note, Number, Secret, Text, Whole
from registry.schema.sentences import range_words, shown
from registry.validation.field_words import kind_words, type_hint, within_sentence
from registry.validation.findings import Problem, Severity


@dataclass(frozen=True)
class FieldRule:
    """One rule of one field.

    Attributes:
        id: ``table.field.rule``, the same on every engine and in every list.
        severity: an error stops the load; a question does not.
        sentence: what is right, in words a person reads.
        test: True when a stored value keeps the rule. A missing value is the business of ``required`` alone.
        why: what is wrong with a stored value that breaks the rule.
    """

    id: str
    severity: Severity
    sentence: str
    test: Callable[[Any], bool]
    why: Callable[[Any], str]

    def problem(self, value: Any) -> Problem:
        """The problem of a value that breaks the rule."""
        return Problem(self.id, self.severity, self.why(value), self.sentence)


def rule_id(info: FieldInfo, name: str) -> str:
    """The name of a rule of a field."""
    return f"{info.table}.{info.name}.{name}"


def required_rule(info: FieldInfo) -> FieldRule | None:
    """The rule that a row cannot exist without the field; None where it can."""
    if not info.required:
        return None
    return FieldRule(
        rule_id(info, "required"),
        Severity.ERROR,
        f"{info.label} is always needed: {kind_words(info)}",
        lambda value: value is not None,
        lambda value: f"{info.label} is blank, and a row cannot be kept without it.",
    )


def rules_of(info: FieldInfo, today: date | None = None) -> tuple[FieldRule, ...]:
    """The rules that a field's stored value must keep, apart from being there.

    Args:
        info: the field's declaration.
        today: the last day that may be recorded as past; today by default.
    """
    return _rules_of(info, today or date.today())


@cache
def _rules_of(info: FieldInfo, today: date) -> tuple[FieldRule, ...]:
    match info.kind:
        case Whole() | Number():
            return tuple(_range_rules(info))
        case Code():
            return (_listed(info),)
        case Day():
            return tuple(_day_rules(info, info.kind, today))
        case Text(longest=longest) | Note(longest=longest) | Secret(longest=longest):
            return (_length(info, longest),)
        case _:
            return ()


def broken(info: FieldInfo, value: Any, today: date | None = None) -> tuple[Problem, ...]:
    """The problems of a stored value that is not missing. The plausible range is silent where the hard limits speak."""
    found = [rule.problem(value) for rule in rules_of(info, today) if not rule.test(value)]
    errors = [problem for problem in found if problem.severity is Severity.ERROR]
    return tuple(errors or found)


def _range_rules(info: FieldInfo) -> list[FieldRule]:
    low, high = info.limits
    rules = []
    if low is not None or high is not None:
        hint = f" ({info.help})" if info.help else ""
        rules.append(_within(info, "within", Severity.ERROR, low, high, f"{info.label} is {{}}{hint}"))
    plausible = getattr(info.kind, "plausible", None)
    if plausible is not None:
        usual_low, usual_high = plausible
        sentence = f"{info.label} is usually {{}}; leave it if it is right"
        rules.append(_within(info, "plausible", Severity.QUESTION, usual_low, usual_high, sentence))
    return rules


def _within(info: FieldInfo, name: str, severity: Severity, low: Any, high: Any, sentence: str) -> FieldRule:
    border = {"within": "allowed", "plausible": "expected"}[name]

    def why(value: Any) -> str:
        if low is not None and value < low:
            return f"{shown(info, value)} is below the lowest {border}, {shown(info, low)}."
        hint = _typed_as_kept(info, value, low, high)
        return f"{shown(info, value)} is above the highest {border}, {shown(info, high)}.{hint}"

    return FieldRule(
        rule_id(info, name),
        severity,
        sentence.format(range_words(info, low, high)),
        lambda value: (low is None or value >= low) and (high is None or value <= high),
        why,
    )


def _typed_as_kept(info: FieldInfo, value: Any, low: Any, high: Any) -> str:
    """What to type, where the number typed would be right as it is kept: 75 under a heading of tenths for 7.5 Fr."""
    if not isinstance(info.kind, Whole) or info.kind.scale == 1:
        return ""
    kept, rest = divmod(value, info.kind.scale)
    if rest or not (low is None or kept >= low) or kept > high:
        return ""
    return f" For {shown(info, kept)}, {type_hint(info, kept)}."


def _listed(info: FieldInfo) -> FieldRule:
    codes = info.kind.list  # type: ignore[union-attr]
    known = frozenset(codes.codes())
    listed = ", ".join(f"{m.value} ({m.label})" if m.value != m.label else m.value for m in codes)
    return FieldRule(
        rule_id(info, "listed"),
        Severity.ERROR,
        f"{info.label} is one of: {listed}",
        lambda value: str(value) in known,
        lambda value: f"{value!s} is not on the list of {within_sentence(info.label)}.",
    )


def _day_rules(info: FieldInfo, kind: Day, today: date) -> list[FieldRule]:
    low, high = info.limits
    rules = [_within(info, "within", Severity.ERROR, low, high, f"{info.label} is {{}}")]
    if not kind.ahead:
        rules.append(
            FieldRule(
                rule_id(info, "not_ahead"),
                Severity.ERROR,
                f"{info.label} is no later than today, {today}",
                lambda value: value <= today,
                lambda value: f"{value} lies after today, {today}.",
            )
        )
    return rules


def _length(info: FieldInfo, longest: int) -> FieldRule:
    shortest = 1 if isinstance(info.kind, Text) else 0
    return FieldRule(
        rule_id(info, "length"),
        Severity.ERROR,
        f"{info.label} is text of at most {longest} characters",
        lambda value: shortest <= len(value) <= longest,
        lambda value: f"{len(value)} characters; {shortest} to {longest} are kept.",
    )
