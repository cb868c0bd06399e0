"""A load that is killed, runs out of disk or loses its database leaves the registry as it was, or with the whole batch.

Eight kills on each engine here; ``GRAVELBOOK_KILLS=50`` asks for more.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import text

from registry.intake.load import load_file
from registry.store.proof import prove
from registry.store.registry import open_registry
from tests.intake.books import write_book

KILLS = int(os.environ.get("GRAVELBOOK_KILLS", "8"))
PATIENTS = 250


def book(path: Path, series: str) -> Path:
    """A workbook whose patients nobody else has: four rows each, in four sheets."""
    numbers = [f"{series}-{n:04d}" for n in range(1, PATIENTS + 1)]
    write_book(
        path,
        {
            "patient": [{"study_number": number, "sex": "female", "note": "a wording " * 20} for number in numbers],
            "renal_unit": [{"study_number": number, "unit": "left"} for number in numbers],
            "operation": [
                {"study_number": number, "operated_on": "2024-03-04", "purpose": "stone_removal", "age_years": 50}
                for number in numbers
            ],
            "treated_side": [
                {
                    "study_number": number,
                    "operated_on": "2024-03-04",
                    "unit": "left",
                    "intent": "stone_removal",
                    "technique": "flexible",
                }
                for number in numbers
            ],
        },
    )
    return path


ROWS = PATIENTS * 5  # the technique is a row of its own


@pytest.fixture(autouse=True)
def site(request: pytest.FixtureRequest) -> None:
    place = "location" if "location" in request.fixturenames else "sqlite_location"
    with open_registry(request.getfixturevalue(place)) as opened, opened.writing(by="maker") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay", "time_zone": "Europe/Lisbon"})


def started(location: str, workbook: Path, limit: int = 0) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.intake.interrupted.child", location, str(workbook), str(limit)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def content(location: str) -> tuple[int, int]:
    """How many batches there are and how many rows they brought."""
    with open_registry(location) as registry, registry.reading() as connection:
        batches = connection.execute(text("SELECT count(*) FROM batch")).scalar_one()
        tables = ("patient", "renal_unit", "operation", "treated_side", "side_technique")
        rows = sum(connection.execute(text(f"SELECT count(*) FROM {name}")).scalar_one() for name in tables)
    return int(batches), int(rows)


def test_killed_at_any_moment(location: str, tmp_path: Path) -> None:
    draw = random.Random(20240304)
    before = content(location)
    outcomes = []
    for kill in range(KILLS):
        workbook = book(tmp_path / f"book{kill}.xlsx", f"K{kill}")
        child = started(location, workbook)
        assert child.stdout is not None
        # Half of the kills fall into the writing, which is the shortest part of a load.
        stage, steps = ("Writing", draw.randint(0, 5)) if kill % 2 else ("started", draw.randint(0, 12))
        seen = False
        for line in child.stdout:
            seen = seen or line.startswith(stage) or (stage == "Writing" and line.startswith("Checking 1250"))
            if seen:
                steps -= 1
            if steps < 0:
                break
        time.sleep(draw.uniform(0, 0.03))
        child.kill()
        child.wait()
        child.stdout.close()
        assert child.stderr is not None
        child.stderr.close()
        after = content(location)
        assert after in (before, (before[0] + 1, before[1] + ROWS)), f"kill {kill} left {after}, it was {before}"
        outcomes.append(after != before)
        before = after
    assert not all(outcomes), "no kill fell before the end of a load: the test tries nothing"
    assert prove(location).holds
    with open_registry(location) as registry:
        assert sum(load_file(registry, book(tmp_path / "last.xlsx", "L"), by="loader").new.values()) == ROWS


def test_a_full_disk_is_said_in_a_sentence_and_leaves_nothing(sqlite_location: str, tmp_path: Path) -> None:
    before = content(sqlite_location)
    child = started(sqlite_location, book(tmp_path / "book.xlsx", "D"), limit=400_000)
    out, err = child.communicate()
    assert child.returncode == 1 and not err, err
    assert "refused: " in out and "disk" in out and "Nothing" in out
    assert content(sqlite_location) == before
    assert prove(sqlite_location).holds
    with open_registry(sqlite_location) as registry:
        assert load_file(registry, tmp_path / "book.xlsx", by="loader").batch_id is not None


@pytest.mark.parametrize("location", ["postgresql"], indirect=True)
def test_a_server_that_goes_away_is_said_in_a_sentence(location: str, tmp_path: Path) -> None:
    before = content(location)
    child = started(location, book(tmp_path / "book.xlsx", "S"))
    assert child.stdout is not None
    for line in child.stdout:
        if line.startswith("Writing"):
            break
    with open_registry(location) as registry, registry.engine.connect() as connection:
        connection.execute(
            text(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        )
    out, err = child.communicate()
    if child.returncode == 0:
        pytest.skip("the load was done before the server was gone")
    assert child.returncode == 1 and not err, err
    assert "refused: " in out and "server" in out
    assert content(location) == before
