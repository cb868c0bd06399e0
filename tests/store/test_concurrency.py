"""Several writers at once: nothing is lost and nobody is turned away."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from sqlalchemy import select

from registry.schema.tables import metadata
from registry.store.door import StaleRow
from registry.store.registry import Registry, open_registry
from registry.store.verify import verify

OPERATION = metadata.tables["operation"].c
THREADS, TIMES = 8, 50

OTHER_PROCESS = """
import sys
from registry.store.registry import open_registry
with open_registry(sys.argv[1]) as registry:
    for n in range(int(sys.argv[3])):
        with registry.writing(by=sys.argv[2]) as door:
            door.insert("site", {"code": f"{sys.argv[2]}{n}", "name": "x"})
"""


@pytest.fixture
def counted(registry: Registry) -> Registry:
    with registry.writing(by="me") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        patient = door.insert("patient", {"site_id": site, "study_number": "L-1"})
        door.insert(
            "operation",
            {"patient_id": patient, "operated_on": date(2024, 5, 1), "purpose": "stone_removal", "operating_min": 0},
        )
    return registry


def minutes(registry: Registry) -> tuple[int, int]:
    with registry.reading() as connection:
        found = connection.execute(select(OPERATION.operating_min, OPERATION.revision)).one()
    return int(found.operating_min), int(found.revision)


def in_threads(work: Callable[[int], int]) -> int:
    with ThreadPoolExecutor(THREADS) as pool:
        return sum(pool.map(work, range(THREADS)))


def test_increments_by_eight_threads_are_all_kept(counted: Registry) -> None:
    def work(number: int) -> int:
        for _ in range(TIMES):
            with counted.writing(by=f"thread {number}") as door:
                row = door.connection.execute(select(OPERATION.operating_min, OPERATION.revision)).one()
                door.update("operation", 1, {"operating_min": row.operating_min + 1}, revision=row.revision)
        return 0

    before, _ = counted.head()
    in_threads(work)
    assert minutes(counted) == (THREADS * TIMES, THREADS * TIMES + 1)
    assert counted.head()[0] == before + THREADS * TIMES
    assert verify(counted).holds


def test_edits_read_in_one_transaction_and_written_in_another_are_kept_or_told(counted: Registry) -> None:
    """As pages do it: nothing protects the row between the two but its revision."""

    def work(number: int) -> int:
        kept = 0
        for _ in range(10):
            value, revision = minutes(counted)
            try:
                with counted.writing(by=f"thread {number}") as door:
                    door.update("operation", 1, {"operating_min": value + 1}, revision=revision)
                kept += 1
            except StaleRow:
                pass
        return kept

    kept = in_threads(work)
    assert kept > 0
    assert minutes(counted)[0] == kept


def test_readers_see_one_moment_while_others_write(counted: Registry) -> None:
    with counted.reading() as connection:
        first = connection.execute(select(OPERATION.operating_min)).scalar_one()
        with counted.writing(by="me") as door:
            door.update("operation", 1, {"operating_min": 30}, revision=1)
        assert connection.execute(select(OPERATION.operating_min)).scalar_one() == first == 0
    assert minutes(counted)[0] == 30


def test_several_processes_write_in_turn(registry: Registry, location: str) -> None:
    length, _ = registry.head()
    others = [
        subprocess.Popen([sys.executable, "-c", OTHER_PROCESS, location, name, "20"], stderr=subprocess.PIPE)
        for name in ("one", "two")
    ]
    for n in range(20):
        with registry.writing(by="here") as door:
            door.insert("site", {"code": f"here{n}", "name": "x"})
    for other in others:
        _, said = other.communicate()
        assert (other.returncode, said) == (0, b"")
    assert registry.head()[0] == length + 60
    assert verify(registry).holds


def test_a_second_transaction_in_the_same_thread_is_a_mistake_not_a_standstill(
    registry: Registry, location: str
) -> None:
    with open_registry(location) as again:
        for second in (registry, again):
            with (
                registry.writing(by="me"),
                pytest.raises(RuntimeError, match="in this thread"),
                second.writing(by="me"),
            ):
                pass
    with registry.writing(by="me") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
