"""The demo holds each awkward case, told by the property that defines it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from synthetic_cohort.awkward import CASES, study_number


class Patient:
    """One patient's rows."""

    def __init__(self, demo, name):
        self.demo, self.number = demo, study_number(name)

    def __call__(self, table, **values):
        mine = [row for row in self.demo[table] if row["study_number"] == self.number]
        return [row for row in mine if all(row.get(name) == value for name, value in values.items())]

    def one(self, table, **values):
        (row,) = self(table, **values)
        return row


def kinds(p):
    models = {row["model_code"]: row for row in p.demo["equipment_model"]}
    return [(row, models[row["model_code"]]) for row in p("equipment_use")]


def fragment(p):
    return p.one("fragment")


def bilateral_one_abandoned(p):
    first, second = p("treated_side")
    return first["operated_on"] == second["operated_on"] and {first["conduct"], second["conduct"]} == {
        "completed",
        "abandoned",
    }


def kidney_and_ureter_stone_one_side(p):
    aimed = p("stone_aim", unit="left")
    return len(aimed) == 2 and {row["location"] for row in p("stone")} == {"lower_calyx", "distal_ureter"}


def scope_changed(p):
    old, new = [row for row, model in kinds(p) if model["kind"] == "scope"]
    return old["result"] == "exchanged" and old["failure_mode"] and new["replaces_use"] == old["use_number"]


def sheath_exchanged_for_smaller(p):
    (old, large), (new, small) = [(row, m) for row, m in kinds(p) if m["kind"] == "access_sheath"]
    smaller = small["inner_tenths_fr"] < large["inner_tenths_fr"]
    return old["result"] == "failed" and new["replaces_use"] == old["use_number"] and smaller


def combined_access(p):
    return "combined" in p.one("treated_side")["technique"] and p("tract") and len(p("operation_operator")) == 2


def drainage_only(p):
    drained, treated = p("treated_side")
    return drained["intent"] == "drainage" and "course_number" not in drained and treated["stage_number"] == 0


def two_operations_in_one_day(p):
    first, second = p("operation")
    return first["operated_on"] == second["operated_on"] and (first["day_number"], second["day_number"]) == (1, 2)


def not_started(p):
    return p.one("treated_side")["conduct"] == "not_started" and not p("equipment_use")


def no_stone_found(p):
    return p.one("treated_side")["conduct"] == "no_stone_found" and p.one("stone_aim")["result"] == "not_found"


def shock_wave_series(p):
    stages = [row["stage_number"] for row in p("treated_side", technique="shock_wave")]
    return stages == [0, 1, 2] and len(p("shock_wave_session")) == 3 and len(p("planned_stage")) == 2


def planned_second_look(p):
    stage, first = p.one("planned_stage", kind="second_look"), p("operation")[0]
    look = p.one("examination", modality="second_look")
    return (
        stage["decided_on"] == first["operated_on"]
        and p.one("treated_side", stage_number=1)["operated_on"] == look["examined_on"]
    )


def unplanned_retreatment_before_scan(p):
    first, again = p("treated_side")
    scan = p.one("examination")
    return "stage_number" not in again and first["operated_on"] < again["operated_on"] < scan["examined_on"]


def transplant(p):
    return p.one("renal_unit")["anatomy"] == "transplant" and p.one("treated_side")["unit"] == "transplant"


def child(p):
    return p.one("operation")["age_years"] < 16


def pregnancy(p):
    return p.one("operation")["gestation_weeks"] == 24 and p.one("patient")["sex"] == "female"


def complication_after_two_operations(p):
    first, second = p("operation")
    also = p.one("complication_also_after")
    return also["operated_on"] == second["operated_on"] and also["operation.operated_on"] == first["operated_on"]


def died_elsewhere_month_known(p):
    patient = p.one("patient")
    return patient["death_place"] == "elsewhere" and patient["died_on"] == "2022-07"


def fragment_passed_at_home(p):
    return p.one("later_entry")["what"] == "fragment_passed" and p.one("stone_analysis")["passed_at_home"] == "yes"


def mixed_composition(p):
    shares = [row["share_percent"] for row in p("analysis_component")]
    return sum(shares) == 100 and max(shares) < 50


def research_refused(p):
    return p.one("patient")["research_use"] == "no"


def stent_forgotten(p):
    drain = p.one("drain")
    last = max(row["operated_on"] for row in p.demo["operation"])
    return "removed_on" not in drain and drain["planned_removal_on"] < last - timedelta(days=90)


def kidney_lost(p):
    return p.one("renal_unit", unit="right")["lost_on"] == "2021-10" and p("later_entry", what="loss_of_kidney")


def retreated_elsewhere(p):
    return p.one("later_entry", what="retreatment", place="elsewhere")["technique"] == "shock_wave"


def left_on_purpose(p):
    return p.one("stone_aim", aim="left_on_purpose")["recorded_before_access"] == "yes"


def one_scan_both_sides(p):
    return len(p("examination")) == 1 and {row["unit"] for row in p("reading")} == {"left", "right"}


def two_readers_agree(p):
    first, second = p("reading")
    return first["reader"] != second["reader"] and first["finding"] == second["finding"]


def two_readers_disagree(p):
    first, second = p("reading")
    return len(p("examination")) == 1 and first["finding"] != second["finding"]


def kub_and_ultrasound_pair(p):
    ultrasound, film = p.one("examination", modality="ultrasound"), p.one("examination", modality="kub")
    return abs(film["examined_on"] - ultrasound["examined_on"]) <= timedelta(days=14)


def size_range(p):
    return fragment(p)["diameter_low_mm"] < fragment(p)["diameter_high_mm"]


def larger_than(p):
    return fragment(p)["larger_than_low"] == "yes" and "diameter_high_mm" not in fragment(p)


def dust(p):
    return fragment(p)["kind"] == "dust" and "diameter_low_mm" not in fragment(p)


def encrusted_stent(p):
    return fragment(p)["origin"] == "no_stone"


def new_stone(p):
    return fragment(p)["origin"] == "new" and p("later_entry", what="new_stone")


def not_done_with_reason(p):
    return p.one("examination")["not_done"] == "refused" and not p("reading")


def month_of_scan_known(p):
    return p.one("examination")["examined_on"] == "2024-06"


DEFINING: dict[str, Callable[[Patient], object]] = {
    name: value for name, value in list(globals().items()) if name in {write.__name__ for write, _ in CASES}
}


def test_every_case_has_its_property():
    assert set(DEFINING) == {write.__name__ for write, _ in CASES}
    assert len(CASES) == len({study_number(name) for name in DEFINING})


@pytest.mark.parametrize("name", sorted(DEFINING))
def test_the_demo_holds(demo, name):
    assert DEFINING[name](Patient(demo, name))


def test_no_two_awkward_patients_share_a_study_number_with_the_cohort(demo):
    numbers = [row["study_number"] for row in demo["patient"]]
    assert len(numbers) == len(set(numbers))
