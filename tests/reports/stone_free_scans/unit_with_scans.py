"""A small invented unit whose grades, judgements, readers and corrections are worked out by hand.

Ten sides of ten patients, day 30 unless said; slice 1 mm unless said. Judged, then seen:

1 nothing, CT clear. 2 nothing, CT one of 3 mm. 3 dust, CT clear. 4 dust and fragments, CT two of 1 mm (alike).
5 fragments, CT one of 6 mm. 6 nothing, CT of 5 mm slices one of 6 mm. 7 nothing, ultrasound clear. 8 dust, never
scanned. 9 none recorded, CT one of 2 mm. 10 nothing, CT read twice: reader R1 none, reader R2 one of 1.5 mm.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from registry.store.registry import create_registry

from ...cohort.rows import Rows, day

Sizes = tuple[float, ...]


def unit_with_scans() -> Rows:
    """The rows of the unit; the last date is day 400."""
    rows = Rows()
    first, second = rows.operator("S1"), rows.operator("S2")
    cases: list[tuple[str | None, str | None, dict[str, Any]]] = [
        ("nothing", "ct", {}),
        ("nothing", "ct", {"sizes": (3.0,)}),
        ("dust", "ct", {}),
        ("dust_and_fragments", "ct", {"sizes": (1.0,), "kind": "alike", "fragment_count": 2}),
        ("fragments", "ct", {"sizes": (6.0,)}),
        ("nothing", "ct", {"sizes": (6.0,), "slice_mm": 5.0}),
        ("nothing", "ultrasound", {}),
        ("dust", None, {}),
        (None, "ct", {"sizes": (2.0,)}),
        ("nothing", "ct", {"reader": "R1"}),
    ]
    for number, (judged, modality, seen) in enumerate(cases):
        side = operated(rows, first if number < 5 else second, judged)
        if modality:
            scanned(rows, side, modality, **seen)
    another_reading(rows, len(rows.tables["examination"]), "R2", (1.5,))
    rows.add("contact", patient_id=1, contacted_on=day(400))
    return rows


def operated(rows: Rows, operator: int, judged: str | None, on: int = 0) -> int:
    """One side of a new patient with its course and what the surgeon judged was left."""
    unit = rows.unit()
    course = rows.add("course", renal_unit_id=unit)
    side = rows.side(unit, on, course_id=course, stage_number=0, surgeon_judgement=judged)
    rows.operated(side, operator)
    return side


def scanned(
    rows: Rows,
    side: int,
    modality: str,
    *,
    sizes: Sizes = (),
    kind: str = "single",
    slice_mm: float = 1.0,
    reader: str | None = None,
    on: int = 30,
    **fragment: Any,
) -> int:
    """A study of that side with its first reading; sizes of what was seen, none for a clear kidney."""
    unit = rows.tables["treated_side"][side - 1]["renal_unit_id"]
    patient = rows.tables["renal_unit"][unit - 1]["patient_id"]
    more: dict[str, Any] = {"slice_mm": slice_mm} if modality == "ct" else {}
    study = rows.add("examination", patient_id=patient, examined_on=day(on), modality=modality, **more)
    read(rows, study, unit, reader, sizes, kind=kind, **fragment)
    return study


def another_reading(rows: Rows, study: int, reader: str, sizes: Sizes) -> None:
    """A further reading of a study."""
    unit = next(row["renal_unit_id"] for row in rows.tables["reading"] if row["examination_id"] == study)
    read(rows, study, unit, reader, sizes)


def read(
    rows: Rows, study: int, unit: int, reader: str | None, sizes: Sizes, *, kind: str = "single", **fragment: Any
) -> None:
    """One reading with a fragment of each size."""
    finding = "fragments" if sizes else "none_seen"
    reading = rows.add("reading", examination_id=study, renal_unit_id=unit, finding=finding, reader=reader)
    for size in sizes:
        rows.add("fragment", reading_id=reading, kind=kind, diameter_low_mm=size, diameter_high_mm=size, **fragment)


def registry_of(folder: Path, rows: Rows) -> str:
    """A real registry that holds these rows."""
    location = str(folder / "unit.db")
    rows.written(create_registry(location))
    return location


DETECTION = """
name = "for a test"
source = "invented"

[[detection]]
modality = "ct"
sensitivity = 1
specificity = 1

[[detection]]
modality = "ultrasound"
sensitivity = 0.5
specificity = 0.9
n_sensitivity = 60
n_specificity = 40
"""
