"""Everyone treated with what a safety notice names, end to end on a real registry."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from analysis.reports.equipment.notice import Notice
from analysis.reports.equipment.tracing import trace
from registry.store.erasing import erase_patient
from registry.store.registry import Registry, open_registry
from tests.cohort.rows import Rows
from tests.reports.equipment.conftest import Run, registry_of
from tests.reports.equipment.store_room import DI, LABEL, store_room


def counts(text: str) -> dict[str, tuple[int, int]]:
    rows = [row for row in json.loads(text)["rows"] if row["section"] == "counts"]
    return {row["group"]["match"]: (row["uses"], row["patients"]) for row in rows}


def people(text: str) -> list[dict[str, Any]]:
    return [row for row in json.loads(text)["rows"] if row["section"] == "treated"]


def test_everyone_treated_with_a_model(run: Run) -> None:
    status, out, err = run("--model", "M1", "--format", "json")
    assert (status, err) == (0, "")
    assert counts(out) == {"certain": (6, 6), "possible": (0, 0), "cannot be excluded": (0, 0)}
    first = people(out)[0]
    assert (first["group"], first["site"], first["operated_on"]) == ({"study number": "S0001"}, "A", "2024-01-01")
    assert (first["renal_unit"], first["use_number"], first["result"]) == ("left", 1, "Passed and used")
    assert [row["result"] for row in people(out)][2:5] == [
        "Used, then exchanged",
        "Failed: did not pass or did not work",
        "Failed: did not pass or did not work",
    ]


def test_certain_possible_and_not_excluded_are_told_apart(run: Run) -> None:
    out = run("--model", "M1", "--lot", "L100", "--format", "json")[1]
    # To the letter; in small letters; run into the serial without a separator. The tight ureter's has nothing recorded.
    assert counts(out) == {"certain": (1, 1), "possible": (2, 2), "cannot be excluded": (1, 1)}
    told = {row["group"]["study number"]: (row["match"], row["where_from"]) for row in people(out)}
    assert told == {
        "S0001": ("certain", "model; typed lot and lot in the scanned code"),
        "S0002": ("possible", "model; typed lot, written differently"),
        "S0004": ("possible", "model; text inside the scanned code"),
    }


def test_who_refused_research_counts_and_the_dead_are_marked(run: Run) -> None:
    status, out, _ = run("--model", "M1", "--lot", "L100")
    text = " ".join(out.split())
    assert status == 0
    assert "of whom 1 refused research use and count here" in text
    marks = {row["group"]["study number"]: row["marks"] for row in people(run("--lot", "L100", "--format", "json")[1])}
    assert (marks["S0001"], marks["S0002"]) == ("dead", "not to be contacted")
    assert "1 use in 1 patient CANNOT BE EXCLUDED" in text
    assert "Treated sides of these days without any use of equipment recorded: 1." in text


def test_a_serial_is_found_wherever_it_stands(run: Run) -> None:
    assert counts(run("--serial", "K-77", "--format", "json")[1])["certain"] == (2, 2)
    item = run("--serial", "N-1", "--model", "M2", "--format", "json")[1]
    assert counts(item) == {"certain": (4, 4), "possible": (0, 0), "cannot be excluded": (1, 1)}
    assert {row["where_from"] for row in people(item)} == {"model; serial of the item"}


def test_both_sides_of_one_operation_are_two_uses_of_one_patient(run: Run) -> None:
    assert counts(run("--serial", "o1", "--format", "json")[1])["possible"] == (3, 2)


def test_a_scanned_code_looks_for_all_that_it_says(run: Run) -> None:
    out = run("--udi", LABEL, "--format", "json")[1]
    # The other use with this serial has another lot; of the exchanged, the lot is another; one has nothing recorded.
    assert counts(out)["certain"] == (1, 1)
    assert counts(run("--udi", f"(01){DI}", "--format", "json")[1])["certain"] == (6, 6)
    told = json.loads(out)["definition"]
    assert (told["identifier"], told["lot"], told["serial"]) == (DI, "L100", "K-77")


def test_without_a_model_only_models_with_a_match_are_left_open(run: Run) -> None:
    out = run("--lot", "L100", "--format", "json")[1]
    found = counts(out)
    assert found["cannot be excluded"] == (1, 1)
    assert found["cannot be excluded, other models"][0] == 9  # 8 of M2 and the sheath
    rows = {row["group"]["model"]: row["uses"] for row in json.loads(out)["rows"] if row["section"] == "not_excluded"}
    assert rows == {"M1": 1, "models without a match": 9}


def test_without_a_match_and_a_model_every_model_is_left_open(run: Run) -> None:
    out = run("--lot", "NONE-1", "--format", "json")[1]
    assert counts(out) == {"certain": (0, 0), "possible": (0, 0), "cannot be excluded": (10, 9)}
    rows = {row["group"]["model"]: row["uses"] for row in json.loads(out)["rows"] if row["section"] == "not_excluded"}
    assert rows == {"M1": 1, "M2": 8, "M3": 1}


def test_days_limit_the_search(run: Run) -> None:
    assert counts(run("--model", "M1", "--since", "2024-01-02", "--until", "2024-01-03", "--format", "json")[1])[
        "certain"
    ] == (2, 2)


def test_nobody_found_is_said_beside_those_not_excluded(run: Run) -> None:
    out = " ".join(run("--model", "M2", "--lot", "NONE-1")[1].split())
    assert "Nobody is known to have been treated with it." in out
    assert "8 uses in 7 patients CANNOT BE EXCLUDED" in out


def test_the_list_of_cases_is_private_and_holds_every_use(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "notice.csv"
    status, out, err = run("--model", "M1", "--lot", "L100", "--cases", str(file))
    assert status == 0 and "not to leave the unit" in err
    with file.open(encoding="utf-8") as opened:
        rows = list(csv.DictReader(opened))
    assert [row["match"] for row in rows] == ["certain", "possible", "possible", "cannot be excluded"]
    assert (rows[0]["lot"], rows[0]["serial_as_scanned"], rows[0]["dead"]) == ("L100", "K-77", "yes")
    assert file.stat().st_mode & 0o077 == 0
    assert "K-77" not in out  # serial numbers stand in the private list alone


def test_text_shows_the_first_lines_and_says_how_many_more(run: Run, tmp_path: Path) -> None:
    rows = Rows()
    model = rows.scope(75)
    for at in range(25):
        rows.used(rows.side(on=at), model)
    place = registry_of(tmp_path, rows)
    out = run("--model", "M1", registry=place)[1]
    assert "5 more lines; --cases FILE.csv writes all of them" in out
    assert sum(line.strip().startswith("S00") for line in out.splitlines()) == 20
    assert len(people(run("--model", "M1", "--format", "json", registry=place)[1])) == 25


def test_identity_is_never_printed_and_an_erased_one_is_marked(run: Run, tmp_path: Path) -> None:
    rows = store_room()
    place = registry_of(tmp_path, rows)
    with open_registry(place) as registry, registry.writing(by="tester") as door:
        door.insert("patient_identity", {"patient_id": 1, "family_name": "Invented", "given_names": "Name"})
        door.insert("hospital_number", {"patient_id": 1, "site_id": 1, "number": "H-4711"})
    file = tmp_path / "cases.csv"
    for output in ("text", "csv", "json"):
        _, out, _ = run("--model", "M1", "--format", output, "--cases", str(file), registry=place)
        assert "Invented" not in out + file.read_text() and "H-4711" not in out + file.read_text()
    with open_registry(place) as registry, registry.writing(by="tester", reason="asked for it") as door:
        erase_patient(door, 1, "asked for it")
    marks = [row["marks"] for row in people(run("--lot", "L100", "--format", "json", registry=place)[1])]
    assert marks[0] == "dead, identity erased"


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("--model", "M11"), 1, "There is no model 'M11' in the catalogue of any site. The nearest is: M1."),
        (("--lot", ""), 2, "--lot is empty, and would fit every use or none"),
        (("--serial", " - "), 2, "--serial is empty"),
        (("--udi", "(01)51022222233337"), 2, "would have to be 6, and is 7"),
        (("--udi", "scope 3"), 2, "cannot be read at its beginning by the rules of GS1. Give the code as scanned"),
        (("--udi", "(10)A1"), 2, "It holds no device identifier"),
        (("--udi", LABEL, "--lot", "L200"), 2, "--lot 'L200' is not what the scanned code says, 'L100'"),
        (("--model", "M1", "--by", "year"), 2, "--by does not go with a search"),
        (("--model", "M1", "--as-of", "2024-01-01"), 2, "--as-of does not go with a search"),
        (("--model", "M1", "--research"), 2, "everybody who was treated with it counts"),
        (("--model", "M1", "--snapshot", "x"), 2, "--snapshot does not go with a search"),
    ],
)
def test_bad_input_is_said_in_a_sentence(run: Run, arguments: tuple[str, ...], status: int, said: str) -> None:
    found, out, err = run(*arguments)
    assert (found, out) == (status, "")
    assert said in err


def test_the_same_is_found_on_each_engine(registry: Registry, location: str) -> None:
    store_room().written(registry)
    traced = trace(location, Notice(model="M1", lot="L100"))
    assert list(traced.uses["match"]) == ["certain", "possible", "possible", "cannot be excluded"]
    assert list(traced.uses["dead"]) == [True, False, False, False]
    assert (traced.looked_at, traced.sides_without) == (15, 1)


def test_an_empty_catalogue_says_so(run: Run, tmp_path: Path) -> None:
    status, _, err = run("--model", "M1", registry=registry_of(tmp_path, Rows()))
    assert status == 1 and "holds no model yet" in err
    status, out, _ = run("--lot", "L1", registry=str(tmp_path / "unit.db"))
    assert status == 0 and "Nobody is known" in out
