"""Makes a log, loads it into an empty registry by its hand-written mapping, and counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from registry.intake.good_rows import load_good_rows
from registry.intake.load import load_file
from registry.intake.load_plan import make_plan
from registry.intake.source import Source
from registry.store.registry import Registry
from registry.validation.findings import Finding, Severity
from synthetic_cohort.logs.make_log import Log, make_log
from synthetic_cohort.logs.mess import Mess
from tests.recovery.let_in import LetIn, let_in
from tests.recovery.recovered import Found, Recovered, found, recovered

SITE = "LB"


@dataclass(frozen=True)
class Rehearsal:
    """A log, what the intake said of it, what came back, and what planted errors brought in."""

    log: Log
    findings: list[Finding]
    errors: int
    recovered: Recovered
    found: Found
    let_in: list[LetIn]

    def refusals(self) -> str:
        """The errors for which nothing was loaded, by rule, for the message of a failed test."""
        rules = Counter((of.rule, of.why[:80]) for of in self.findings if of.severity is Severity.ERROR)
        return "; ".join(f"{many} x {rule}: {why}" for (rule, why), many in rules.most_common(8))


def source_in(folder: Path, log: Log) -> Source:
    """The log's files with their mapping."""
    return Source(tuple(log.write(folder)), folder / "mapping.toml")


def open_site(registry: Registry) -> None:
    """The one row that no log holds: the site."""
    with registry.writing(by="test", reason="site of the log") as door:
        door.insert("site", {"code": SITE, "name": "Larkspur Bay Stone Unit", "time_zone": "UTC"})


def rehearse(
    registry: Registry, folder: Path, style: str, operations: int, seed: int, mess: Mess, errors: int = 0
) -> Rehearsal:
    """Write a log, load it and count.

    Args:
        registry: an empty registry.
        folder: where the files go.
        style: how the log is kept.
        operations: how many.
        seed: of the cohort, the mess and the errors.
        mess: how messy.
        errors: how many are planted; with any only the good rows are loaded, as with ``--accept-good-rows``.
    """
    log = make_log(style, operations, seed, mess=mess, errors=errors)
    source = source_in(folder, log)
    open_site(registry)
    if errors:
        plan = make_plan(registry, source)
        findings, wrong = plan.findings.listed(), plan.findings.errors
        rejected = folder.with_name(f"{folder.name}-rejected") / "rejected.xlsx"
        rejected.parent.mkdir()
        load_good_rows(registry, source, rejected, by="test", reason="recovery")
    else:
        loaded = load_file(registry, source, by="test", reason="recovery")
        findings, wrong = loaded.findings, loaded.errors
    places = [of.places(log.pages) for of in log.planted]
    came = list[LetIn]()
    if errors:
        right = make_log(style, operations, seed, mess=Mess.none()).truth
        came = let_in(registry, right, log.planted, places, findings)
    back, said = recovered(registry, log.truth), found(findings, log.planted, places, log.truth)
    return Rehearsal(log, findings, wrong, back, said, came)
