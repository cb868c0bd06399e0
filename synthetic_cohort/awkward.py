"""Hand-written patients, so that the demo holds at least one of everything that is hard to count.

Each case is a function whose name says what is awkward; its patient keeps the same study number for ever.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

from synthetic_cohort import awkward_courses as courses
from synthetic_cohort import awkward_imaging as imaging
from synthetic_cohort import awkward_operations as operations
from synthetic_cohort.awkward_defaults import FIRST_NUMBER, Case, begin
from synthetic_cohort.story import Rows

BOTH = {"sides": "left right"}

CASES: tuple[tuple[Callable[[Case], None], dict[str, Any]], ...] = (
    (operations.bilateral_one_abandoned, BOTH),
    (operations.kidney_and_ureter_stone_one_side, {}),
    (operations.scope_changed, {"sides": "right"}),
    (operations.sheath_exchanged_for_smaller, {}),
    (operations.combined_access, {"sides": "right"}),
    (operations.drainage_only, {}),
    (operations.two_operations_in_one_day, {"sides": "right"}),
    (operations.not_started, {}),
    (operations.no_stone_found, {"sides": "right"}),
    (operations.shock_wave_series, {}),
    (courses.planned_second_look, {}),
    (courses.unplanned_retreatment_before_scan, {"sides": "right"}),
    (courses.transplant, {"sides": "", "condition": "hyperparathyroidism"}),
    (courses.child, {"sex": "female", "birth_year": 2013, "condition": "cystinuria"}),
    (courses.pregnancy, {"sides": "right", "sex": "female", "birth_year": 1992}),
    (courses.complication_after_two_operations, BOTH),
    (courses.died_elsewhere_month_known, {"birth_year": 1938}),
    (courses.fragment_passed_at_home, {"sides": "right"}),
    (courses.mixed_composition, {}),
    (courses.research_refused, {"sides": "right"}),
    (courses.stent_forgotten, {}),
    (courses.kidney_lost, BOTH),
    (courses.retreated_elsewhere, {}),
    (courses.left_on_purpose, {"sides": "right"}),
    (imaging.one_scan_both_sides, BOTH),
    (imaging.two_readers_agree, {}),
    (imaging.two_readers_disagree, {"sides": "right"}),
    (imaging.kub_and_ultrasound_pair, {}),
    (imaging.size_range, {"sides": "right"}),
    (imaging.larger_than, {}),
    (imaging.dust, {"sides": "right"}),
    (imaging.encrusted_stent, {}),
    (imaging.new_stone, {"sides": "right"}),
    (imaging.not_done_with_reason, {}),
    (imaging.month_of_scan_known, {"sides": "right"}),
)


def awkward_patients(rows: Rows, chance: random.Random) -> None:
    """Add every awkward patient to the rows."""
    for number, (write, person) in enumerate(CASES):
        write(begin(rows, chance, number, **person))


def study_number(name: str) -> str:
    """The study number of the patient whose case has a name.

    Raises:
        KeyError: there is no such case.
    """
    numbers = {write.__name__: number for number, (write, _) in enumerate(CASES)}
    return f"S{FIRST_NUMBER + numbers[name]}"
