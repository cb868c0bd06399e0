"""What is asked: a model file, what the command line changes in it, and what is shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from analysis.design.errors import DesignError
from analysis.design.terms import Term
from analysis.reports.ratio.model_file import PUBLISHED_BANDS, RATIO, Model, exposed_by, published_bands, read_model
from analysis.reports.ratio.roles import checked
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.values import one_of, several_of, whole_number

SHOWN = ("rows", "support", "effect", "risk", "operators", "checks", "sensitivity", "coefficients")
USUAL = SHOWN[:-1]
SHAPES = ("linear", "spline", "bands")
MODELLED = ("effect", "risk", "operators", "sensitivity", "coefficients")


@dataclass(frozen=True)
class Request:
    """model: as asked. second: another outcome on the same exposure, or None. contrast_asked: whether a person named
    the two values, or they are those of the model that comes with the program. show: sections."""

    model: Model
    second: Model | None
    contrast_asked: bool
    show: tuple[str, ...]


def read_request(model_file: Path | None, typed: Mapping[str, str | None]) -> Request:
    """Read a request.

    typed: second, contrast, shape, knots, show, seed, replicates, as typed; None was not typed.
    Raises MalformedOptionError for an option that cannot be read; GravelbookError when a model file is at fault.
    """
    changes = _changes(typed)
    show = _show(typed.get("show"))
    own = read_model(model_file)
    model = checked(_changed(own, changes))
    second = None
    if typed.get("second"):
        second = checked(_changed(read_model(Path(str(typed["second"]))), changes))
        second = _same_axis(model, second)
    return Request(model, second, "contrast" in changes or model_file is not None, show)


def _changes(typed: Mapping[str, str | None]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    if typed.get("shape") is not None:
        made["shape"] = one_of(str(typed["shape"]), "shape", SHAPES)
    if typed.get("knots") is not None:
        made["knots"] = whole_number(str(typed["knots"]), "knots", 3, 7)
        if made.setdefault("shape", "spline") != "spline":
            raise MalformedOptionError("--knots belong to a spline: type --shape spline with them, or leave them out.")
    if typed.get("contrast") is not None:
        made["contrast"] = _contrast(str(typed["contrast"]))
    if typed.get("seed") is not None:
        made["seed"] = whole_number(str(typed["seed"]), "seed", 0, 2**63 - 1)
    if typed.get("replicates") is not None:
        made["replicates"] = whole_number(str(typed["replicates"]), "replicates", 20, 100_000)
    return made


def _contrast(text: str) -> tuple[Any, Any]:
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2 or not all(parts) or parts[0] == parts[1]:
        raise MalformedOptionError(
            f"--contrast {text!r} has to be two different values with a comma between them, index and comparator: "
            "1.4,1.2 for example."
        )
    first, second = (_value(part) for part in parts)
    return first, second


def _value(text: str) -> Any:
    try:
        value = float(text)
    except ValueError:
        return text
    if not -1e12 < value < 1e12:
        raise MalformedOptionError(f"--contrast {text!r} is no value of an exposure.")
    return value


def _show(text: str | None) -> tuple[str, ...]:
    if text is None:
        return USUAL
    if text.strip() == "all":
        return SHOWN
    named = several_of(text, "show", SHOWN)
    if set(named) & set(MODELLED) and "checks" not in named:  # no estimate without them
        named = (*named, "checks")
    return tuple(one for one in SHOWN if one in named)


def _changed(model: Model, changes: Mapping[str, Any]) -> Model:
    direct = {name: changes[name] for name in ("contrast", "seed", "replicates") if name in changes}
    return exposed_by(replace(model, **direct), _reshaped(model.exposure, changes))


def _reshaped(term: Term, changes: Mapping[str, Any]) -> Term:
    shape = changes.get("shape")
    if shape is None:
        return term
    if shape == "bands":
        if term.column in (RATIO, PUBLISHED_BANDS):
            return published_bands()
        if term.cuts:
            return replace(term, shape="bands")
        raise MalformedOptionError(
            f'--shape bands: {term.column} has no published categories; write shape = "bands" and cuts = [...] under '
            "[exposure] of a model file."
        )
    if term.column == PUBLISHED_BANDS:  # the bands of the file stand for the ratio
        term = Term(column=RATIO, per=0.1)
    try:
        return replace(term, shape=shape, knots=changes.get("knots") or term.knots)
    except DesignError as fault:
        raise MalformedOptionError(f"--shape {shape}: {fault}") from None


def _same_axis(model: Model, second: Model) -> Model:
    ratio = (RATIO, PUBLISHED_BANDS)
    if second.exposure.column == model.exposure.column or {second.exposure.column, model.exposure.column} <= set(ratio):
        return replace(second, contrast=model.contrast)
    raise MalformedOptionError(
        f"--second: {second.place} has the exposure {second.exposure.column}, and {model.place} has "
        f"{model.exposure.column}; two outcomes share an axis only on one exposure."
    )
