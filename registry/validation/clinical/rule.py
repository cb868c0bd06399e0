"""A rule of several fields, written once, as a question to the tables."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from registry.schema.tables import metadata
from registry.validation.findings import Severity

ERROR, QUESTION = Severity.ERROR, Severity.QUESTION
NOTHING_SHOWN: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class ClinicalRule:
    """One rule over the rows of one table and what they lead to.

    The expressions are SQL of DuckDB, over the registry's tables and the macros of ``rule_running``.

    Attributes:
        id: ``table.field.rule``.
        table: where the finding stands.
        fields: columns of that table that the rule is about; the finding cites the first.
        severity: an error is impossible; a question is possible, but a person must look.
        sentence: what is right.
        rows: ``FROM`` and ``JOIN`` (and ``WHERE``) of the rows that the rule is about; the table is ``t``.
        needs: all that the rule must know is there; where it is not, the row cannot be judged.
        broken: the row breaks the rule.
        why: what is wrong, with the values of ``shows`` in braces.
        shows: named expressions, none of which tells who a person is.
        source: where the rule comes from.
    """

    id: str
    table: str
    fields: tuple[str, ...]
    severity: Severity
    sentence: str
    rows: str
    needs: str
    broken: str
    why: str
    shows: Mapping[str, str] = field(default_factory=lambda: NOTHING_SHOWN)
    source: str = "common practice"

    @cached_property
    def words(self) -> frozenset[str]:
        """Every name in the rule's SQL; among them all columns and tables that it reads."""
        text = " ".join((self.rows, self.needs, self.broken, *self.shows.values()))
        return frozenset(re.findall(r"[a-z_0-9]+", text)) | {self.table, *self.fields}

    @cached_property
    def tables(self) -> frozenset[str]:
        """The tables that the rule reads."""
        return frozenset(self.words & metadata.tables.keys())
