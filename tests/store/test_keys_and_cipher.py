"""The key file, what is encrypted with it, and how a person is erased."""

from __future__ import annotations

import shutil
import stat
from datetime import date
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata, ordered_tables
from registry.store.cipher import ERASED, REGISTRY, Cipher, keyed_index, owner_of_text
from registry.store.erasing import erase_patient
from registry.store.history import head, stored_entries
from registry.store.keys import Keys, create_keys, key_file_of, load_keys
from registry.store.location import parse_location
from registry.store.reading import read_frame
from registry.store.registry import Registry, create_registry, open_registry
from registry.store.verify import verify

PLANTED = {
    "family_name": "Quillfeather",
    "given_names": "Thessaly Maud",
    "birth_date": "1949-11-23",
    "number": "ZQ 704-118",
    "wording": "Mrs Quillfeather's neighbour brought her",
    "reason": "as Quillfeather's daughter said",
    "file": "Quillfeather referral.xlsx",
}


def plant(registry: Registry) -> int:
    """A patient whose particulars can be looked for; rows by the door and rows by a batch."""
    with registry.writing(by="me", reason=PLANTED["reason"]) as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        patient = door.insert("patient", {"site_id": site, "study_number": "L-1", "note": PLANTED["wording"]})
        identity = {name: PLANTED[name] for name in ("family_name", "given_names", "birth_date")}
        row = door.insert("patient_identity", {"patient_id": patient, **identity, "family_name": "Brackenthwaite"})
        door.update("patient_identity", row, identity, revision=1)
        door.insert("hospital_number", {"site_id": site, "patient_id": patient, "number": PLANTED["number"]})
        operation = door.insert(
            "operation", {"patient_id": patient, "operated_on": date(2024, 5, 1), "purpose": "stone_removal"}
        )
        door.insert(
            "theatre_list_line",
            {
                "site_id": site,
                "listed_on": date(2024, 5, 1),
                "line_number": 1,
                "hospital_number": "zq704118",
                "wording": PLANTED["wording"],
            },
        )
        first = door.next_ids("complication")
        rows = [{"id": first, "operation_id": operation, "what": "fever", "note": PLANTED["wording"]}]
        door.load_batch(file_hash="f", file_name=PLANTED["file"], tables={"complication": rows})
        withdrawn = door.insert("later_entry", later(patient))
        door.withdraw("later_entry", withdrawn)
    return patient


def later(patient: int) -> dict[str, Any]:
    return {"patient_id": patient, "occurred_on": date(2024, 6, 1), "what": "retreatment", "note": PLANTED["wording"]}


def every_byte(registry: Registry) -> bytes:
    """All that the database holds: an SQLite file with its companions, or every table of a PostgreSQL one."""
    file = registry.location.file
    if file is not None:
        beside = (file, file.with_name(file.name + "-wal"), file.with_name(file.name + "-shm"))
        return b"".join(part.read_bytes() for part in beside if part.exists())
    url = registry.location.url.set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(url) as server, server.cursor() as cursor:
        parts = []
        for table in ordered_tables():
            with cursor.copy(f'COPY "{table.name}" TO STDOUT') as copying:
                parts += [bytes(part) for part in copying]
    return b"".join(parts)


def spellings(value: str) -> list[bytes]:
    plain = value.replace(" ", "").replace("-", "")
    return [text.encode(code) for text in {value, value.casefold(), plain} for code in ("utf-8", "utf-16-le")]


def test_planted_particulars_stand_nowhere_in_the_database(registry: Registry) -> None:
    plant(registry)
    held = every_byte(registry)
    assert b"L-1" in held  # what is meant to be readable is
    planted = [v for name, v in PLANTED.items() if name != "file"] + ["Quillfeather", "1949", "Brackenthwaite"]
    assert not [value for value in planted for spelling in spellings(value) if spelling in held]


def test_no_error_of_the_store_prints_a_planted_value(registry: Registry) -> None:
    plant(registry)
    with pytest.raises(GravelbookError) as refused, registry.writing(by="me") as door:
        door.insert("hospital_number", {"site_id": 1, "patient_id": 1, "number": PLANTED["number"]})
    assert not any(value in str(refused.value) for value in PLANTED.values())


def test_numbers_are_found_whatever_their_spelling(registry: Registry) -> None:
    patient = plant(registry)
    for spelling in (PLANTED["number"], "zq704118", " ZQ-704 118 ", "Zq\u2010704118"):
        assert registry.find_patient("LB", spelling) == patient
    assert registry.find_patient("LB", "ZQ704119") is None
    assert registry.find_patient("XX", PLANTED["number"]) is None


