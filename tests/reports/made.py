"""Statuses, sides and answers made by hand: what a test does not say is ordinary."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

import pandas as pd

from analysis.reports.request.grouping import BoolArray, IntArray
from analysis.reports.request.source import Source
from analysis.reports.stone_free.answer import Answer, answer_of
from analysis.reports.stone_free.packed import Packed, packed
from analysis.reports.stone_free.request import read_request

FREE = ("free", "study_free")
FAILED = ("failed", "study_failed")
SEEN_BADLY = ("unknown", "study_unknown")
UNSCANNED = ("unknown", "no_study")
NOT_DUE = ("not_due", "not_due")
DIED = ("died", "died")
PLANNED = ("failed", "retreated_planned")
UNPLANNED = ("failed", "retreated_unplanned")
ABANDONED = ("failed", "abandoned")
OUT = ("out", "out_intent")

SOURCE = Source(
    as_of=dt.date(2025, 6, 30),
    flow_text="In the registry: 12 sides\nIn the cohort: 12 sides",
    flow=[{"reason": "nothing", "entered": 12}],
    research=False,
    rules=None,
    snapshot={"name": None, "content_hash": "ab" * 32},
)


def unit(
    *results: tuple[str, str],
    patient: int | None = None,
    modality: str | None = "ct",
    inadequate: bool = False,
    readings: int = 1,
    sides: Sequence[int] | None = None,
    operation: int | None = None,
) -> dict[str, Any]:
    """One unit with a result at each threshold; inadequate: its failures are known from an inadequate study alone."""
    return {
        "results": results,
        "patient": patient,
        "modality": modality,
        "inadequate": inadequate,
        "readings": readings,
        "sides": sides,
        "operation": operation,
    }


def statuses(units: Iterable[dict[str, Any]], codes: Sequence[str] = ("0", "2")) -> pd.DataFrame:
    """The frame that `stone_free_status` gives, one row a unit and threshold; units are numbered from 1."""
    rows = []
    for number, made in enumerate(units, start=1):
        for at, (code, (status, rung)) in enumerate(zip(codes, made["results"], strict=True)):
            studied = rung.startswith("study_")
            failed_inadequate = made["inadequate"] and rung == "study_failed"
            side = made["sides"][at] if made["sides"] else number
            rows.append(
                {
                    "unit_id": number,
                    "patient_id": made["patient"] or 1000 + number,
                    "operation_id": made["operation"] or 100 + number,
                    "side_id": side,
                    "renal_unit_id": side,
                    "course_id": pd.NA,
                    "stone_id": pd.NA,
                    "threshold": code,
                    "threshold_mm": float(code.removeprefix("lt")),
                    "comparison": "<" if code.startswith("lt") else "<=",
                    "status": status,
                    "rung": rung,
                    "decided_by_study": rung in ("study_free", "study_failed"),
                    "examination_id": 5000 + number if studied else pd.NA,
                    "second_examination_id": pd.NA,
                    "modality": made["modality"] if studied else None,
                    "slice_mm": 1.0 if studied and made["modality"] == "ct" else float("nan"),
                    "studied_on": pd.Timestamp("2025-02-01") if studied else pd.NaT,
                    "days_after": 31 if studied else pd.NA,
                    "adequate": studied and not failed_inadequate and rung != "study_unknown",
                    "failed_inadequate": failed_inadequate,
                    "n_readings": made["readings"] if studied else 0,
                    "note": "",
                    "undecided_studies": 0,
                    "undecided_retreatments": 0,
                    "undecided_losses": 0,
                    "undecided_deaths": 0,
                }
            )
    frame = pd.DataFrame(rows)
    named = dict.fromkeys(("examination_id", "second_examination_id"), "Int64")
    return frame.astype({**named, "days_after": "Int64", "course_id": "Int64", "stone_id": "Int64"})


def readings_of(frame: pd.DataFrame) -> pd.DataFrame:
    """The readings of the picked studies, one row a reading."""
    first = frame.drop_duplicates("unit_id")
    read = first.loc[first.index.repeat(first["n_readings"]), ["examination_id", "renal_unit_id"]]
    return read.assign(reading_id=range(1, len(read) + 1))


def sides_of(frame: pd.DataFrame, **columns: Sequence[Any]) -> pd.DataFrame:
    """The cohort's frame for these statuses, with grouping columns in the order of the sides."""
    ids = sorted(set(frame["side_id"]))
    return pd.DataFrame(
        {
            "side_id": ids,
            "study_number": [f"P{number:03d}" for number in ids],
            "site": "LB",
            "unit": "left",
            "operated_on": pd.Timestamp("2025-01-01"),
            "day_number": 1,
            **columns,
        }
    )


def placed(units: Packed) -> tuple[IntArray, BoolArray]:
    """What a grouping reads of units: their sides of reference, and who is inside."""
    return units.side_id, units.inside()


def answer(frame: pd.DataFrame, sides: pd.DataFrame, **typed: str) -> Answer:
    """The answer to options as typed, of statuses made by hand."""
    typed.setdefault("threshold", ",".join(dict.fromkeys(frame["threshold"])))
    typed.setdefault("replicates", "50")
    return answer_of(read_request(typed), SOURCE, frame, packed(frame), sides, readings_of(frame))
