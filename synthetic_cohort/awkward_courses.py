"""Awkward courses: unusual people, and what happens between and after operations."""

from __future__ import annotations

from datetime import date

from synthetic_cohort.awkward_defaults import Case, equip, flexible, stone, treat


def planned_second_look(case: Case) -> None:
    """On the day of the operation a second look is decided on, and done three weeks later."""
    first, second = date(2022, 5, 10), date(2022, 5, 31)
    made, side, known = treat(case, first, case.left, surgeon_judgement="dust_and_fragments", exit_strategy="stent")
    made.row["planned_staged"] = "yes"
    side.row["planned_dwell_d"] = 21
    case.left.planned_stage(1, first, kind="second_look", technique="flexible")
    case.left.drain(
        first, "stent", made, on_string="no", planned_removal_on=second, removed_on=second, removed_where="theatre",
        changed="no",
    )  # fmt: skip
    again = case.operate(second, operating_min=25, indication="residual")
    look = flexible(again, case.left, stage=1, pre_stented="yes", pre_stented_days=21)
    equip(look)
    look.aim(known)
    scan = case.scan(second, "second_look", after_operation="yes")
    scan.reading(case.left, "none_seen", reader="OP-A", blinded="no", every_calyx_seen="yes")
    case.scan(date(2022, 7, 5)).reading(case.left, "none_seen")
    case.reviewed(date(2022, 7, 6))


def unplanned_retreatment_before_scan(case: Case) -> None:
    """Colic brings the patient back to theatre on day 12; nobody had scanned before that."""
    first, again = date(2023, 1, 17), date(2023, 1, 29)
    made, _, known = treat(case, first, case.right, surgeon_judgement="dust")
    redo = case.operate(again, urgency="urgent", indication="obstruction")
    side = flexible(redo, case.right, stage=None, hydronephrosis="moderate")
    equip(side)
    side.aim(known)
    event = made.complication("steinstrasse", date(2023, 1, 28), case.right, organs_failing=0)
    event.therapy("ureteroscopy", again, "general", operation=redo).graded("IIIb", date(2023, 2, 14))
    case.scan(date(2023, 3, 7)).reading(case.right, "none_seen")
    case.reviewed(date(2023, 3, 8))


def transplant(case: Case) -> None:
    """A stone in a transplant kidney, the patient's only one that works."""
    on = date(2021, 6, 22)
    graft = case.story.unit("transplant", anatomy="transplant", solitary="yes", prior_stone_surgery="no")
    made = case.operate(on, immunosuppressed="yes", chronic_kidney_disease="yes", asa_class="3", charlson=2)
    side = flexible(made, graft)
    equip(side, sheath="SH-10-40")
    side.aim(stone(graft, 1, on, location="lower_calyx", length_mm=8, width_mm=6, depth_mm=5))
    case.scan(date(2021, 7, 27)).reading(graft, "fragments").fragment(1.5, location="lower_calyx")
    case.reviewed(date(2021, 7, 28))


def child(case: Case) -> None:
    """A girl of nine with cystine stones."""
    on = date(2022, 8, 9)
    made = case.operate(on, nights=1, height_cm=133, weight_kg=29, asa_class="1", dose_area_product_gy_cm2=0.2)
    side = flexible(made, case.left)
    side.use("GW-35")
    side.use("SC-75", most_of_lithotripsy="yes")
    found = stone(case.left, 1, on, length_mm=9, width_mm=7, depth_mm=6, attenuation_hu=610, radio_opacity="faint")
    side.aim(found)
    named = {name: found[name] for name in ("course_number", "stone_number")}
    case.left.analysis(
        {"cystine": 100}, **made.link, **named, passed_at_home="no", sent_on=on, reported_on=date(2022, 8, 30)
    )
    case.scan(date(2022, 9, 20), "ultrasound").reading(case.left, "none_seen")
    case.reviewed(date(2022, 9, 21))


def pregnancy(case: Case) -> None:
    """In week 24 a ureteric stone is removed under spinal anaesthesia without X-rays."""
    on = date(2023, 2, 21)
    made = case.operate(
        on, nights=1, gestation_weeks=24, anaesthesia="spinal", urgency="urgent", fluoroscopy_s=0,
        dose_area_product_gy_cm2=0, prophylaxis="cephalosporin",
    )  # fmt: skip
    side = flexible(made, case.right, technique="semirigid", hydronephrosis="moderate")
    side.use("GW-35")
    side.use("SR-65", serial="M6502", most_of_lithotripsy="yes")
    side.aim(
        stone(
            case.right, 1, on, location="distal_ureter", length_mm=7, width_mm=5, depth_mm=None,
            attenuation_hu="not_done", attenuation_method=None, radio_opacity=None, measured_by="ultrasound",
            measured_slice_mm=None,
        )
    )  # fmt: skip
    case.scan(date(2023, 3, 28), "ultrasound").reading(case.right, "none_seen")
    case.reviewed(date(2023, 3, 29))


