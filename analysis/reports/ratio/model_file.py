"""The question as a small file: outcome, exposure, adjusters, clustering, what is done about gaps."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from analysis.design.errors import DesignError
from analysis.design.terms import Interaction, Shape, Term
from registry.schema.errors import GravelbookError

ClusterBy = Literal["patient", "operator", "site", "none"]
ClusterMethod = Literal["robust", "equations", "mixed"]
Covariates = Literal["complete", "imputed"]
FitMethod = Literal["likelihood", "firth", "exact"]

TIMES = ("retreatment", "recurrence", "symptomatic_recurrence", "fragment_event")
"""Outcomes that are a time to an event."""
OUTCOMES = (
    *("stone_free", "complication", "worst_grade", "infection", "operating_min", "nights", "cost"),
    *TIMES,
    "column",
)
SHAPES = ("linear", "spline", "bands", "levels")
DEFAULT = Path(__file__).with_name("default_model.toml")
RATIO, PUBLISHED_BANDS, LOOSEST = "sheath_to_scope_ratio", "scope_to_sheath_band", "under 0.75"
"""The ratio, its published categories (cut on the reciprocal), and the one that others are compared with."""

_TABLES: dict[str, tuple[str, ...]] = {
    "": ("name", "outcome", "exposure", "adjust", "interaction", "cluster", "missing", "fit"),
    "exposure": ("column", "shape", "per", "knots", "cuts", "reference", "contrast"),
    "adjust": ("column", "shape", "per", "knots", "cuts", "reference", "mediator"),
    "interaction": ("first", "second"),
    "cluster": ("by", "method"),
    "missing": ("covariates", "imputations"),
    "fit": ("method", "events_per_parameter", "level", "seed", "replicates"),
}


@dataclass(frozen=True)
class Adjuster:
    """A column that is held alike. mediator: named as one, so that it may arise after access."""

    term: Term
    mediator: bool = False


@dataclass(frozen=True, kw_only=True)
class Model:
    """One question for a regression.

    outcome: what is explained. options: of its definition, as typed at its own command. contrast: two values of the
    exposure whose risks are compared, or none. place: the file's name, for sentences.
    """

    name: str
    outcome: str
    options: Mapping[str, str]
    exposure: Term
    contrast: tuple[Any, Any] | None = None
    adjusters: tuple[Adjuster, ...] = ()
    interactions: tuple[Interaction, ...] = ()
    cluster_by: ClusterBy = "patient"
    cluster_method: ClusterMethod = "robust"
    covariates: Covariates = "complete"
    imputations: int | None = None
    fit: FitMethod = "likelihood"
    events_per_parameter: float = 10.0
    level: float = 0.95
    seed: int = 1
    replicates: int = 200
    place: str = field(default="", compare=False)

    @property
    def terms(self) -> tuple[Term, ...]:
        """The exposure, then the adjusters."""
        return (self.exposure, *(one.term for one in self.adjusters))


def read_model(path: Path | None = None) -> Model:
    """Read a model file; None reads the one that comes with the program.

    Raises GravelbookError, with file, key and what is allowed, for whatever is wrong with it.
    """
    path = path or DEFAULT
    where = path.name
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8"))
    except UnicodeDecodeError:
        raise GravelbookError(f"The model {path} cannot be read: it is no text in UTF-8.") from None
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise GravelbookError(f"The model {path} cannot be read: {why}.") from None
    except tomllib.TOMLDecodeError as error:
        raise GravelbookError(f"The model {path} is not TOML: {error}.") from None
    _known(held, _TABLES[""], where)
    outcome = _table(held, "outcome", where)
    exposure = _table(held, "exposure", where)
    cluster, missing, fit = (_table(held, name, where, needed=False) for name in ("cluster", "missing", "fit"))
    for name, table in (("exposure", exposure), ("cluster", cluster), ("missing", missing), ("fit", fit)):
        _known(table, _TABLES[name], f"{where}, [{name}]")
    what = _one(outcome.pop("what", None), OUTCOMES, f"{where}, [outcome] what")
    term = _term(exposure, f"{where}, [exposure]", allowed=("contrast",))
    column = str(exposure.get("column", "")).strip()  # as written: products name it so
    model = Model(
        name=_text(held.get("name", path.stem), f"{where}, name"),
        outcome=what,
        options={name: _option(value, f"{where}, [outcome] {name}") for name, value in outcome.items()},
        exposure=replace(term, column=column),
        contrast=_contrast(exposure.get("contrast"), f"{where}, [exposure] contrast"),
        adjusters=tuple(
            _adjuster(one, f"{where}, [[adjust]] {number}")
            for number, one in enumerate(_tables(held, "adjust", where), 1)
        ),
        interactions=tuple(
            _interaction(one, f"{where}, [[interaction]] {number}")
            for number, one in enumerate(_tables(held, "interaction", where), 1)
        ),
        cluster_by=_one(
            cluster.get("by", "patient"), ("patient", "operator", "site", "none"), f"{where}, [cluster] by"
        ),
        cluster_method=_one(
            cluster.get("method", "robust"), ("robust", "equations", "mixed"), f"{where}, [cluster] method"
        ),
        covariates=_one(
            missing.get("covariates", "complete"), ("complete", "imputed"), f"{where}, [missing] covariates"
        ),
        imputations=_whole(missing.get("imputations"), 2, 1000, f"{where}, [missing] imputations"),
        fit=_one(fit.get("method", "likelihood"), ("likelihood", "firth", "exact"), f"{where}, [fit] method"),
        events_per_parameter=_number(
            fit.get("events_per_parameter", 10), 0, 1000, f"{where}, [fit] events_per_parameter"
        ),
        level=_number(fit.get("level", 0.95), 0.5, 0.9999, f"{where}, [fit] level"),
        seed=_whole(fit.get("seed", 1), 0, 2**63 - 1, f"{where}, [fit] seed") or 0,
        replicates=_whole(fit.get("replicates", 200), 20, 100_000, f"{where}, [fit] replicates") or 200,
        place=where,
    )
    return exposed_by(model, term)


def _known(held: Mapping[str, Any], allowed: Sequence[str], where: str) -> None:
    for key in held:
        if key not in allowed:
            near = difflib.get_close_matches(key, allowed, n=1, cutoff=0.6)
            hint = f" Did you mean {near[0]}?" if near else ""
            raise GravelbookError(f"{where}: {key!r} means nothing here.{hint} Allowed are {', '.join(allowed)}.")


def _table(held: Mapping[str, Any], name: str, where: str, *, needed: bool = True) -> dict[str, Any]:
    if name not in held and not needed:
        return {}
    table = held.get(name)
    if not isinstance(table, dict):
        raise GravelbookError(
            f"{where}: there has to be a table [{name}]; the model that comes with the program has one."
        )
    return dict(table)


def _tables(held: Mapping[str, Any], name: str, where: str) -> list[dict[str, Any]]:
    tables = held.get(name, [])
    if not isinstance(tables, list) or not all(isinstance(one, dict) for one in tables):
        raise GravelbookError(f"{where}: {name} is a list of tables, each headed [[{name}]].")
    return tables


def _adjuster(held: dict[str, Any], where: str) -> Adjuster:
    mediator = held.get("mediator", False)
    if not isinstance(mediator, bool):
        raise GravelbookError(f"{where}: mediator is true or false, not {mediator!r}.")
    return Adjuster(_term(held, where, allowed=("mediator",)), mediator)


def _interaction(held: dict[str, Any], where: str) -> Interaction:
    _known(held, _TABLES["interaction"], where)
    return Interaction(_text(held.get("first"), f"{where}, first"), _text(held.get("second"), f"{where}, second"))


def _term(held: Mapping[str, Any], where: str, *, allowed: Sequence[str] = ()) -> Term:
    """A term as written; without a shape, words are taken by levels and numbers as they are (settled at the data)."""
    _known(held, (*_TABLES["adjust"][:-1], *allowed), where)
    column = _text(held.get("column"), f"{where} column")
    shape: Shape = _one(held.get("shape", "linear"), SHAPES, f"{where} shape")
    cuts = held.get("cuts", [])
    if not isinstance(cuts, list) or not all(isinstance(cut, int | float) for cut in cuts):
        raise GravelbookError(f"{where} cuts: a list of numbers, [1.2, 1.4] for example, not {cuts!r}.")
    reference = held.get("reference")
    if shape == "bands" and not cuts and column in (RATIO, PUBLISHED_BANDS):
        return published_bands(None if reference is None else str(reference))
    try:
        return Term(
            column=column,
            shape=shape,
            per=_number(held.get("per", 1), 1e-9, 1e9, f"{where} per"),
            knots=_whole(held.get("knots", 3), 3, 7, f"{where} knots") or 3,
            cuts=tuple(float(cut) for cut in cuts),
            reference=None if reference is None else str(reference),
        )
    except DesignError as fault:
        raise GravelbookError(f"{where}: {fault}") from None


def published_bands(reference: str | None = None) -> Term:
    """The published categories of the fit, cut on the reciprocal of the ratio, against the loosest unless named."""
    return Term(column=PUBLISHED_BANDS, shape="levels", reference=reference or LOOSEST)


def exposed_by(model: Model, term: Term) -> Model:
    """The model with another term for its exposure, its products following."""
    old, new = model.exposure.column, term.column
    products = tuple(
        Interaction(new if one.first == old else one.first, new if one.second == old else one.second)
        for one in model.interactions
    )
    return replace(model, exposure=term, interactions=products)


def _contrast(held: Any, where: str) -> tuple[Any, Any] | None:
    if held is None:
        return None
    if not isinstance(held, list) or len(held) != 2 or held[0] == held[1]:
        raise GravelbookError(f"{where}: two different values, index and comparator, [1.4, 1.2] for example.")
    return held[0], held[1]


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise GravelbookError(f"{where} has to be text in quotation marks, not {value!r}.")
    return value.strip()


def _option(value: Any, where: str) -> str:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise GravelbookError(f"{where} has to be text in quotation marks, as at the command line, not {value!r}.")
    return str(value)


def _one(value: Any, allowed: Sequence[str], where: str) -> Any:
    if value not in allowed:
        raise GravelbookError(f"{where}: {value!r} is not known; choose one of {', '.join(allowed)}.")
    return value


def _number(value: Any, low: float, high: float, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise GravelbookError(f"{where} has to be a number from {low:g} to {high:g}, not {value!r}.")
    return float(value)


def _whole(value: Any, low: int, high: int, where: str) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise GravelbookError(f"{where} has to be a whole number from {low} to {high}, not {value!r}.")
    return value
