"""Awkward operations: what goes otherwise in theatre."""

from __future__ import annotations

from datetime import date

from synthetic_cohort.awkward_defaults import USUAL_SIDE, Case, equip, flexible, laser, stone, treat
from synthetic_cohort.story import Row


def bilateral_one_abandoned(case: Case) -> None:
    """Both sides in one operation; the left ureter is too tight and that side is abandoned."""
    on = date(2021, 3, 9)
    made = case.operate(on, operating_min=84)
    right = flexible(made, case.right, side_operating_min=52)
    equip(right)
    right.aim(stone(case.right, 1, on))
    left = flexible(
        made, case.left, conduct="abandoned", conduct_reason="tight_ureter", access_gained="no", side_operating_min=32,
        surgeon_judgement="not_judged", exit_strategy="stent", planned_dwell_d=21,
    )  # fmt: skip
    left.use("GW-35")
    left.use("SH-10-40", "failed", reason="tight_ureter", most_of_lithotripsy="no")
    left.use("ST-6")
    left.aim(stone(case.left, 1, on, location="lower_calyx"), result="not_reached")
    case.left.drain(
        on, "stent", made, on_string="no", planned_removal_on=date(2021, 3, 30), removed_on=date(2021, 3, 29),
        removed_where="clinic", changed="no",
    )  # fmt: skip
    scan = case.scan(date(2021, 4, 12))
    scan.reading(case.right, "none_seen")
    scan.reading(case.left, "fragments").fragment(11, location="lower_calyx")
    case.reviewed(date(2021, 4, 20))


def kidney_and_ureter_stone_one_side(case: Case) -> None:
    """A stone in the kidney and one in the ureter of the same side, both aimed at."""
    on = date(2020, 9, 15)
    made = case.operate(on)
    side = flexible(made, case.left, hydronephrosis="moderate", technique="flexible; semirigid")
    side.aim(stone(case.left, 1, on, location="lower_calyx"))
    side.aim(stone(case.left, 1, on, location="distal_ureter", length_mm=6, width_mm=5, depth_mm=4, impacted="yes"))
    side.use("GW-35")
    side.use("SR-65", serial="M6501", most_of_lithotripsy="no")
    side.use("SH-12-40", most_of_lithotripsy="yes")
    side.use("SC-85", serial="K8502", most_of_lithotripsy="yes")
    laser(side)
    case.scan(date(2020, 10, 20)).reading(case.left, "none_seen")
    case.reviewed(date(2020, 10, 21))


def scope_changed(case: Case) -> None:
    """A reusable scope loses its deflection; another scope does most of the lithotripsy."""
    on = date(2022, 2, 8)
    made = case.operate(on, operating_min=77)
    side = flexible(made, case.right)
    side.aim(stone(case.right, 1, on, location="lower_calyx"))
    side.use("GW-35")
    side.use("SH-12-50", most_of_lithotripsy="yes")
    first = side.use(
        "SC-95", "exchanged", serial="K9502", reason="broken", most_of_lithotripsy="no", failure_stage="in_operation",
        failure_mode="deflection_lost", failure_consequence="replaced_other", delay_min=12, reportable="unsure",
        retained="yes",
    )  # fmt: skip
    side.use("SC-75", first_intended="no", replaces_use=first, most_of_lithotripsy="yes", serial_as_scanned="D480211")
    laser(side, 8)
    side.numbered("side_event", "event_number", event="equipment_failure", note="Deflection lost in the lower calyx.")
    case.scan(date(2022, 3, 15)).reading(case.right, "fragments").fragment(2, location="lower_calyx")
    case.reviewed(date(2022, 3, 16))


def sheath_exchanged_for_smaller(case: Case) -> None:
    """A sheath of 12 Fr does not pass; one of 10 Fr does."""
    on = date(2023, 5, 16)
    made = case.operate(on)
    side = flexible(made, case.left, ureter_dilated="yes", wall_injury="1")
    side.aim(stone(case.left, 1, on))
    side.use("GW-38")
    first = side.use("SH-12-40", "failed", reason="tight_ureter", most_of_lithotripsy="no")
    side.use("DL-10")
    side.use("SH-10-40", first_intended="no", replaces_use=first, most_of_lithotripsy="yes")
    side.use("SC-75", most_of_lithotripsy="yes")
    laser(side)
    case.scan(date(2023, 6, 20)).reading(case.left, "none_seen")
    case.reviewed(date(2023, 6, 22))


