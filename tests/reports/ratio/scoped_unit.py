"""A small invented unit whose scopes, sheaths and results a test names one by one, and the command asked about it.

Sizes are tenths of a French; a CT on day 30 says whether a side is free of fragments. Days count from 1 January 2024.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from analysis.reports.ratio.answer import Answer, answered, report_of
from analysis.reports.ratio.request import read_request
from analysis.reports.request.source import Asked, ask_snapshot_cohort
from analysis.reports.sections.render_json import as_json
from tests.cohort.rows import Rows, day

Pair = tuple[int, int] | None
NO_SHEATH = (75, 0)
ROUTE = {"flexible": ("flexible",)}


class ScopedUnit:
    """Rows of a registry, and the sides that were added to it."""

    def __init__(self) -> None:
        self.rows = Rows()
        self.rows.add("contact", patient_id=self.rows.patient(), contacted_on=day(500))
        self._models: dict[tuple[str, int], int] = {}
        self._operators: dict[str, int] = {}

    def side(
        self,
        pair: Pair,
        free: bool | None,
        *,
        operator: str = "S1",
        on: int = 0,
        sex: str = "male",
        mm: float | None = None,
        patient: int | None = None,
        operation: int | None = None,
        unit: str = "left",
        technique: str = "flexible",
        more: dict[str, Any] | None = None,
        research_use: str | None = None,
    ) -> int:
        """A treated side of a new patient (or of `patient`): scope and sheath, None without anything recorded of
        them; free: None for never scanned. Returns its key."""
        rows = self.rows
        if patient is None:
            patient = rows.patient(sex=sex, **({"research_use": research_use} if research_use else {}))
        renal = rows.unit(patient, unit)
        course = rows.add("course", renal_unit_id=renal)
        side = rows.side(
            renal, on, operation=operation, techniques=(technique,), course_id=course, stage_number=0, **(more or {})
        )
        if operation is None:
            rows.operated(side, self._operator(operator))
        if mm is not None:
            stone = rows.add("stone", course_id=course, length_mm=mm)
            rows.add("stone_aim", stone_id=stone, treated_side_id=side, aim="aimed_at")
        self._use(side, pair)
        if free is not None:
            self._scanned(renal, patient, on + 30, free=free)
        return side

    def several(self, many: int, pair: Pair, free: bool | None, **more: Any) -> None:
        """So many sides alike."""
        for _ in range(many):
            self.side(pair, free, **more)

    def both(self, left: Pair, right: Pair, *, free: tuple[bool | None, bool | None] = (True, True)) -> int:
        """An operation on both sides of one patient; returns its key."""
        patient = self.rows.patient(sex="female")
        first = self.side(left, free[0], patient=patient)
        operation = self.rows.operation_of(first)
        self.side(right, free[1], patient=patient, operation=operation, unit="right")
        return operation

    def _operator(self, code: str) -> int:
        if code not in self._operators:
            self._operators[code] = self.rows.operator(code)
        return self._operators[code]

    def _use(self, side: int, pair: Pair) -> None:
        if pair is None:
            return
        scope, sheath = pair
        if sheath:
            self.rows.used(side, self._model("sheath", sheath))
        self.rows.used(side, self._model("scope", scope))

    def _model(self, kind: str, tenths: int) -> int:
        if (kind, tenths) not in self._models:
            make = self.rows.scope if kind == "scope" else self.rows.sheath
            self._models[kind, tenths] = make(tenths)
        return self._models[kind, tenths]

    def _scanned(self, renal: int, patient: int, on: int, *, free: bool) -> None:
        rows = self.rows
        study = rows.add("examination", patient_id=patient, examined_on=day(on), modality="ct", slice_mm=1.0)
        finding = "none_seen" if free else "fragments"
        reading = rows.add("reading", examination_id=study, renal_unit_id=renal, finding=finding)
        if not free:
            rows.add("fragment", reading_id=reading, kind="single", diameter_low_mm=8.0, diameter_high_mm=8.0)

    def asked(self, folder: Path) -> Asked:
        """The cohort, frozen without a database; refusers of research use left out as the command does."""
        return ask_snapshot_cohort(self.rows.snapshot_of(folder), research=True)


def written(folder: Path, text: str, name: str = "model.toml") -> Path:
    """A model file."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def model_text(
    *,
    outcome: str = 'what = "stone_free"\nthreshold = "2"',
    exposure: str = 'column = "sheath_to_scope_ratio"\nper = 0.1',
    adjust: tuple[str, ...] = (),
    rest: str = "",
) -> str:
    """A model as text; adjust: the lines of each adjuster."""
    adjusters = "\n".join(f"[[adjust]]\n{one}" for one in adjust)
    return f"[outcome]\n{outcome}\n[exposure]\n{exposure}\n{adjusters}\n{rest}\n"


def answer(unit: ScopedUnit, folder: Path, text: str, **typed: str) -> tuple[Answer, list[dict[str, Any]]]:
    """What the command works out for a model: the answer, and all rows of its report as JSON has them."""
    request = read_request(written(folder, text), typed)
    asked = unit.asked(folder / "frozen")
    made = answered(request.model, asked, contrast_asked=request.contrast_asked, show=request.show)
    rows = json.loads(as_json(report_of(request, asked, [made])))["rows"]
    return made, rows


def of_section(rows: list[dict[str, Any]], name: str) -> list[dict[str, Any]]:
    """The rows of one section."""
    return [row for row in rows if row["section"] == name]
