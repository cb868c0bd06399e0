"""What the commands say when there is next to nothing: no complication, no equipment, nobody due, nothing at all."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command_line import gravelbook
from tests.conftest import sqlite_copy
from tests.golden.outcomes.story_book import Book, day

EVERYTHING = (
    ("complications", "--show", "all", "--unreviewed", "reviewed,lower,upper,weighted", "--days", "30,90"),
    ("scores", "--show", "values,validation,missing,burden"),
    ("equipment",),
    ("equipment", "--lot", "L1"),
    ("equipment", "--kind", "access_sheath", "--by", "model_code"),
    ("stone-free", "--unscanned", "complete,lower,upper,weighted,imputed"),
)
OWN_PAIRS = ("fit", "--own")


@pytest.fixture(scope="module")
def empty(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sqlite_copy(sqlite_template, tmp_path_factory.mktemp("empty") / "unit.db")


@pytest.fixture(scope="module")
def plain(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two operations, one contact on day 50, and nothing else."""
    folder = tmp_path_factory.mktemp("plain")
    location = sqlite_copy(sqlite_template, folder / "unit.db")
    book = Book()
    first = book.person("reviewed")
    first.operation()
    first.contact(day(50))
    book.person("unreviewed").operation()
    book.load(location, folder)
    return location


@pytest.mark.parametrize("words", [*EVERYTHING, OWN_PAIRS], ids=" ".join)
@pytest.mark.parametrize("form", ["text", "csv", "json"])
def test_without_any_event_there_is_an_answer(plain: Path, tmp_path: Path, words: tuple[str, ...], form: str) -> None:
    cases = ("--cases", str(tmp_path / "cases.csv")) if words != OWN_PAIRS else ()
    told = gravelbook(*words, "--registry", str(plain), "--format", form, *cases)
    assert told.status == 0, told.err
    assert "went wrong" not in told.err and "Warning" not in told.err
    if form == "json":
        for row in json.loads(told.out)["rows"]:
            # No number without an interval, where there is one at all.
            of_one = row.get("section") == "index" and row["n"] < 2  # one person's index has no spread
            if row.get("estimate") is not None and row.get("unreviewed") != "weighted" and not of_one:
                assert row.get("low") is not None and row.get("high") is not None, row


@pytest.mark.parametrize("words", [*EVERYTHING, OWN_PAIRS], ids=" ".join)
def test_before_everything_nobody_is_counted(plain: Path, words: tuple[str, ...]) -> None:
    if "--lot" in words:
        pytest.skip("a search knows no as-of day")
    told = gravelbook(*words, "--registry", str(plain), "--format", "json", "--as-of", "2000-01-01")
    assert told.status == 0, told.err
    for row in json.loads(told.out)["rows"]:
        assert not row.get("n"), row
        assert row.get("estimate") is None and row.get("rate") is None, row


@pytest.mark.parametrize("words", [*EVERYTHING, OWN_PAIRS], ids=" ".join)
def test_an_empty_registry_says_so(empty: Path, words: tuple[str, ...]) -> None:
    told = gravelbook(*words, "--registry", str(empty), "--format", "json")
    if "--lot" in words:
        assert told.status == 0
        return
    assert (told.status, told.out) == (1, "")
    assert "no operation" in told.err
