"""From a registry to an answer: snapshot, cohort, the unit's own defaults, request."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from analysis.cohort.columns import cohort_columns
from analysis.cohort.load import Cohort, load_cohort
from analysis.cohort.parquet import read_table
from analysis.cohort.rules import Rules, read_rules
from analysis.cohort.snapshot import Snapshot, open_snapshot
from analysis.reports.stone_free.answer import Answer, Source, answered
from analysis.reports.stone_free.own_defaults import OwnDefault, own_defaults
from analysis.reports.stone_free.request import read_request


def ask(
    location: str,
    typed: Mapping[str, str | None],
    as_of: dt.date | None,
    rules_file: Path | None,
    snapshot_name: str | None,
    *,
    research: bool,
) -> tuple[Answer, pd.DataFrame]:
    """The answer, and the cohort's frame of sides it was worked out from.

    location: the registry. typed: the options as typed. rules_file: steps of inclusion and exclusion.
    Raises GravelbookError for whatever is at fault in registry, files or request.
    """
    from registry.store.registry import open_registry

    rules = read_rules(rules_file) if rules_file else None
    with open_registry(location) as registry:
        snapshot = open_snapshot(registry, snapshot_name)
    return ask_snapshot(snapshot, typed, as_of, rules, research=research)


def ask_snapshot(
    snapshot: Snapshot, typed: Mapping[str, str | None], as_of: dt.date | None, rules: Rules | None, *, research: bool
) -> tuple[Answer, pd.DataFrame]:
    """The same of a snapshot that is at hand."""
    cohort = load_cohort(snapshot, rules, research=research, as_of=as_of)
    request = read_request(typed, settings_in_force(snapshot, cohort.as_of, typed))
    source = source_of(cohort, snapshot, rules, research=research)
    return answered(request, source, cohort.sides_frame, cohort.outcome_frames, cohort_columns()), cohort.sides_frame


def settings_in_force(snapshot: Snapshot, as_of: dt.date, typed: Mapping[str, str | None]) -> tuple[OwnDefault, ...]:
    """The unit's own defaults that hold on the as-of date."""
    rows = read_table(snapshot.file("setting"), ["site_id", "setting_name", "since", "value"]).to_pylist()
    sites = read_table(snapshot.file("site"), ["id", "code"]).to_pylist()
    given = [name for name, value in typed.items() if value is not None]
    return own_defaults(rows, {site["id"]: site["code"] for site in sites}, as_of, given=given)


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