def complication_after_two_operations(case: Case) -> None:
    """Sepsis two days after the second of two operations a week apart, on both sides: it came after both."""
    first, second = date(2021, 9, 7), date(2021, 9, 14)
    made, _, _ = treat(case, first, case.left)
    again, _, _ = treat(case, second, case.right)
    event = again.complication("sepsis", date(2021, 9, 16), None, organs_failing=0).also_after(made)
    event.therapy("antibiotic", date(2021, 9, 16)).therapy("fluids", date(2021, 9, 16)).graded("II", date(2021, 10, 1))
    scan = case.scan(date(2021, 10, 19))
    scan.reading(case.left, "none_seen")
    scan.reading(case.right, "none_seen")
    case.reviewed(date(2021, 10, 20))


def died_elsewhere_month_known(case: Case) -> None:
    """A relative telephones: the patient died abroad, in July."""
    treat(case, date(2022, 6, 14), case.left)
    case.story.patient |= {
        "died_on": "2022-07", "death_source": "relative", "death_place": "elsewhere",
        "last_known_alive_on": date(2022, 6, 15), "last_known_alive_source": "record",
    }  # fmt: skip


def fragment_passed_at_home(case: Case) -> None:
    """The scan shows 3 mm; two months later the patient brings it along."""
    on = date(2020, 1, 21)
    _, _, known = treat(case, on, case.right, surgeon_judgement="dust")
    case.scan(date(2020, 2, 25)).reading(case.right, "fragments").fragment(3, location="distal_ureter", stone=known)
    case.story.later(date(2020, 4, 9), "fragment_passed", case.right, size_mm=3, source="patient")
    case.right.analysis(
        {"weddellite": 100}, passed_at_home="yes", sent_on=date(2020, 4, 14), reported_on=date(2020, 4, 30)
    )
    case.reviewed(date(2020, 4, 14))


def mixed_composition(case: Case) -> None:
    """Four components, none of which makes up half."""
    on = date(2019, 10, 1)
    made, _, found = treat(case, on, case.left)
    parts: dict[str, float] = {"whewellite": 35, "weddellite": 30, "carbonate_apatite": 20, "struvite": 15}
    named = {name: found[name] for name in ("course_number", "stone_number")}
    case.left.analysis(parts, **made.link, **named, passed_at_home="no", sent_on=on, reported_on=date(2019, 10, 25))
    case.scan(date(2019, 11, 5)).reading(case.left, "none_seen")
    case.reviewed(date(2019, 11, 6))


def research_refused(case: Case) -> None:
    """Counts in audit, never in research."""
    case.story.patient |= {"research_use": "no", "research_use_since": date(2024, 3, 4)}
    treat(case, date(2024, 3, 5), case.right)
    case.scan(date(2024, 4, 9)).reading(case.right, "none_seen")
    case.reviewed(date(2024, 4, 10))


def stent_forgotten(case: Case) -> None:
    """A stent planned out in three weeks is still there when the records close."""
    on = date(2024, 6, 18)
    made, side, _ = treat(case, on, case.left, exit_strategy="stent", planned_dwell_d=21)
    side.use("ST-6")
    case.left.drain(on, "stent", made, on_string="no", planned_removal_on=date(2024, 7, 9))


def kidney_lost(case: Case) -> None:
    """Eight months after surgery the kidney is taken out elsewhere for infection."""
    treat(case, date(2021, 2, 16), case.right, surgeon_judgement="fragments")
    case.scan(date(2021, 3, 23)).reading(case.right, "fragments", hydronephrosis="severe").fragment(
        9, location="pelvis"
    )
    case.right.row |= {"lost_on": "2021-10", "loss_reason": "nephrectomy"}
    case.story.later("2021-10", "loss_of_kidney", case.right, place="elsewhere", source="other_hospital")
    case.reviewed(date(2022, 1, 11))


def retreated_elsewhere(case: Case) -> None:
    """Two months on, another hospital treats what was left by shock waves."""
    treat(case, date(2023, 4, 4), case.left, surgeon_judgement="dust_and_fragments")
    case.story.later(
        date(2023, 5, 30), "retreatment", case.left, place="elsewhere", technique="shock_wave", source="other_hospital"
    )
    case.reviewed(date(2023, 6, 27))


def left_on_purpose(case: Case) -> None:
    """Before access it is written down that a stone in a diverticulum is to be left."""
    on = date(2022, 1, 18)
    _, side, _ = treat(case, on, case.right)
    kept = stone(case.right, 1, on, location="diverticulum", length_mm=5, width_mm=4, depth_mm=4)
    side.aim(kept, "left_on_purpose", result=None, recorded_before_access="yes")
    case.scan(date(2022, 2, 22)).reading(case.right, "fragments").fragment(5, location="diverticulum", stone=kept)
    case.reviewed(date(2022, 2, 23))
