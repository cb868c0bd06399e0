"""The sections about failures: per piece opened, by model, and what failed, when and with what consequence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.columns import NOT_RECORDED, cohort_columns
from analysis.outcomes.equipment_failure import FAILED, FAILURE, OPENED, UNKNOWN
from analysis.reports.equipment.asking import NOT_SAID, OF_THE_PIECE, REUSE, Equipment, columns_to_split_by
from analysis.reports.request.grouping import Grouping, everyone, grouped, units_of
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section
from registry.schema.codes import CodeList
from registry.schema.lists_equipment import EquipmentKind, FailureConsequence, FailureMode, FailureStage
from registry.schema.plurals import counted

DEFINITION = {"failure": FAILURE, "opened": OPENED}
IN_WORDS = (("Opened", str(OPENED["rule"])), ("Failure", str(FAILURE["rule"])), ("Source", str(FAILURE["source"])))
CLUSTERS = (
    "The clustered interval takes a reusable piece as one cluster, and a patient where no piece is named; "
    "pieces that were not recorded as pieces cannot be told apart."
)
RATE = (
    Column("failed", "events", "count"),
    Column("n", "n", "count"),
    Column("cannot be told", "unknown", "count"),
    Column("failed of n", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("clustered", "low_clustered high_clustered", "percent_range"),
)
WHAT: tuple[tuple[str, str, type[CodeList]], ...] = (
    ("what failed", "failure_mode", FailureMode),
    ("when", "failure_stage", FailureStage),
    ("what followed", "failure_consequence", FailureConsequence),
)


def failure_sections(found: Equipment) -> list[Section]:
    """Failures per piece opened; split as asked; and by what, when and with what consequence."""
    sections = [_overall(found)]
    if found.request.by:
        sections.append(_split(found))
    return [*sections, _described(found)]


def model_section(found: Equipment) -> Section:
    """Each model: opened, how each use went, and its failures."""
    opened = found.opened
    grouping = _grouping("model", opened["model"].fillna(NOT_SAID), None)
    rows = _rates(found, grouping)
    for place, row in enumerate(rows):
        own = opened[grouping.codes == place]
        results = own["result"].fillna(NOT_RECORDED)
        row |= {f"result_{name}": int((results == name).sum()) for name in ("passed", "failed", "exchanged")}
        row |= {"result_withdrawn": int((results == "withdrawn").sum())}
        row |= {"result_not_recorded": int((results == NOT_RECORDED).sum())}
    return Section(
        name="by_model",
        title="Each model",
        rows=rows,
        columns=(
            Column("opened", "opened", "count"),
            Column("passed", "result_passed", "count"),
            Column("failed", "result_failed", "count"),
            Column("exchanged", "result_exchanged", "count"),
            Column("withdrawn", "result_withdrawn", "count"),
            Column("not recorded", "result_not_recorded", "count"),
            Column("failures", "events", "count"),
            *RATE[1:5],
        ),
        definition=DEFINITION,
        notes=(
            "The columns passed to not recorded say how the use went, and failed there may be a tight ureter; "
            "failures are those of the equipment.",
        ),
    )


def _overall(found: Equipment) -> Section:
    opened = found.opened
    rows = [{**row, "group": {"pieces": "all"}} for row in _rates(found, everyone(len(opened)))]
    order = [*REUSE.values(), NOT_SAID]
    rows += _rates(found, _grouping("pieces", opened["reuse"], order))
    nameless = int(((opened["reuse"] == "reusable") & opened["item_id"].isna()).sum())
    operations = int(opened["operation_id"].nunique())
    notes = [f"{counted(len(opened), 'piece')} opened in {counted(operations, 'operation')}.", CLUSTERS]
    if nameless:
        notes.append(f"Reusable pieces opened without an item recorded, whose uses stand apart: {nameless:,}.")
    if not len(opened):
        notes = [f"No {_kind(found)} was opened in the cohort, so there is no rate."]
    return Section(
        name="failures",
        title=f"Failures per piece opened: {_kind(found)}",
        rows=rows,
        columns=(Column("opened", "opened", "count"), *RATE),
        definition=DEFINITION,
        in_words=IN_WORDS,
        notes=notes,
    )


def _split(found: Equipment) -> Section:
    beside = columns_to_split_by(found)
    ids = np.arange(len(beside), dtype=np.int64)
    inside = np.ones(len(beside), dtype=np.bool_)
    grouping = grouped(ids, inside, beside, found.request.by, unit_of=units_of(cohort_columns()))
    return Section(
        name="failures_by",
        title="Failures per piece opened, by " + " and ".join(one.column for one in found.request.by),
        rows=_rates(found, grouping),
        columns=(Column("opened", "opened", "count"), *RATE),
        definition=DEFINITION,
        notes=_of_the_side([one.column for one in found.request.by]),
    )


def _of_the_side(names: Sequence[str]) -> list[str]:
    """What to bear in mind where a column to split by is the side's and not the piece's; nothing where none is."""
    told = [name for name in names if name not in OF_THE_PIECE]
    if not told:
        return []
    one = len(told) == 1
    return [
        f"{' and '.join(told)} {'describes' if one else 'describe'} the side and not the piece: every piece opened on "
        f"a side stands under the side's {'value' if one else 'values'}, whatever it is itself, so these rows may "
        f"differ from the tables by piece. To split by the piece itself use {' or '.join(OF_THE_PIECE)}."
    ]


def _described(found: Equipment) -> Section:
    """What failed, when, and what followed: counts of failures, and their share of the pieces that can be judged."""
    opened = found.opened
    failed = (opened["failure"] == FAILED).to_numpy(dtype=bool)
    rows: list[dict[str, Any]] = []
    for what, name, codes in WHAT:
        values = opened[name].astype("object")
        labels = {code.value: code.label for code in codes}
        for value in [*(code for code in labels if (values[failed] == code).any()), None]:
            event = failed & ((values.isna() if value is None else values == value).to_numpy(dtype=bool))
            if value is None and not event.any():
                continue
            (row,) = _rates(found, everyone(len(opened)), event=event)
            rows.append({**row, "group": {"of failures": what, "recorded": labels.get(str(value), NOT_SAID)}})
    delay = pd.to_numeric(opened["delay_min"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)[failed]
    known = delay[~np.isnan(delay)]
    notes = [f"Delay, where recorded: median {np.median(known):g} min of {len(known)}."] if len(known) else []
    return Section(
        name="how",
        title="What failed, when, and what followed",
        rows=rows,
        columns=(Column("failures", "events", "count"), *RATE[1:]),
        definition=DEFINITION,
        notes=notes if rows else ("No failure is recorded in the cohort.",),
    )


def _rates(found: Equipment, grouping: Grouping, event: npt.NDArray[np.bool_] | None = None) -> list[dict[str, Any]]:
    """Rows of rates with what they are made of; `event` stands for any failure where not given."""
    opened, request = found.opened, found.request
    unknown = (opened["failure"] == UNKNOWN).to_numpy(dtype=bool)
    happened = (opened["failure"] == FAILED).to_numpy(dtype=bool) if event is None else event
    rows = proportion_rows(
        event=happened,
        counted=~unknown,
        cluster=_clusters(opened),
        grouping=grouping,
        interval=request.interval,
        level=request.level,
    )
    for place, row in enumerate(rows):
        own = grouping.codes == place
        row |= {"opened": int(own.sum()), "unknown": int((own & unknown).sum())}
    return rows


def _clusters(opened: pd.DataFrame) -> npt.NDArray[np.int64]:
    piece = "item " + opened["item_id"].astype("string")
    named = (opened["item_id"].notna() & (opened["reuse"] != "single-use")).to_numpy(dtype=bool)
    names = piece.where(named, "patient " + opened["patient_id"].astype("string"))
    return pd.factorize(names)[0].astype(np.int64)


def _grouping(column: str, values: pd.Series, order: Sequence[str] | None) -> Grouping:
    levels = [one for one in (order or sorted(set(values))) if (values == one).any()]
    codes = pd.Index(levels, dtype="object").get_indexer(pd.Index(values.astype("object")))
    return Grouping((column,), tuple((one,) for one in levels), codes.astype(np.int64))


def _kind(found: Equipment) -> str:
    return EquipmentKind(found.request.kind).label.lower()
