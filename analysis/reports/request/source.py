"""Where figures come from: registry or snapshot, the day it reaches to, who is in the cohort, the unit's settings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.cohort.load import Cohort, load_cohort
from analysis.cohort.parquet import read_table
from analysis.cohort.rules import Rules, read_rules
from analysis.cohort.snapshot import Snapshot, open_snapshot
from analysis.reports.request.own_defaults import Family, OwnDefault, own_defaults
from analysis.tables.plain_text import paragraph

CAUTIONS = (
    "These are audit figures and no advice for treating a patient.",
    "Small numbers and case mix mislead: groups may differ in the stones and patients they treat.",
    "A figure never ranks a surgeon by itself.",
)
"""Printed under every answer."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where the figures come from.

    flow: from all treated sides to the cohort, as records. research: those who refused research use are out.
    rules: name and hash of a file of rules, if any. snapshot: its name (None when automatic) and hashes.
    """

    as_of: dt.date
    flow_text: str
    flow: list[dict[str, Any]]
    research: bool
    rules: dict[str, Any] | None
    snapshot: dict[str, Any]

    def as_dict(self) -> dict[str, Any]:
        """All of it, ready for JSON."""
        return {
            "as_of": self.as_of.isoformat(),
            "research": self.research,
            "rules": self.rules,
            "snapshot": self.snapshot,
            "flow": self.flow,
        }

    def in_words(self) -> str:
        """Snapshot, day, rules of inclusion and use, as one paragraph."""
        snapshot = self.snapshot
        name = f"Snapshot {snapshot['name']}" if snapshot.get("name") else "Automatic snapshot"
        rules = f" Rules of inclusion: {self.rules['name']} ({self.rules['hash'][:12]})." if self.rules else ""
        use = (
            "Patients who refused research use are left out."
            if self.research
            else "Audit use: patients who refused research use are in."
        )
        return paragraph(f"{name}, content {str(snapshot['content_hash'])[:12]}, as of {self.as_of}.{rules} {use}")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A cohort that was asked for, with the snapshot it is made from."""

    cohort: Cohort
    snapshot: Snapshot
    source: Source


def ask_cohort(
    location: str,
    *,
    rules_file: Path | None = None,
    snapshot_name: str | None = None,
    research: bool = False,
    as_of: dt.date | None = None,
) -> Asked:
    """The cohort of a registry, ready to be analysed.

    location: the registry. rules_file: steps of inclusion and exclusion. snapshot_name: a kept snapshot instead.
    Raises GravelbookError for whatever is at fault in registry or files.
    """
    from registry.store.registry import open_registry

    rules = read_rules(rules_file) if rules_file else None
    with open_registry(location) as registry:
        snapshot = open_snapshot(registry, snapshot_name)
    return ask_snapshot_cohort(snapshot, rules, research=research, as_of=as_of)


def ask_snapshot_cohort(
    snapshot: Snapshot, rules: Rules | None = None, *, research: bool = False, as_of: dt.date | None = None
) -> Asked:
    """The same of a snapshot that is at hand."""
    cohort = load_cohort(snapshot, rules, research=research, as_of=as_of)
    return Asked(cohort=cohort, snapshot=snapshot, source=source_of(cohort, snapshot, rules, research=research))


def settings_in_force(
    snapshot: Snapshot, as_of: dt.date, family: Family, given: Iterable[str] = ()
) -> tuple[OwnDefault, ...]:
    """The unit's own defaults of one family of options that hold on the as-of date; `given` options were typed."""
    rows = read_table(snapshot.file("setting"), ["site_id", "setting_name", "since", "value"]).to_pylist()
    sites = read_table(snapshot.file("site"), ["id", "code"]).to_pylist()
    return own_defaults(rows, {site["id"]: site["code"] for site in sites}, as_of, family, given=given)


def source_of(cohort: Cohort, snapshot: Snapshot, rules: Rules | None, *, research: bool) -> Source:
    """Where the figures come from, for their provenance."""
    manifest = cohort.snapshot_manifest
    told: dict[str, Any] = {
        "name": snapshot.name,
        "content_hash": manifest.content_hash,
        "history_length": manifest.registry.history_length,
        "history_head": manifest.registry.history_head,
        "schema_revision": manifest.registry.schema_revision,
        "software": manifest.software,
        "cohort_settings": cohort.settings,
    }
    return Source(
        as_of=cohort.as_of,
        flow_text=cohort.flow.text(),
        flow=cohort.flow.as_dicts(),
        research=research,
        rules={"name": rules.name, "hash": rules.content_hash} if rules else None,
        snapshot=told,
    )
