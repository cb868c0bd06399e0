"""Does a use fit a safety notice: certainly, possibly, can it not be excluded, or not? Told as sentences."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.reports.equipment.matching import Match, Use, folded, matched
from analysis.reports.equipment.notice import Notice
from registry.schema.udi import read_udi

DI, OTHER_DI = "51022222233336", "08904000210037"
NEAR = dt.date(2024, 3, 4)


def fits(notice: dict[str, Any], *, identifiers: tuple[str, ...] = (DI,), **recorded: Any) -> Match:
    udi = recorded.get("udi")
    code = read_udi(udi, NEAR) if udi else None
    return matched(Use(**{"model": "SC", "code": code, **recorded}), Notice(**notice), identifiers)


LOT = {"lot": "A213B1"}
SERIAL = {"serial": "K-77"}


def test_a_lot_to_the_letter_is_certain_and_says_where_from() -> None:
    assert fits(LOT, lot="A213B1") == Match("certain", "typed lot")
    assert fits(LOT, udi=f"(01){DI}(10)A213B1") == Match("certain", "lot in the scanned code")
    both = fits(LOT, lot="A213B1", udi=f"(01){DI}(10)A213B1")
    assert both == Match("certain", "typed lot and lot in the scanned code")


def test_a_serial_may_stand_in_three_places() -> None:
    assert fits(SERIAL, serial_as_scanned="K-77").where == "typed serial"
    assert fits(SERIAL, item_serial="K-77").where == "serial of the item"
    assert fits(SERIAL, udi=f"(01){DI}(21)K-77").where == "serial in the scanned code"


@pytest.mark.parametrize("written", ["a213b1", "A-213-B1", "A 213 B1", "A213–B1", "a.213/b1"])
def test_a_lot_written_differently_is_possible(written: str) -> None:
    assert fits(LOT, lot=written) == Match("possible", "typed lot, written differently")


def test_another_lot_is_none() -> None:
    assert fits(LOT, lot="A213B2").verdict == "no"


def test_no_lot_at_all_cannot_be_excluded() -> None:
    assert fits(LOT).verdict == "cannot be excluded"
    assert fits({"model": "SC", **LOT}) == Match("cannot be excluded", "model")
    assert fits({"model": "SC", **LOT}, model="XX", identifiers=()).verdict == "no"


def test_a_code_without_a_lot_says_nothing_of_the_lot() -> None:
    assert fits(LOT, udi=f"(01){DI}(21)K-77").verdict == "cannot be excluded"


def test_a_lot_in_a_code_that_cannot_be_read_is_possible() -> None:
    assert fits(LOT, udi="box A213-B1, label torn").where == "text inside the scanned code"
    assert fits(LOT, udi="+H99A213B1").verdict == "possible"
    assert fits({"lot": "B1"}, udi="+H99A213B1").verdict == "possible"


def test_a_lot_run_into_the_serial_for_want_of_a_separator_is_possible() -> None:
    """A scanner that drops the separator makes one long lot of lot and serial."""
    assert fits(LOT, udi=f"01{DI}10A213B1211234").where == "text inside the scanned code"


def test_a_short_text_is_not_looked_for_inside_codes_that_can_be_read() -> None:
    assert fits({"lot": "21"}, udi=f"(01){DI}(10)XX(21)9").verdict == "no"


def test_a_lot_out_of_a_code_that_is_not_whole_is_only_possible() -> None:
    assert fits(LOT, udi="(01)51022222233337(10)A213B1").verdict == "possible"


def test_typed_and_scanned_at_odds_still_fit_and_say_so() -> None:
    found = fits(LOT, lot="A213B1", udi=f"(01){DI}(10)ZZZZ")
    assert found == Match("certain", "typed lot (recorded otherwise elsewhere)")


def test_a_model_is_certain_by_its_code() -> None:
    assert fits({"model": "SC"}) == Match("certain", "model")
    assert fits({"model": "SC"}, udi=f"(01){OTHER_DI}").where == "model (the scanned code names another)"


def test_another_model_code_is_possible_by_the_device_identifier() -> None:
    assert (
        fits({"model": "SC"}, model="SC-2", identifier=DI).where == "another model code with the same device identifier"
    )
    assert fits({"model": "SC"}, model="XX", udi=f"(01){DI}").where == "device identifier in the scanned code"
    assert fits({"model": "SC"}, model="XX", identifier=OTHER_DI).verdict == "no"
    assert fits({"model": "SC"}, model="XX").verdict == "no"


def test_an_identifier_is_that_of_the_code_or_else_of_the_model() -> None:
    by = {"identifier": DI}
    assert fits(by, udi=f"(01){DI}").verdict == "certain"
    assert fits(by, identifier=DI) == Match("certain", "device identifier of the model")
    assert fits(by, identifier=DI, udi=f"(01){OTHER_DI}").verdict == "possible"
    assert fits(by, identifier=OTHER_DI).verdict == "no"
    assert fits(by).verdict == "cannot be excluded"


def test_all_that_is_named_has_to_fit() -> None:
    both = {"model": "SC", "lot": "A213B1", "serial": "K-77"}
    assert fits(both, lot="A213B1", item_serial="K-77").verdict == "certain"
    assert fits(both, lot="A213B2", item_serial="K-77").verdict == "no"
    assert fits(both, lot="A213B1").verdict == "possible"
    assert fits(both).verdict == "cannot be excluded"


def test_a_serial_of_the_model_needs_no_lot() -> None:
    named = {"model": "SC", "lot": "A213B1", "serial": "K-77"}
    assert fits(named, item_serial="K-77").verdict == "certain"
    # Without a model, another maker's piece may have the same serial number.
    assert fits({"lot": "A213B1", "serial": "K-77"}, item_serial="K-77").verdict == "possible"


def test_a_code_of_another_issuer_is_compared_as_a_whole() -> None:
    notice = {"code": "+H123ABC01234567890"}
    assert fits(notice, udi="+H123ABC01234567890") == Match("certain", "scanned code")
    assert fits(notice, udi="+h123-abc-01234567890").verdict == "possible"
    assert fits(notice, udi="+H999").verdict == "no"
    assert fits(notice).verdict == "cannot be excluded"


TEXTS = st.text("ABab01- .", min_size=1, max_size=8).filter(lambda text: text == text.strip() and folded(text) != "")


@given(TEXTS, TEXTS)
def test_a_recorded_lot_is_never_left_open(wanted: str, recorded: str) -> None:
    verdict = fits({"lot": wanted}, lot=recorded).verdict
    assert verdict == ("certain" if wanted == recorded else "possible" if folded(wanted) == folded(recorded) else "no")


@given(TEXTS, st.none() | TEXTS, st.none() | TEXTS, st.none() | TEXTS)
def test_naming_more_never_makes_a_use_fit_that_did_not(
    lot: str, serial: str | None, typed: str | None, item: str | None
) -> None:
    recorded = {"lot": typed, "item_serial": item}
    if fits({"lot": lot}, **recorded).verdict == "no":
        assert fits({"lot": lot, "serial": serial}, **recorded).verdict == "no"
