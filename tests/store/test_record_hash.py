"""One hash for one clinical record, whatever engine holds it and however it came in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from registry.schema.tables import clinical_tables, own_columns
from registry.store.erasing import erase_patient
from registry.store.record_hash import record_hash
from registry.store.registry import Registry, open_registry
from tests import postgres
from tests.conftest import need_server, sqlite_copy
from tests.store.filled import fill, values_of


@pytest.fixture
def two(
    sqlite_template: Any, postgres_template: tuple[str, Any], tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[Registry, Registry]]:
    """An empty registry on each engine, with different keys."""
    need_server()
    template, key = postgres_template
    file = sqlite_copy(sqlite_template, tmp_path / "one.db")
    with open_registry(file) as one:
        monkeypatch.setenv("GRAVELBOOK_KEY_FILE", str(key))
        with postgres.fresh_database(template) as url, open_registry(url) as other:
            yield one, other


def test_both_engines_give_the_same_hash(two: tuple[Registry, Registry]) -> None:
    empty = record_hash(two[0])
    for registry in two:
        with registry.writing(by=f"on {registry.engine.dialect.name}") as door:
            fill(door)
    one, other = map(record_hash, two)
    assert one == other != empty
    assert two[0].head() != two[1].head()


def test_order_keys_and_batches_do_not_count(two: tuple[Registry, Registry]) -> None:
    people = [{"site_id": 1, "study_number": f"P{n}", "birth_year": 1950 + n, "note": f"note {n}"} for n in range(4)]
    with two[0].writing(by="me") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        for values in people:
            door.insert("renal_unit", {"patient_id": door.insert("patient", values), "unit": "left"})
    with two[1].writing(by="you") as door:
        door.withdraw("site", door.insert("site", {"code": "X", "name": "X"}))
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        first, units = door.next_ids("patient", 4), door.next_ids("renal_unit", 4)
        patients = [{**v, "id": first + n, "site_id": site} for n, v in enumerate(reversed(people))]
        left = [{"id": units + n, "patient_id": first + 3 - n, "unit": "left"} for n in range(4)]
        door.load_batch(file_hash="h", file_name="f", tables={"renal_unit": left, "patient": patients})
        door.update("patient", first, {"birth_year": 1900}, revision=1)
        door.update("patient", first, {"birth_year": 1953}, revision=2)
    assert record_hash(two[0]) == record_hash(two[1])


def test_every_clinical_value_counts(filled: Registry) -> None:
    """Each table's row is changed in one field; reasons and wordings as typed count as well."""
    seen = [record_hash(filled)]
    third = {t.name: [1, 2, 2] for t in clinical_tables()}
    for table in clinical_tables():
        key = [c.name for c in own_columns(table)]
        for change in (
            {"missing_reasons": f"{key[-1]}=not_done;"},
            {"as_typed": f"{key[-1]}=other;"},
            {key[-1]: values_of(table.name, 3, third)[key[-1]]},
        ):
            if table.name in ("site", "operator") or key[-1].endswith("_id"):
                change = {"missing_reasons": "x=pending;"} | {k: v for k, v in change.items() if k == "as_typed"}
            with filled.writing(by="me", reason="a change") as door:
                revision = door.read(door.table(table.name), 2)["revision"]
                changed = door.update(table.name, 2, change, revision=revision) > revision
            if changed:
                seen.append(record_hash(filled))
    assert len(seen) > 2 * len(clinical_tables())
    assert len(set(seen)) == len(seen)


def test_the_office_s_own_tables_and_identities_do_not_count(filled: Registry) -> None:
    before = record_hash(filled)
    with filled.writing(by="me") as door:
        door.update("question", 1, {"answer": "another"}, revision=1)
        door.update("patient_identity", 1, {"family_name": "Another"}, revision=1)
        door.update("theatre_list_line", 1, {"wording": None}, revision=1)
    assert record_hash(filled) == before
    with filled.writing(by="me") as door:
        erase_patient(door, 1, "asked for")
    assert record_hash(filled) != before
