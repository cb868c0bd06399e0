"""Parameters say what they are, and refuse what they cannot be."""

from __future__ import annotations

from dataclasses import fields
from datetime import date, datetime

import pytest

from registry.schema.errors import GravelbookError
from synthetic_cohort.parameters import Parameters, described, read_parameters, with_changes


def test_every_parameter_is_described():
    rows = described(Parameters())
    assert [row["name"] for row in rows] == [f.name for f in fields(Parameters)]
    assert all(row["about"] and row["unit"] for row in rows)


def test_a_file_changes_what_it_names(tmp_path):
    path = tmp_path / "p.toml"
    path.write_text("patient_sd = 1\noperators = 9\nfirst_day = 2020-01-06\nreading_error = false\n", encoding="utf-8")
    read = read_parameters(path)
    assert (read.patient_sd, read.operators, read.first_day, read.reading_error) == (1.0, 9, date(2020, 1, 6), False)
    assert read.free_suction == Parameters().free_suction


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"share_scanned": 1.4}, "between 0.0 and 1.0"),
        ({"share_scaned": 0.4}, "no parameter share_scaned"),
        ({"missingness": "sometimes"}, "one of completely_random"),
        ({"operators": 2.5}, "must be a whole number"),
        ({"first_day": datetime(2020, 1, 6)}, "must be a date"),
        ({"share_female": True}, "must be a number"),
        ({"share_sheath_10": 0.8}, "must not exceed 1"),
        ({"last_day": date(2019, 1, 10)}, "at least 30 days after"),
    ],
)
def test_wrong_values_are_refused_in_words(changes, words):
    with pytest.raises(GravelbookError, match=words):
        with_changes(Parameters(), changes)


def test_files_that_cannot_be_read_are_refused_in_words(tmp_path):
    with pytest.raises(GravelbookError, match="cannot be read"):
        read_parameters(tmp_path / "absent.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("share_scanned 0.5", encoding="utf-8")
    with pytest.raises(GravelbookError, match="not valid TOML"):
        read_parameters(broken)


def test_parameters_of_complications_and_of_detail_are_named_and_set_like_the_rest(tmp_path):
    path = tmp_path / "p.toml"
    path.write_text('share_colic_scope = 0.2\nfailure_reusable = 0.1\nreview_missingness = "not_random"\n')
    read = read_parameters(path)
    assert (read.share_colic_scope, read.failure_reusable, read.review_missingness) == (0.2, 0.1, "not_random")
    # Every scope opened would fail, and the next one in its place, for ever.
    with pytest.raises(GravelbookError, match=r"between 0 and 0\.5"):
        with_changes(Parameters(), {"failure_single_use": 1.0})
    with pytest.raises(GravelbookError, match="review_missingness = sometimes"):
        with_changes(Parameters(), {"review_missingness": "sometimes"})
    with pytest.raises(GravelbookError, match="Names that are alike: share_colic_scope"):
        with_changes(Parameters(), {"share_colic_skope": 0.1})
    with pytest.raises(GravelbookError, match="must not exceed 1"):
        with_changes(Parameters(), {"share_lesion_1": 0.99})
