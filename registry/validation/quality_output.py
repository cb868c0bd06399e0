"""The results of the quality check as text, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from registry.validation.findings import Severity
from registry.validation.quality_check import RuleResult, State

COLUMNS = ("rule", "table", "fields", "severity", "state", "checked", "broken", "not_computable", "fault", "sentence")
CASE_COLUMNS = ("rule", "severity", "table", "row", "field", "case", "why", "sentence")
LISTED = 10
"""How many cases of one rule are listed on the terminal; ``--cases`` writes them all."""


def as_text(results: Sequence[RuleResult]) -> str:
    """What is wrong, case by case, then what is missing, then how many rules said what."""
    lines: list[str] = []
    order = {Severity.ERROR: 0, Severity.QUESTION: 1, Severity.NOTE: 2}
    told = [r for r in results if r.state in (State.BROKEN, State.COULD_NOT_RUN) and r.severity is not Severity.NOTE]
    for result in sorted(told, key=lambda r: (order[r.severity], -r.broken, r.rule)):
        lines += _told(result)
    missing = sorted(
        (r for r in results if r.severity is Severity.NOTE and r.broken), key=lambda r: -r.broken / max(r.checked, 1)
    )
    if missing:
        lines.append("Missing, without a stated reason:")
        lines += [
            f"  {r.broken:>6} of {r.checked:<6} {r.table}.{r.fields[0]}"
            + (f"  (and {r.not_computable} for a stated reason)" if r.not_computable else "")
            for r in missing
        ]
    return "\n".join([*lines, *_summary(results)]) + "\n"


def _told(result: RuleResult) -> Iterator[str]:
    if result.state is State.COULD_NOT_RUN:
        yield f"COULD NOT RUN  {result.rule}: {result.fault}"
        return
    counts = f"{result.broken} of {result.checked} judged"
    if result.not_computable:
        counts += f", {result.not_computable} could not be"
    yield f"{result.severity}  {result.rule}: {counts}. Right: {result.sentence}."
    whys = result.whys or ("",) * len(result.cases)
    for case, why in list(zip(result.cases, whys, strict=True))[:LISTED]:
        yield f"    {case}" + (f": {why}" if why else "")
    if len(result.cases) > LISTED:
        yield f"    and {len(result.cases) - LISTED} more; --cases FILE writes them all"


def _summary(results: Sequence[RuleResult]) -> Iterator[str]:
    for name, clinical in (("clinical rules", True), ("rules of the declarations", False)):
        states = Counter(r.state for r in results if r.clinical is clinical)
        if states:
            said = ", ".join(f"{states[state]} {state}" for state in State if states[state])
            yield f"{sum(states.values())} {name}: {said}."
    if nothing_held(results):
        yield "Nothing was judged: no rule had a row to look at."
    errors, questions = broken_cases(results, Severity.ERROR), broken_cases(results, Severity.QUESTION)
    yield f"{errors} cases are impossible (errors), {questions} a person must look at (questions)."


def as_csv(results: Sequence[RuleResult]) -> str:
    """One line a rule."""
    return _csv(COLUMNS, ([_cell(result, name) for name in COLUMNS] for result in results))


def as_json(results: Sequence[RuleResult]) -> str:
    """Counts by state, then every rule with its cases."""
    states = Counter(result.state for result in results)
    body = {
        "states": {state.value: states[state] for state in State},
        "errors": broken_cases(results, Severity.ERROR),
        "questions": broken_cases(results, Severity.QUESTION),
        "rules": [
            {name: getattr(result, name) for name in COLUMNS}
            | {"cases": [dict(zip(CASE_COLUMNS[3:], case[3:], strict=True)) for case in _cases(result)]}
            for result in results
        ],
    }
    return json.dumps(body, ensure_ascii=False, indent=1) + "\n"


def cases_csv(results: Iterable[RuleResult]) -> str:
    """One line a case that breaks a rule."""
    return _csv(CASE_COLUMNS, (case for result in results for case in _cases(result)))


def nothing_held(results: Sequence[RuleResult]) -> bool:
    """No rule had a row to look at."""
    return not any(result.checked or result.not_computable for result in results)


def broken_cases(results: Iterable[RuleResult], severity: Severity) -> int:
    """How many cases break rules of a severity. That a table is empty is no case."""
    return sum(result.broken for result in results if result.severity is severity)


def _cases(result: RuleResult) -> Iterator[tuple[object, ...]]:
    whys = result.whys or ("",) * len(result.cases)
    rows = result.rows if result.cases else ()
    field = result.fields[0] if result.fields else ""
    for row, case, why in zip(rows, result.cases, whys, strict=True):
        yield result.rule, result.severity.value, result.table, row, field, case, why, result.sentence


def _cell(result: RuleResult, name: str) -> object:
    value = getattr(result, name)
    return "; ".join(value) if isinstance(value, tuple) else value


def _csv(head: Sequence[str], rows: Iterable[Iterable[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()
