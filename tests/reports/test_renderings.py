"""The answer as JSON, CSV and text."""

from __future__ import annotations

import csv
import io
import json
import math
from typing import Any

import pytest

from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.render_csv import as_csv
from analysis.reports.stone_free.render_json import as_json
from analysis.reports.stone_free.render_text import as_text

from .made import FAILED, FREE, NOT_DUE, OUT, UNPLANNED, UNSCANNED, answer, sides_of, statuses, unit

ROW_KEYS = [
    "group",
    "threshold_mm",
    "comparison",
    "unscanned",
    "eligible",
    "n",
    "unknown",
    "not_due",
    "died",
    "retreated_planned",
    "retreated_unplanned",
    "abandoned",
    "patients",
    "stone_free",
    "rate",
    "low",
    "high",
    "low_clustered",
    "high_clustered",
    "n_adequate",
    "rate_adequate",
    "low_adequate",
    "high_adequate",
    "failed_inadequate",
    "modalities",
]
COMPARISON_KEYS = [
    "column",
    "index",
    "comparator",
    "threshold_mm",
    "comparison",
    "unscanned",
    "groups",
    "crude",
    "mantel_haenszel",
    "standardised",
    "homogeneity",
    "strata_left_out",
]
EFFECT_KEYS = ["estimate", "low", "high", "low_bootstrap", "high_bootstrap", "method"]


def asked(**typed: str) -> Answer:
    units = [unit(FREE, FREE)] * 6 + [unit(FAILED, FREE, inadequate=True, modality="ultrasound")] * 2
    units += [unit(FAILED, FAILED)] * 3 + [unit(UNSCANNED, UNSCANNED), unit(UNPLANNED, UNPLANNED)]
    units += [unit(FREE, FREE, readings=2)] * 2 + [unit(NOT_DUE, NOT_DUE), unit(OUT, OUT)]
    frame = statuses(units, codes=("0", "lt2"))
    arm = ["a", "b"] * 6 + ["a"] * 3 + ["c", "b"]
    return answer(frame, sides_of(frame, arm=arm, size=["s", "l", "l"] * 5 + ["s", "s"]), **typed)


def as_object(**typed: str) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(as_json(asked(**typed)))
    return made


def test_json_has_definition_rows_and_comparisons():
    assert list(as_object()) == ["definition", "rows", "comparisons"]
    assert as_object()["comparisons"] == []


def test_json_rows_have_the_agreed_keys_in_their_order():
    rows = as_object(by="arm", unscanned="complete,lower,upper")["rows"]
    assert len(rows) == 3 * 2 * 3
    assert all(list(row) == ROW_KEYS for row in rows)
    first = rows[0]
    assert first["group"] == {"arm": "a"}
    assert (first["threshold_mm"], first["comparison"], first["unscanned"]) == (0, "<=", "complete")
    assert rows[3]["comparison"] == "<"
    assert first["modalities"] == {"ct": 7, "ultrasound": 1, "none": 1}


def test_json_counts_are_whole_numbers_and_rates_are_unrounded():
    (row, _) = as_object()["rows"]
    assert isinstance(row["n"], int)
    assert isinstance(row["stone_free"], int)
    assert row["rate"] == row["stone_free"] / row["n"] == 8 / 14


def test_json_of_an_empty_group_has_nulls():
    rows = as_object(by="arm")["rows"]
    empty = next(row for row in rows if row["group"] == {"arm": "c"})
    assert (empty["eligible"], empty["n"], empty["not_due"], empty["patients"]) == (0, 0, 1, 0)
    nulls = [key for key, value in empty.items() if value is None]
    assert nulls == [
        "rate",
        "low",
        "high",
        "low_clustered",
        "high_clustered",
        "rate_adequate",
        "low_adequate",
        "high_adequate",
    ]


def test_json_without_a_split_has_an_empty_group():
    assert as_object()["rows"][0]["group"] == {}