def test_the_key_file_is_private_and_never_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "a.db"
    with create_registry(file):
        key = tmp_path / "a.db.key"
        assert stat.S_IMODE(key.stat().st_mode) == 0o600
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        assert key.read_text().startswith("Gravelbook master key.")
    held = key.read_bytes()
    file.unlink()
    with pytest.raises(GravelbookError, match="already a key file"):
        create_registry(file)
    assert key.read_bytes() == held
    assert not file.exists()
    with pytest.raises(GravelbookError, match="already a key file"):
        create_keys(parse_location(file))


def test_a_registry_is_not_made_over_anything(tmp_path: Path, location: str) -> None:
    with pytest.raises(GravelbookError, match="already"):
        create_registry(location)
    open_registry(location).close()
    with pytest.raises(GravelbookError, match="no folder"):
        create_registry(tmp_path / "nowhere" / "a.db")


def test_the_place_of_the_key_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert key_file_of(parse_location(tmp_path / "a.db")) == tmp_path / "a.db.key"
    assert key_file_of(parse_location("postgresql://u@h/stones")) == Path("gravelbook-stones.key")
    monkeypatch.setenv("GRAVELBOOK_KEY_FILE", str(tmp_path / "safe.key"))
    assert key_file_of(parse_location(tmp_path / "a.db")) == tmp_path / "safe.key"
    assert key_file_of(parse_location("postgresql://u@h/stones")) == tmp_path / "safe.key"


