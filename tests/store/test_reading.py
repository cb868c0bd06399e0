"""Tables come back typed by their declarations, by every way of reading them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pandas as pd
import pyarrow as pa
import pytest

from registry.schema.errors import GravelbookError
from registry.schema.fields import info_of
from registry.schema.tables import metadata, ordered_tables
from registry.store.reading import arrow_type, open_reader, read_arrow, read_frame
from registry.store.registry import Registry

DTYPES = {
    pa.int64(): "Int64",
    pa.float64(): "float64",
    pa.string(): "string",
    pa.date32(): "datetime64[s]",
    pa.timestamp("us", tz="UTC"): "datetime64[us, UTC]",
}


@pytest.mark.parametrize("large", [0, 10_000])
def test_every_table_is_typed_empty_or_not(registry: Registry, large: int) -> None:
    from tests.store.filled import fill

    for full in (False, True):
        if full:
            with registry.writing(by="me") as door:
                fill(door)
        with open_reader(registry, large=large) as reader:
            for table in ordered_tables():
                read = reader.arrow(table.name, analysed_only=False)
                assert read.schema.names == [c.name for c in table.columns]
                assert read.schema.types == [arrow_type(info_of(c)) for c in table.columns], table.name
                frame = reader.frame(table.name)
                assert [str(t) for t in frame.dtypes] == [DTYPES[arrow_type(info_of(c))] for c in table.columns]
                assert read.num_rows == len(frame)
                assert (read.num_rows > 0) == full or table.name == "change_history"
            assert reader.head() == registry.head()


def test_small_and_large_tables_are_read_alike(filled: Registry) -> None:
    with open_reader(filled, large=10_000) as small, open_reader(filled, large=0) as large:
        for table in ordered_tables():
            one = small.arrow(table.name, decrypt=True, analysed_only=False)
            assert one.equals(large.arrow(table.name, decrypt=True, analysed_only=False)), table.name


def test_values_come_back_exactly(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        patient = door.insert("patient", {"site_id": site, "study_number": "a,\"b'", "note": "two\nlines"})
        door.insert("patient", {"site_id": site, "study_number": "é", "note": ""})
        common = {"patient_id": patient, "operated_on": date(1901, 2, 28), "purpose": "stent"}
        moment = datetime(2024, 5, 1, 23, 59, 59, 999999, tzinfo=UTC)
        door.insert("operation", {**common, "started_at": moment, "height_cm": 170.1, "weight_kg": 70})
        door.insert("operation", {**common, "day_number": 2})
    for large in (0, 10_000):
        with open_reader(registry, large=large) as reader:
            read = reader.arrow("operation").to_pylist()
            assert read[0]["operated_on"] == date(1901, 2, 28)
            assert read[0]["started_at"] == moment
            assert (read[0]["height_cm"], read[0]["weight_kg"]) == (170.1, 70.0)
            assert [read[1][n] for n in ("started_at", "height_cm", "urgency", "gestation_weeks")] == [None] * 4
            patients = reader.frame("patient", decrypt=True)
            assert patients["study_number"].tolist() == ["a,\"b'", "é"]
            assert patients["note"].tolist() == ["two\nlines", ""]
            assert patients["birth_year"].isna().all()


def test_a_type_does_not_depend_on_what_comes_first(registry: Registry) -> None:
    """A column that is missing for thousands of rows and then is not, as drivers that guess get wrong."""
    count = 3000
    with registry.writing(by="me") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        first = door.next_ids("patient", count)
        rows: list[dict[str, Any]] = [
            {"id": first + n, "site_id": site, "study_number": f"P{n}"} for n in range(count - 1)
        ]
        rows.append(
            {"id": first + count - 1, "site_id": site, "study_number": "7", "birth_year": 1950, "sex": "female"}
            | {"died_on": date(2024, 5, 1), "note": "x"}
        )
        door.load_batch(file_hash="h", file_name=None, tables={"patient": rows})
    for large in (0, 10_000):
        with open_reader(registry, large=large) as reader:
            frame = reader.frame("patient", ["birth_year", "sex", "died_on", "study_number", "note"], decrypt=True)
            assert len(frame) == count
            last = frame.iloc[-1]
            assert (last["birth_year"], last["sex"], last["study_number"], last["note"]) == (1950, "female", "7", "x")
            assert last["died_on"] == pd.Timestamp(2024, 5, 1)
            assert frame.notna().sum().tolist() == [1, 1, 1, count, 1]


def test_columns_come_in_the_order_asked_for(filled: Registry) -> None:
    assert read_frame(filled, "patient", ["sex", "id", "birth_year"]).columns.tolist() == ["sex", "id", "birth_year"]
    assert read_arrow(filled, "patient", ["birth_year"]).schema.names == ["birth_year"]
    for table, columns in (("patient", ["sex", "colour"]), ("nowhere", None)):
        with pytest.raises(GravelbookError, match=r"colour|nowhere"):
            read_frame(filled, table, columns)


def test_what_identifies_a_person_stays_out_unless_asked_for(filled: Registry) -> None:
    for table in ordered_tables():
        read = read_arrow(filled, table.name)
        assert all(info_of(metadata.tables[table.name].columns[name]).analysed for name in read.schema.names)
    assert "note" not in read_arrow(filled, "patient").schema.names
    assert "serial" not in read_arrow(filled, "equipment_item").schema.names
    notes = read_arrow(filled, "patient", ["note"])["note"].to_pylist()
    assert all(note.startswith("enc1:") for note in notes)
    clear = read_arrow(filled, "patient", ["note"], decrypt=True)["note"].to_pylist()
    assert [note[:6] for note in clear] == ["Note 1", "Note 2"]


@pytest.mark.parametrize("large", [0, 10_000])
def test_a_reader_sees_one_moment(filled: Registry, large: int) -> None:
    with open_reader(filled, large=large) as reader:
        before = reader.head()
        with filled.writing(by="me") as door:
            door.insert("site", {"code": "NEW", "name": "New"})
        assert reader.arrow("site").num_rows == 2
        assert reader.head() == before
    assert read_arrow(filled, "site").num_rows == 3


def test_reading_by_the_arrow_driver_loses_nobody_elses_commit(registry: Registry) -> None:
    """Two SQLite libraries in one process would break each other's locks; another process then removes the log."""
    import subprocess
    import sys

    if registry.location.file is None:
        pytest.skip("SQLite alone has files to lock")
    with registry.writing(by="me") as door:
        door.insert("site", {"code": "A", "name": "A"})
    with open_reader(registry, large=0) as reader:
        assert reader.arrow("site").num_rows == 1
    script = (
        "import sqlite3, sys\n"
        "c = sqlite3.connect(sys.argv[1])\n"
        "print(c.execute('SELECT count(*) FROM site').fetchone()[0])\n"
        "c.close()\n"
    )
    command = [sys.executable, "-c", script, str(registry.location.file)]
    for expected in (1, 2):
        seen = subprocess.run(command, capture_output=True, text=True, check=True)
        assert int(seen.stdout) == expected
        if expected == 1:
            with registry.writing(by="me") as door:
                door.insert("site", {"code": "B", "name": "B"})
