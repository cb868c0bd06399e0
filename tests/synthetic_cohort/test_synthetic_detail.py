"""What records hold in detail comes with its share, and agrees with its truth."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from datetime import date

import numpy as np
import pytest

from synthetic_cohort.catalogue import ITEMS, RETIRED
from synthetic_cohort.frames import cohort
from synthetic_cohort.imaging import CT, FINDINGS
from synthetic_cohort.kidney import bend, creatinine_umol_l, filtration_rate
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.truth_aftermath import filtration_change, judgement, reader_accuracy, scope_failure
from tests.synthetic_cohort.shares import assert_share

P = Parameters()
SCOPES = ("SC-75", "SC-85", "SC-95")


def side_key(row):
    return tuple(row[name] for name in ("study_number", "operated_on", "day_number", "unit", "unit_number"))


def scoped(rows):
    """Sides treated through the ureter, as far as a scope went in."""
    return [
        row
        for row in rows["treated_side"]
        if row.get("technique") in ("flexible", "semirigid")
        and row["intent"] == "stone_removal"
        and row["conduct"] != "not_started"
    ]


def test_ureteric_lesions_have_their_shares(unit):
    sides = scoped(unit[1])
    seen = Counter(row["ureteric_lesion"] for row in sides)
    assert_share(seen["not_recorded"], len(sides), P.share_grade_missing)
    told = len(sides) - seen["not_recorded"]
    for grade in ("1", "2", "3", "4", "5"):
        assert_share(seen[grade], told, getattr(P, f"share_lesion_{grade}"))


def test_wall_injuries_have_their_shares_and_a_sheath(unit):
    graded = [row for row in unit[1]["treated_side"] if "wall_injury" in row]
    seen = Counter(row["wall_injury"] for row in graded)
    told = len(graded) - seen["not_recorded"]
    assert_share(seen["not_recorded"], len(graded), P.share_grade_missing)
    for grade in ("1", "2", "3", "4"):
        assert_share(seen[grade], told, getattr(P, f"share_wall_{grade}"))
    sheathed = {side_key(row) for row in unit[1]["equipment_use"] if row["model_code"].startswith("SH-")}
    assert {side_key(row) for row in graded} <= sheathed


def test_satava_grades_have_their_shares_and_fit_the_lesions(unit):
    sides = scoped(unit[1])
    both = [row for row in sides if "not_recorded" not in (row["satava"], row["ureteric_lesion"])]
    whole = [row["satava"] for row in both if row["ureteric_lesion"] == "0"]
    for grade in ("1", "2a", "2b", "3"):
        assert_share(whole.count(grade), len(whole), getattr(P, f"share_incident_{grade}"))
    assert {row["satava"] for row in both if row["ureteric_lesion"] in ("1", "2")} == {"1"}
    assert {row["satava"] for row in both if row["ureteric_lesion"] == "3"} <= {"2a", "2b"}
    assert {row["satava"] for row in both} == {"0", "1", "2a", "2b", "3"}


def test_the_surgeons_judgement_has_its_sensitivity_and_specificity(unit):
    drawn, rows = unit
    left = {}
    for side in range(len(drawn.sides["left"])):
        operation = drawn.sides["operation"][side]
        name = f"S{drawn.sides['patient'][side] + 1:05d}", drawn.operations["on"][operation].item()
        left[(*name, "left" if drawn.sides["left"][side] else "right")] = drawn.sides["residual_mm"][side]
    judged = [
        (row["surgeon_judgement"], left[row["study_number"], row["operated_on"], row["unit"]])
        for row in scoped(rows) + [r for r in rows["treated_side"] if "percutaneous" in str(r.get("technique"))]
        if row["conduct"] == "completed" and (row["study_number"], row["operated_on"], row["unit"]) in left
    ]
    missing = sum(said == "not_recorded" for said, _ in judged)
    assert_share(missing, len(judged), P.share_judgement_missing)
    for dust_is_left, clear in ((False, ("nothing", "dust")), (True, ("nothing",))):
        for threshold, cut in (("0", 0.0), ("2", 2.0), ("lt4", 3.5)):
            sensitivity, specificity = judgement(P, threshold, dust_is_left=dust_is_left)
            above = [said for said, mm in judged if mm > cut and said != "not_recorded"]
            free = [said for said, mm in judged if mm <= cut and said != "not_recorded"]
            assert_share(sum(said not in clear for said in above), len(above), sensitivity.value)
            assert_share(sum(said in clear for said in free), len(free), specificity.value)


def test_abandoned_sides_are_not_judged(unit):
    abandoned = [row for row in unit[1]["treated_side"] if row["conduct"] == "abandoned"]
    assert abandoned
    assert {row["surgeon_judgement"] for row in abandoned} == {"not_judged"}


@pytest.mark.parametrize("sort", ["single use", "reusable"])
def test_scopes_opened_fail_with_their_probability(unit, sort):
    uses = [row for row in unit[1]["equipment_use"] if row["model_code"] in SCOPES]
    opened = [row for row in uses if (row["model_code"] in ITEMS) == (sort == "reusable")]
    failed = [row for row in opened if "failure_stage" in row]
    assert_share(len(failed), len(opened), scope_failure(P, sort == "single use").value)
    assert len({row["failure_stage"] for row in failed}) >= 4
    assert len({row["failure_mode"] for row in failed}) >= 5
    assert {"none", "replaced_same"} <= {row["failure_consequence"] for row in failed}


def test_a_scope_that_failed_before_the_end_is_followed_by_another(unit):
    by_side = defaultdict(list)
    for row in unit[1]["equipment_use"]:
        if row["model_code"] in SCOPES:
            by_side[side_key(row)].append(row)
    several = [uses for uses in by_side.values() if len(uses) > 1]
    assert len(several) > 100
    for uses in by_side.values():
        assert [row["most_of_lithotripsy"] for row in uses] == ["no"] * (len(uses) - 1) + ["yes"]
        assert [row.get("replaces_use") for row in uses] == [None, *(row["use_number"] for row in uses[:-1])]


def test_some_sides_have_two_sheaths_and_some_were_made_smaller(unit):
    by_side = defaultdict(list)
    for row in unit[1]["equipment_use"]:
        if row["model_code"].startswith("SH-"):
            by_side[side_key(row)].append(row)
    reasons = Counter(uses[0].get("reason") for uses in by_side.values() if len(uses) > 1)
    assert min(reasons["tight_ureter"], reasons["too_small"], reasons["too_large"]) > 10
    assert all(uses[-1]["result"] == "passed" for uses in by_side.values())


def test_udis_are_scanned_or_typed_and_their_check_digits_are_right(unit):
    forms = Counter()
    models = {row["device_identifier"]: row["model_code"] for row in unit[1]["equipment_model"]}
    for row in unit[1]["equipment_use"]:
        udi = row.get("udi")
        if udi is None:
            continue
        form = "bracketed" if udi.startswith("(01)") else "scanned" if udi.startswith("]d2") else "plain"
        forms[form] += 1
        start = {"bracketed": 4, "scanned": 5, "plain": 2}[form]
        code = udi[start : start + 14]
        assert sum(int(d) * (1 if i % 2 else 3) for i, d in enumerate(code)) % 10 == 0
        assert models[code] == row["model_code"]
        assert udi.endswith(row.get("serial_as_scanned", row.get("lot")))
    assert set(forms) == {"bracketed", "scanned", "plain"}


def test_a_lot_is_met_in_several_patients(unit):
    patients = defaultdict(set)
    for row in unit[1]["equipment_use"]:
        if "lot" in row:
            patients[row["model_code"], row["lot"]].add(row["study_number"])
    assert np.median([len(of) for of in patients.values()]) >= 3


def test_retired_scopes_are_not_used_and_are_mended_no_more(unit):
    used = defaultdict(list)
    for row in unit[1]["equipment_use"]:
        if "serial" in row:
            used[row["serial"]].append(row["operated_on"])
    for serial, day in RETIRED.items():
        assert used[serial]
        assert max(used[serial]) <= day
    assert len(unit[1]["repair"]) > 40
    for row in unit[1]["repair"]:
        assert row["cost"] > 0
        assert row["repaired_on"] <= RETIRED.get(row["serial"], date.max)


def test_prices_change_and_rates_are_in_one_currency_and_price_year(unit):
    rows = unit[1]
    assert {row["currency"] for row in rows["cost_rate"]} == {row["currency"] for row in rows["equipment_price"]}
    assert len({row["price_year"] for row in rows["cost_rate"]}) == 1
    wanted = {"theatre_minute", "bed_day", "intensive_care_day", "clinic_visit", "emergency_visit", "ct", "ultrasound"}
    assert wanted | {"kub", "stent_removal", "reprocessing", "drug"} == {row["item"] for row in rows["cost_rate"]}
    prices = defaultdict(set)
    for row in rows["equipment_price"]:
        prices[row["model_code"]].add(row["price"])
    assert {len(of) for of in prices.values()} == {3}


def test_readers_err_as_they_are_said_to():
    drawn = cohort(P, 60_000, 23)
    first, again, examined = drawn.readings, drawn.second_readings, drawn.examinations
    visits = np.unique(first["examination"][again["reading"]])
    possible = np.unique(first["examination"][examined["modality"][first["examination"]] != 3])
    assert_share(len(visits), len(possible), P.share_second_reading)
    thin = (examined["modality"] == CT) & (examined["slice_mm"] == 5)
    for second, finding, reading in (
        (False, first["finding"], np.arange(len(first["finding"]))),
        (True, again["finding"], again["reading"]),
    ):
        chosen = thin[first["examination"][reading]] & (finding != FINDINGS.index("indeterminate"))
        there = drawn.sides["residual_mm"][first["side"][reading[chosen]]] > 0
        seen = finding[chosen] == FINDINGS.index("fragments")
        sensitivity, specificity = reader_accuracy(P, second)["ct 5 mm"]
        assert_share(seen[there].sum(), there.sum(), sensitivity)
        assert_share((~seen[~there]).sum(), (~there).sum(), specificity)
    assert reader_accuracy(P, True)["ultrasound"][0] == pytest.approx(1 - 0.5 * (1 - P.sensitivity_ultrasound))
    assert set(reader_accuracy(Parameters(reading_error=False)).values()) == {(1.0, 1.0)}


def test_second_readings_have_another_reader(unit):
    by = defaultdict(list)
    for row in unit[1]["reading"]:
        names = ("study_number", "examined_on", "modality", "examination_number", "unit", "unit_number")
        by[tuple(row[name] for name in names)].append(row)
    pairs = [of for of in by.values() if len(of) == 2]
    assert len(pairs) == len(unit[0].second_readings["reading"])
    assert all(a["reader"] != b["reader"] for a, b in pairs)
    assert any(a["finding"] != b["finding"] for a, b in pairs)


def test_filtration_and_creatinine_are_each_others_inverse():
    # Inker et al., N Engl J Med 2021;385:1737-1749 (from memory): 1.0 mg/dL at 50 years, worked out by hand.
    assert filtration_rate(88.4, 50, False) == pytest.approx(91.7, abs=0.05)
    assert filtration_rate(88.4, 50, True) == pytest.approx(68.6, abs=0.05)
    for female in (False, True):
        for rate in (8.0, 45.0, 88.0, 118.0):
            assert filtration_rate(creatinine_umol_l(rate, 61, female), 61, female) == pytest.approx(rate)
        at = float(bend(np.array([61]), np.array([female]))[0])
        assert creatinine_umol_l(at, 61, female) == pytest.approx((61.88, 79.56)[not female])


def test_the_mean_change_of_filtration_is_the_true_one(unit):
    drawn, rows = unit
    true = filtration_change(P)
    change = drawn.operations["egfr_change"]
    assert abs(change.mean() - true.value) < 4 * change.std() / math.sqrt(len(change))
    about = {row["study_number"]: (row["sex"] == "female", row["birth_year"]) for row in rows["patient"]}
    sets = defaultdict(dict)
    for row in rows["observation_set"]:
        if "creatinine_umol_l" not in row:
            continue
        female, born = about[row["study_number"]]
        days = (row["observed_on"] - row["operated_on"]).days
        when = "before" if days < 0 else "weeks after" if days >= 21 else "soon"
        rate = filtration_rate(row["creatinine_umol_l"], row["observed_on"].year - born, female)
        sets[row["study_number"], row["operated_on"]][when] = rate
    pairs = np.array([of["weeks after"] - of["before"] for of in sets.values() if {"before", "weeks after"} <= set(of)])
    assert len(pairs) > 1500
    # Birthdays between the two sets take up to a fifteenth of a unit; rounding takes nothing on average.
    assert abs(pairs.mean() - true.value) < 4 * pairs.std() / math.sqrt(len(pairs)) + 0.15


def test_observations_have_every_component_some_of_the_time(unit):
    after = [row for row in unit[1]["observation_set"] if row["timing"] == "after" and "temperature_c" in row]
    wanted = (
        "heart_rate_min", "respiratory_rate_min", "systolic_mmhg", "mean_pressure_mmhg", "white_cells_g_l",
        "bands_percent", "lactate_mmol_l", "platelets_g_l", "bilirubin_umol_l", "creatinine_umol_l", "coma_scale",
        "urine_ml_24h", "vasopressor", "noradrenaline_ug_kg_min", "pao2_fio2_mmhg", "ventilated", "paco2_mmhg",
    )  # fmt: skip
    for name in wanted:
        assert 0 < sum(name in row for row in after) < len(after), name
    usual = sum("heart_rate_min" in row for row in after)
    assert_share(usual, len(after), 1 - P.share_value_missing)


def test_fever_goes_with_infection_and_shock_with_its_components(unit):
    drawn, rows = unit
    operations = drawn.operations
    infected = {
        (f"S{operations['patient'][n] + 1:05d}", operations["on"][n].item())
        for n in np.flatnonzero(operations["infection_known"])
    }
    after = [row for row in rows["observation_set"] if row["timing"] == "after" and "temperature_c" in row]
    hot = {(row["study_number"], row["operated_on"]) for row in after if row["temperature_c"] >= 38}
    assert len(infected - hot) < 0.02 * len(infected)
    assert 20 < len(hot - infected) < len(after) / 10
    shocked = [row for row in after if row.get("vasopressor") == "yes" and "lactate_mmol_l" in row]
    assert shocked
    assert all(row["lactate_mmol_l"] > 2 for row in shocked)


def test_cultures_after_have_counts(unit):
    after = [row for row in unit[1]["culture"] if row["timing"] == "after"]
    assert {row["specimen"] for row in after} == {"urine", "blood"}
    assert {row["result"] for row in after} == {"positive", "negative"}
    assert all(row["count_log10"] for row in unit[1]["culture_organism"])


def test_exposures_are_there_with_some_missing(unit):
    flexible = [row for row in scoped(unit[1]) if row["technique"] == "flexible"]
    measured = [row for row in flexible if "pressure_threshold_cmh2o" in row]
    assert_share(len(measured), len(flexible), P.share_pressure)
    for name in ("pressure_baseline_cmh2o", "pressure_mean_cmh2o", "pressure_highest_cmh2o"):
        assert_share(sum(row[name] == "not_recorded" for row in measured), len(measured), P.share_part_missing)
    assert_share(sum(row["visibility"] == "not_recorded" for row in flexible), len(flexible), P.share_part_missing)
    sides = [row for row in unit[1]["treated_side"] if "irrigation_flow_ml_min" in row]
    assert len(sides) > 1000
    assert {row["irrigation_drive"] for row in flexible} == {"gravity", "pressure_bag", "automatic_pump", "hand_pump"}


def test_more_room_means_less_pressure(unit):
    drawn, rows = unit
    ratio = {}
    for side in np.flatnonzero(drawn.sides["sheath"] > 0):
        on = drawn.operations["on"][drawn.sides["operation"][side]].item()
        ratio[f"S{drawn.sides['patient'][side] + 1:05d}", on] = drawn.sides["ratio"][side]
    pairs = [
        (ratio[row["study_number"], row["operated_on"]], row["pressure_mean_cmh2o"])
        for row in rows["treated_side"]
        if isinstance(row.get("pressure_mean_cmh2o"), int) and (row["study_number"], row["operated_on"]) in ratio
    ]
    assert np.corrcoef(np.array(pairs).T)[0, 1] < -0.5


def test_scores_have_what_they_need(unit):
    rows = unit[1]
    places = Counter(row["location"] for row in rows["stone"])
    assert min(places["partial_staghorn"], places["complete_staghorn"], places["diverticulum"]) > 0
    kidneys = [row for row in rows["stone"] if row["location"].endswith("calyx")]
    faced = [row for row in kidneys if "calyx_face" in row]
    assert_share(len(faced), len(kidneys), P.share_face)
    assert_share(sum("site_filled" in row for row in faced), len(faced), P.share_sites)
    for row in rows["stone"]:
        if row["location"] == "complete_staghorn" and "site_filled" in row:
            assert len(row["site_filled"].split("; ")) == 9
    by_ct = [row for row in rows["stone"] if row["measured_by"] == "ct" and "ureter" not in row["location"]]
    assert_share(sum("skin_to_stone_mm" in row for row in by_ct), len(by_ct), P.share_skin_distance)
    deep = [row for row in rows["stone"] if "depth_mm" in row]
    assert_share(sum("volume_mm3" in row for row in deep), len(deep), P.share_segmented)
    odd = [row for row in rows["renal_unit"] if row["anatomy"] not in ("normal", "calyceal_diverticulum")]
    assert_share(len(odd), len(rows["renal_unit"]), P.share_abnormal_anatomy * 11 / 12)
    methods = Counter(row["angle_method"] for row in rows["treated_side"] if "angle_method" in row)
    assert set(methods) == {"ureteropelvic_axis", "pelvis_infundibulum", "retrograde"}
    assert {row["attenuation_method"] for row in by_ct} >= {"mean_region", "mean_small_regions", "whole_volume"}


def test_both_sides_share_the_radiation_of_their_operation(unit):
    total = {
        (row["study_number"], row["operated_on"], row["day_number"]): row["fluoroscopy_s"]
        for row in unit[1]["operation"]
    }
    halves = Counter()
    for row in unit[1]["treated_side"]:
        if "side_fluoroscopy_s" in row:
            halves[row["study_number"], row["operated_on"], row["day_number"]] += row["side_fluoroscopy_s"]
    assert len(halves) > 200
    assert all(total[name] - 1 <= seconds <= total[name] for name, seconds in halves.items())


def test_shared_operations_and_retreatments_within_ninety_days_occur(unit):
    drawn = unit[0]
    operations, sides = drawn.operations, drawn.sides
    assert (operations["first_side"] != operations["second_side"]).sum() > 100
    later = np.flatnonzero(sides["parent"] >= 0)
    before = sides["operation"][sides["parent"][later]]
    days = operations["on"][sides["operation"][later]] - operations["on"][before]
    assert (days <= np.timedelta64(90, "D")).sum() > 100