def test_json_comparisons_have_the_agreed_keys_in_their_order():
    (found, _) = as_object(compare="arm=a,b", strata="size")["comparisons"]
    assert list(found) == COMPARISON_KEYS
    for way in ("crude", "mantel_haenszel", "standardised"):
        assert list(found[way]) == ["difference", "ratio", "odds_ratio"]
        assert all(list(effect) == EFFECT_KEYS for effect in found[way].values())
    assert list(found["homogeneity"]) == ["test", "statistic", "df", "p"]
    assert found["crude"]["difference"]["method"] == "Newcombe hybrid score"
    assert found["crude"]["ratio"]["method"] == "Katz log"
    assert found["crude"]["odds_ratio"]["method"] == "Woolf log"


def test_json_without_strata_has_null_for_what_needs_them():
    (found, _) = as_object(compare="arm=a,b")["comparisons"]
    assert found["mantel_haenszel"] is found["standardised"] is found["homogeneity"] is None
    assert found["strata_left_out"] == []
    # Group a holds 1, 3, 5, 14 and 15, which are clear, 7, 9 and 11, which failed, and 13, which was treated again.
    assert found["groups"]["index"] == {"stone_free": 5, "n": 9, "rate": 5 / 9, "rate_standardised": None}


def test_json_definition_holds_the_six_parts_and_the_provenance():
    told = as_object(window="20:60", unscanned="lower")["definition"]
    assert [one["code"] for one in told["thresholds"]] == ["0", "lt2"]
    assert (told["imaging"], told["window"], told["unit"], told["sessions"]) == ("any", [20, 60], "side", "single")
    assert told["unscanned"] == ["lower"]
    assert told["as_of"] == "2025-06-30"
    assert told["snapshot"]["content_hash"] == "ab" * 32
    assert told["several_readings"] == 2
    assert told["decided"]["0"]["retreated_unplanned"] == 1


def test_json_holds_no_number_that_is_none():
    assert "NaN" not in as_json(asked(by="arm", compare="arm=a,c", strata="size"))


def tables(text: str) -> list[list[dict[str, str]]]:
    return [list(csv.DictReader(io.StringIO(block))) for block in text.split("\n\n")]


def test_csv_has_the_numbers_of_json_in_full():
    rows = as_object(by="arm")["rows"]
    (table,) = tables(as_csv(asked(by="arm")))
    assert len(table) == len(rows)
    for written, row in zip(table, rows, strict=True):
        assert written["arm"] == row["group"]["arm"]
        for key in ("eligible", "n", "rate", "low", "high_clustered", "rate_adequate", "failed_inadequate"):
            expected = row[key]
            assert (written[key] == "") if expected is None else math.isclose(float(written[key]), expected, rel_tol=0)
        assert int(written["modality_ct"]) == row["modalities"].get("ct", 0)


def test_csv_rows_say_what_makes_them_comparable():
    (table,) = tables(as_csv(asked(window="20:60")))
    first = table[0]
    assert (first["window_first_day"], first["window_last_day"], first["unit"]) == ("20", "60", "side")
    assert (first["imaging"], first["sessions"], first["as_of"]) == ("any", "single", "2025-06-30")


def test_csv_has_the_comparisons_as_a_second_table_after_a_blank_line():
    rates, effects = tables(as_csv(asked(compare="arm=a,b", strata="size")))
    assert len(rates) == 2
    assert len(effects) == 2 * (2 * 2 + 3 * 3 + 1)
    found = as_object(compare="arm=a,b", strata="size")["comparisons"][0]
    for way, name in (("crude", "rate"), ("standardised", "rate_standardised")):
        row = next(row for row in effects if row["way"] == way and row["measure"] == "rate of comparator")
        assert float(row["estimate"]) == found["groups"]["comparator"][name]
    assert (effects[0]["stone_free"], effects[0]["n"]) == ("5", "9")
    crude = next(row for row in effects if row["way"] == "crude" and row["measure"] == "odds_ratio")
    assert float(crude["estimate"]) == found["crude"]["odds_ratio"]["estimate"]
    test = next(row for row in effects if row["way"] == "homogeneity")
    assert test["method"] == found["homogeneity"]["test"]


