"""Declaration of the columns that stone-free status reads: what each holds, and which words it may say."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Column:
    """holds: id, number, date, flag (true or false) or word. words: the values allowed, empty for any."""

    holds: str
    nullable: bool = False
    words: tuple[str, ...] = ()


ID, MAYBE_ID = Column("id"), Column("id", nullable=True)
NUMBER, MAYBE_NUMBER = Column("number"), Column("number", nullable=True)
FLAG, MAYBE_FLAG = Column("flag"), Column("flag", nullable=True)
DATE = Column("date")

CONDUCT = ("completed", "abandoned", "not_started", "no_stone_found")
KINDS = ("index", "planned", "unplanned", "auxiliary")
EXAMINED_BY = ("ct", "ultrasound", "kub", "second_look", "other")
FINDINGS = ("none_seen", "fragments", "indeterminate")
FRAGMENT_KINDS = ("single", "alike", "cluster", "dust")
SOURCES = ("stone", "new", "not_said", "no_stone")
AIMED = ("aimed_at", "left_on_purpose")
STONE_REMOVAL = "stone_removal"

COLUMNS: dict[str, dict[str, Column]] = {
    "sides": {
        "side_id": ID,
        "operation_id": ID,
        "patient_id": ID,
        "renal_unit_id": ID,
        "course_id": MAYBE_ID,
        "stage": MAYBE_NUMBER,
        "operated_on": DATE,
        "day_number": NUMBER,
        "intent": Column("word"),
        "conduct": Column("word", nullable=True, words=CONDUCT),
        "access_failed": MAYBE_FLAG,
        "in_cohort": FLAG,
    },
    "treatments": {
        "treatment_id": ID,
        "patient_id": ID,
        "renal_unit_id": ID,
        "side_id": MAYBE_ID,
        "on_low": DATE,
        "on_high": DATE,
        "day_number": MAYBE_NUMBER,
        "kind": Column("word", words=KINDS),
        "course_id": MAYBE_ID,
    },
    "examinations": {
        "examination_id": ID,
        "reading_id": MAYBE_ID,
        "patient_id": ID,
        "renal_unit_id": ID,
        "on_low": DATE,
        "on_high": DATE,
        "after_operation": MAYBE_FLAG,
        "modality": Column("word", words=EXAMINED_BY),
        "slice_mm": MAYBE_NUMBER,
        "every_calyx_seen": MAYBE_FLAG,
        "finding": Column("word", nullable=True, words=FINDINGS),
    },
    "fragments": {
        "reading_id": ID,
        "low_mm": MAYBE_NUMBER,
        "high_mm": MAYBE_NUMBER,
        "above": MAYBE_FLAG,
        "kind": Column("word", nullable=True, words=FRAGMENT_KINDS),
        "source": Column("word", words=SOURCES),
        "stone_id": MAYBE_ID,
    },
    "stones": {"stone_id": ID, "course_id": ID, "renal_unit_id": ID, "radiolucent": MAYBE_FLAG},
    "aims": {
        "stone_id": ID,
        "side_id": ID,
        "aimed": Column("word", words=AIMED),
        "left_recorded_before_access": MAYBE_FLAG,
    },
    "losses": {"renal_unit_id": ID, "on_low": DATE, "on_high": DATE},
    "deaths": {"patient_id": ID, "on_low": DATE, "on_high": DATE},
}

KEYS: dict[str, tuple[str, ...]] = {
    "sides": ("side_id",),
    "treatments": ("treatment_id",),
    "examinations": ("reading_id",),
    "fragments": (),
    "stones": ("stone_id",),
    "aims": ("stone_id", "side_id"),
    "losses": (),
    "deaths": ("patient_id",),
}
"""The columns that name a row; none of their combinations may come twice."""
