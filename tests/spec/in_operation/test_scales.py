"""Three scales that are never merged; where each applies, what is missing, and what contradicts."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from analysis.outcomes.in_operation.contradictions import contradictions
from analysis.outcomes.in_operation.scales import LESION, SATAVA, SCALES, WALL, Scale, lesion_of_transection
from analysis.outcomes.in_operation.standing import standing, standings

BLANK = {"satava": None, "ureteric_lesion": None, "wall_injury": None}
USUAL = {"conduct": "completed", "technique": "flexible", "sheath_model": "M1", "sheath_failed": "no", "unit": "left"}
SIDE = {"side_id": 1, "study_number": "S1", "operated_on": pd.Timestamp("2024-01-01"), "ratio_state": "known"}
NONE_SAID = {"side_id": 1, "satava_not_applicable": False, "lesion_not_applicable": False, "wall_not_applicable": False}


def side(**told: Any) -> pd.DataFrame:
    return pd.DataFrame([{**SIDE, **USUAL, **BLANK, **told}])


def state(scale: Scale, *, said: dict[str, bool] | None = None, **told: Any) -> str:
    reasons = pd.DataFrame([{**NONE_SAID, **(said or {})}]).astype(dict.fromkeys(list(NONE_SAID)[1:], "boolean"))
    return str(standing(side(**told), reasons, scale)["state"].iloc[0])


def named(*events: tuple[str, str | None], converted_to: str | None = None, **told: Any) -> list[str]:
    reasons = pd.DataFrame([NONE_SAID])
    rows = [{"side_id": 1, "event": e, "location": where, "converted_to": converted_to} for e, where in events]
    frame = pd.DataFrame(rows, columns=["side_id", "event", "location", "converted_to"])
    sides = side(**told)
    return contradictions(sides, frame, standings(sides, reasons))["what"].tolist()


def test_each_scale_has_its_own_name_its_source_and_its_own_grades():
    assert len({scale.definition.id for scale in SCALES}) == 3
    assert [scale.grades for scale in SCALES] == [
        ("0", "1", "2a", "2b", "3"),
        ("0", "1", "2", "3", "4", "5"),
        ("0", "1", "2", "3", "4"),
    ]
    labels = [scale.label_of(grade) for scale in SCALES for grade in scale.grades]
    assert len(set(labels)) == 16
    assert all("from memory" in scale.definition.source for scale in (LESION, WALL))


def test_the_published_groups_of_grades_part_the_scale():
    for scale in (LESION, WALL):
        grouped = [grade for one in scale.derived for grade in one.grades]
        assert grouped == list(scale.grades)
    assert [one.grades for one in LESION.derived] == [("0", "1", "2"), ("3", "4", "5")]
    assert [one.grades for one in WALL.derived] == [("0", "1"), ("2", "3", "4")]


@pytest.mark.parametrize(("share", "grade"), [(0.1, "3"), (0.49, "3"), (0.5, "4"), (0.51, "4"), (0.99, "4"), (1, "5")])
def test_exactly_half_of_the_circumference_is_grade_4(share: float, grade: str):
    assert lesion_of_transection(share) == grade


@pytest.mark.parametrize("share", [0, -0.1, 1.1])
def test_no_share_of_a_circumference_outside_0_to_1_has_a_grade(share: float):
    with pytest.raises(ValueError, match="cannot be transected"):
        lesion_of_transection(share)


def test_a_blank_is_missing_and_never_grade_0():
    assert [state(scale) for scale in SCALES] == ["missing"] * 3
    assert state(SATAVA, satava="0") == "graded"


def test_without_a_ureteroscope_neither_of_its_scales_applies():
    shock = {"technique": "shock_wave", "sheath_model": None, "ratio_state": "not applicable"}
    assert [state(scale, **shock) for scale in SCALES] == ["not applicable"] * 3
    assert state(SATAVA, **shock, satava="0") == "outside"
    assert state(SATAVA, technique="semirigid+percutaneous", satava="1") == "graded"


def test_where_nothing_was_started_no_scale_applies():
    assert [state(scale, conduct="not_started") for scale in SCALES] == ["not applicable"] * 3


def test_wall_injury_applies_only_where_a_ureteric_sheath_was_tried():
    without = {"sheath_model": None, "ratio_state": "not applicable", "sheath_failed": None}
    assert state(WALL, **without) == "not applicable"
    assert state(WALL, **without, wall_injury="1") == "outside"
    assert state(WALL, sheath_model=None, sheath_failed="yes", ratio_state="not applicable") == "missing"


def test_where_equipment_or_technique_is_not_recorded_a_grade_is_taken_at_its_word():
    unsaid = {"sheath_model": None, "ratio_state": "missing", "sheath_failed": None}
    assert (state(WALL, **unsaid), state(WALL, **unsaid, wall_injury="2")) == ("missing", "graded")
    assert state(LESION, technique="not recorded", ureteric_lesion="1") == "graded"


def test_what_was_written_down_as_not_applicable_is_not_missing():
    assert state(LESION, said={"lesion_not_applicable": True}) == "not applicable"


def test_avulsion_with_a_low_grade_is_named_on_each_scale():
    told = named(("avulsion", "proximal_ureter"), satava="0", ureteric_lesion="0", wall_injury="0")
    assert told == [
        "avulsion recorded, but lesion scale 0, not 5",
        "avulsion recorded, but wall injury 0, not 4",
        "avulsion recorded, but Satava 0, no incident",
    ]
    assert named(("avulsion", None), satava="3", ureteric_lesion="5", wall_injury="4") == []


def test_a_perforation_contradicts_only_where_it_is_of_the_ureter():
    assert named(("perforation", "distal_ureter"), ureteric_lesion="2") != []
    assert named(("perforation", "distal_ureter"), ureteric_lesion="3") == []
    assert named(("perforation", "pelvis"), ureteric_lesion="0") == []
    assert named(("perforation", None), ureteric_lesion="0") == []


def test_a_mucosal_injury_of_the_ureter_is_a_lesion():
    assert named(("mucosal_injury", "middle_ureter"), ureteric_lesion="0") != []
    assert named(("mucosal_injury", "middle_ureter"), ureteric_lesion="1") == []


def test_an_anaesthetic_event_is_no_incident_of_the_scale():
    assert named(("anaesthetic", None), satava="0") == []


def test_conversion_to_open_surgery_is_satava_3():
    assert named(("conversion", None), converted_to="open", satava="2a") != []
    assert named(("conversion", None), converted_to="open", satava="3") == []
    assert named(("conversion", None), converted_to="semirigid", satava="2a") == []


def test_no_lesion_and_a_wall_injury_cannot_both_be():
    assert named(ureteric_lesion="0", wall_injury="1") == ["lesion scale 0, no lesion, but wall injury 1"]
    assert named(ureteric_lesion="1", wall_injury="1") == []


def test_a_blank_contradicts_nothing():
    assert named(("avulsion", None), ("perforation", "distal_ureter")) == []
