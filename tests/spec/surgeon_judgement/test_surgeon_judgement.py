"""The surgeon's judgement against the scan: what is positive, and which scan may say so."""

from __future__ import annotations

import pandas as pd
import pytest

from analysis.outcomes.surgeon_judgement import CUTS, JUDGED, judged_positive, scan_positive
from registry.schema.lists_operation import SurgeonJudgement


@pytest.mark.parametrize(
    ("judgement", "anything", "fragments"),
    [
        ("nothing", False, False),
        ("dust", True, False),
        ("dust_and_fragments", True, True),
        ("fragments", True, True),
        ("not_judged", None, None),
        (None, None, None),
    ],
)
def test_two_cuts(judgement, anything, fragments):
    for cut, expected in (("anything", anything), ("fragments", fragments)):
        found = judged_positive(pd.Series([judgement], dtype=object), cut)[0]
        assert (None if pd.isna(found) else bool(found)) is expected


def test_every_code_of_the_registry_is_judged_or_says_nothing():
    codes = {one.value for one in SurgeonJudgement}
    assert codes - set(JUDGED) == {"not_judged"}
    assert all(set(classes) <= set(JUDGED) for _, classes in CUTS.values())


def test_only_a_study_adequate_at_the_threshold_is_a_reference():
    rows = pd.DataFrame(
        [
            ("free", True, True),
            ("failed", True, True),
            ("failed", True, False),  # a fragment on a study that could not have shown none
            ("unknown", False, True),  # a range of sizes
            ("failed", False, False),  # treated again, never scanned
        ],
        columns=["status", "decided_by_study", "adequate"],
    )
    assert list(scan_positive(rows)) == [False, True, None, None, None]
