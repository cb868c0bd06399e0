"""Flexible scopes opened on a side: each fails with the probability of its sort, whatever else happens.

So the share of scopes opened that fail is the parameter itself. What fails before or during use is replaced by a scope
that was opened in its turn; what fails on withdrawal or in reprocessing had done its work.
"""

from __future__ import annotations

import random
from datetime import date, timedelta

from synthetic_cohort.catalogue import ITEMS, identifier_of, serials_in_use
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.story import Row, SideStory

SCOPES = ("SC-75", "SC-85", "SC-95")
BEFORE_USE = ("out_of_box", "set_up")

_STAGES = {
    True: ("out_of_box", "out_of_box", "set_up", "in_operation", "in_operation", "withdrawal"),
    False: ("set_up", "in_operation", "in_operation", "in_operation", "withdrawal", "reprocessing"),
}
_MODES = {
    "out_of_box": ("no_image", "packaging", "connection"),
    "set_up": ("no_image", "connection", "light"),
    "in_operation": ("image_lost", "deflection_lost", "deflection_stuck", "fibre_damage", "light"),
    "withdrawal": ("shaft_fracture", "deflection_stuck", "other"),
    "reprocessing": ("channel_leak", "shaft_fracture", "channel_leak"),
}


def opened(parameters: Parameters, side: SideStory, chance: random.Random, model: str, on: date) -> int:
    """Open scopes until one of ``model`` has done the work; how many failed is given back.

    Args:
        parameters: probabilities of failing, shares of scopes of another size and of UDIs.
        side: where they are opened.
        chance: a source of its own.
        model: the one in place for most of the lithotripsy.
        on: the day.
    """
    failures, replaced = 0, None
    if chance.random() < parameters.share_two_scopes:
        other = chance.choice([code for code in SCOPES if code != model])
        failed = _fails(parameters, chance, other)
        values = _failure(chance, other, on, "replaced_other") if failed else {"reason": "surgeon_choice"}
        if values.get("failure_stage") not in (*BEFORE_USE, "in_operation"):
            values |= {"reason": "surgeon_choice"}
        values |= identified(parameters, side, chance, other, on)
        replaced = side.use(other, _result(values), most_of_lithotripsy="no", **values)
        failures += failed
    while True:
        values = _failure(chance, model, on, "replaced_same") if _fails(parameters, chance, model) else {}
        failures += bool(values)
        worked = values.get("failure_stage") not in (*BEFORE_USE, "in_operation")
        replaced = side.use(
            model,
            "passed" if worked else _result(values),
            first_intended="no" if replaced else "yes",
            replaces_use=replaced,
            most_of_lithotripsy="yes" if worked else "no",
            **values,
            **identified(parameters, side, chance, model, on),
        )
        if worked:
            return failures


def identified(parameters: Parameters, side: SideStory, chance: random.Random, model: str, on: date) -> Row:
    """What says which piece it was: the serial number of a reusable one, lot and UDI of a single-use one."""
    if model in ITEMS:
        return {"serial": chance.choice(serials_in_use(model, on))}
    # No two single-use pieces have one number.
    serial = f"D{chance.randint(100000, 999999)}{len(side.story.rows['equipment_use']):05d}"
    if chance.random() >= parameters.share_udi:
        return {"serial_as_scanned": serial}
    code, lot = identifier_of(model), lot_of(chance, on)
    expiry = f"{(on.year + 2) % 100:02d}{on.month:02d}{chance.choice(('00', '15', '28'))}"
    form = chance.random()
    if form < 0.4:
        return {"serial_as_scanned": serial, "lot": lot, "udi": f"(01){code}(17){expiry}(10){lot}(21){serial}"}
    if form < 0.55:
        # The sign stands for the separator, which no workbook can hold.
        return {"serial_as_scanned": serial, "lot": lot, "udi": f"]d201{code}17{expiry}10{lot}␝21{serial}"}
    if form < 0.75:
        return {"serial_as_scanned": serial, "udi": f"]d201{code}17{expiry}21{serial}"}
    # As a scanner sends it when it leaves the sign for the sort of bar code out.
    return {"serial_as_scanned": serial, "udi": f"01{code}17{expiry}21{serial}"}


def lot_of(chance: random.Random, on: date) -> str:
    """A lot that was in the store that quarter: several patients have pieces of one lot."""
    return f"L{on.year % 100}{(on.month - 1) // 3 + 1}{chance.choice('ABC')}"


def _fails(parameters: Parameters, chance: random.Random, model: str) -> bool:
    return chance.random() < (parameters.failure_reusable if model in ITEMS else parameters.failure_single_use)


def _result(values: Row) -> str:
    return "failed" if values.get("failure_stage") in BEFORE_USE else "exchanged"


def _failure(chance: random.Random, model: str, on: date, consequence: str) -> Row:
    single_use = model not in ITEMS
    stage = chance.choice(_STAGES[single_use])
    values: Row = {"failure_stage": stage, "failure_mode": chance.choice(_MODES[stage])}
    if stage in ("withdrawal", "reprocessing"):
        values |= {"failure_consequence": "none", "reportable": "no"}
    else:
        values |= {"failure_consequence": consequence, "delay_min": chance.randint(4, 20), "reason": "broken"}
        values["reportable"] = chance.choice(("no", "no", "no", "no", "unsure", "yes"))
    if values["reportable"] == "yes":
        values |= {"reported_to": "maker", "reported_on": on + timedelta(days=chance.randint(1, 9))}
    return values | {"retained": "yes" if chance.random() < 0.7 else "no"}