def test_a_missing_damaged_or_foreign_key_file_is_told_at_once(
    location: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = key_file_of(parse_location(location))
    foreign = tmp_path / "foreign.key"
    monkeypatch.setenv("GRAVELBOOK_KEY_FILE", str(foreign))
    create_registry(tmp_path / "other.db").close()
    damaged = tmp_path / "damaged.key"
    damaged.write_text(right.read_text()[:-9])
    empty = tmp_path / "empty.key"
    empty.touch()
    for file, said in (
        (tmp_path / "gone.key", "is missing"),
        (damaged, "is not a key file"),
        (empty, "is not a key file"),
        (foreign, "is not the one of the registry"),
    ):
        monkeypatch.setenv("GRAVELBOOK_KEY_FILE", str(file))
        with pytest.raises(GravelbookError, match=said) as told:
            open_registry(location)
        assert str(file) in str(told.value)
    copy = tmp_path / "copy.key"
    shutil.copyfile(right, copy)
    monkeypatch.setenv("GRAVELBOOK_KEY_FILE", str(copy))
    open_registry(location).close()


def test_the_four_keys_are_different_and_never_shown(tmp_path: Path) -> None:
    keys = create_keys(parse_location(tmp_path / "a.db"))
    assert load_keys(parse_location(tmp_path / "a.db")) == keys
    assert len({keys.wrapping, keys.index, keys.seal, keys.own}) == 4
    assert {len(k) for k in (keys.wrapping, keys.index, keys.seal, keys.own)} == {32}
    assert repr(keys) == "Keys(...)"
    # RFC 5869, test case 3, has neither salt nor info; ours are told apart by info alone.
    assert Keys.derived(bytes(32)) != Keys.derived(bytes(31) + b"\x01")


def cipher_with(wrapped: dict[int, str | None]) -> Cipher:
    return Cipher(Keys.derived(bytes(32)), lambda _: list(wrapped.items()))


def test_a_value_opens_in_its_own_field_only() -> None:
    wrapped: dict[int, str | None] = {}
    cipher = cipher_with(wrapped)
    wrapped[7] = cipher.new_key(7)
    sealed = cipher.encrypt(7, "naïve", "patient", "note")
    assert owner_of_text(sealed) == 7
    assert sealed != cipher.encrypt(7, "naïve", "patient", "note")
    again = cipher_with(wrapped)
    assert again.decrypt(sealed, "patient", "note") == "naïve"
    for table, column in (("patient", "other"), ("operation", "note")):
        with pytest.raises(GravelbookError, match=f"{table}.{column}"):
            again.decrypt(sealed, table, column)
    for damaged in (sealed[:-6] + "AAAAA=", sealed[:-1], "enc1:", "plain", sealed.replace("enc1", "enc2")):
        with pytest.raises(GravelbookError, match="store verify"):
            again.decrypt(damaged, "patient", "note")


def test_a_wrapped_key_opens_for_its_own_patient_only() -> None:
    cipher = cipher_with({})
    wrapped = {8: cipher.new_key(7), 7: cipher.new_key(7)}
    sealed = cipher.encrypt(7, "x", "patient", "note")
    assert cipher_with({7: wrapped[7]}).decrypt(sealed, "patient", "note") == "x"
    with pytest.raises(GravelbookError, match="patient 8"):
        cipher_with({8: wrapped[8]}).ready([8])


def test_keyed_indexes_depend_on_the_key() -> None:
    one, two = Keys.derived(bytes(32)), Keys.derived(b"\x01" * 32)
    assert keyed_index(one, "AB 1-2") == keyed_index(one, "ab12") != keyed_index(one, "ab13")
    assert keyed_index(one, "ab12") != keyed_index(two, "ab12")


def erased(registry: Registry) -> tuple[int, list[bytes]]:
    """An erased patient, and the bytes of the key and the index that must be gone."""
    patient = plant(registry)
    keys, numbers = metadata.tables["patient_key"].c, metadata.tables["hospital_number"].c
    with registry.reading() as connection:
        secrets = [connection.execute(select(c)).scalar_one() for c in (keys.wrapped_key, numbers.number_index)]
    held = every_byte(registry)
    assert all(secret.encode() in held for secret in secrets)
    with registry.writing(by="me") as door:
        erase_patient(door, patient, "asked for on 2024-07-01")
    return patient, [secret.encode() for secret in secrets]


def test_an_erased_person_can_be_read_nowhere(registry: Registry) -> None:
    patient, secrets = erased(registry)
    identity = read_frame(registry, "patient_identity", decrypt=True)
    assert identity[["family_name", "given_names", "birth_date"]].iloc[0].tolist() == [ERASED] * 3
    assert read_frame(registry, "hospital_number", decrypt=True)["number"].tolist() == [ERASED]
    assert read_frame(registry, "patient", decrypt=True)["note"].tolist() == [ERASED]
    assert read_frame(registry, "complication", decrypt=True)["note"].tolist() == [ERASED]
    lines = read_frame(registry, "theatre_list_line", decrypt=True)
    assert lines[["hospital_number", "wording"]].iloc[0].tolist() == [ERASED] * 2
    assert registry.find_patient("LB", PLANTED["number"]) is None
    held = every_byte(registry)
    assert not [secret for secret in secrets if secret in held]
    assert patient == 1


def test_nothing_of_an_erased_person_opens_from_the_history(registry: Registry) -> None:
    erased(registry)
    with registry.reading() as connection:
        cipher = registry.cipher(connection)
        for entry in stored_entries(connection):
            for image in (entry["before"], entry["after"], entry["reason"]):
                for text in (image or "").split('"'):
                    if text.startswith("enc1:") and owner_of_text(text) != REGISTRY:
                        assert cipher.decrypt(text, "any", "field") == ERASED


def test_after_an_erasure_the_rest_works_and_verifies(registry: Registry) -> None:
    patient, _ = erased(registry)
    assert verify(registry).findings == []
    assert read_frame(registry, "operation")["purpose"].tolist() == ["stone_removal"]
    with registry.writing(by="me", reason="one more") as door:
        door.update("patient", patient, {"birth_year": 1949}, revision=1)
        door.insert("renal_unit", {"patient_id": patient, "unit": "left"})
        assert head(door.connection)[0] > 0
    with pytest.raises(GravelbookError, match="were erased"), registry.writing(by="me") as door:
        door.insert("renal_unit", {"patient_id": patient, "unit": "right", "note": "new wording"})
    with pytest.raises(GravelbookError, match="erased already"), registry.writing(by="me") as door:
        erase_patient(door, patient, "again")
    with pytest.raises(GravelbookError, match="no patient 99"), registry.writing(by="me") as door:
        erase_patient(door, 99, "who")
    with pytest.raises(GravelbookError, match="needs a reason"), registry.writing(by="me") as door:
        erase_patient(door, patient, " ")
    assert verify(registry).findings == []


def test_a_merged_record_is_erased_with_the_one_it_was_merged_into(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        for number in ("L-1", "L-2", "L-3"):
            door.insert("patient", {"site_id": site, "study_number": number, "note": f"note of {number}"})
        merge = {"merged_at": "2024-05-01T10:00:00+00:00", "reason": "same person"}
        door.insert("patient_merge", {"kept_patient_id": 1, "merged_patient_id": 2, **merge})
        door.insert(
            "patient_merge",
            {"kept_patient_id": 1, "merged_patient_id": 3, **merge, "undone_at": "2024-05-02T10:00:00+00:00"},
        )
    with registry.writing(by="me") as door:
        erase_patient(door, 1, "asked for")
    assert read_frame(registry, "patient", decrypt=True)["note"].tolist() == [ERASED, ERASED, "note of L-3"]
    assert verify(registry).findings == []
