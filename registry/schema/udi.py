"""Unique device identifiers as they are scanned or typed, read by the rules of GS1.

A UDI names the model (device identifier, AI 01) and the piece (lot 10, produced 11, expires 17, serial 21). What
cannot be read is never thrown away: the text stays, with the reason. Codes of other issuing entities are no fault,
they are kept as they are. AI and formats: gs1.org/standards/barcodes/application-identifiers; day 00 is the end of
the month, and the century is the one within 49 years back and 50 ahead: GS1 General Specifications, 7.12 (the window
from memory).
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

GS = "\x1d"
SEPARATORS = re.compile(r"␝|[<{\[](?:GS|FNC1)[>}\]]|_x001D_|\\x1d|\\u001d|\^\]", re.IGNORECASE)
"""What scanners and spreadsheets make of the separator, which a cell cannot hold. Compare ``GS``."""
BLANKS = re.compile(r"[ \t\r\n\u00a0]+")
SYMBOLOGY = re.compile(r"^\][A-Za-z][0-9A-Za-z]")
BRACKETED = re.compile(r"\((\d{2,4})\)((?:[^(]|\((?!\d{2,4}\)))*)")
LENGTHS = (8, 12, 13, 14)
"""Digits of a GTIN; shorter ones are filled up with zeros in front."""
OTHER_ISSUERS = (("+", "HIBCC"), ("=", "ICCBBA"), ("&", "ICCBBA"), ("[)>", "IFA"))

What = Literal["check_digit", "date", "unreadable", "no_identifier", "repeated", "other_issuer"]


@dataclass(frozen=True)
class UdiProblem:
    """Something that could not be read, as a code and as a sentence that quotes no lot and no serial."""

    what: What
    words: str


@dataclass(frozen=True, kw_only=True)
class Udi:
    """What a scanned or typed code says.

    device_identifier: 14 digits, zeros in front. lot, serial: as they stand. produced_on, expires_on: dates; day 00
    is the last of its month. issuer: GS1, HIBCC, ICCBBA, IFA, None when it cannot be told. others: further
    elements, AI and value. raw: the text as given. problems: what could not be read, empty when all was.
    """

    raw: str
    issuer: str | None = None
    device_identifier: str | None = None
    lot: str | None = None
    serial: str | None = None
    produced_on: date | None = None
    expires_on: date | None = None
    others: tuple[tuple[str, str], ...] = ()
    problems: tuple[UdiProblem, ...] = ()

    def has(self, what: What) -> bool:
        """A problem of that kind was found."""
        return any(one.what == what for one in self.problems)


def read_udi(text: str, near: date | None = None) -> Udi:
    """Read a UDI: scanned (symbology prefix and separators allowed), bracketed, as a web address, or a bare GTIN.

    text: whatever was scanned or typed; nothing raises. near: the day whose century window counts, today by default;
    give the day of use, so that a record reads the same in any year.
    """
    cleaned = BLANKS.sub("", SEPARATORS.sub(GS, SYMBOLOGY.sub("", text.strip(" \t\r\n")))).strip(GS)
    for start, issuer in OTHER_ISSUERS:
        if cleaned.startswith(start):
            return Udi(raw=text, issuer=issuer, problems=(_other(issuer),))
    if cleaned.isascii() and cleaned.isdigit() and len(cleaned) in LENGTHS:
        return _bare(text, cleaned)
    elements, problems = _elements(cleaned)
    if not elements:
        return Udi(raw=text, issuer="GS1" if _like_gs1(cleaned) else None, problems=tuple(problems))
    return _gathered(text, elements, problems, near or date.today())


def check_digit(payload: str) -> int:
    """The check digit of 7, 11, 12 or 13 digits: modulo 10 with weights 3, 1, 3 ... from the right.

    GS1 General Specifications, 7.9. Raises ValueError for anything but digits.
    """
    from biip.checksums import gs1_standard_check_digit

    if not (payload.isascii() and payload.isdigit()):
        raise ValueError("A check digit is worked out from digits alone.")
    return gs1_standard_check_digit(payload)


def identifier_of(text: str) -> str | None:
    """A device identifier in 14 digits, from however the catalogue has it; None unless it is one of GS1."""
    return read_udi(text).device_identifier


def _like_gs1(cleaned: str) -> bool:
    return bool(re.match(r"\(01\)|01\d{6}|https?://", cleaned))


def _other(issuer: str) -> UdiProblem:
    return UdiProblem("other_issuer", f"It is a code of {issuer}, which is kept as it is and not taken apart.")


def _bare(text: str, digits: str) -> Udi:
    found = _wrong_digit(digits)
    filled = digits.zfill(14)
    return Udi(raw=text, issuer="GS1", device_identifier=filled, problems=(found,) if found else ())


def _wrong_digit(digits: str) -> UdiProblem | None:
    right = check_digit(digits[:-1])
    if right == int(digits[-1]):
        return None
    return UdiProblem(
        "check_digit", f"The check digit of the device identifier would have to be {right}, and is {digits[-1]}."
    )


def _elements(cleaned: str) -> tuple[list[tuple[str, str]], list[UdiProblem]]:
    """Every element that can be read, AI and value, and why reading stopped, if it did."""
    from biip import ParseError

    elements: list[tuple[str, str]] = []
    try:
        if not cleaned.isascii():
            raise ValueError("GS1 knows 82 characters of ASCII alone, and a library's patterns more digits than those")
        for found in _each(cleaned):
            elements.append(found)
    except (ParseError, ValueError, LookupError):
        read = f"after AI {elements[-1][0]}" if elements else "at its beginning"
        return elements, [UdiProblem("unreadable", f"It cannot be read {read} by the rules of GS1.")]
    if not elements:
        return [], [UdiProblem("unreadable", "It is empty.")]
    return elements, []


def _each(cleaned: str) -> Iterator[tuple[str, str]]:
    """The elements one after the other, so that a fault in one keeps those before it."""
    from biip import ParseConfig
    from biip.gs1_element_strings import GS1ElementString

    # A date that is none must not cost the lot beside it; dates are read here.
    config = ParseConfig(gs1_element_strings_verify_date=False)
    if cleaned.startswith(("http://", "https://")):
        from biip.gs1_digital_link_uris import GS1DigitalLinkURI

        for one in GS1DigitalLinkURI.parse(cleaned, config=config).element_strings:
            yield one.ai.ai, one.value
    elif cleaned.startswith("("):
        at = 0
        for match in BRACKETED.finditer(cleaned):
            if match.start() != at:
                break
            at = match.end()
            whole = GS1ElementString.parse(match[1] + match[2].strip(GS), config=config)
            if whole.ai.ai != match[1]:
                raise ValueError("the brackets hold no AI")
            yield whole.ai.ai, whole.value
        if at != len(cleaned):
            raise ValueError("text outside the brackets")
    else:
        rest = cleaned
        while rest:
            one = GS1ElementString.extract(rest, config=config)
            yield one.ai.ai, one.value
            rest = rest[len(one.ai.ai) + len(one.value) :].lstrip(GS)


def _gathered(text: str, elements: list[tuple[str, str]], problems: list[UdiProblem], near: date) -> Udi:
    first: dict[str, str] = {}
    for ai, value in elements:
        if not value:
            problems.append(UdiProblem("unreadable", f"AI {ai} is empty."))
        elif first.setdefault(ai, value) != value:
            problems.append(UdiProblem("repeated", f"AI {ai} stands there twice, with two values; the first counts."))
    identifier = first.get("01")
    if identifier is None:
        problems.append(UdiProblem("no_identifier", "It holds no device identifier (AI 01), so the model is not told."))
    elif wrong := _wrong_digit(identifier):
        problems.append(wrong)
    days = {}
    for ai in ("11", "17"):
        days[ai] = _day(first[ai], near) if ai in first else None
        if ai in first and days[ai] is None:
            problems.append(UdiProblem("date", f"AI {ai} holds no date."))
    named = {"01", "10", "11", "17", "21"}
    return Udi(
        raw=text,
        issuer="GS1" if identifier else None,
        device_identifier=identifier,
        lot=first.get("10"),
        serial=first.get("21"),
        produced_on=days["11"],
        expires_on=days["17"],
        others=tuple((ai, value) for ai, value in first.items() if ai not in named),
        problems=tuple(problems),
    )


def _day(digits: str, near: date) -> date | None:
    """YYMMDD as a date; the century is counted from `near`, which a library's clock cannot do."""
    year, month, day = int(digits[:2]), int(digits[2:4]), int(digits[4:6])
    ahead = year - near.year % 100
    century = near.year // 100 + (-1 if ahead >= 51 else 1 if ahead <= -50 else 0)
    year += 100 * century
    if not 1 <= month <= 12:
        return None
    last = calendar.monthrange(year, month)[1]
    return date(year, month, day or last) if day <= last else None
