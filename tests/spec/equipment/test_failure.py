"""Which use of equipment is a failure, what counts as opened, and how long a piece lasts, told as sentences."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from analysis.outcomes.equipment_failure import item_lives, judged_failures, pieces_opened
from registry.schema.lists_equipment import UseReason, UseResult

FIELDS = ("result", "reason", "failure_stage", "failure_mode", "failure_consequence")
DAY_0 = pd.Timestamp("2025-01-01")


def used(*uses: dict[str, Any]) -> pd.DataFrame:
    """Uses in the order of time; each in an operation of its own on a day of its own, of no known piece."""
    rows = [
        {
            "use_id": at,
            "operation_id": at,
            "item_id": None,
            "operated_on": DAY_0 + pd.Timedelta(days=at),
            **dict.fromkeys(FIELDS),
            "result": "passed",
            **one,
        }
        for at, one in enumerate(uses, start=1)
    ]
    return pd.DataFrame(rows).astype({"item_id": "Int64", **dict.fromkeys(FIELDS, "string")})


def judged(**use: Any) -> str:
    return str(judged_failures(used(use)).iloc[0])


@pytest.mark.parametrize("field", FIELDS[2:])
def test_a_described_failure_is_one_whatever_came_of_the_use(field: str) -> None:
    assert judged(**{field: "none"}) == "failed"
    assert judged(result=None, **{field: "none"}) == "failed"


@pytest.mark.parametrize("result", ["failed", "exchanged", "withdrawn"])
@pytest.mark.parametrize("reason", ["broken", "poor_image"])
def test_broken_or_a_poor_image_is_a_failure(result: str, reason: str) -> None:
    assert judged(result=result, reason=reason) == "failed"


@pytest.mark.parametrize("reason", ["tight_ureter", "too_large", "too_small", "too_short", "injury", "surgeon_choice"])
def test_what_lies_in_the_patient_or_the_choice_is_no_failure(reason: str) -> None:
    assert judged(result="failed", reason=reason) == "not failed"


@pytest.mark.parametrize("reason", ["blocked", "other", None])
@pytest.mark.parametrize("result", ["failed", "exchanged", "withdrawn"])
def test_without_a_telling_reason_it_cannot_be_told(result: str, reason: str | None) -> None:
    assert judged(result=result, reason=reason) == "cannot be told"


def test_a_use_without_a_result_cannot_be_told() -> None:
    assert judged(result=None) == "cannot be told"


def test_a_passed_use_is_none() -> None:
    assert judged(result="passed") == "not failed"


def test_every_result_and_reason_of_the_lists_is_judged() -> None:
    said = {judged(result=result, reason=reason) for result in UseResult.codes() for reason in UseReason.codes()}
    assert said == {"failed", "not failed", "cannot be told"}


def test_every_attempt_is_a_piece_opened() -> None:
    opened = pieces_opened(used({"operation_id": 1}, {"operation_id": 1}, {"operation_id": 2}))
    assert list(opened["failure"]) == ["not failed"] * 3


def test_one_piece_in_one_operation_is_opened_once_and_failed_if_any_of_its_uses_did() -> None:
    one, other = {"operation_id": 1, "item_id": 7}, {"operation_id": 2, "item_id": 7}
    opened = pieces_opened(used(one, {**one, "failure_mode": "no_image"}, {**one, "result": None}, other))
    assert list(opened["failure"]) == ["failed", "not failed"]
    assert list(opened["uses"]) == [3, 1]
    assert opened["failure_mode"].iloc[0] == "no_image"


def test_a_use_that_cannot_be_told_outweighs_one_that_is_fine() -> None:
    one = {"operation_id": 1, "item_id": 7}
    assert list(pieces_opened(used(one, {**one, "result": None}))["failure"]) == ["cannot be told"]


def test_nothing_used_is_nothing_opened() -> None:
    assert pieces_opened(used({}).head(0)).empty


def lives(uses: pd.DataFrame, repairs: tuple[int, ...] = (), as_of: int = 100, **item: Any) -> dict[str, Any]:
    """The life of piece 7; repairs on days after day 0."""
    given = {"item_id": 7, "single_use": "no", "acquired_on": None, "retired_on": None, "uses_before": 4, **item}
    items = pd.DataFrame([given]).astype({"uses_before": "Int64", "retired_on": "datetime64[s]"})
    days = pd.to_datetime([DAY_0 + pd.Timedelta(days=day) for day in repairs])
    mended = pd.DataFrame({"item_id": pd.array([7] * len(repairs), "int64"), "repaired_on": days})
    found = item_lives(uses, items, mended, DAY_0 + pd.Timedelta(days=as_of))
    return found.iloc[0].to_dict() if len(found) else {}


def test_the_life_of_a_piece_is_counted_in_operations() -> None:
    piece = {"item_id": 7}
    uses = used(piece, {**piece, "operation_id": 1}, piece, {**piece, "failure_mode": "light"}, piece)
    life = lives(uses, repairs=(0, 5))
    assert (life["registry_uses"], life["total_uses"]) == (4, 8)
    assert (life["failures"], life["first_failure"]) == (1, 3)
    # A repair before its first use in the registry, on day 1, is told apart.
    assert (life["repairs"], life["earlier_repairs"]) == (1, 1)


def test_what_comes_after_the_day_is_not_read() -> None:
    piece = {"item_id": 7}
    life = lives(
        used(piece, piece, {**piece, "failure_mode": "light"}), repairs=(50,), as_of=2, retired_on="2025-02-01"
    )
    assert (life["registry_uses"], life["failures"], life["repairs"], life["retired"]) == (2, 0, 0, False)
    assert pd.isna(life["first_failure"])


def test_uses_before_that_nobody_recorded_leave_the_whole_unknown() -> None:
    assert pd.isna(lives(used({"item_id": 7}), uses_before=None)["total_uses"])


def test_a_piece_for_single_use_has_no_life() -> None:
    assert lives(used({"item_id": 7}), single_use="yes") == {}


def test_a_piece_that_was_never_used_has_one_of_no_uses() -> None:
    life = lives(used({"item_id": 8}), repairs=(3,))
    assert (life["registry_uses"], life["failures"], life["repairs"], life["earlier_repairs"]) == (0, 0, 0, 1)
