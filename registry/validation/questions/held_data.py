"""Checks what is held by the rules of single fields and the clinical rules; hands over what people must be asked."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from registry.schema.tables import analysed_tables
from registry.validation.clinical.all_rules import CLINICAL_RULES
from registry.validation.clinical.rule import ClinicalRule
from registry.validation.findings import Severity
from registry.validation.questions.held_values import broken_values, value_rules
from registry.validation.questions.opening import Checked, Open
from registry.validation.rule_running import rule_engine, run_rules

if TYPE_CHECKING:
    import duckdb

    from registry.store.registry import Registry

ASKED = (Severity.ERROR, Severity.QUESTION)
"""Severities that a person is asked about; a note asks nothing."""


def check_held_data(
    registry: Registry, rules: Iterable[ClinicalRule] = CLINICAL_RULES, today: date | None = None
) -> Checked:
    """Run the rules over the held tables, all of one moment.

    Args:
        registry: the open registry.
        rules: the clinical rules to run.
        today: the last day that may be recorded as past; today by default.
    """
    day = today or date.today()
    from registry.store.reading import open_reader

    wanted = [rule for rule in rules if rule.severity in ASKED]
    opens: list[Open] = []
    ran: set[str] = set()
    failed: list[str] = []
    unjudged: set[tuple[str, str, int]] = set()
    with open_reader(registry, [table.name for table in analysed_tables()]) as reader:
        opens += broken_values(reader, day)
        ran |= value_rules(day)

        def source(table: str, columns: list[str]) -> object:
            return reader.arrow(table, columns, analysed_only=False)

        with rule_engine(source) as engine:
            for judged in run_rules(engine, wanted):
                if judged.fault:  # it judged nothing, so its questions stay as they are
                    failed.append(judged.rule.id)
                    continue
                rule = judged.rule
                ran.add(rule.id)
                about = rule.fields[0] if rule.fields else None
                opens += [Open(rule.id, rule.table, each.row, about, each.why) for each in judged.broken]
                if judged.not_computable:
                    unjudged |= {(rule.id, rule.table, row) for row in _unjudged(engine, rule)}
    return Checked(tuple(opens), frozenset(ran), frozenset(unjudged), tuple(failed))


def _unjudged(engine: duckdb.DuckDBPyConnection, rule: ClinicalRule) -> list[int]:
    """The rows that the rule is about and could not judge."""
    found = engine.execute(
        f"SELECT t.id {rule.rows} GROUP BY t.id "
        f"HAVING t.id IS NOT NULL AND NOT bool_or(coalesce(({rule.needs}), false))"
    )
    return [int(row[0]) for row in found.fetchall()]
