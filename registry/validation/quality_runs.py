"""Keeps what each rule found on a day, so that a trend can be shown."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import select

from registry.schema.tables import metadata
from registry.validation.quality_check import RuleResult, State

if TYPE_CHECKING:
    from registry.store.registry import Registry


def record_runs(registry: Registry, results: Sequence[RuleResult], *, by: str, today: date | None = None) -> int:
    """Write what the rules found today; a second run on a day takes the place of the first.

    Kept are clinical rules that had something to judge, rules of the declarations that are broken, and those that
    were broken before, so that a trend comes down to nothing.

    Args:
        registry: the open registry.
        results: of a check.
        by: who ran it.
        today: the day; today by default.
    Returns:
        How many rules were written.
    """
    day = today or date.today()
    runs = metadata.tables["quality_run"]
    with registry.writing(by=by, reason="quality check") as door:
        before = set(door.connection.execute(select(runs.c.rule).distinct()).scalars())
        kept = [result for result in results if _is_kept(result, before)]
        now = {row.rule: row for row in door.connection.execute(select(runs).where(runs.c.run_on == day))}
        for result in kept:
            values = {"checked": result.checked, "broken": result.broken, "not_computable": result.not_computable}
            if result.rule in now:
                door.update("quality_run", now[result.rule].id, values, revision=now[result.rule].revision)
            else:
                door.insert("quality_run", {"rule": result.rule, "run_on": day, **values})
    return len(kept)


def _is_kept(result: RuleResult, before: set[str]) -> bool:
    if result.state is State.COULD_NOT_RUN:
        return False  # it found nothing, which is not the same as that nothing is wrong
    if result.rule in before:
        return True
    return bool(result.checked or result.not_computable) if result.clinical else result.state is State.BROKEN
