"""Device identifiers as scanned or typed.

Formats and AI: gs1.org/standards/barcodes/application-identifiers. Day 00: GS1 General Specifications, 7.12 ("end of
August 1999 = 990800", en.gs1.dk/application-identifiers/10). Check digits: gs1india.org/SERV/checkdgt.htm for
8904000210037; the others follow from the same rule.
"""

from __future__ import annotations

import datetime as dt

import pytest

from registry.intake.values import parse
from registry.schema.fields import info_of
from registry.schema.tables import metadata
from registry.schema.udi import GS, check_digit, identifier_of, read_udi

NEAR = dt.date(2024, 3, 4)
LABEL = "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234"
SCANNED = f"0151022222233336111412311715070710A213B1{GS}211234"

SPELLINGS = [
    LABEL,
    SCANNED,
    "]d2" + SCANNED,
    "]C1" + SCANNED,
    "]Q3" + SCANNED,
    GS + SCANNED + GS,
    SCANNED.replace(GS, "<GS>"),
    SCANNED.replace(GS, "␝"),
    SCANNED.replace(GS, "{FNC1}"),
    "01 51022222233336 11 141231 17 150707 10 A213B1" + GS + "21 1234",
    "(01) 51022222233336 (11) 141231 (17) 150707 (10) A213B1 (21) 1234",
    "https://id.gs1.org/01/51022222233336/10/A213B1/21/1234?11=141231&17=150707",
]


@pytest.mark.parametrize("text", SPELLINGS)
def test_the_worked_example_in_every_spelling(text: str) -> None:
    read = read_udi(text, NEAR)
    assert read.problems == ()
    assert (read.issuer, read.device_identifier, read.lot, read.serial) == ("GS1", "51022222233336", "A213B1", "1234")
    assert (read.produced_on, read.expires_on) == (dt.date(2014, 12, 31), dt.date(2015, 7, 7))
    assert read.raw == text


@pytest.mark.parametrize(
    ("payload", "digit"),
    [
        ("890400021003", 7),  # published with its working: 18 x 3 = 54, and 9, is 63
        ("501234567890", 0),
        ("03600024145", 7),
        ("5102222223333", 6),
        ("629104150021", 3),
        ("9638507", 4),  # computed by hand: 3 x (9+3+5+7) + (6+8+0) = 86
    ],
)
def test_check_digits(payload: str, digit: int) -> None:
    assert check_digit(payload) == digit
    bare = read_udi(f"{payload}{digit}")
    assert (bare.device_identifier, bare.problems) == (f"{payload}{digit}".zfill(14), ())


