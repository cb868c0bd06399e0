"""Imports only point one way: each room may import the rooms named here, and no other of ours."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
OURS = ("registry", "analysis", "synthetic_cohort", "migrations")
SHELL = {"registry.command_line", "registry.command_options"}

MAY_IMPORT: dict[str, set[str]] = {
    "registry.schema": set(),
    "registry.store": {"registry.schema", "migrations"},
    "registry.validation": {"registry.schema", "registry.store"},
    "registry.intake": {"registry.schema", "registry.store", "registry.validation"},
    "registry": {"registry.schema"},  # the command-line shell finds the rooms by entry point
    "migrations": {"registry.schema", "registry.store"},
    "analysis.cohort": {"registry.schema", "registry.store"},
    "analysis.outcomes": {"registry.schema"},
    "analysis.design": set(),
    "analysis.estimators": {"analysis.design"},
    "analysis.figures": {"analysis.estimators"},
    "analysis.tables": {"analysis.estimators"},
    "analysis.reports": {
        "analysis.cohort", "analysis.outcomes", "analysis.design", "analysis.estimators", "analysis.figures",
        "analysis.tables", "registry.schema", "registry.store",
    },
    "synthetic_cohort": {"registry.schema"},
}  # fmt: skip


def room(module: str) -> str:
    """The room that a module belongs to: the longest name in the plan that leads to it."""
    parts = module.split(".")
    for length in range(len(parts), 0, -1):
        name = ".".join(parts[:length])
        if name in MAY_IMPORT:
            return name
    return parts[0]


def files() -> list[Path]:
    return sorted(path for top in OURS for path in (ROOT / top).rglob("*.py"))


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports by relative name"
            assert node.module is not None
            yield from (f"{node.module}.{name.name}" for name in node.names)


@pytest.mark.parametrize("path", files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_no_back_edge(path: Path) -> None:
    here = room(".".join(path.relative_to(ROOT).with_suffix("").parts))
    for name in imported(path):
        if name.split(".")[0] not in OURS or any(name.startswith(shell) for shell in SHELL):
            continue
        there = room(name)
        assert there == here or there in MAY_IMPORT[here], f"{here} may not import {there} ({name})"


def test_revisions_import_alembic_and_sqlalchemy_alone() -> None:
    for path in sorted((ROOT / "migrations" / "versions").glob("*.py")):
        assert {name.split(".")[0] for name in imported(path)} <= {"alembic", "sqlalchemy"}, path.name


def test_great_expectations_is_touched_by_one_file_at_most() -> None:
    touching = [p for p in files() if any(n.startswith("great_expectations") for n in imported(p))]
    assert len(touching) <= 1, touching


def test_the_top_level_is_the_plan_and_nothing_else() -> None:
    planned = {"README.md", "DEVELOPERS.md", "pyproject.toml", "registry", "migrations", "analysis", "tests"}
    planned |= {"synthetic_cohort"}
    import subprocess

    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    tops = {line.split("/")[0] for line in listed.splitlines()}
    assert {top for top in tops if not top.startswith(".")} <= planned


def test_init_files_hold_nothing_but_names() -> None:
    for path in files():
        if path.name == "__init__.py":
            body = ast.parse(path.read_text(encoding="utf-8")).body
            assert all(isinstance(node, ast.Expr | ast.Import | ast.ImportFrom | ast.Assign) for node in body), path