def combined_access(case: Case) -> None:
    """A staghorn stone by antegrade and retrograde access at once, two persons operating."""
    on = date(2022, 10, 4)
    made = case.operate(on, nights=3, operating_min=140, position="modified_supine", fluoroscopy_s=210)
    made.person("OP-B", "access", part="access", made_access="yes", responsible="no")
    side = flexible(
        made, case.right, technique="mini_percutaneous; combined", exit_strategy="stent_and_nephrostomy",
        planned_dwell_d=14, surgeon_judgement="dust",
    )  # fmt: skip
    staghorn = stone(
        case.right, 1, on, location="partial_staghorn", length_mm=38, width_mm=24, depth_mm=21, volume_mm3=9200,
        site_filled="pelvis; inferior_major; inferior_posterior",
    )  # fmt: skip
    side.aim(staghorn)
    side.numbered(
        "tract", "tract_number", calyx="lower_calyx", size_tenths_fr=16, guidance="both", dilation="single_step",
        tubeless="no",
    )  # fmt: skip
    side.use("GW-35")
    side.use("PS-16", most_of_lithotripsy="yes")
    side.use("NS-12", serial="N1201", most_of_lithotripsy="yes")
    side.use("SH-11-40", most_of_lithotripsy="no")
    side.use("SC-75", most_of_lithotripsy="no")
    laser(side, 22)
    for kind, days in (("stent", 14), ("nephrostomy", 2)):
        removed = date.fromordinal(on.toordinal() + days)
        place = "clinic" if kind == "stent" else "ward"
        case.right.drain(
            on, kind, made, planned_removal_on=removed, removed_on=removed, removed_where=place, changed="no"
        )
    case.scan(date(2022, 11, 8)).reading(case.right, "fragments").fragment(3, kind="alike", fragment_count=2)
    case.reviewed(date(2022, 11, 9))


def drainage_only(case: Case) -> None:
    """An obstructed infected kidney is drained at night; the stone is treated five weeks later."""
    on, treated = date(2021, 11, 17), date(2021, 12, 21)
    made = case.operate(
        on, nights=4, purpose="drainage", indication="infection", urgency="emergency", operating_min=18,
        prophylaxis="carbapenem",
    )  # fmt: skip
    side = made.side(
        case.left, **{**USUAL_SIDE, "intent": "drainage", "hydronephrosis": "severe", "exit_strategy": "stent",
        "planned_dwell_d": 35, "surgeon_judgement": "not_applicable"},
    )  # fmt: skip
    side.use("GW-35")
    side.use("ST-6")
    case.story.culture(
        on, "pelvic_urine", made, timing="during", result="positive", treated_with="carbapenem", treated_since=on,
        organisms={"escherichia_coli": 6, "enterococcus": 4},
    )  # fmt: skip
    case.left.drain(
        on, "stent", made, on_string="no", planned_removal_on=treated, removed_on=treated, removed_where="theatre",
        changed="no",
    )  # fmt: skip
    treat(case, treated, case.left, pre_stented="yes", pre_stented_days=34, hydronephrosis="none")
    case.scan(date(2022, 1, 25)).reading(case.left, "none_seen")
    case.reviewed(date(2022, 1, 26))


