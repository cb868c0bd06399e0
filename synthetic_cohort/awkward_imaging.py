"""Awkward examinations: what a scan may show and a report may say."""

from __future__ import annotations

from datetime import date

from synthetic_cohort.awkward_defaults import Case, equip, flexible, stone, treat


def one_scan_both_sides(case: Case) -> None:
    """Both sides in one operation, one scan, two findings."""
    on = date(2019, 9, 10)
    made = case.operate(on, operating_min=95)
    for unit in (case.left, case.right):
        side = flexible(made, unit, side_operating_min=47)
        equip(side)
        side.aim(stone(unit, 1, on))
    scan = case.scan(date(2019, 10, 15))
    scan.reading(case.left, "none_seen")
    scan.reading(case.right, "fragments").fragment(4, location="lower_calyx")
    case.reviewed(date(2019, 10, 16))


def two_readers_agree(case: Case) -> None:
    """Two readers of one examination see the same fragment."""
    treat(case, date(2020, 11, 3), case.left)
    scan = case.scan(date(2020, 12, 8))
    scan.reading(case.left, "fragments", reader="R1").fragment(3, location="lower_calyx")
    scan.reading(case.left, "fragments", reader="R2").fragment(3, location="lower_calyx")
    case.reviewed(date(2020, 12, 9))


def two_readers_disagree(case: Case) -> None:
    """One reader sees nothing, the other a fragment of 2 mm."""
    treat(case, date(2021, 1, 12), case.right)
    scan = case.scan(date(2021, 2, 16))
    scan.reading(case.right, "none_seen", reader="R1")
    scan.reading(case.right, "fragments", reader="R3").fragment(2, location="lower_calyx")
    case.reviewed(date(2021, 2, 17))


def kub_and_ultrasound_pair(case: Case) -> None:
    """Ultrasound sees nothing; the plain film six days later shows 4 mm."""
    treat(case, date(2022, 9, 6), case.left)
    case.scan(date(2022, 10, 11), "ultrasound").reading(case.left, "none_seen")
    case.scan(date(2022, 10, 17), "kub").reading(case.left, "fragments").fragment(4, location="lower_calyx")
    case.reviewed(date(2022, 10, 18))


def size_range(case: Case) -> None:
    """The report gives a range: 2 to 4 mm."""
    treat(case, date(2023, 3, 14), case.right)
    reading = case.scan(date(2023, 4, 18)).reading(case.right, "fragments", wording="Fragment of 2-4 mm.")
    reading.fragment(2, 4, location="lower_calyx", wording="2-4 mm")
    case.reviewed(date(2023, 4, 19))


def larger_than(case: Case) -> None:
    """The report says only that the fragment is larger than 5 mm."""
    treat(case, date(2023, 6, 6), case.left)
    reading = case.scan(date(2023, 7, 11)).reading(case.left, "fragments")
    reading.fragment(5, larger_than_low="yes", location="middle_calyx", wording="> 5 mm")
    case.reviewed(date(2023, 7, 12))


def dust(case: Case) -> None:
    """Dust in the lower calyx, no size given."""
    treat(case, date(2021, 5, 11), case.right, surgeon_judgement="dust")
    reading = case.scan(date(2021, 6, 15)).reading(case.right, "fragments")
    reading.fragment(kind="dust", location="lower_calyx", wording="some dust", cluster_extent_mm=8)
    case.reviewed(date(2021, 6, 16))


def encrusted_stent(case: Case) -> None:
    """What shines on the film is crust on the stent, not a fragment."""
    on = date(2020, 7, 28)
    made, side, _ = treat(case, on, case.left, exit_strategy="stent", planned_dwell_d=21)
    side.use("ST-6")
    case.left.drain(
        on, "stent", made, on_string="no", planned_removal_on=date(2020, 8, 18), removed_on=date(2020, 9, 15),
        removed_where="clinic", changed="no", note="Encrusted at the upper coil.",
    )  # fmt: skip
    reading = case.scan(date(2020, 9, 8)).reading(case.left, "fragments")
    reading.fragment(6, location="pelvis", origin="no_stone", wording="calcified upper stent coil")
    case.reviewed(date(2020, 9, 16))


def new_stone(case: Case) -> None:
    """The treated stone is gone; another has formed elsewhere."""
    treat(case, date(2019, 4, 9), case.right)
    case.scan(date(2019, 5, 14)).reading(case.right, "none_seen")
    reading = case.scan(date(2019, 10, 8), purpose="unplanned").reading(case.right, "fragments")
    reading.fragment(4, location="upper_calyx", origin="new")
    case.story.later(date(2019, 10, 8), "new_stone", case.right, size_mm=4, place="here", source="record")
    case.reviewed(date(2019, 10, 9))


def not_done_with_reason(case: Case) -> None:
    """The scan was due and the patient declined it."""
    on = date(2024, 2, 13)
    treat(case, on, case.left)
    case.story.examination(date(2024, 3, 14), "ct", not_done="refused", place=None)
    case.reviewed(date(2024, 3, 26))


def month_of_scan_known(case: Case) -> None:
    """A letter tells of a CT elsewhere in the month after the operation, without its day."""
    treat(case, date(2024, 5, 14), case.right)
    scan = case.scan("2024-06", place="elsewhere", slice_mm=None, low_dose=None)
    scan.reading(case.right, "none_seen", reader=None, blinded=None)
    case.reviewed(date(2024, 7, 2))
