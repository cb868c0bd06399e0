"""What is asked, read from the options as typed and from the unit's own defaults."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from analysis.estimators.proportions import ProportionMethod
from analysis.outcomes.adequacy import TABLES
from analysis.outcomes.definition import ALLOWED, Definition, DefinitionError
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import SMALL_NUMBER, OwnDefault
from analysis.reports.request.splits import Contrast, Split, parse_contrast, parse_splits
from analysis.reports.request.values import confidence_level, interval_method, whole_number
from analysis.reports.stone_free.adequacy_file import adequacy_table
from analysis.reports.stone_free.modelled import HANDLINGS, check_modelled
from registry.schema.errors import GravelbookError

DEFINING = (
    "threshold",
    "imaging",
    "pick",
    "adequacy",
    "assume_slice",
    "window",
    "target",
    "unit",
    "sessions",
    "stones",
    "retreated",
    "died",
    "denominator",
)
DEFAULTS = {
    "unscanned": "complete",
    "interval": "wilson",
    "level": "0.95",
    "seed": "1",
    "replicates": "2000",
    "imputations": "20",
}
WORDED: dict[str, tuple[str, ...]] = {
    **ALLOWED,
    "adequacy": tuple(TABLES),
    "unscanned": tuple(HANDLINGS),
    "interval": get_args(ProportionMethod),
}
"""Options whose values are words of ours, and these; a list of them has commas."""
MOST_REPLICATES = 100_000
MOST_IMPUTATIONS = 1000
LATEST_DAY = 36_500


@dataclass(frozen=True, kw_only=True)
class Request:
    """One question about stone-free rates.

    by: columns that split the units, none to two. strata: the column to adjust the contrast for, or None.
    imputations: data sets drawn by the handling imputed. small_number: text and figures show no rate of fewer than
    this. own_defaults: settings that were used.
    """

    definition: Definition
    unscanned: tuple[str, ...]
    interval: ProportionMethod
    level: float
    by: tuple[Split, ...]
    contrast: Contrast | None
    strata: Split | None
    seed: int
    replicates: int
    imputations: int
    small_number: int
    own_defaults: tuple[OwnDefault, ...]


def read_request(typed: Mapping[str, str | None], settings: Sequence[OwnDefault] = ()) -> Request:
    """Read a request.

    typed: options as typed, by name with underscores; None was not typed. settings: the unit's own defaults,
    which count where nothing was typed.

    Raises MalformedOptionError for a value that cannot be read or a combination without meaning; GravelbookError when
    a setting is at fault.
    """
    given = {name: value for name, value in typed.items() if value is not None}
    used = tuple(one for one in settings if one.option not in given and not _overtaken(one, given))
    own = {one.option: one.value for one in used}
    try:
        return _read(given, own, used)
    except MalformedOptionError as fault:
        if not own:
            raise
        held = "; ".join(f"{one.name} = {one.value} since {one.since}" for one in used)
        raise GravelbookError(
            f"{fault} The registry's own settings took part: {held}. Mend them in the sheet Setting, or type the "
            "option to set them aside."
        ) from None


def _overtaken(setting: OwnDefault, given: Mapping[str, str]) -> bool:
    """A setting that only has meaning beside another option, which was typed differently."""
    beside = {"target": "window", "sessions": "unit", "unit": "sessions"}.get(setting.option)
    return beside in given


def _read(given: Mapping[str, str], own: Mapping[str, str], used: tuple[OwnDefault, ...]) -> Request:
    values = {name: in_our_spelling(name, text) for name, text in {**DEFAULTS, **own, **given}.items()}
    by = parse_splits(values["by"], option="--by", at_most=2) if "by" in values else ()
    contrast = parse_contrast(values["compare"]) if "compare" in values else None
    strata = parse_splits(values["strata"], option="--strata", at_most=1)[0] if "strata" in values else None
    if strata and not contrast:
        raise MalformedOptionError(
            "--strata adjusts a comparison, and there is none: add --compare COLUMN=INDEX,COMPARATOR, or use --by to "
            "see the rates of each stratum."
        )
    if strata and contrast and strata.column == contrast.split.column:
        raise MalformedOptionError(
            f"--strata {strata.column} is the column that is compared; no stratum would hold both groups. Name another."
        )
    definition, unscanned = _definition(values), _unscanned(values["unscanned"])
    check_modelled(unscanned, definition, strata=strata is not None)
    return Request(
        definition=definition,
        unscanned=unscanned,
        interval=interval_method(values["interval"]),
        level=confidence_level(values["level"]),
        by=by,
        contrast=contrast,
        strata=strata,
        seed=whole_number(values["seed"], "seed", 0, 2**63 - 1),
        replicates=whole_number(values["replicates"], "replicates", 1, MOST_REPLICATES),
        imputations=whole_number(values["imputations"], "imputations", 2, MOST_IMPUTATIONS),
        small_number=whole_number(values.get(SMALL_NUMBER, "5"), SMALL_NUMBER, 0, 1000),
        own_defaults=used,
    )


def in_our_spelling(option: str, text: str) -> str:
    """A worded value as we write it, whatever its case; one that is not ours stays as typed, to be refused by name."""
    if option == "threshold":
        return re.sub(r"(?i)\blt(?=\d)", "lt", text)
    known = WORDED.get(option)
    if known is None:
        return text
    words = {word.casefold(): word for word in known}
    return ",".join(words.get(word.strip().casefold(), word) for word in text.split(","))


def _definition(values: Mapping[str, str]) -> Definition:
    options: dict[str, Any] = {name: values[name] for name in DEFINING if name in values}
    if "adequacy" in options:
        options["adequacy"] = adequacy_table(options["adequacy"])
    if "target" in options:
        options["target"] = whole_number(options["target"], "target", 0, LATEST_DAY)
    try:
        definition = Definition.from_options(options)
    except DefinitionError as fault:
        raise MalformedOptionError(str(fault)) from None
    if definition.window[1] > LATEST_DAY:
        raise MalformedOptionError(
            f"--window {values['window']!r} ends later than anybody is followed; its last day is at most "
            f"{LATEST_DAY:,} (a hundred years)."
        )
    return definition


def _unscanned(text: str) -> tuple[str, ...]:
    named = tuple(word.strip() for word in text.split(","))
    for word in named:
        if word not in HANDLINGS:
            known = ", ".join(HANDLINGS)
            raise MalformedOptionError(f"--unscanned {word!r} is not known; choose one or more of {known}.")
    if len(set(named)) != len(named):
        raise MalformedOptionError(f"--unscanned {text!r} names one way twice; name each one once.")
    return named
