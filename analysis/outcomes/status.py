"""Stone-free status: what happened to each side, stone, operation, course or patient, by the rule asked for.

Every row goes down the same ladder and takes the first rung that fits: outside the denominator; not due
yet; decided by the picked study; retreated; kidney lost; abandoned; died; unknown. Only the rung of the
study looks at the threshold; everything else is worked out once.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.adequacy import is_adequate
from analysis.outcomes.definition import Definition
from analysis.outcomes.ends import ends
from analysis.outcomes.fragments import FAILED, FREE, elements_of, left_on_purpose, shown
from analysis.outcomes.inputs import Tables, check
from analysis.outcomes.judged import SESSION_KINDS, judged, own_treatments
from analysis.outcomes.ladder import rungs_without_study, unchanging_columns
from analysis.outcomes.studies import Picked, pick
from analysis.outcomes.thresholds import Threshold
from analysis.outcomes.tidy import Tidy, tidied
from analysis.outcomes.units import as_units


def stone_free_status(tables: Tables, definition: Definition) -> pd.DataFrame:
    """One row per unit and threshold, sorted by unit, thresholds in the order asked. Columns, always all:

    unit_id: id of the side, stone, operation, course or patient judged.
    patient_id, operation_id, side_id, renal_unit_id: of the side that decided (a course: of its index side).
    course_id, stone_id: Int64, missing where there is none.
    threshold (code, `2` or `lt2`), threshold_mm (float), comparison ('<=' or '<').
    status: one of STATUSES. rung: one of RUNGS (both in `ladder`), the rule that decided.
    decided_by_study: bool, the rung is the study's and the status known.
    examination_id, second_examination_id: Int64, the picked study and, for a pair, its ultrasound.
    modality (missing without a study; `us+kub` for a pair), slice_mm (float, as recorded).
    studied_on (datetime64; middle of an inexact date), days_after (Int64, after the anchor).
    adequate: bool, the picked study is adequate at this threshold.
    failed_inadequate: bool, failed, and known only from a study not adequate at this threshold.
    n_readings: int, readings of the picked study.
    note: why a picked study settles nothing: not_read, indeterminate, inadequate, or size (a range, an
        unmeasured fragment, or one that may be of another stone); else empty.
    anchor_on: datetime64, the day from which the window counts (middle of an inexact one).
    undecided_studies, undecided_retreatments, undecided_losses, undecided_deaths: int, how many in reach
        have a date that does not settle order or window (summed over the sides of a larger unit).

    Sides outside the cohort have no row. An operation or a patient is judged from its sides or courses.

    Raises TablesError when the tables are unsound.
    """
    order = {threshold.code: place for place, threshold in enumerate(definition.thresholds)}
    return as_units(judged_parts(tables, definition), definition, order)


def judged_parts(tables: Tables, definition: Definition) -> pd.DataFrame:
    """The same before larger units are made of it: one row per side, course or stone judged, and threshold.

    Columns as in `stone_free_status` but for unit_id, and `key` (which of them), `out`, `day`, `number` and
    `settled_without`: it would have failed without any study, by a retreatment, loss of the kidney, abandonment or
    death, whether or not a study was picked.

    Raises TablesError when the tables are unsound.
    """
    check(tables)
    tidy = tidied(tables)
    base = judged(tidy, definition)
    stops = ends(base, tidy, definition)
    chosen = pick(base, stops, tidy, definition)
    left_out = None
    if definition.stones == "targeted":
        left_out = left_on_purpose(tidy, _sides_judged_together(base, tidy, definition))
    elements = elements_of(chosen.studies, base, tidy, left_out=left_out)
    rungs = rungs_without_study(base, stops, chosen, tidy.as_of, definition)
    common = unchanging_columns(base, stops, chosen, early=rungs["early"])
    parts = [_at(threshold, common, rungs, elements, chosen) for threshold in definition.thresholds]
    return pd.concat(parts, ignore_index=True)


def _sides_judged_together(base: pd.DataFrame, tidy: Tidy, definition: Definition) -> pd.DataFrame:
    """key and side_id of every operation whose aims say what was left on purpose."""
    own = base[["key", "side_id"]]
    if definition.sessions == "single":
        return own
    later = own_treatments(base, tidy, SESSION_KINDS[definition.sessions]).dropna(subset=["side_id"])
    later = later.merge(own.rename(columns={"side_id": "index_side"}), on="index_side", validate="many_to_one")
    return pd.concat([own, later[["key", "side_id"]].astype("int64")], ignore_index=True)


def _at(
    threshold: Threshold, common: pd.DataFrame, rungs: pd.DataFrame, elements: pd.DataFrame, chosen: Picked
) -> pd.DataFrame:
    """The rows of one threshold: the rung of the study where there is one, else the rung without it."""
    keys = common.index
    study = chosen.studies.reindex(keys)
    decides = (study["examination_id"].notna() & ~rungs["early"]).to_numpy(dtype=bool)
    adequate = decides & is_adequate(study["adequate_from"].fillna(np.inf).to_numpy(dtype=np.float64), threshold)
    codes = shown(elements, keys, threshold)
    failed, free = decides & (codes == FAILED), adequate & (codes == FREE)
    unsettled = decides & ~failed & ~free
    fits = [failed, free, unsettled]
    status = np.select(fits, ["failed", "free", "unknown"], default=rungs["status"].to_numpy(dtype=str))
    rung = np.select(fits, ["study_failed", "study_free", "study_unknown"], default=rungs["rung"].to_numpy(dtype=str))
    return (
        common.rename_axis("key")
        .reset_index()
        .assign(
            settled_without=(rungs["status"] == "failed").to_numpy(dtype=bool),
            threshold=threshold.code,
            threshold_mm=float(threshold.value_mm),
            comparison=threshold.comparison,
            status=status.astype(object),
            rung=rung.astype(object),
            decided_by_study=failed | free,
            adequate=adequate,
            failed_inadequate=failed & ~adequate,
            note=_notes(unsettled, codes, study, elements, keys),
        )
    )


def _notes(
    unsettled: npt.NDArray[np.bool_],
    codes: npt.NDArray[np.int8],
    study: pd.DataFrame,
    elements: pd.DataFrame,
    keys: pd.Index[int],
) -> npt.NDArray[np.object_]:
    """Why each unsettled study settles nothing."""
    unread = (study["n_readings"] == 0).to_numpy(dtype=bool)
    opened = keys.isin(elements.loc[elements["finding_open"], "key"])
    reasons = [~unsettled, unread, opened, codes == FREE]
    return np.select(reasons, ["", "not_read", "indeterminate", "inadequate"], default="size").astype(object)
