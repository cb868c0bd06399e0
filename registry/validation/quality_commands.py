"""The group of commands that look at what is held: its check, its questions, what is due, its report."""

from __future__ import annotations

import click

from registry.validation.check_command import check
from registry.validation.due_command import due
from registry.validation.quality_report.command import report
from registry.validation.questions_command import questions
from registry.validation.theatre_list_command import theatre_list


@click.group()
def quality() -> None:
    """Check what the registry holds, and say what is open or due."""


quality.add_command(check)
quality.add_command(due)
quality.add_command(questions)
quality.add_command(report)
quality.add_command(theatre_list)
