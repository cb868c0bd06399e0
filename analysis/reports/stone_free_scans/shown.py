"""The further kinds of answer, as one report of sections and as lists of cases."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pandas as pd

from analysis.reports.request.source import Asked
from analysis.reports.sections.report import Report, Section
from analysis.reports.stone_free.definition_lines import SPOKEN_UNIT, definition_lines
from analysis.reports.stone_free.request import Request
from analysis.reports.stone_free_scans.contrasts import contrast_sections
from analysis.reports.stone_free_scans.corrected import corrected_cases, corrected_section
from analysis.reports.stone_free_scans.ct_grades import grade_cases, grade_sections
from analysis.reports.stone_free_scans.detection_file import DetectionTable, detection_table
from analysis.reports.stone_free_scans.grade_file import grade_table
from analysis.reports.stone_free_scans.judgement import judgement_sections
from analysis.reports.stone_free_scans.judgement_pairs import judgement_cases
from analysis.reports.stone_free_scans.kinds import CORRECTED, GRADES, JUDGEMENT, READERS
from analysis.reports.stone_free_scans.question import Question
from analysis.reports.stone_free_scans.readers import reader_cases, reader_sections
from analysis.tables.spreadsheet_text import never_a_formula


def scan_sections(kinds: Sequence[str], question: Question, files: Mapping[str, Path]) -> list[Section]:
    """The sections of these kinds, in their order; kinds of others are passed over.

    files: detection and grade_table, where given. Raises GravelbookError for a file that cannot be used.
    """
    make: dict[str, Callable[[], list[Section]]] = {
        GRADES: lambda: grade_sections(question, grade_table(files.get("grade_table"))),
        JUDGEMENT: lambda: judgement_sections(question),
        READERS: lambda: reader_sections(question),
        CORRECTED: lambda: _corrected(question, _detection(files)),
    }
    return [section for kind in kinds if kind in make for section in make[kind]()]


def scan_cases(kind: str, question: Question, files: Mapping[str, Path]) -> bytes:
    """The cases behind one kind, as CSV: patients' data, with the study number beside each side."""
    make: dict[str, Callable[[], pd.DataFrame]] = {
        GRADES: lambda: grade_cases(question, grade_table(files.get("grade_table"))),
        JUDGEMENT: lambda: judgement_cases(question),
        READERS: lambda: reader_cases(question),
        CORRECTED: lambda: corrected_cases(question),
    }
    cases = make[kind]()
    if "side_id" in cases:
        sides = question.asked.cohort.sides_frame.set_index("side_id")[["study_number", "operated_on"]]
        cases = cases.join(sides, on="side_id")
    for name in cases.columns:
        if pd.api.types.is_datetime64_any_dtype(cases[name]):
            cases[name] = cases[name].dt.strftime("%Y-%m-%d")
        elif not pd.api.types.is_numeric_dtype(cases[name]):
            cases[name] = cases[name].astype("string").map(never_a_formula, na_action="ignore")
    return cases.to_csv(index=False, lineterminator="\n").encode("utf-8")


def _corrected(question: Question, table: DetectionTable) -> list[Section]:
    contrast = question.request.contrast
    compared = contrast_sections(question, table, contrast) if contrast else []
    return [corrected_section(question, table), *compared]


def _detection(files: Mapping[str, Path]) -> DetectionTable:
    return detection_table(files["detection"])


def report_of(request: Request, asked: Asked, sections: Sequence[Section], *, kinds: Sequence[str]) -> Report:
    """The sections with the definition that they share."""
    definition = request.definition
    said = {
        **definition.as_dict(),
        "show": list(kinds),
        "interval": request.interval,
        "level": request.level,
        "by": [split.as_dict() for split in request.by],
    }
    unit = SPOKEN_UNIT[definition.unit]
    words = [pair for pair in definition_lines(request) if pair[0] != "unscanned"]
    return Report(
        title=f"What lies behind the stone-free {unit}, as of {asked.source.as_of.isoformat()}",
        sections=sections,
        definition=said,
        in_words=words,
        source=asked.source,
        own_defaults=request.own_defaults,
        small_number=request.small_number,
        cautions=definition.cautions(),
    )
