"""A model's question answered: rows, support, fits, and every section of the report, in the order they are read."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from analysis.estimators.regression.checks.model_checks import ModelChecks
from analysis.reports.ratio.checks_section import checks_of, checks_section
from analysis.reports.ratio.exact_section import check_exact, exact_section
from analysis.reports.ratio.exposure_values import against_what_occurs, contrast_of
from analysis.reports.ratio.fitting import Made, fitted, outcome_known
from analysis.reports.ratio.imputed import Imputed, imputed_model, missing_section
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.operators_section import operators_section
from analysis.reports.ratio.outcomes import rows_of
from analysis.reports.ratio.question import question_lines
from analysis.reports.ratio.request import MODELLED, Request
from analysis.reports.ratio.result_sections import (
    coefficient_section,
    effect_section,
    fit_record,
    partial_section,
    tests_section,
)
from analysis.reports.ratio.risk_sections import contrast_section, risk_section
from analysis.reports.ratio.rows import UNKNOWN, Rows
from analysis.reports.ratio.sensitivity_section import sensitivity_section
from analysis.reports.ratio.support import Support, refuse_contrast_apart, support_of
from analysis.reports.ratio.support_sections import flow_section, support_sections
from analysis.reports.request.own_defaults import SMALL_NUMBER, OwnDefault
from analysis.reports.request.source import Asked
from analysis.reports.sections.report import Report, Section
from registry.schema.errors import GravelbookError

SOFTWARE = ("numpy", "scipy", "pandas", "statsmodels", "formulaic")
CAUSE = (
    "An adjusted association is no proof of a cause: whatever else goes with the exposure and was not held alike "
    "still stands in it."
)


@dataclass(frozen=True, eq=False)
class Answer:
    """One outcome answered. frame: rows with outcome and exposure known. adjusted and the crude fits, contrast, checks
    and dropped are None or empty when only the support was asked for. remarks: what was not worked out, and why.
    """

    model: Model
    rows: Rows
    frame: pd.DataFrame
    support: Support
    adjusted: Made | None
    crude: Made | None
    crude_all: Made | None
    contrast: tuple[Any, Any] | None
    checks: ModelChecks | None
    dropped: Mapping[str, int]
    remarks: tuple[str, ...]
    imputed: Imputed | None = None


def answered(model: Model, asked: Asked, *, contrast_asked: bool, show: tuple[str, ...]) -> Answer:
    """Work out one model. Raises GravelbookError, one paragraph, for whatever these data cannot answer."""
    rows = rows_of(model, asked)
    frame = outcome_known(rows)
    model = replace(model, exposure=against_what_occurs(model.exposure, frame))
    support = support_of(model, rows, frame)
    if not set(show) & {*MODELLED, "checks"}:
        return Answer(model, rows, frame, support, None, None, None, None, None, {}, ())
    if model.fit == "exact":
        check_exact(model, rows)
        return Answer(model, rows, frame, support, None, None, None, None, None, {}, ())
    contrast, remarks = _contrast(model, frame, support, asked=contrast_asked)
    model = replace(model, contrast=contrast)
    imputed: Imputed | None = None
    if model.covariates == "imputed":
        adjusted, imputed = imputed_model(model, rows, frame)
    else:
        adjusted = fitted(model, rows, frame)
    if model.adjusters:
        crude = fitted(model, rows, adjusted.frame, terms=[model.exposure], interactions=(), thin=True)
        crude_all = fitted(model, rows, frame, terms=[model.exposure], interactions=(), thin=True)
    else:
        crude = crude_all = adjusted
    checks = checks_of(adjusted)
    dropped = dict(adjusted.design.dropped)
    return Answer(model, rows, frame, support, adjusted, crude, crude_all, contrast, checks, dropped, remarks, imputed)


def report_of(request: Request, asked: Asked, answers: list[Answer]) -> Report:
    """The report of one model, or of two on one exposure."""
    first = answers[0]
    sections: list[Section] = []
    for number, one in enumerate(answers):
        sections += [_named(section, one, second=number > 0) for section in _sections(one, asked, request.show)]
    in_words = [line for at, one in enumerate(answers) for line in _question(one, second=at > 0)]
    return Report(
        title=f"{first.model.name[0].upper()}{first.model.name[1:]}, as of {asked.cohort.as_of.isoformat()}",
        sections=sections,
        definition={
            "models": [_as_dict(one) for one in answers],
            "shown": list(request.show),
            "software": {"python": platform.python_version(), **{name: _version(name) for name in SOFTWARE}},
            "seed": first.model.seed,
            "level": first.model.level,
        },
        in_words=in_words,
        source=asked.source,
        own_defaults=_own_defaults(answers),
        small_number=max(one.rows.small_number for one in answers),
        cautions=(CAUSE, *dict.fromkeys(said for one in answers for said in one.rows.cautions)),
    )


def _contrast(
    model: Model, frame: pd.DataFrame, support: Support, *, asked: bool
) -> tuple[tuple[Any, Any] | None, tuple[str, ...]]:
    """The values compared; those of the model that comes with the program are let go where the data do not reach."""
    if model.contrast is None:
        return None, ()
    where = f"{model.place}, contrast"
    try:
        first, second = contrast_of(model.exposure, frame, model.contrast, where)
        refuse_contrast_apart(model, support, first, second)
    except GravelbookError as fault:
        if asked:
            raise
        return None, (f"The comparison that the model names is not made: {fault}",)
    return (first, second), ()


def _sections(one: Answer, asked: Asked, show: tuple[str, ...]) -> list[Section]:
    made: list[Section] = []
    if "rows" in show:
        imputed = one.model.covariates == "imputed"
        made.append(flow_section(one.rows, dict(one.dropped), refused=_refused(asked), imputed=imputed))
    if "support" in show:
        made += support_sections(one.model, one.rows, one.support)
    exact = exact_section(one.model, one.rows, one.frame) if "effect" in show else None
    if one.adjusted is None:
        return [*made, *([exact] if exact else [])]
    return [*made, *_estimates(one, one.adjusted, exact, show)]


def _estimates(one: Answer, adjusted: Made, exact: Section | None, show: tuple[str, ...]) -> list[Section]:
    made: list[Section] = []
    unknown = _unknown(one)
    if one.imputed is not None:
        made.append(missing_section(adjusted, one.imputed))
    if "effect" in show:
        made.append(effect_section(one.crude_all or adjusted, one.crude or adjusted, adjusted, unknown))
        made.append(tests_section(adjusted))
        partial = partial_section(adjusted)
        made += [each for each in (partial, exact) if each]
    if "risk" in show:
        made.append(risk_section(adjusted, unknown))
        if one.contrast is not None:
            made.append(contrast_section(adjusted, *one.contrast, unknown))
        elif one.remarks:
            made[-1] = replace(made[-1], notes=(*made[-1].notes, *one.remarks))
    if "operators" in show:
        made.append(operators_section(adjusted))
    if "checks" in show:
        made.append(checks_section(adjusted, one.checks))
    if "sensitivity" in show:
        made.append(sensitivity_section(adjusted, one.frame, one.checks, one.contrast))
    if "coefficients" in show:
        made.append(coefficient_section(adjusted))
    return made


def _named(section: Section, one: Answer, *, second: bool) -> Section:
    wanted = dict.fromkeys(("estimate", "low", "high", "n", "unknown"))
    section = replace(section, rows=[{**wanted, **row} for row in section.rows])
    if not second:
        return section
    return replace(section, name=f"second_{section.name}", title=f"Second outcome. {section.title}")


def _question(one: Answer, *, second: bool) -> list[tuple[str, str]]:
    lines = question_lines(one.model)
    if second:
        lines = [("second question", lines[0][1]), *(line for line in lines[1:] if line[0] != "research use")]
    return [*lines, *((f"outcome: {word}", said) for word, said in one.rows.in_words)]


def _unknown(one: Answer) -> int:
    """Rows with the exposure that are not in the model because the outcome or a covariate is missing."""
    frame = one.rows.frame
    lacking = (frame["outcome_state"] == UNKNOWN) & (frame["exposure_state"] == "known")
    return int(lacking.sum()) + sum(one.dropped.values())


def _refused(asked: Asked) -> int | None:
    """Treated sides left out because their patients refused research use."""
    for row in asked.cohort.flow.rows:
        if row.column == "research_use" or "refused research" in row.reason:
            return row.left_out.sides
    return None


def _as_dict(one: Answer) -> dict[str, Any]:
    model = one.model
    return {
        "name": model.name,
        "file": model.place,
        "outcome": {"what": model.outcome, **model.options, "label": one.rows.label, "kind": one.rows.kind},
        "outcome_definition": dict(one.rows.definition),
        "rows": one.rows.unit,
        "exposure": {"column": model.exposure.column, "shape": model.exposure.shape, "per": model.exposure.per},
        "contrast": list(one.contrast) if one.contrast else None,
        "adjusters": [term.column for term in model.terms[1:]],
        "mediators": [each.term.column for each in model.adjusters if each.mediator],
        "interactions": [[each.first, each.second] for each in model.interactions],
        "cluster": {"by": model.cluster_by, "method": model.cluster_method},
        "missing_covariates": model.covariates,
        "fit": {"method": model.fit, "events_per_parameter": model.events_per_parameter, "level": model.level},
        "seed": model.seed,
        "replicates": model.replicates,
        "adjusted": None if one.adjusted is None else fit_record(one.adjusted),
        "crude": None if one.crude is None else fit_record(one.crude),
        "not_worked_out": list(one.remarks),
    }


def _own_defaults(answers: list[Answer]) -> tuple[OwnDefault, ...]:
    every = dict.fromkeys(one for each in answers for one in each.rows.own_defaults)
    small = [one for one in every if one.option == SMALL_NUMBER]
    return (*(one for one in every if one.option != SMALL_NUMBER), *small[:1])


def _version(name: str) -> str:
    from importlib.metadata import version

    return version(name)