def test_text_prints_the_six_parts_the_source_and_the_cautions():
    text = " ".join(as_text(asked()).split())
    for part in ("threshold", "imaging", "window", "unit", "sessions", "unscanned"):
        assert part in text
    assert "no fragment of 2 mm or more (< 2 mm)" in text
    assert "day 14 to 90" in text
    assert "complete case" in text
    assert "as of 2025-06-30" in text
    assert "content abababababab" in text
    assert "out: stone removal was not intended 1" in text
    assert "no study before an unplanned retreatment 1 1" in text
    assert "more than one reading: 2" in text
    assert "no advice for treating a patient" in text
    assert "A figure never ranks a surgeon by itself." in text
    assert "Wilson" in text


def test_text_puts_the_adequate_first_when_failures_hang_on_inadequate_studies():
    header = next(line for line in as_text(asked()).splitlines() if "all known" in line)
    assert header.index("adequate") < header.index("all known")
    assert "8 of 12" in as_text(asked())
    assert "Read 'adequate' first" in as_text(asked())


def test_text_speaks_of_the_adequate_only_when_there_is_a_difference():
    frame = statuses([unit(FREE, FREE), unit(FAILED, FREE)] * 5)
    assert "Read 'adequate' first" not in as_text(answer(frame, sides_of(frame)))


def few(**typed: str) -> Answer:
    units = [unit(FREE, FREE)] * 3 + [unit(FAILED, FREE)] + [unit(FREE, FREE)] * 4 + [unit(FAILED, FAILED)]
    frame = statuses(units)
    return answer(frame, sides_of(frame, arm=["a"] * 4 + ["b"] * 5), **typed)


def test_text_withholds_a_rate_from_fewer_than_five_and_shows_its_counts():
    lines = as_text(few(by="arm")).splitlines()
    group_a = next(line for line in lines if line.startswith("  a "))
    assert "3 of 4" in group_a
    assert "n < 5" in group_a
    assert "75.0 %" not in group_a
    group_b = next(line for line in lines if line.startswith("  b "))
    assert "80.0 %" in group_b


def test_the_unit_may_set_another_number():
    assert "n < 6" in as_text(few(by="arm", small_number="6"))
    assert "n <" not in as_text(few(by="arm", small_number="0"))


def test_text_withholds_the_effects_of_a_group_of_fewer_than_five():
    text = as_text(few(compare="arm=a,b"))
    assert "No effect is shown from so few." in text
    assert "odds ratio" not in text
    assert "No effect is shown" not in as_text(few(compare="arm=a,b", small_number="3"))


def test_json_and_csv_hold_every_number_however_small():
    made = few(by="arm")
    assert json.loads(as_json(made))["rows"][0]["rate"] == 0.75
    assert tables(as_csv(made))[0][0]["rate"] == "0.75"


def test_text_of_a_comparison_names_every_test_and_interval():
    text = " ".join(as_text(asked(compare="arm=a,b", strata="size", small_number="0")).split())
    for name in ("Newcombe", "Katz", "Woolf", "Sato", "Greenland-Robins", "Robins-Breslow-Greenland", "Breslow-Day"):
        assert name in text
    assert "50 resamples of patients (seed 1)" in text


def test_text_shows_both_bounds_side_by_side():
    text = as_text(asked(unscanned="complete,lower,upper"))
    line = next(
        line for line in text.splitlines() if "lower bound" in line and "upper bound" in line and "rate" in line
    )
    assert line.count("by patient") == 2


def test_a_cohort_with_nobody_inside_is_said_in_words():
    frame = statuses([unit(OUT, OUT)])
    assert "Nobody is inside the denominator" in as_text(answer(frame, sides_of(frame, arm=["a"]), by="arm"))
    assert json.loads(as_json(answer(frame, sides_of(frame))))["rows"][0]["rate"] is None


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_csv_never_hands_a_spreadsheet_a_formula(start: str):
    frame = statuses([unit(FREE, FREE)])
    made = answer(frame, sides_of(frame, arm=[f"{start}1+1"]), by="arm")
    assert tables(as_csv(made))[0][0]["arm"] == f"'{start}1+1"
