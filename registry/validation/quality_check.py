"""Checks what a registry holds: every clinical rule, and all that the declarations demand.

A rule that had nothing to look at, or could not run, has a state of its own and never passes.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING

from registry.schema.errors import GravelbookError
from registry.schema.tables import clinical_tables, metadata
from registry.validation.case_names import CaseNames
from registry.validation.clinical.all_rules import rules_by_id
from registry.validation.findings import Severity
from registry.validation.suites import Expected, Form, case_rules_of, held_columns, suite_of

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

    from registry.store.reading import Reader
    from registry.store.registry import Registry
    from registry.validation.great_expectations_adapter import Expectations, Verdict
    from registry.validation.rule_running import Judged


class State(StrEnum):
    """What became of a rule."""

    KEPT = "kept"
    BROKEN = "broken"
    EMPTY = "nothing to judge"
    NOT_COMPUTABLE = "not computable"
    COULD_NOT_RUN = "could not run"


@dataclass(frozen=True)
class RuleResult:
    """What one rule found.

    Attributes:
        rule: its id.
        table: where its findings stand.
        fields: the columns it is about; the first is cited.
        severity: how a broken case counts.
        sentence: what is right.
        clinical: it looks at several fields; else it follows from a declaration.
        state: what became of it.
        checked: cases that it could judge.
        broken: cases that break it.
        not_computable: cases that it could not judge; of a value that should be there, those missing for a stated
            reason.
        rows: the keys of the broken rows.
        whys: of a clinical rule, what is wrong with each of them.
        cases: how people know each of them: site, study number, date, side. Empty for a missing value.
        fault: the kind of error when it could not run.
    """

    rule: str
    table: str
    fields: tuple[str, ...]
    severity: Severity
    sentence: str
    clinical: bool
    state: State
    checked: int = 0
    broken: int = 0
    not_computable: int = 0
    rows: tuple[int, ...] = ()
    whys: tuple[str, ...] = ()
    cases: tuple[str, ...] = ()
    fault: str = ""


def check_held(
    registry: Registry,
    only: Collection[str] = (),
    today: date | None = None,
    progress: Callable[[str], None] | None = None,
) -> list[RuleResult]:
    """Run the rules over all that is held, all of one moment.

    Args:
        registry: the open registry.
        only: the ids of the rules to run; all when empty.
        today: the last day that may be recorded as past; today by default.
        progress: told what is checked next.

    Raises:
        GravelbookError: there is no such rule.
    """
    from registry.store.reading import open_reader
    from registry.validation.great_expectations_adapter import expectations

    declared = declared_rules(today or date.today())
    unknown = sorted(set(only) - {e.rule for e in declared} - rules_by_id().keys())
    if unknown:
        raise GravelbookError(
            f"There is no rule {', '.join(unknown)}. The ids of all rules are in: gravelbook quality check --format csv"
        )
    wanted = [e for e in declared if not only or e.rule in only]
    clinical = [rule for rule in rules_by_id() if not only or rule in only]
    with open_reader(registry, [t.name for t in clinical_tables()]) as reader, expectations() as tester:
        say = progress or (lambda words: None)
        say(f"{len(clinical)} clinical rules")
        found = list(_clinical(reader, tester, clinical))
        tables = list(dict.fromkeys(e.table for e in wanted))
        for number, table in enumerate(tables, start=1):
            say(f"table {number} of {len(tables)}, {table}")
            found += _declared(reader, tester, table, [e for e in wanted if e.table == table])
        return _named(reader, found)


def _named(reader: Reader, found: list[RuleResult]) -> list[RuleResult]:
    """The results with the names of their cases; a value that is missing at its stage is counted, not listed."""
    names = CaseNames(reader)
    return [
        replace(each, cases=tuple(names.of(each.table, each.rows)))
        if each.rows and each.severity is not Severity.NOTE
        else each
        for each in found
    ]


def declared_rules(today: date) -> list[Expected]:
    """Every expectation of every clinical table."""
    return [e for table in clinical_tables() for e in (*suite_of(table, today), *case_rules_of(table))]


def _clinical(reader: Reader, tester: Expectations, rules: Collection[str]) -> Iterator[RuleResult]:
    from registry.validation.rule_running import rule_engine, run_rules

    if not rules:
        return
    chosen = [rules_by_id()[rule] for rule in rules]
    read = frozenset().union(*(rule.tables for rule in chosen))

    def source(table: str, columns: list[str]) -> pa.Table:
        return reader.arrow(table, columns, analysed_only=False)

    with rule_engine(source, read) as engine:
        for judged in run_rules(engine, chosen):
            yield _clinical_result(judged, _no_case(tester, judged))


def _no_case(tester: Expectations, judged: Judged) -> Verdict:
    rule = judged.rule
    expected = Expected(rule.id, rule.table, rule.fields, Form.NO_CASE, rule.severity, rule.sentence)
    return tester.judge(_keys([each.row for each in judged.broken]), [expected])[rule.id]


def _clinical_result(judged: Judged, verdict: Verdict) -> RuleResult:
    rule, fault = judged.rule, judged.fault or verdict.fault
    if fault:
        state = State.COULD_NOT_RUN
    elif not judged.checked:
        state = State.NOT_COMPUTABLE if judged.not_computable else State.EMPTY
    else:
        state = State.KEPT if verdict.kept else State.BROKEN
    return RuleResult(
        rule.id,
        rule.table,
        rule.fields,
        rule.severity,
        rule.sentence,
        clinical=True,
        state=state,
        checked=judged.checked,
        broken=len(judged.broken),
        not_computable=judged.not_computable,
        rows=tuple(each.row for each in judged.broken),
        whys=tuple(each.why for each in judged.broken),
        fault=fault,
    )


def _declared(reader: Reader, tester: Expectations, table: str, wanted: list[Expected]) -> Iterator[RuleResult]:
    frame = reader.frame(table, held_columns(table))
    if frame.empty:  # every expectation would pass
        yield from (_empty(e) for e in wanted)
        return
    plain, counts = [], {e.rule: _counts(frame, e) for e in wanted}
    for e in wanted:
        checked, without = counts[e.rule]
        if not checked:
            yield _empty(e, without)
        elif e.form is Form.NO_CASE:
            broken = _broken_cases(reader, frame, e)
            verdict = tester.judge(_keys(broken), [e])[e.rule]
            yield _judged_result(e, verdict, checked, without, tuple(broken))
        elif e.form is Form.THERE and without:
            verdict = tester.judge(frame[~_reasoned(frame, e.columns[0])], [e])[e.rule]
            yield _judged_result(e, verdict, checked, without, verdict.rows)
        else:
            plain.append(e)
    if plain:
        for rule, verdict in tester.judge(frame, plain).items():
            e = next(each for each in plain if each.rule == rule)
            yield _judged_result(e, verdict, *counts[rule], verdict.rows)


def _counts(frame: pd.DataFrame, e: Expected) -> tuple[int, int]:
    """How many rows can be judged, and how many cannot: nulls are passed over by what looks at values."""
    rows = len(frame)
    if e.form is Form.THERE:
        reasoned = int(_reasoned(frame, e.columns[0]).sum())
        return rows - reasoned, reasoned
    if e.form in (Form.ROWS, Form.TYPE, Form.ONCE):
        return rows, 0
    there = int(frame[list(e.columns)].notna().all(axis=1).sum())
    return there, 0


def _reasoned(frame: pd.DataFrame, field: str) -> pd.Series[bool]:
    """The rows that say why a field is missing."""
    reasons = frame["missing_reasons"].fillna("")
    said = (";" + reasons).str.contains(f";{field}=", regex=False)
    return frame[field].isna() & said.astype(bool)


def _broken_cases(reader: Reader, frame: pd.DataFrame, e: Expected) -> list[int]:
    """The keys of the rows whose link leads nowhere, or whose two fields contradict each other."""
    from registry.schema.fields import Reference, info_of
    from registry.validation.pair_rules import pair_rules_of

    column = e.columns[0]
    kind = info_of(metadata.tables[e.table].columns[column]).kind
    if isinstance(kind, Reference) and e.rule.endswith(".exists"):
        known = reader.frame(kind.table, ["id"])["id"]
        lost = frame[column].notna() & ~frame[column].isin(known)
        return [int(key) for key in frame.loc[lost, "id"]]
    pair = next(rule for rule in pair_rules_of(e.table) if rule.id == e.rule)
    both = frame[["id", *pair.fields]].dropna()
    return [int(key) for key, first, second in both.itertuples(index=False) if not pair.test(first, second)]


def _keys(rows: Collection[int]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame({"id": pd.array(list(rows), "Int64")})


def _empty(e: Expected, not_computable: int = 0) -> RuleResult:
    parts = (e.rule, e.table, e.columns, e.severity, e.sentence)
    return RuleResult(*parts, clinical=False, state=State.EMPTY, not_computable=not_computable)


def _judged_result(e: Expected, verdict: Verdict, checked: int, without: int, rows: tuple[int, ...]) -> RuleResult:
    state = {None: State.COULD_NOT_RUN, True: State.KEPT, False: State.BROKEN}[verdict.kept]
    broken = len(rows) if rows else int(state is State.BROKEN)
    return RuleResult(
        e.rule,
        e.table,
        e.columns,
        e.severity,
        e.sentence,
        clinical=False,
        state=state,
        checked=checked if verdict.kept is not None else 0,
        broken=broken,
        not_computable=without,
        rows=rows,
        fault=verdict.fault,
    )
