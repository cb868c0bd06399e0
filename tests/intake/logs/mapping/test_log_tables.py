"""Everything that hangs on an operation: energy, drainage, cultures, complications, observations, stays."""

from __future__ import annotations

from pathlib import Path

from registry.store.registry import Registry
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, loaded, log, only, plan_of

MORE = """
[[column]]
heading = "kJ"
to = "lithotripsy_setting.total_energy_kj"
[[constant]]
to = "lithotripsy_setting.energy_source"
value = "holmium_laser"
[[column]]
heading = "Stent"
to = "drain.size_tenths_fr"
[[constant]]
to = "drain.kind"
value = "stent"
[[column]]
heading = "Urine"
to = "culture.result"
values = { neg = "negative", pos = "positive" }
[[column]]
heading = "Bug"
to = "culture_organism.organism"
values = { "E. coli" = "escherichia_coli" }
[[constant]]
to = "culture.specimen"
value = "urine"
[[constant]]
to = "culture.taken_on"
same_as = "operation.operated_on"
[[column]]
heading = "Fever"
to = "complication.what"
values = { y = "fever", n = "" }
group = "fever"
[[column]]
heading = "Antibiotic on"
to = "therapy.given_on"
group = "fever"
[[constant]]
to = "therapy.what"
value = "antibiotic"
[[column]]
heading = "Temp"
to = "observation_set.temperature_c"
unit = "°F"
[[constant]]
to = "observation_set.observed_on"
same_as = "operation.operated_on"
[[column]]
heading = "Creat"
to = "observation_set.creatinine_umol_l"
unit = "mg/dL"
[[column]]
heading = "In"
to = "admission.admitted_on"
[[column]]
heading = "Out"
to = "admission.discharged_on"
[[column]]
heading = "Start"
dates = ["h:mi"]
to = "operation.started_at"
[[column]]
heading = "Flexi"
to = "treated_side.technique"
values = { x = "flexible" }
[[column]]
heading = "Semi"
to = "treated_side.technique"
values = { x = "semirigid" }
[[column]]
heading = "Scope"
to = "equipment_model.model_code"
group = "scope"
[[column]]
heading = "Serial"
to = "equipment_use.serial"
group = "scope"
[[constant]]
to = "equipment_model.kind"
value = "scope"
group = "scope"
[[column]]
heading = "Size"
to = "stone.length_mm"
[[constant]]
to = "stone_aim.aim"
value = "aimed_at"
"""
CELLS = {
    **{"kJ": "12,4", "Stent": "6", "Urine": "pos", "Bug": "E. coli", "Fever": "y", "Antibiotic on": "04.05.2024"},
    **{"Temp": "100,4", "Creat": "1,1", "In": "02.05.2024", "Out": "04.05.2024", "Start": "8:30"},
    **{"Flexi": "x", "Semi": "x", "Scope": "S1", "Serial": "0007", "Size": "12"},
}
COLUMNS, ROW = list(CELLS), list(CELLS.values())


def test_every_table_of_a_row(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, *COLUMNS], ["H-1", "03.05.2024", "L", *ROW], ["H-2", "03.05.2024", "L", *[""] * len(ROW)]]
    source = log(tmp_path, rows, HEAD + MORE)
    plan = plan_of(unit, source)
    assert only(plan, "lithotripsy_setting")["total_energy_kj"] == 12.4
    assert only(plan, "drain")["size_tenths_fr"] == 60 and str(only(plan, "drain")["placed_on"]) == "2024-05-03"
    assert only(plan, "culture_organism")["organism"] == "escherichia_coli"
    assert str(only(plan, "therapy")["given_on"]) == "2024-05-04"
    observed = only(plan, "observation_set")
    assert round(observed["temperature_c"], 9) == 38.0  # (100.4 - 32) x 5/9
    assert round(observed["creatinine_umol_l"], 9) == 97.24  # 1.1 x 88.4
    assert only(plan, "admission") is not None
    techniques = sorted(str(one["technique"]) for one in plan.new["side_technique"])
    assert techniques == ["flexible", "semirigid"]
    assert only(plan, "equipment_item")["serial"] == "0007"
    assert only(plan, "stone_aim")["aim"] == "aimed_at"
    first = next(one for one in plan.new["operation"] if "started_at" in one)
    assert str(first["started_at"]) == "2024-05-03 07:30:00+00:00"  # 8:30 on the wall in Lisbon in summer
    assert first["admission_id"] == -1
    loaded(unit, source)
    again = plan_of(unit, log(tmp_path, rows, HEAD + MORE + "# changed\n"))
    assert again.new_rows == 0


def test_a_fever_that_was_none_makes_no_complication(unit: Registry, tmp_path: Path) -> None:
    cells = ["", "", "", "", "n", *[""] * 11]
    plan = plan_of(unit, log(tmp_path, [[*HEADINGS, *COLUMNS], ["H-1", "03.05.2024", "L", *cells]], HEAD + MORE))
    assert plan.new.get("complication", []) == []
