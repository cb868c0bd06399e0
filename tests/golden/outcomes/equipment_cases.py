"""Equipment and what happened in the operation: counted by hand before anything was run.

The code (01)51022222233336(10)A213B1(21)1234 is a public example; its check digit is 6, so that 7 is wrong.
"""

from __future__ import annotations

import datetime as dt

from tests.golden.outcomes.story_book import Book, Operation, day

LOT, SERIAL = "A213B1", "SN-100"


def catalogue(book: Book) -> None:
    model = {"kind": "scope", "shaft_tenths_fr": 7.5}
    book.add("equipment_model", model, model_code="FLEX1", single_use="no", device_identifier="51022222233336")
    book.add("equipment_model", model, model_code="FLEX2", single_use="yes", device_identifier="8904000210037")
    book.add("equipment_model", model_code="SH10", kind="access_sheath", inner_tenths_fr=10, outer_tenths_fr=12)
    book.add("equipment_item", model_code="FLEX1", serial=SERIAL, uses_before=10)
    book.add("equipment_item", model_code="FLEX1", serial="SN-200", uses_before=0)


def write(book: Book) -> None:
    """11 scopes opened: that of `same-scope-twice` once, those of `two-scopes` each; 1 failed, 1 untold."""
    catalogue(book)
    at = 0

    def operation(name: str) -> Operation:
        nonlocal at
        at += 1
        return book.person(name).operation(day(at))

    scanned = "01510222222333361114123117150707" + f"10{LOT}<GS>211234"
    operation("scanned").use("FLEX1", serial=SERIAL, udi=scanned)
    operation("typed-otherwise").use("FLEX1", serial=SERIAL, lot="a213-b1")
    operation("bracketed").use("FLEX1", serial="SN-200", udi=f"(01)51022222233336(10){LOT}(21)9999")
    operation("wrong-digit").use("FLEX1", udi=f"(01)51022222233337(10){LOT}")
    operation("nothing-recorded").use("FLEX1")
    operation("other-lot").use("FLEX1", lot="Z9")
    operation("other-model").use("FLEX2", lot=LOT)
    operation("sheath").use("SH10")
    twice = operation("same-scope-twice")
    twice.use("FLEX1", serial=SERIAL, result="exchanged", reason="surgeon_choice")
    twice.use("FLEX1", serial=SERIAL)
    two = operation("two-scopes")
    two.use("FLEX2", result="failed", reason="broken", failure_mode="image_lost", failure_stage="in_operation")
    two.use("FLEX2")
    operation("untold").use("FLEX1", result="withdrawn", reason="other")
    _in_operation(book)


def _in_operation(book: Book) -> None:
    """Eight sides in 2023: Satava, lesion scale, wall injury, and whether a sheath was used."""
    told = (
        ("0", "0", "0", True),
        ("1", "1", "1", True),
        ("2a", "3", "3", True),
        ("2b", "5", "4", True),
        ("3", "2", None, True),
        (None, None, None, False),
        ("not_applicable", "4", "not_applicable", False),
        ("0", "0", "2", False),  # a sheath's injury without a sheath: named, and in no n
    )
    for number, (satava, lesion, wall, sheath) in enumerate(told, start=1):
        side = {"satava": satava, "ureteric_lesion": lesion, "wall_injury": wall}
        made = book.person(f"scales {number}").operation(dt.date(2023, 3, number), side=side)
        if sheath:
            made.use("SH10", most_of_lithotripsy="yes")
        made.use("FLEX1", most_of_lithotripsy="yes")
