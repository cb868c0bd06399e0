"""The quality report as one HTML file that needs nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from registry.validation.quality_report.ascertainment import FollowUp
from registry.validation.quality_report.completeness import FieldCompleteness, Filled
from registry.validation.quality_report.figures import share_bar, stacked_months, trend
from registry.validation.quality_report.parts import Report
from registry.validation.quality_report.timeliness import SUBJECTS, Delay

POOR, FAIR = 0.80, 0.95
_THOROUGH = ("ct", "second_look")


def report_page(report: Report) -> str:
    """The report as HTML, without scripts, links or fonts from elsewhere.

    Args:
        report: what it says.
    """
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    page = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = page.from_string(Path(__file__).with_name("page.html").read_text(encoding="utf-8"))
    months = sorted({m.month for f in report.completeness for m in f.months})
    lacking = sorted((f for f in report.completeness if f.whole.open), key=lambda f: (-f.whole.open, f.table, f.field))
    complete = [f"{f.subject}: {f.label}" for f in report.completeness if not f.whole.open]
    broken = sorted((line for line in report.rules if line.broken), key=lambda r: (r.severity != "error", -r.broken))
    return template.render(
        r=report,
        facts=_facts(report),
        months=months,
        lacking=[
            {"field": f, "whole": f.whole, "bar": Markup(share_bar(f.whole.share)), "cells": _cells(f, months)}
            for f in lacking
        ],
        full=len(complete),
        complete="; ".join(complete),
        chart=Markup(stacked_months([_column(m) for m in report.follow_up if m.sides])),
        subjects=list(SUBJECTS),
        entered=_entered(report),
        broken_rules=[{"line": line, "trend": Markup(trend(line.earlier))} for line in broken],
        rules_said=_rules_said(report),
        silent=_silent(report),
        percent=percent,
    )


def percent(part: int, whole: int) -> str:
    """A share in whole percent; a dash where there is nothing to share."""
    return f"{100 * part / whole:.0f}" if whole else "–"


def _facts(report: Report) -> list[dict[str, str]]:
    whole = Filled(
        "all",
        sum(f.whole.rows for f in report.completeness),
        sum(f.whole.filled for f in report.completeness),
        sum(f.whole.answered for f in report.completeness),
    )
    sides, scanned, operations, reviewed = _totals(report.follow_up)
    sides_before, scanned_before, _, _ = _totals(report.follow_up_before)
    before = f"; the 12 months before: {percent(scanned_before, sides_before)} %" if sides_before else ""
    entered = [d for d in report.timeliness if d.subject == "Operations"]
    rows = sum(d.rows for d in entered)
    within = sum(d.rows * d.within for d in entered)
    return [
        {
            "value": _with_percent(whole.filled + whole.answered, whole.rows),
            "what": "of needed values are there or explained",
            "detail": f"{whole.open:,} of {whole.rows:,} are open",
        },
        {
            "value": _with_percent(scanned, sides),
            "what": "of sides were scanned in the window",
            "detail": f"{scanned:,} of {sides:,}{before}",
        },
        {
            "value": _with_percent(reviewed, operations),
            "what": f"of operations were reviewed on day {report.review_days} or later",
            "detail": f"{reviewed:,} of {operations:,}",
        },
        {
            "value": _with_percent(round(within), rows),
            "what": "of operations were entered within 7 days",
            "detail": f"{round(within):,} of {rows:,}",
        },
    ]


def _with_percent(part: int, whole: int) -> str:
    return f"{percent(part, whole)} %" if whole else "–"


def _totals(months: tuple[FollowUp, ...]) -> tuple[int, int, int, int]:
    return (
        sum(m.sides for m in months),
        sum(m.scanned for m in months),
        sum(m.operations for m in months),
        sum(m.reviewed for m in months),
    )


def _cells(field: FieldCompleteness, months: list[str]) -> list[dict[str, Any]]:
    by_month = {m.month: m for m in field.months}
    cells = []
    for month in months:
        share = by_month[month].share if month in by_month else None
        if share is None:
            cells.append({"kind": "none", "text": "–"})
            continue
        kind = "poor" if share < POOR else "fair" if share < FAIR else "full"
        # 99.6 % must not look like all of them.
        cells.append({"kind": kind, "text": f"{100 if share == 1 else min(99, round(100 * share))}"})
    return cells


def _entered(report: Report) -> list[tuple[str, list[Delay | None]]]:
    by_place = {(d.month, d.subject): d for d in report.timeliness}
    months = sorted({d.month for d in report.timeliness})
    return [(month, [by_place.get((month, subject)) for subject in SUBJECTS]) for month in months]


def _column(month: FollowUp) -> tuple[str, int, int, int]:
    thorough = sum(count for modality, count in month.by_modality.items() if modality in _THOROUGH)
    return month.month, thorough, month.scanned - thorough, month.sides - month.scanned


def _rules_said(report: Report) -> str:
    kept = sum(1 for line in report.rules if line.state == "passed")
    return (
        f"{len(report.rules)} rules were asked; {kept} hold in every case that could be judged. The cases behind each: "
        "gravelbook quality check --cases FILE."
    )


def _silent(report: Report) -> str:
    states = {"empty": "had nothing to judge", "could_not_run": "could not be run"}
    said = []
    for state, words in states.items():
        named = [line.rule for line in report.rules if line.state == state]
        if named:
            said.append(f"{len(named)} rules {words}: {', '.join(named)}.")
    return " ".join(said)
