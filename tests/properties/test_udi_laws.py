"""Laws of reading device identifiers."""

from __future__ import annotations

import datetime as dt

from hypothesis import example, given
from hypothesis import strategies as st

from registry.schema.udi import GS, check_digit, read_udi

NEAR = dt.date(2024, 3, 4)
# GS1's set of 82 characters without brackets, which the bracketed form cannot always tell from its own.
CHARACTERS = "!\"%&'*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
PAYLOADS = st.text("0123456789", min_size=13, max_size=13)
# A separator may be written as <GS> or _x001D_, so no part may hold that itself.
PARTS = st.text(CHARACTERS, min_size=1, max_size=20).filter(lambda text: not {"<", "_"} & set(text))
DAYS = st.dates(dt.date(1975, 1, 1), dt.date(2074, 12, 31))


def gtin(payload: str) -> str:
    return f"{payload}{check_digit(payload)}"


@given(payload=PAYLOADS, lot=PARTS, serial=PARTS, made=DAYS, expires=DAYS)
def test_reading_what_was_composed_gives_the_parts_back(
    payload: str, lot: str, serial: str, made: dt.date, expires: dt.date
) -> None:
    identifier = gtin(payload)
    dated = f"{made:%y%m%d}", f"{expires:%y%m%d}"
    bracketed = f"(01){identifier}(11){dated[0]}(17){dated[1]}(10){lot}(21){serial}"
    scanned = f"]d201{identifier}11{dated[0]}17{dated[1]}10{lot}{GS}21{serial}"
    for text in (bracketed, scanned):
        read = read_udi(text, NEAR)
        assert (read.device_identifier, read.lot, read.serial) == (identifier, lot, serial)
        assert (read.produced_on, read.expires_on) == (made, expires)
        assert (read.problems, read.others) == ((), ())


@given(
    st.sampled_from([7, 11, 12, 13]).flatmap(lambda length: st.text("0123456789", min_size=length, max_size=length)),
    st.data(),
)
def test_a_single_digit_changed_breaks_the_check_digit(payload: str, data: st.DataObject) -> None:
    whole = gtin(payload)
    at = data.draw(st.integers(0, len(whole) - 1))
    other = data.draw(st.sampled_from([digit for digit in "0123456789" if digit != whole[at]]))
    assert read_udi(whole).problems == ()
    assert read_udi(whole[:at] + other + whole[at + 1 :]).has("check_digit")


@given(
    st.one_of(
        st.text(),
        st.text("()0123456789\x1d]dC[{<>GSABab /.:?=&"),
        st.text("()0123456789\x1dA").map(lambda text: "(01)51022222233336" + text),
        st.text("0123456789/.?=&:%").map(lambda text: "https://" + text),
    )
)
@example("https://[")
@example("01" + "١" * 14)
@example("(8008)99999999")
@example("3109999999")
def test_no_junk_raises_and_none_is_thrown_away(text: str) -> None:
    read = read_udi(text, NEAR)
    assert read.raw == text
    assert read.problems or read.device_identifier
