"""Who was treated with what a safety notice names, as a report and as a list for the data manager."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.reports.equipment.asking import NOT_SAID
from analysis.reports.equipment.matching import CERTAIN, OPEN, POSSIBLE, RULE
from analysis.reports.equipment.tracing import Traced
from analysis.reports.sections.report import Column, Report, Section
from analysis.tables.spreadsheet_text import never_a_formula
from registry.schema.lists_equipment import EquipmentKind, UseResult
from registry.schema.plurals import counted

Bools = npt.NDArray[np.bool_]
FIRST_LINES = 20
IDENTITY = (
    "Patients' data, not to leave the unit. Names and hospital numbers are not printed: whoever manages the data finds "
    "the patients by their study numbers."
)
EVERYBODY = "Everybody in the registry counts, also those who refused research use."
COLUMNS = (
    "match",
    "where_from",
    "study_number",
    "site",
    "operated_on",
    "day_number",
    "renal_unit",
    "use_number",
    "kind",
    "model",
    "result",
    "dead",
    "not_to_be_contacted",
    "erased",
    "lot",
    "serial_as_scanned",
    "item_serial",
    "udi",
    "use_id",
)
TYPED = ("where_from", "study_number", "site", "model", "lot", "serial_as_scanned", "item_serial", "udi")
MARKS = (("dead", "dead"), ("not_to_be_contacted", "not to be contacted"), ("erased", "identity erased"))


def tracing_report(traced: Traced, at_most: int | None) -> Report:
    """Counts, who they are, and what cannot be excluded. at_most: lines of people that are shown, all when None."""
    return Report(
        title=f"Treated with {traced.notice.in_words()}",
        sections=[_counts(traced), _people(traced, at_most), _not_excluded(traced)],
        definition={**traced.notice.as_dict(), "rule": RULE, "uses_looked_at": traced.looked_at},
        in_words=(
            ("Certain", str(RULE["certain"])),
            ("Possible", str(RULE["possible"])),
            ("Not excluded", str(RULE["cannot be excluded"])),
            ("Looked at", f"{traced.looked_at:,} uses of equipment, {_days(traced)}, as the registry stands now"),
        ),
        cautions=(IDENTITY, EVERYBODY),
    )


def tracing_csv(traced: Traced) -> bytes:
    """Every use that fits or cannot be excluded, one line each, with lot, serial and code as recorded."""
    shown = traced.uses.reindex(columns=list(COLUMNS)).copy()
    shown["operated_on"] = pd.to_datetime(shown["operated_on"]).dt.strftime("%Y-%m-%d")
    for name, _ in MARKS:
        shown[name] = shown[name].map({True: "yes", False: "no"})
    for name in TYPED:
        shown[name] = shown[name].astype("string").map(never_a_formula, na_action="ignore")
    out = io.StringIO()
    shown.to_csv(out, index=False, lineterminator="\n")
    return out.getvalue().encode("utf-8")


def _counts(traced: Traced) -> Section:
    uses = traced.uses
    told, open_, beside = (uses[mask] for mask in _parts(traced))
    rows = [_counted(CERTAIN, told[(told["match"] == CERTAIN).to_numpy(dtype=bool)])]
    rows.append(_counted(POSSIBLE, told[(told["match"] == POSSIBLE).to_numpy(dtype=bool)]))
    rows.append(_counted(OPEN, open_))
    if len(beside):
        rows.append(_counted(f"{OPEN}, other models", beside))
    people = told.drop_duplicates("patient_id")
    refused = int(people["refused_research"].sum())
    more = len(set(open_["patient_id"]) - set(told["patient_id"]))
    notes = [
        f"Patients certain or possible: {len(people):,}"
        + (f", of whom {refused:,} refused research use and count here" if refused else "")
        + f". Patients besides who cannot be excluded: {more:,}"
        + (", other models not counted" if len(beside) else "")
        + ". A patient may stand in several lines."
    ]
    if told.empty:
        notes.insert(0, "Nobody is known to have been treated with it.")
    return Section(
        name="counts",
        title="How many",
        rows=rows,
        columns=(
            Column("uses", "uses", "count"),
            Column("operations", "operations", "count"),
            Column("patients", "patients", "count"),
            *(Column(said, name, "count") for name, said in MARKS),
        ),
        notes=notes,
    )


def _counted(name: str, uses: pd.DataFrame) -> dict[str, Any]:
    people = uses.drop_duplicates("patient_id")
    marked = {mark: int(people[mark].sum()) for mark, _ in MARKS}
    operations = int(uses["operation_id"].nunique())
    return {"group": {"match": name}, "uses": len(uses), "operations": operations, "patients": len(people), **marked}


def _parts(traced: Traced) -> tuple[Bools, Bools, Bools]:
    """Uses that fit, that cannot be excluded, and apart of these, where no model was named, those of other models.

    Other models are those without a match, if some model has one; if none has, every model is as likely.
    """
    uses, notice = traced.uses, traced.notice
    unknown = (uses["match"] == OPEN).to_numpy(dtype=bool)
    if notice.model is not None or notice.identifier is not None or unknown.all():
        return ~unknown, unknown, np.zeros(len(uses), dtype=np.bool_)
    likely = uses["model"].isin(uses.loc[~unknown, "model"]).to_numpy(dtype=bool)
    return ~unknown, unknown & likely, unknown & ~likely


def _people(traced: Traced, at_most: int | None) -> Section:
    told = traced.uses[(traced.uses["match"] != OPEN).to_numpy(dtype=bool)]
    shown = told if at_most is None else told.head(at_most)
    left = len(told) - len(shown)
    notes = ["Nobody is known."] if told.empty else []
    if left:
        notes.append(f"{counted(left, 'more line')}; --cases FILE.csv writes all of them, and those not excluded.")
    return Section(
        name="treated",
        title="Who",
        rows=[_line(use) for use in shown.to_dict("records")],
        columns=(
            Column("site", "site"),
            Column("operation", "operated_on"),
            Column("side", "renal_unit"),
            Column("use", "use_number"),
            Column("model", "model"),
            Column("how it went", "result"),
            Column("match", "match"),
            Column("from", "where_from"),
            Column("mark", "marks"),
        ),
        notes=notes,
    )


def _line(use: Mapping[Any, Any]) -> dict[str, Any]:
    day = use["operated_on"].strftime("%Y-%m-%d")
    return {
        "group": {"study number": str(use["study_number"])},
        "site": str(use["site"]),
        "operated_on": day if use["day_number"] == 1 else f"{day} ({use['day_number']})",
        "renal_unit": str(use["renal_unit"]).replace("_", " "),
        "use_number": int(use["use_number"]),
        "model": str(use["model"]),
        "result": NOT_SAID if pd.isna(use["result"]) else UseResult(use["result"]).label,
        "match": str(use["match"]),
        "where_from": str(use["where_from"]),
        "marks": ", ".join(said for name, said in MARKS if use[name]) or None,
    }


def _not_excluded(traced: Traced) -> Section:
    """Uses of which nothing was recorded that could tell, by model; models without a match in one line."""
    _, open_, beside = (traced.uses[mask] for mask in _parts(traced))
    rows: list[dict[str, Any]] = []
    for (model, kind), own in open_.groupby(["model", "kind"], sort=True):
        rows.append({"group": {"model": str(model)}, "kind": EquipmentKind(str(kind)).label, **_few(own)})
    if len(beside):
        rows.append({"group": {"model": "models without a match"}, "kind": None, **_few(beside)})
    notes = []
    if len(open_):
        notes.append(
            f"{counted(len(open_), 'use')} in {counted(open_['patient_id'].nunique(), 'patient')} CANNOT BE EXCLUDED: "
            "no lot, serial number or code was recorded that could tell. --cases FILE.csv lists them."
        )
    if len(rows) and traced.notice.model is None and traced.notice.identifier is None:
        notes.append("No model was named, so any use without what would tell stays open: name it with --model CODE.")
    if not rows:
        notes.append("No use is left open: what would tell was recorded each time, or the model alone was asked for.")
    if traced.sides_without:
        notes.append(
            f"Treated sides of these days without any use of equipment recorded: {traced.sides_without:,}. "
            "Nothing is known of them, and they stand in no list."
        )
    return Section(
        name="not_excluded",
        title="Cannot be excluded",
        rows=rows,
        columns=(
            Column("kind", "kind"),
            Column("uses", "uses", "count"),
            Column("patients", "patients", "count"),
        ),
        definition={"sides_without_a_use": traced.sides_without},
        notes=notes,
    )


def _few(uses: pd.DataFrame) -> dict[str, int]:
    return {"uses": len(uses), "patients": int(uses["patient_id"].nunique())}


def _days(traced: Traced) -> str:
    notice = traced.notice
    if notice.since is None and notice.until is None:
        return "of all days"
    return f"operations from {notice.since or 'the beginning'} to {notice.until or 'the last'}"
