"""Options of the infection, in-operation and kidney sections, as they are typed or set by the unit.

Names, defaults and what they take: fever_c 38.0 (degrees C), fever_strict no (yes: above, not from), culture_log10 5
(log10 of cfu/mL), baseline_days 90 (how long before the operation a value may be the baseline), egfr_day 30 (a day
after the operation, or last), egfr_window 14:365 (first and last day that count as after), infection_days 30 (the
window of the cases). They read `denominator` too: intended, or all operations of the cohort.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from analysis.outcomes.infection.rules import InfectionRules
from analysis.outcomes.kidney.rules import KidneyRules
from analysis.reports.request.faults import MalformedOptionError

OPTIONS = ("fever_c", "fever_strict", "culture_log10", "baseline_days", "egfr_day", "egfr_window", "infection_days")
"""What a unit may set, as `complications_<name>`."""


@dataclass(frozen=True)
class _Bounds:
    low: float
    high: float
    unit: str
    hint: str


FEVER = _Bounds(36.5, 41.0, "degrees Celsius", "38.5; a threshold in Fahrenheit has to be converted, 100.4 F is 38.0 C")
CULTURE = _Bounds(1, 9, "log10 of colony-forming units per mL", "5 for 100,000 per mL")
BASELINE = _Bounds(1, 730, "days", "90")
DAYS = _Bounds(1, 3650, "days", "30")


def infection_rules(settings: Mapping[str, str]) -> InfectionRules:
    """The rules of infection from options. Raises MalformedOptionError for what cannot be read."""
    strict = settings.get("fever_strict", "no").strip().lower()
    if strict not in ("yes", "no"):
        raise MalformedOptionError(
            f"--fever-strict {strict!r} is neither yes nor no: yes takes a temperature above the threshold as fever, "
            "no takes the threshold itself too."
        )
    return InfectionRules(
        fever_c=_number(settings, "fever_c", "38.0", FEVER),
        fever_strict=strict == "yes",
        culture_log10=_number(settings, "culture_log10", "5", CULTURE),
        baseline_days=_whole(settings, "baseline_days", "90", BASELINE),
    )


def kidney_rules(settings: Mapping[str, str]) -> KidneyRules:
    """The rules of kidney function from options. Raises MalformedOptionError for what cannot be read."""
    first, colon, last = settings.get("egfr_window", "14:365").partition(":")
    if not colon:
        raise MalformedOptionError(
            f"--egfr-window {first!r} cannot be read: write the first and the last day after the operation with a "
            "colon between them, for example 30:365."
        )
    window = {"egfr_window": first}, {"egfr_window": last}
    low, high = (_whole(one, "egfr_window", "", DAYS) for one in window)
    if low > high:
        raise MalformedOptionError(f"--egfr-window {low}:{high} ends before it begins; write for example 30:365.")
    asked = settings.get("egfr_day", "30").strip().lower()
    day = None if asked == "last" else _whole({"egfr_day": asked}, "egfr_day", "", DAYS)
    return KidneyRules(
        baseline_days=_whole(settings, "baseline_days", "90", BASELINE), first_day=low, last_day=high, target_day=day
    )


def infection_days(settings: Mapping[str, str]) -> int:
    """The window of the cases, in days. Raises MalformedOptionError for what cannot be read."""
    return _whole(settings, "infection_days", "30", DAYS)


def _whole(settings: Mapping[str, str], name: str, default: str, bounds: _Bounds) -> int:
    value = _number(settings, name, default, bounds)
    if not value.is_integer():
        raise MalformedOptionError(f"--{name.replace('_', '-')} {value:g} is no whole number of {bounds.unit}.")
    return int(value)


def _number(settings: Mapping[str, str], name: str, default: str, bounds: _Bounds) -> float:
    text = settings.get(name, default).strip()
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not bounds.low <= value <= bounds.high:
        raise MalformedOptionError(
            f"--{name.replace('_', '-')} {text!r} cannot be used: write a number from {bounds.low:g} to "
            f"{bounds.high:g} ({bounds.unit}), for example {bounds.hint}."
        )
    return value
