"""The checks of a model as rows of one table: what was looked at, the number, how it is read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from analysis.estimators.calibration import Limited
from analysis.estimators.regression.checks.influence import Influence
from analysis.estimators.regression.checks.model_checks import ModelChecks
from analysis.estimators.regression.checks.optimism import Corrected


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """check: the chapter. measure: the number in words. n: rows or clusters it rests on. p: of its test. reading: how
    it is read, or why there is no number."""

    check: str
    measure: str
    n: int
    estimate: float | None = None
    low: float | None = None
    high: float | None = None
    p: float | None = None
    reading: str = ""


def check_rows(checks: ModelChecks) -> list[CheckRow]:
    """All of them, in the order in which they are read."""
    return [
        *_discrimination(checks),
        *_calibration(checks),
        *_influence(checks.influence),
        *_collinearity(checks),
        *_overdispersion(checks),
    ]


def _discrimination(checks: ModelChecks) -> Iterator[CheckRow]:
    area, clustered = checks.discrimination, checks.discrimination_clustered
    reason = area.reason if clustered is None else clustered.reason
    yield CheckRow(
        check="discrimination",
        measure="area under the curve, on the rows that made the model",
        n=area.n,
        estimate=area.estimate,
        low=area.low if clustered is None else clustered.low,
        high=area.high if clustered is None else clustered.high,
        reading=reason or area.warning or "0.5 is chance, 1 tells all apart",
    )
    yield _corrected(checks, checks.optimism.area, "discrimination")


def _corrected(checks: ModelChecks, of: Corrected, check: str) -> CheckRow:
    made = checks.optimism
    said = f"{made.replicates} resamples of {made.clusters:,} clusters, seed {made.seed}"
    if made.penalised:
        said += f"; {made.penalised} separated, fitted by the penalised likelihood"
    if made.lost:
        said += f"; {made.lost} left out, having no fit"
    return CheckRow(
        check=check,
        measure=f"{of.measure}, corrected for optimism",
        n=made.n,
        estimate=of.corrected,
        reading=made.reason or said,
    )


def _calibration(checks: ModelChecks) -> Iterator[CheckRow]:
    found = checks.calibration
    yield _limited("in the large", found.in_the_large, found.n, "0 on the rows that made the model")
    yield _limited("slope", found.slope, found.n, "1 on the rows that made the model")
    yield _corrected(checks, checks.optimism.slope, "calibration")
    yield CheckRow(
        check="calibration", measure="Brier score", n=found.n, estimate=found.brier, reading="0 is without error"
    )
    yield _corrected(checks, checks.optimism.brier, "calibration")
    curve = checks.curve
    yield CheckRow(
        check="calibration",
        measure="mean distance of the smooth curve from the predictions",
        n=curve.n,
        estimate=curve.mean_gap,
        reading=curve.reason or curve.method,
    )


def _limited(measure: str, of: Limited, n: int, reading: str) -> CheckRow:
    return CheckRow(
        check="calibration",
        measure=measure,
        n=n,
        estimate=of.estimate,
        low=of.low,
        high=of.high,
        reading=of.reason or reading,
    )


def _influence(found: Influence) -> Iterator[CheckRow]:
    worst, lever = found.most[0], found.largest_leverage
    yield CheckRow(
        check="influence",
        measure="largest leverage of a cluster",
        n=found.clusters,
        estimate=lever.leverage,
        reading=f"cluster {lever.cluster}, {lever.rows} rows; the mean is {found.mean_leverage:.3g}",
    )
    yield CheckRow(
        check="influence",
        measure="largest Cook's distance of a cluster",
        n=found.clusters,
        estimate=worst.cook,
        reading=f"cluster {worst.cluster}, {worst.rows} rows",
    )
    if found.largest_dfbeta is None:
        return
    yield CheckRow(
        check="influence",
        measure="largest shift of the exposure's coefficient, in standard errors",
        n=found.clusters,
        estimate=found.largest_dfbeta.dfbeta,
        reading=f"cluster {found.left_out}",
    )
    for before, after in zip(found.with_all, found.without, strict=False):
        yield CheckRow(
            check="influence",
            measure=f"{after.label} ({after.scale}) without cluster {found.left_out}",
            n=found.clusters - 1,
            estimate=after.estimate,
            low=after.low,
            high=after.high,
            p=after.p,
            reading=f"with all: {before.estimate:.3g} ({before.low:.3g} to {before.high:.3g})",
        )
    if found.reason:
        yield CheckRow(
            check="influence",
            measure=f"the exposure without cluster {found.left_out}",
            n=found.clusters - 1,
            reading=found.reason,
        )


def _collinearity(checks: ModelChecks) -> Iterator[CheckRow]:
    for one in checks.collinearity:
        said = "limits widened so many times by the other terms" + ("; much" if one.marked else "")
        yield CheckRow(
            check="collinearity",
            measure=f"{one.term}: generalised variance inflation, root for one column",
            n=checks.calibration.n,
            estimate=one.root,
            reading=one.reason or said,
        )


def _overdispersion(checks: ModelChecks) -> Iterator[CheckRow]:
    found = checks.overdispersion
    if found is None:
        said = "no clusters are named, and yes/no outcomes of independent rows cannot be overdispersed"
        yield CheckRow(check="overdispersion", measure="likeness within clusters", n=checks.calibration.n, reading=said)
        return
    yield CheckRow(
        check="overdispersion",
        measure="correlation of residuals within clusters",
        n=found.clusters,
        estimate=found.correlation,
        p=found.p,
        reading=found.reason or f"{found.pairs:,} pairs; 0 when rows are independent",
    )
    for label, value in zip(checks.influence.with_all, found.design_effects, strict=False):
        yield CheckRow(
            check="overdispersion",
            measure=f"cluster-robust variance of {label.label} over the model's own",
            n=found.clusters,
            estimate=value,
            reading="1 when clustering makes no difference",
        )
