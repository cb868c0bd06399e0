"""What is asked about complications, read from the options as typed and from the unit's own defaults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.estimators.proportions import ProportionMethod
from analysis.outcomes.complications.grade_used import GRADES_BY, Grades
from analysis.outcomes.complications.therapy_levels import CHOICES, LocalChoices
from analysis.reports.complications.clinical_options import OPTIONS, infection_rules, kidney_rules
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import SMALL_NUMBER, Family, OwnDefault
from analysis.reports.request.splits import Split, parse_splits
from analysis.reports.request.values import confidence_level, interval_method, one_of, several_of, whole_number
from registry.schema.errors import GravelbookError

SHOW = ("grades", "index", "attendance", "deaths", "events", "agreement", "in-operation", "infection", "kidney")
UNITS = ("operation", "patient")
HANDLINGS = ("reviewed", "lower", "upper", "weighted")
DENOMINATORS = {
    "intended": "operations that treated a side to remove a stone (not: drainage, stent, diagnostic, not started, no "
    "stone found)",
    "all": "every operation of the cohort, whatever for",
}
DAYS = ("30", "90")
DEFAULTS = {
    "days": "30",
    "unit": "operation",
    "grades": "person",
    "unreviewed": "reviewed",
    "denominator": "intended",
    "catheter": "I",
    "alpha_blocker": "II",
    "interval": "wilson",
    "level": "0.95",
    "show": "grades,index,attendance,deaths",
    "seed": "1",
    "replicates": "2000",
}
MOST_REPLICATES = 100_000
COMPLICATIONS = Family(
    "complications",
    "complications",
    (*(name for name in DEFAULTS if name not in ("show", "seed")), *OPTIONS),
)


@dataclass(frozen=True, kw_only=True)
class Request:
    """One question about complications.

    days: windows, each from the operation (day 0) to that day. unreviewed: which rows of a rate, among HANDLINGS.
    settings: the unit's own, by option, for the sections that have settings of their own.
    """

    days: tuple[int, ...]
    unit: str
    grades: Grades
    unreviewed: tuple[str, ...]
    denominator: str
    choices: LocalChoices
    interval: ProportionMethod
    level: float
    by: tuple[Split, ...]
    show: tuple[str, ...]
    seed: int
    replicates: int
    small_number: int
    own_defaults: tuple[OwnDefault, ...]
    settings: Mapping[str, str]


def read_request(typed: Mapping[str, str | None], own: Sequence[OwnDefault] = ()) -> Request:
    """Read a request.

    typed: options as typed, by name with underscores; None was not typed. own: the unit's own defaults.

    Raises MalformedOptionError for a value that cannot be read; GravelbookError when a setting is at fault.
    """
    given = {name: value for name, value in typed.items() if value is not None}
    used = tuple(one for one in own if one.option not in given)
    held = {one.option: one.value for one in used}
    try:
        return _read({**DEFAULTS, **held, **given}, used)
    except MalformedOptionError as fault:
        if not held:
            raise
        told = "; ".join(f"{one.name} = {one.value} since {one.since}" for one in used)
        raise GravelbookError(
            f"{fault} The registry's own settings took part: {told}. Mend them in the sheet Setting, or type the "
            "option to set them aside."
        ) from None


def _read(values: Mapping[str, str], used: tuple[OwnDefault, ...]) -> Request:
    for name, allowed in CHOICES.items():
        one_of(values[name], name.replace("_", "-"), allowed)
    grades: Grades = "rule" if one_of(values["grades"], "grades", tuple(GRADES_BY)) == "rule" else "person"
    days = several_of(values["days"], "days", DAYS)
    show = values["show"].strip()
    settings = {name: value for name, value in values.items() if name in (*OPTIONS, "denominator")}
    infection_rules(settings), kidney_rules(settings)  # refused here, whatever is shown
    return Request(
        days=tuple(sorted(int(one) for one in days)),
        unit=one_of(values["unit"], "unit", UNITS),
        grades=grades,
        unreviewed=several_of(values["unreviewed"], "unreviewed", HANDLINGS),
        denominator=one_of(values["denominator"], "denominator", tuple(DENOMINATORS)),
        choices=LocalChoices(values["catheter"], values["alpha_blocker"]),
        interval=interval_method(values["interval"]),
        level=confidence_level(values["level"]),
        by=parse_splits(values["by"], option="--by", at_most=2) if "by" in values else (),
        show=SHOW if show == "all" else several_of(show, "show", SHOW),
        seed=whole_number(values["seed"], "seed", 0, 2**63 - 1),
        replicates=whole_number(values["replicates"], "replicates", 1, MOST_REPLICATES),
        small_number=whole_number(values.get(SMALL_NUMBER, "5"), SMALL_NUMBER, 0, 1000),
        own_defaults=used,
        settings=settings,
    )
