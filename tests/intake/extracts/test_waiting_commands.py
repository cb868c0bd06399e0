"""The commands about rows that wait, as a data manager uses them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from registry.store.registry import open_registry
from tests.command_line import Answered, gravelbook
from tests.intake.extracts.unit import MAPPINGS, Unit
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, write_mapping, write_rows

SCANS = ["MRN", "Scan date", "Modality", "Side", "Largest left", "Largest right", "Finding", "Report"]
ROWS = [
    ["H-1", "02.06.2024", "CT", "L", "", "", "clear", "seen with Mrs Example"],
    ["H-2", "03.06.2024", "CT", "L", "", "", "clear", ""],
]


@pytest.fixture
def shop(sqlite_location: str, tmp_path: Path) -> tuple[str, Path]:
    """A registry with a site, into which an extract was loaded of which both rows wait."""
    with open_registry(sqlite_location) as registry:
        Unit(registry, tmp_path)
    file = write_rows(tmp_path / "scans.csv", [SCANS, *ROWS])
    answered = load(sqlite_location, file, MAPPINGS / "scans.toml")
    assert answered.status == 0
    assert "2 rows wait for their case (gravelbook intake waiting)." in answered.out
    return sqlite_location, tmp_path


def load(location: str, file: Path, mapping: Path, *more: str) -> Answered:
    return gravelbook("intake", "load", str(file), "--mapping", str(mapping), "--registry", location, *more)


def waiting(location: str, *more: str) -> Answered:
    return gravelbook("intake", "waiting", "--registry", location, *more)


def listed(location: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = json.loads(waiting(location, "--format", "json").out)
    return found


def test_the_list_says_why_and_shows_nobody(shop: tuple[str, Path]) -> None:
    location, _ = shop
    answered = waiting(location)
    assert "No patient of the site has this number yet." in answered.out
    assert "scan reports" in answered.out
    for value in ("H-1", "H-2", "Example", "scans.csv", "02.06", "2024-06-02"):
        assert value not in answered.out
    assert [(row["batch"], row["place"]) for row in listed(location)] == [(1, "sheet 1, row 2"), (1, "sheet 1, row 3")]
    assert waiting(location, "--format", "csv").out.splitlines()[0] == "id,batch,source,place,since,tried,why"


def test_a_load_of_anything_tries_the_rows_again(shop: tuple[str, Path]) -> None:
    location, folder = shop
    log = write_rows(folder / "log.csv", [HEADINGS, ["H-1", "03.05.2024", "L"]])
    answered = load(location, log, write_mapping(folder, HEAD))
    assert "Found their case: 1 row that waited (batch 3); 1 wait on (gravelbook intake waiting)." in answered.out
    assert len(listed(location)) == 1
    last = write_rows(folder / "log2.csv", [HEADINGS, ["H-2", "04.05.2024", "L"]])
    answered = load(location, last, write_mapping(folder, HEAD), "--format", "json")
    assert json.loads(answered.out)["new"]["operation"] == 1  # the sentence is not in the way
    assert "Found their case: 1 row that waited" in answered.err
    assert waiting(location).out == "No row waits.\n"


def test_a_person_tries_again_and_drops(shop: tuple[str, Path]) -> None:
    location, folder = shop
    answered = waiting(location, "--try-again")
    assert answered.out.startswith("Found their case: 0 rows; still waiting: 2.\n")
    assert waiting(location, "--drop", "1").status == 2
    answered = waiting(location, "--drop", "1", "--reason", "another hospital's patient")
    assert (answered.status, answered.out.splitlines()[0]) == (0, "Row 1 was dropped.")
    assert [row["id"] for row in listed(location)] == [2]
    answered = waiting(location, "--drop", "1", "--reason", "again")
    assert answered.status == 1 and "No row 1 waits." in answered.err
    again = write_rows(folder / "next_week.csv", [SCANS, *ROWS, ["H-3", *ROWS[0][1:]]])
    assert "2 rows wait for their case" in load(location, again, MAPPINGS / "scans.toml").out
    only = write_rows(folder / "week_after.csv", [SCANS, ROWS[0]])
    assert load(location, only, MAPPINGS / "scans.toml").out.endswith("Nothing was changed.\n")
    only = write_rows(folder / "week_after.csv", [SCANS, ROWS[1]])
    assert "Nothing was changed. 1 row waits for its case" in load(location, only, MAPPINGS / "scans.toml").out
    assert [row["id"] for row in listed(location)] == [2, 3]  # what was dropped stays dropped


def test_check_says_how_many_would_wait_and_writes_nothing(shop: tuple[str, Path]) -> None:
    location, folder = shop
    file = write_rows(folder / "other.csv", [SCANS, ["H-9", *ROWS[0][1:]]])
    answered = gravelbook(
        "intake", "check", str(file), "--mapping", str(MAPPINGS / "scans.toml"), "--registry", location
    )
    assert answered.status == 0 and "1 row waits for its case" in answered.out
    assert len(listed(location)) == 2


def test_a_row_at_fault_is_rejected_and_does_not_wait_as_well(shop: tuple[str, Path]) -> None:
    location, folder = shop
    file = write_rows(folder / "bad.csv", [SCANS, ["H-8", "40.06.2024", *ROWS[0][2:]], ["H-9", *ROWS[0][1:]]])
    rejected = folder / "rejected.xlsx"
    answered = load(location, file, MAPPINGS / "scans.toml", "--accept-good-rows", str(rejected))
    assert answered.status == 1 and rejected.exists()
    assert "1 row waits for its case" in answered.out
    assert len(listed(location)) == 3


def test_a_mapping_that_no_longer_reads_keeps_its_rows(shop: tuple[str, Path]) -> None:
    location, folder = shop
    text = (MAPPINGS / "scans.toml").read_text()
    mapping = folder / "with_site.toml"
    mapping.write_text('site = "ZZ"\n' + text.replace("scan reports", "other scans"))
    with open_registry(location) as registry, registry.writing(by="clerk", reason="test") as door:
        site = door.insert("site", {"code": "ZZ", "name": "Elsewhere"})
    file = write_rows(folder / "elsewhere.csv", [SCANS, ["H-5", *ROWS[0][1:]]])
    assert load(location, file, mapping).status == 0
    with open_registry(location) as registry, registry.writing(by="clerk", reason="test") as door:
        door.withdraw("site", site)
    assert "still waiting: 3." in waiting(location, "--try-again").out
    assert "does not fit any more" in str(listed(location)[-1]["why"])


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"Test" = ["CRP", "C-reactive protein"]', '"Tests" = "CRP"', "there is no heading 'tests'"),
        ('{ "Test" = ["CRP", "C-reactive protein"] }', "{}", "a heading and its words"),
        ('{ "Test" = ["CRP", "C-reactive protein"] }', '"CRP"', "a table of keys and values"),
    ],
)
def test_mistakes_in_where_are_named(shop: tuple[str, Path], old: str, new: str, says: str) -> None:
    location, folder = shop
    text = (MAPPINGS / "blood_results_by_test.toml").read_text()
    assert old in text
    mapping = folder / "wrong.toml"
    mapping.write_text(text.replace(old, new))
    file = write_rows(
        folder / "blood.csv", [["MRN", "Date", "Test", "Value", "Unit"], ["H-1", "12.01.2024", "", "", ""]]
    )
    answered = load(location, file, mapping)
    assert answered.status == 1 and says in answered.err, answered.err
