"""What a model asks, in words, before any number."""

from __future__ import annotations

from analysis.cohort.columns import column_named
from analysis.design.terms import Term
from analysis.reports.ratio.model_file import PUBLISHED_BANDS, RATIO, TIMES, Model
from analysis.reports.ratio.rows import OF_THE_RATIO
from analysis.reports.request.grouping import SPOKEN_UNITS

OUTCOME_WORDS = {
    "stone_free": "being stone-free",
    "complication": "a complication",
    "worst_grade": "the worst grade of complication",
    "infection": "an infection",
    "operating_min": "operating minutes",
    "nights": "nights in hospital",
    "cost": "cost over 90 days",
    "retreatment": "the time to an unplanned treatment of that kidney",
    "recurrence": "the time to a new stone on a scan",
    "symptomatic_recurrence": "the time to a stone episode",
    "fragment_event": "the time to an event of the fragments that were left",
}
ONE_ROW_AN_OPERATION = ("complication", "worst_grade", "infection", "operating_min", "nights")
"""Outcomes of the whole patient: one row an operation, the exposure that of its tightest side."""

RECIPROCAL = (
    "The ratio is sheath inner over scope shaft, above 1; papers print its reciprocal, scope over sheath. The two are "
    "not linear in each other, and published bands are cut on the reciprocal."
)
CLUSTER_METHOD = {
    "robust": "errors allow for several rows of one {by} (cluster-robust, times G/(G-1), G being how many there are)",
    "equations": "estimating equations with rows of one {by} alike (exchangeable)",
    "mixed": "an intercept for each {by}",
}


def question_lines(model: Model) -> list[tuple[str, str]]:
    """Label and sentence of each part of the question, in the order a reader needs them."""
    unit = _unit_of_rows(model)
    one = "an" if unit == "operation" else "a"
    lines = [
        ("question", f"{model.name}: does {_outcome(model)} go with {_label(model.exposure)}?"),
        ("rows", f"one {one} {unit}{_tightest(model)}"),
        ("exposure", _exposure(model)),
    ]
    if model.exposure.column in OF_THE_RATIO:
        lines.append(("", RECIPROCAL))
    held = "; ".join(_adjuster(one.term) for one in model.adjusters if not one.mediator)
    lines.append(("held alike", held or "nothing: a crude comparison"))
    through = [one.term.column for one in model.adjusters if one.mediator]
    if through:
        lines.append(
            (
                "mediators",
                f"{', '.join(through)}: they arise after the exposure; what is left is the effect beside them",
            )
        )
    if model.interactions:
        lines.append(("may differ by", "; ".join(f"{one.first} with {one.second}" for one in model.interactions)))
    by = model.cluster_by
    alike = "rows are taken as independent" if by == "none" else CLUSTER_METHOD[model.cluster_method].format(by=by)
    lines.append(("clustering", alike))
    lines.append(("gaps", _gaps(model)))
    lines.append(("research use", "patients who refused it are left out of every model"))
    return lines


def _outcome(model: Model) -> str:
    if model.outcome == "column":
        where = f"{model.place}, [outcome] column: "
        return column_named(model.options.get("column", ""), where=where).label.lower()
    said = OUTCOME_WORDS[model.outcome]
    options = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in model.options.items())
    return f"{said} ({options})" if options else said


def _tightest(model: Model) -> str:
    if _unit_of_rows(model) != "operation":
        return ""
    return "; where both sides were treated the exposure is that of the tighter fit, and once more without those"


def _unit_of_rows(model: Model) -> str:
    if model.outcome in ONE_ROW_AN_OPERATION:
        return "operation"
    if model.outcome == "column":
        source = column_named(model.options["column"]).source if "column" in model.options else ""
        return "operation" if source.startswith("operation.") else "treated side"
    return "course" if model.outcome in ("cost", *TIMES) else "treated side"


def _exposure(model: Model) -> str:
    term = model.exposure
    said = {
        "linear": f"{_label(term)}, a straight line{_scale(model)}, for each {term.per:g}{_unit(term)} more",
        "spline": f"{_label(term)}, a restricted cubic spline with {term.knots} knots",
        "bands": f"{_label(term)}, cut at {', '.join(f'{cut:g}' for cut in term.cuts)} (closed below)",
        "levels": f"{_label(term)}, each level against {term.reference or 'the first'}",
    }[term.shape]
    if term.column == PUBLISHED_BANDS:
        said = f"the published categories of the scope-to-sheath ratio, each against {term.reference}"
    if model.contrast:
        said += f"; risks are compared between {model.contrast[0]} and {model.contrast[1]}"
    return said


def _scale(model: Model) -> str:
    if model.outcome in ("operating_min", "nights", "cost"):
        return " in the log of the mean"
    if model.outcome in TIMES:
        return " in the log hazard"
    return "" if model.outcome == "column" else " in the log odds"


def _adjuster(term: Term) -> str:
    if term.shape == "linear":
        return f"{term.column}{f' (per {term.per:g}{_unit(term)})' if term.per != 1 else ''}"
    if term.shape == "spline":
        return f"{term.column} (curve, {term.knots} knots)"
    if term.shape == "bands":
        return f"{term.column} (cut at {', '.join(f'{cut:g}' for cut in term.cuts)})"
    return term.column


def _gaps(model: Model) -> str:
    if model.covariates == "imputed":
        many = "as many as make results stable" if model.imputations is None else str(model.imputations)
        return (
            f"missing covariates are imputed by chained equations ({many} imputations, Rubin's rules); rows without "
            "the outcome or the exposure are left out"
        )
    return "rows that lack the outcome, the exposure or a covariate are left out and counted by what they lack"


def _label(term: Term) -> str:
    if term.column == RATIO:
        return "the sheath-to-scope ratio (sheath inner over scope shaft)"
    return column_named(term.column).label.lower()


def _unit(term: Term) -> str:
    unit = column_named(term.column).unit
    said = SPOKEN_UNITS.get(unit, unit)
    return f" {said}" if said else ""
