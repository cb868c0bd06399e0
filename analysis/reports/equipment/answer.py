"""The report on failures and lives of equipment."""

from __future__ import annotations

from analysis.reports.equipment.asking import Equipment
from analysis.reports.equipment.failure_sections import failure_sections, model_section
from analysis.reports.equipment.life_sections import life_sections
from analysis.reports.equipment.vigilance_section import vigilance_section
from analysis.reports.sections.report import Report
from registry.schema.lists_equipment import EquipmentKind


def report_of(found: Equipment) -> Report:
    """Failures per piece opened, lives of reusable pieces, each model, and what is marked to be reported."""
    request = found.request
    days = f"from {request.since or 'the beginning'} to {request.until or found.asked.cohort.as_of}"
    return Report(
        title=f"Equipment: {EquipmentKind(request.kind).label.lower()}",
        sections=[
            *failure_sections(found),
            model_section(found),
            *life_sections(found),
            vigilance_section(found),
        ],
        definition=request.as_dict(),
        in_words=(
            ("Kind", EquipmentKind(request.kind).label),
            ("Operations", days),
            ("Interval", f"{request.interval}, level {request.level:g}"),
        ),
        source=found.asked.source,
        own_defaults=request.own_defaults,
        small_number=request.small_number,
        cautions=("Failures are counted as entered: a unit that writes down more has more of them.",),
    )