def test_it_is_not_the_luhn_algorithm() -> None:
    """Luhn takes the digits of a doubled digit; for this payload it would give 4."""
    luhn = [int(d) * (2 if at % 2 == 0 else 1) for at, d in enumerate(reversed("890400021003"))]
    assert (10 - sum(d // 10 + d % 10 for d in luhn) % 10) % 10 == 4
    assert check_digit("890400021003") == 7


@pytest.mark.parametrize("payload", ["", "12a", "١٢٣"])
def test_a_check_digit_of_anything_but_digits_is_refused(payload: str) -> None:
    with pytest.raises(ValueError, match="digits alone"):
        check_digit(payload)


@pytest.mark.parametrize(
    ("digits", "near", "day"),
    [
        ("990800", dt.date(1999, 1, 1), dt.date(1999, 8, 31)),  # published: the end of August 1999
        ("240200", NEAR, dt.date(2024, 2, 29)),
        ("740101", NEAR, dt.date(2074, 1, 1)),  # 50 ahead
        ("750101", NEAR, dt.date(1975, 1, 1)),  # 51 ahead is 49 back
        ("250101", dt.date(2074, 1, 1), dt.date(2025, 1, 1)),  # 49 back
        ("240101", dt.date(2074, 1, 1), dt.date(2124, 1, 1)),  # 50 back is 50 ahead
        ("000101", dt.date(2099, 1, 1), dt.date(2100, 1, 1)),
    ],
)
def test_days_and_centuries(digits: str, near: dt.date, day: dt.date) -> None:
    assert read_udi(f"(01)51022222233336(17){digits}", near).expires_on == day


@pytest.mark.parametrize("digits", ["241301", "240230", "240032", "000000"])
def test_a_date_that_is_none_costs_the_lot_nothing(digits: str) -> None:
    for text in (f"(01)51022222233336(17){digits}(10)A1", f"015102222223333617{digits}10A1"):
        read = read_udi(text, NEAR)
        assert read.expires_on is None
        assert read.device_identifier == "51022222233336"
        assert [one.what for one in read.problems] in (["date"], ["unreadable"])


def test_a_wrong_check_digit_is_named_and_the_rest_read() -> None:
    read = read_udi(LABEL.replace("33336", "33337"), NEAR)
    assert [one.what for one in read.problems] == ["check_digit"]
    assert "would have to be 6, and is 7" in read.problems[0].words
    assert (read.device_identifier, read.lot) == ("51022222233337", "A213B1")


@pytest.mark.parametrize(
    ("text", "issuer"),
    [("+H123ABC01234567890", "HIBCC"), ("=/A9999XYZ100T0944", "ICCBBA"), ("[)>\x1e06\x1d9N111234567842", "IFA")],
)
def test_codes_of_other_issuers_are_kept_and_not_taken_apart(text: str, issuer: str) -> None:
    read = read_udi(text)
    assert (read.issuer, read.device_identifier, read.lot, read.raw) == (issuer, None, None, text)
    assert [one.what for one in read.problems] == ["other_issuer"]


@pytest.mark.parametrize(
    "text", ["", "   ", "no code", "(01)", "(01)5102", "()", "(01)51022222233336)", "ß", "(9999)1"]
)
def test_what_cannot_be_read_is_kept_with_the_reason(text: str) -> None:
    read = read_udi(text)
    assert read.raw == text
    assert read.problems and all(one.words.endswith(".") for one in read.problems)


def test_what_was_read_before_a_fault_stays() -> None:
    read = read_udi("0151022222233336" + "17150707" + "ZZ", NEAR)
    assert (read.device_identifier, read.expires_on) == ("51022222233336", dt.date(2015, 7, 7))
    assert [one.words for one in read.problems] == ["It cannot be read after AI 17 by the rules of GS1."]


def test_a_code_without_a_device_identifier_tells_no_model() -> None:
    """10, 11, 17 and 21 have to go with a GTIN; a second symbol of the label may hold them apart."""
    read = read_udi("(17)150707(10)A213B1", NEAR)
    assert (read.device_identifier, read.lot) == (None, "A213B1")
    assert [one.what for one in read.problems] == ["no_identifier"]


def test_an_element_twice_with_two_values_is_named() -> None:
    read = read_udi("(01)51022222233336(10)A(10)B")
    assert read.lot == "A"
    assert [one.what for one in read.problems] == ["repeated"]


def test_further_elements_are_kept() -> None:
    read = read_udi("(01)51022222233336(240)XY-1(30)12(10)A(1")
    assert read.others == (("240", "XY-1"), ("30", "12"))
    assert (read.lot, read.problems) == ("A(1", ())


def test_an_identifier_however_the_catalogue_has_it() -> None:
    spellings = ["8904000210037", "08904000210037", "(01)08904000210037", "0108904000210037", " 8904000210037 "]
    assert {identifier_of(text) for text in spellings} == {"08904000210037"}
    assert identifier_of("in the box") is None


def test_a_scanned_separator_is_kept_as_its_sign_at_intake() -> None:
    info = info_of(metadata.tables["equipment_use"].c.udi)
    kept = parse(info, SCANNED)
    assert kept.problems == ()
    assert kept.value == SCANNED.replace(GS, "␝")
    assert read_udi(kept.value, NEAR).serial == "1234"
    lot = parse(info_of(metadata.tables["equipment_use"].c.lot), f"A{GS}B")
    assert lot.failed and "control character" in lot.problems[0].why
