"""Rows in every table come through every revision, down and up, row for row, and the history still proves them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection

from registry.schema.errors import GravelbookError
from registry.schema.tables import ordered_tables
from registry.store.proof import prove_connection
from registry.store.registry import Registry, open_registry
from registry.store.revisions import head_revision, known_revisions, revision_of
from registry.store.upgrade import migrating, move
from tests.migrations.shape import shape, tables, triggers
from tests.store.filled import fill

CHAIN = Path(__file__).parent / "chain"
OLD_FORM, NEW_FORM = "9001_sheath_on_the_side", "9002_sheath_as_equipment_use"
Rows = dict[str, list[dict[str, Any]]]


def rows_of(connection: Connection, *, parked: bool = False) -> Rows:
    """Every row of every table by column name, as it is stored; the history and its growth are proved apart."""
    found = {}
    for table in tables(connection):
        if table == "change_history" or (table.startswith("parked_") and not parked):
            continue
        rows = connection.exec_driver_sql(f'SELECT * FROM "{table}"').mappings().all()
        kept = [{name: value for name, value in row.items() if value is not None} for row in rows]
        found[table] = sorted(kept, key=lambda row: str(row.get("id", row)))
    return found


def with_parked_columns(table: str, rows: list[dict[str, Any]], parked: Rows) -> list[dict[str, Any]]:
    """Rows of an older shape, with the values of the columns that were set aside put beside them."""
    aside: dict[int, dict[str, Any]] = {}
    for name, values in parked.items():
        column = name.removeprefix(f"parked_{table}_")
        for value in values:
            if value.keys() == {"id", column}:
                aside.setdefault(value["id"], {})[column] = value[column]
    return [{**row, **aside.get(row.get("id", 0), {})} for row in rows]


@pytest.fixture
def filled(registry: Registry) -> Registry:
    with registry.writing(by="filler", reason="a row in every table") as door:
        fill(door)
    return registry


def test_every_table_has_rows(filled: Registry) -> None:
    with filled.reading() as connection:
        rows = rows_of(connection)
    assert {table.name for table in ordered_tables()} - {"change_history"} == {n for n, r in rows.items() if r}


def test_down_and_up_again_at_every_step(filled: Registry) -> None:
    with migrating(filled.engine) as connection:
        full, first_shape = rows_of(connection), shape(connection)
        for older in reversed(known_revisions()[:-1]):
            newer = revision_of(connection)
            here, aside = rows_of(connection), rows_of(connection, parked=True)
            move(connection, older)
            kept = rows_of(connection)
            parked = rows_of(connection, parked=True)
            for table, rows in kept.items():
                whole = with_parked_columns(table, here[table], aside)
                assert with_parked_columns(table, rows, parked) == whole, f"{newer} down changed rows of {table}"
            for table in set(here) - set(kept):
                assert parked[f"parked_{table}"] == here[table], f"{newer} down lost rows of {table}"
                counted = {row["name"]: row["row_count"] for row in parked["parked_rows"]}
                assert counted[table] == len(here[table])
            move(connection, str(newer))
            assert rows_of(connection) == here, f"{newer} up again changed rows"
            move(connection, older)
        move(connection, "base")
        move(connection, "head")
        assert rows_of(connection) == full
        assert shape(connection) == first_shape
        assert prove_connection(connection, filled.location) == []


def test_nothing_stays_parked_at_the_head(filled: Registry) -> None:
    with migrating(filled.engine) as connection:
        move(connection, known_revisions()[0])
        assert any(name.startswith("parked_") for name in tables(connection))
        move(connection, "head")
        assert not any(name.startswith("parked_") for name in tables(connection))


def test_a_sheath_column_becomes_uses_of_equipment_and_back(filled: Registry) -> None:
    with migrating(filled.engine) as connection:
        guards = triggers(connection)
        before_chain = rows_of(connection)
        move(connection, OLD_FORM, CHAIN)
        assert triggers(connection) == guards
        old = rows_of(connection)
        sized = {row["id"]: row["sheath_inner_tenths_fr"] for row in old["treated_side"] if len(row) and
                 "sheath_inner_tenths_fr" in row}  # fmt: skip
        assert sized, "the old form holds sizes to move"
        assert prove_connection(connection, filled.location) == []

        move(connection, NEW_FORM, CHAIN)
        assert triggers(connection) == guards
        new = rows_of(connection)
        added = [row for row in new["equipment_use"] if row not in old["equipment_use"]]
        models = {row["id"]: row["inner_tenths_fr"] for row in new["equipment_model"] if "inner_tenths_fr" in row}
        assert {row["treated_side_id"]: models[row["equipment_model_id"]] for row in added} == sized
        assert not any("sheath_inner_tenths_fr" in row for row in new["treated_side"])
        assert prove_connection(connection, filled.location) == []

        move(connection, OLD_FORM, CHAIN)
        assert rows_of(connection) == old, "the old form is as it was"
        assert prove_connection(connection, filled.location) == []
        move(connection, NEW_FORM, CHAIN)
        assert rows_of(connection) == new, "the new form is as it was, row for row"
        assert prove_connection(connection, filled.location) == []

        move(connection, head_revision(), CHAIN)
        assert rows_of(connection) == before_chain
        assert prove_connection(connection, filled.location) == []


def test_what_the_old_form_cannot_hold_is_parked_with_its_count(filled: Registry) -> None:
    with migrating(filled.engine) as connection:
        move(connection, NEW_FORM, CHAIN)
        use = connection.exec_driver_sql(
            "SELECT u.* FROM equipment_use u JOIN equipment_model m ON m.id = u.equipment_model_id "
            "WHERE m.model_code LIKE 'SHEATH-OF-%%' ORDER BY u.id"
        ).mappings().first()  # fmt: skip
        assert use is not None
        second = "INSERT INTO equipment_use (id, treated_side_id, use_number, equipment_model_id, created_at, "
        second += "created_by, changed_at, changed_by, revision) SELECT 900, treated_side_id, 9, equipment_model_id, "
        second += f"created_at, created_by, changed_at, changed_by, 1 FROM equipment_use WHERE id = {use['id']}"
        connection.exec_driver_sql(second)
        new = rows_of(connection)
        move(connection, OLD_FORM, CHAIN)
        counts = {row["name"]: row["row_count"] for row in rows_of(connection, parked=True)["parked_rows"]}
        added = [row for row in new["equipment_use"] if row["created_by"] == "migration" or row["id"] == 900]
        assert counts["equipment_use"] == len(added)
        move(connection, NEW_FORM, CHAIN)
        assert rows_of(connection) == new


def test_a_size_changed_in_the_old_form_becomes_a_use_of_its_own(filled: Registry) -> None:
    with migrating(filled.engine) as connection:
        move(connection, NEW_FORM, CHAIN)
        uses = len(rows_of(connection)["equipment_use"])
        move(connection, OLD_FORM, CHAIN)
        changed = "UPDATE treated_side SET sheath_inner_tenths_fr = 140 WHERE id = (SELECT min(id) FROM treated_side "
        connection.exec_driver_sql(changed + "WHERE sheath_inner_tenths_fr IS NOT NULL)")
        move(connection, NEW_FORM, CHAIN)
        new = rows_of(connection)
        assert len(new["equipment_use"]) == uses + 1
        assert "SHEATH-OF-140" in {row["model_code"] for row in new["equipment_model"]}


def test_a_revision_that_moves_data_is_sealed_with_the_content_before_and_after(filled: Registry) -> None:
    with migrating(filled.engine) as connection:
        move(connection, OLD_FORM, CHAIN)
        move(connection, NEW_FORM, CHAIN)
        sealed = connection.exec_driver_sql(
            "SELECT content_before, content_after, row_count FROM change_history WHERE kind = 'migration' ORDER BY id"
        ).all()[1:]
    assert len(sealed) == 2
    assert sealed[0].content_after == sealed[1].content_before
    assert all(entry.content_before != entry.content_after and entry.row_count > 0 for entry in sealed)


def test_an_older_registry_is_refused_with_the_command_that_upgrades_it(filled: Registry) -> None:
    place = filled.location
    with migrating(filled.engine) as connection:
        move(connection, known_revisions()[3])
    filled.close()
    asked = str(place.file) if place.file else place.url.render_as_string(hide_password=False)
    with pytest.raises(GravelbookError, match=r"older shape.*gravelbook store upgrade --registry"):
        open_registry(asked)


def test_a_newer_registry_is_refused(filled: Registry) -> None:
    place = filled.location
    with migrating(filled.engine) as connection:
        move(connection, OLD_FORM, CHAIN)
    filled.close()
    asked = str(place.file) if place.file else place.url.render_as_string(hide_password=False)
    with pytest.raises(GravelbookError, match="newer program"):
        open_registry(asked)