def two_operations_in_one_day(case: Case) -> None:
    """The stent placed in the morning has slipped and is changed in the evening of the same day."""
    on = date(2020, 2, 11)
    made, side, _ = treat(case, on, case.right, exit_strategy="stent", planned_dwell_d=14)
    side.use("ST-6")
    again = case.operate(
        on, "OP-C", purpose="stent", urgency="emergency", indication="obstruction", operating_min=15,
        dose_area_product_gy_cm2=0.3,
    )  # fmt: skip
    second = again.side(
        case.right, **{**USUAL_SIDE, "intent": "stent", "pre_stented": "yes",
        "exit_strategy": "stent", "planned_dwell_d": 14, "surgeon_judgement": "not_applicable"},
    )  # fmt: skip
    second.use("GW-35")
    second.use("ST-6")
    case.right.drain(
        on, "stent", made, on_string="no", planned_removal_on=date(2020, 2, 25), removed_on=on, removed_where="theatre",
        changed="yes",
    )  # fmt: skip
    case.right.drain(
        on, "stent", again, on_string="no", planned_removal_on=date(2020, 2, 25), removed_on=date(2020, 2, 26),
        removed_where="clinic", changed="no",
    )  # fmt: skip
    event = made.complication("stent_migration", on, case.right, equipment_related="yes", organs_failing=0)
    event.therapy("stent_placed", on, "general", operation=again).graded("IIIb", date(2020, 3, 2))
    case.scan(date(2020, 3, 17)).reading(case.right, "none_seen")
    case.reviewed(date(2020, 3, 18))


def not_started(case: Case) -> None:
    """Asleep on the table, the patient's rhythm fails: no scope enters."""
    on = date(2023, 9, 12)
    made = case.operate(on, nights=1, operating_min=0, fluoroscopy_s=0, dose_area_product_gy_cm2=0)
    skipped = ("access_gained", "irrigation_drive", "ureteric_lesion", "satava", "surgeon_judgement", "suction")
    values: Row = {**dict.fromkeys(skipped, "not_applicable"), "irrigation_height_cm": None, "safety_wire": None}
    side = flexible(made, case.left, conduct="not_started", conduct_reason="anaesthetic", **values)
    side.aim(stone(case.left, 1, on), result=None)
    side.numbered("side_event", "event_number", event="anaesthetic")
    case.reviewed(date(2023, 10, 20))


def no_stone_found(case: Case) -> None:
    """The stone had passed unnoticed: every calyx is empty."""
    on = date(2019, 6, 18)
    made = case.operate(on, operating_min=22)
    side = flexible(made, case.right, conduct="no_stone_found", surgeon_judgement="nothing")
    side.aim(
        stone(case.right, 1, on, location="proximal_ureter", length_mm=6, width_mm=5, depth_mm=5), result="not_found"
    )
    side.use("GW-35")
    side.use("SC-85", serial="K8503")
    case.reviewed(date(2019, 8, 1))


def shock_wave_series(case: Case) -> None:
    """Three shock-wave visits for one stone, the second and third planned on the first day."""
    first = date(2020, 6, 2)
    days = (first, date(2020, 6, 23), date(2020, 7, 14))
    calm: Row = {"anaesthesia": "sedation", "position": "supine", "prophylaxis": "none", "prophylaxis_before_min": None}
    calm |= {"prophylaxis_doses": None, "operating_min": 45, "operating_to": "last_equipment_out"}
    known = None
    for number, on in enumerate(days):
        made = case.operate(on, planned_staged="yes", **calm)
        given = dict.fromkeys(("access_gained", "irrigation_drive", "ureteric_lesion", "satava"), "not_applicable")
        more: Row = {"irrigation_height_cm": None, "safety_wire": None, "surgeon_judgement": "not_judged"}
        side = flexible(made, case.left, stage=number, technique="shock_wave", **{**given, **more})
        if known is None:
            known = stone(case.left, 1, first, location="middle_calyx", length_mm=9, skin_to_stone_mm=92)
            for _ in days[1:]:
                case.left.planned_stage(1, first, kind="same_technique", technique="shock_wave")
        side.aim(known, result="partly" if number < 2 else "cleared")
        side.use("SW-1", serial="W4001", most_of_lithotripsy="yes")
        side.numbered(
            "shock_wave_session", "session_number", shocks=3000, level=6 + number, rate_per_min=60, ramped="yes",
            localisation="ultrasound",
        )  # fmt: skip
    case.scan(date(2020, 8, 18)).reading(case.left, "none_seen")
    case.reviewed(date(2020, 8, 19))
