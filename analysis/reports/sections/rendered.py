"""A report in the format that was asked for."""

from __future__ import annotations

from analysis.reports.sections.report import Report


def rendered(report: Report, output_format: str) -> str:
    """The report as text, csv or json."""
    if output_format == "json":
        from analysis.reports.sections.render_json import as_json

        return as_json(report)
    if output_format == "csv":
        from analysis.reports.sections.render_csv import as_csv

        return as_csv(report)
    from analysis.reports.sections.render_text import as_text

    return as_text(report)
