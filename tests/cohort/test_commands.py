"""The commands `gravelbook snapshot ...`."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from analysis.cohort.commands import snapshot
from registry.schema.errors import GravelbookError
from registry.store.registry import open_registry
from tests.cohort.full_registry import filled


@pytest.fixture
def place(sqlite_location: str) -> str:
    """Where a filled registry is."""
    with open_registry(sqlite_location) as opened:
        filled().written(opened)
    return sqlite_location


def run(*words: str) -> Result:
    return CliRunner().invoke(snapshot, list(words))


def ok(*words: str) -> str:
    result = run(*words)
    assert result.exit_code == 0, (result.output, result.exception)
    return result.output


def test_take_list_keep_remove(place: str) -> None:
    folder = f"{place}.snapshots"
    at = ["--registry", place]
    assert ok("list", *at) == f"No snapshots in {folder}.\n"
    assert "spring: registry of 20" in ok("take", "spring", *at)
    taken = ok("take", *at)
    assert taken.startswith("(automatic): registry of 20")
    assert "3 treated sides" in taken
    assert ok("keep", "summer", *at).startswith("summer: registry of 20")
    listed = ok("list", *at).splitlines()
    assert [line.split(":")[0] for line in listed] == ["spring", "summer", "(automatic)", f"in {folder}"]
    # All three are of the same registry: what follows the name is the same.
    assert len({line.split(":", 1)[1] for line in listed[:3]}) == 1
    (Path(folder) / "kept" / "spring" / "manifest.json").write_text("{}")
    assert ok("list", *at).startswith("spring: spoilt, its manifest is not as it was written\nsummer: registry of")
    assert ok("remove", "spring", *at) == "Snapshot spring removed.\n"
    assert [path.name for path in (Path(folder) / "kept").iterdir()] == ["summer"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["keep", "one"], "There is no automatic snapshot"),
        (["remove", "one"], "No snapshot is kept under the name 'one'"),
        (["take", "one/two"], "cannot name a snapshot"),
    ],
)
def test_requests_at_fault(place: str, words: list[str], said: str) -> None:
    result = run(*words, "--registry", place)
    assert isinstance(result.exception, GravelbookError)
    assert said in str(result.exception)


def test_the_name_is_needed_where_one_is_meant() -> None:
    assert run("keep").exit_code == 2
    assert run("remove").exit_code == 2
