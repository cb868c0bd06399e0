"""A score is worked out for sides of the techniques it was made for; frames give what cases hold."""

from __future__ import annotations

import pandas as pd
import pytest

from analysis.outcomes.scores.all_scores import SCORES, complexity_scores, is_meant_for

MISSING = pd.NA


@pytest.mark.parametrize(
    ("techniques", "percutaneous", "flexible"),
    [
        ({"percutaneous"}, True, False),
        ({"mini_percutaneous"}, True, False),
        ({"combined"}, True, False),
        ({"flexible", "percutaneous"}, True, False),
        ({"flexible"}, False, True),
        ({"flexible", "semirigid"}, False, True),
        ({"semirigid"}, False, False),
        ({"flexible", "shock_wave"}, False, False),
        (set(), False, False),
    ],
)
def test_techniques(techniques: set[str], percutaneous: bool, flexible: bool) -> None:
    meant = {code: is_meant_for(score, frozenset(techniques)) for code, score in SCORES.items()}
    assert [meant[code] for code in ("guys", "stone", "s_resc")] == [percutaneous] * 3
    assert [meant[code] for code in ("modified_s_resc", "resorlu_unsal", "rirs")] == [flexible] * 3


def frames() -> dict[str, pd.DataFrame]:
    """Side 1 percutaneous with a filled lower pole; side 2 flexible with nothing recorded; side 3 a later stage."""
    side = {
        "stage_number": 0,
        "anatomy": "normal",
        "spinal_disease": "no",
        "hydronephrosis": "none",
        "infundibulopelvic_angle_deg": MISSING,
        "infundibular_length_mm": float("nan"),
        "by_aim": False,
    }
    bare = dict.fromkeys(("anatomy", "spinal_disease", "hydronephrosis"), MISSING)
    sides = pd.DataFrame(
        [
            {**side, "side_id": 1, "techniques": "percutaneous"},
            {**side, **bare, "side_id": 2, "techniques": "flexible"},
            {**side, "side_id": 3, "techniques": "percutaneous", "stage_number": 1},
        ]
    )
    one = {"calyx_face": MISSING, "length_mm": 9.0, "width_mm": 5.0, "attenuation_hu": 700, "skin_to_stone_mm": 80.0}
    stones = pd.DataFrame([{**one, "side_id": at, "stone_id": at, "location": "partial_staghorn"} for at in (1, 3)])
    sites = pd.DataFrame({"stone_id": [1, 1, 1], "site_filled": ["pelvis", "inferior_major", "inferior_anterior"]})
    return {"sides": sides, "stones": stones, "sites": sites}


def test_frames_to_scores() -> None:
    found = complexity_scores(**frames()).set_index(["score", "side_id"])
    assert set(found.index) == {(code, at) for code in ("guys", "stone", "s_resc") for at in (1, 3)} | {
        (code, 2) for code in ("modified_s_resc", "resorlu_unsal", "rirs")
    }
    assert found.loc[("guys", 1), "value"] == 3
    assert found.loc[("s_resc", 1), "value"] == 3
    assert found.loc[("stone", 1), "value"] == 5
    assert found.loc[("guys", 3), "missing"] == ("stones aimed at in this stage",)
    assert found.loc[("rirs", 2), "missing"] == ("stones",)


def test_any_technique_takes_every_side_and_says_which_were_not_meant() -> None:
    found = complexity_scores(**frames(), scores=["guys"], any_technique=True).set_index("side_id")
    assert found["meant"].to_dict() == {1: True, 2: False, 3: True}


def test_nobody_gives_an_empty_frame() -> None:
    empty = {name: frame.iloc[:0] for name, frame in frames().items()}
    assert complexity_scores(**empty).empty
