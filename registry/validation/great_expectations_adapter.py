"""The one place that touches Great Expectations: our expectations in, a verdict for each of our rules out.

What it works around is said beside it. No value of a person leaves this file: of a row that breaks a rule only its
key is asked for, and of an error only its kind is kept.
"""

from __future__ import annotations

import logging
import os
import warnings
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from registry.validation.suites import Expected, Form

if TYPE_CHECKING:
    import pandas as pd

os.environ["GX_ANALYTICS_ENABLED"] = "false"  # earlier versions report use to an outside host unless told not to

COMPLETE = {
    "result_format": "COMPLETE",  # the default gives samples
    "unexpected_index_column_names": ["id"],
    "exclude_unexpected_values": True,
    "include_unexpected_rows": False,
    "return_unexpected_index_query": False,
}


@dataclass(frozen=True)
class Verdict:
    """What became of one expectation.

    Attributes:
        kept: no row breaks it; None when it could not run.
        rows: the keys of the rows that break it, where it looks at rows.
        fault: the kind of error when it could not run.
    """

    kept: bool | None
    rows: tuple[int, ...] = ()
    fault: str = ""


class Expectations:
    """Tests frames against expectations, one at a time. Made by ``expectations``."""

    def __init__(self) -> None:
        with _own_warnings_silent():
            import great_expectations as gx
            from great_expectations.data_context.types.base import ProgressBarsConfig

            context = gx.get_context(mode="ephemeral")
        self._library = gx
        # The switch for all bars leaves those of the metrics on.
        context.variables.progress_bars = ProgressBarsConfig(globally=False, metric_calculations=False)
        # Adding anything to a context writes its whole configuration, so one asset serves for every frame.
        with _own_warnings_silent():
            asset = context.data_sources.add_pandas("held").add_dataframe_asset("frames")
            self._frames = asset.add_batch_definition_whole_dataframe("whole")

    def judge(self, frame: pd.DataFrame, expected: Sequence[Expected]) -> dict[str, Verdict]:
        """The verdict on each expectation, by rule.

        Args:
            frame: the rows, with their key in ``id``.
            expected: what is expected of them.
        """
        with _own_warnings_silent():
            batch = self._frames.get_batch(batch_parameters={"dataframe": frame})
            verdicts = self._ask(batch, expected, "BOOLEAN_ONLY")
            # Which rows break a rule is asked only where some do: it costs several times the mere answer.
            broken = [e for e in expected if verdicts[e.rule].kept is False]
            return verdicts | self._ask(batch, broken, COMPLETE)

    def _ask(self, batch: Any, expected: Sequence[Expected], form: Any) -> dict[str, Verdict]:
        if not expected:
            return {}
        asked = self._library.ExpectationSuite(name="asked", expectations=[_made(e) for e in expected])
        results = batch.validate(asked, result_format=form).results
        # Results come back in another order, and an expectation that could not run lacks half of its result: they
        # are told apart by the rule that each carries.
        verdicts = {_rule_of(result): _verdict(result) for result in results}
        missing = Verdict(None, fault="no result")
        return {e.rule: verdicts.get(e.rule, missing) for e in expected}


@contextmanager
def expectations() -> Iterator[Expectations]:
    """A tester of frames of its own, which keeps nothing and says nothing."""
    logger = logging.getLogger("great_expectations")
    level = logger.level
    logger.setLevel(logging.CRITICAL)  # its messages may quote values
    try:
        yield Expectations()
    finally:
        logger.setLevel(level)


@contextmanager
def _own_warnings_silent() -> Iterator[None]:
    """The library warns of what it uses itself, on being imported and at work."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _rule_of(result: Any) -> str:
    return str(result.expectation_config.meta["rule"])


def _made(e: Expected) -> Any:
    from importlib import import_module

    known: Any = import_module("great_expectations.expectations")  # its names are not marked as exported
    meta = {"rule": e.rule}
    column = e.columns[0] if e.columns else ""
    match e.form:
        case Form.ROWS:
            return known.ExpectTableRowCountToBeBetween(min_value=1, meta=meta)
        case Form.NO_CASE:
            return known.ExpectTableRowCountToEqual(value=0, meta=meta)
        case Form.TYPE:
            return known.ExpectColumnValuesToBeOfType(column=column, type_=e.allowed[0], meta=meta)
        case Form.THERE:
            return known.ExpectColumnValuesToNotBeNull(column=column, meta=meta)
        case Form.BETWEEN:
            low, high = _bound(e.low), _bound(e.high)
            return known.ExpectColumnValuesToBeBetween(column=column, min_value=low, max_value=high, meta=meta)
        case Form.LISTED:
            return known.ExpectColumnValuesToBeInSet(column=column, value_set=list(e.allowed), meta=meta)
        case Form.LENGTH:
            return known.ExpectColumnValueLengthsToBeBetween(
                column=column, min_value=e.low, max_value=e.high, meta=meta
            )
        case Form.ONCE if len(e.columns) > 1:
            return known.ExpectCompoundColumnsToBeUnique(column_list=list(e.columns), meta=meta)
        case Form.ONCE:
            return known.ExpectColumnValuesToBeUnique(column=column, meta=meta)


def _bound(value: Any) -> Any:
    import datetime as dt

    import pandas as pd

    return pd.Timestamp(value) if isinstance(value, dt.date) else value


def _verdict(result: Any) -> Verdict:
    raised = _raised(result.exception_info)
    if raised:
        return Verdict(None, fault=raised)
    return Verdict(bool(result.success), tuple(sorted(_keys(result.result.get("unexpected_index_list") or ()))))


def _raised(info: Any) -> str:
    """The kind of what was raised; the information has another shape when a metric raised than when none did."""
    entries = [info] if "raised_exception" in (info or {}) else list((info or {}).values())
    for entry in entries:
        if isinstance(entry, dict) and entry.get("raised_exception"):
            return str(entry.get("exception_message") or "an error").split(":")[0].split("(")[0][:60].strip()
    return ""


def _keys(entries: Iterable[Any]) -> Iterator[int]:
    """The keys of rows, given one by one or as one list of all."""
    for entry in entries:
        found = entry["id"] if isinstance(entry, dict) else entry
        for key in found if isinstance(found, list | tuple) else [found]:
            yield int(key)
