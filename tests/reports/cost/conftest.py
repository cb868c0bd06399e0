"""The command on a small registry."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click
import pytest

from analysis.reports.cost.command import cost
from registry.schema.errors import GravelbookError
from registry.store.registry import create_registry
from tests.cohort.rows import Rows
from tests.reports.cost.clinic import clinic

Run = Callable[..., tuple[int, str, str]]


def registry_of(folder: Path, rows: Rows) -> str:
    location = str(folder / "unit.db")
    rows.written(create_registry(location))
    return location


@pytest.fixture(scope="module")
def unit_location(tmp_path_factory: pytest.TempPathFactory) -> str:
    return registry_of(tmp_path_factory.mktemp("registry"), clinic())


@pytest.fixture
def run(unit_location: str, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs the command and gives exit status, standard output and standard error."""

    def asked(*arguments: str, registry: str = unit_location) -> tuple[int, str, str]:
        capsys.readouterr()
        status = 0
        try:
            cost.main(["--replicates", "200", *arguments, "--registry", registry], standalone_mode=False)
        except click.ClickException as fault:
            status = fault.exit_code
            fault.show()
        except GravelbookError as fault:
            status = 1
            click.echo(str(fault), err=True)
        said = capsys.readouterr()
        return status, said.out, " ".join(said.err.split())

    return asked
