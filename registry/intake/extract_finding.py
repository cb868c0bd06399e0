"""Which operation, side and stay a row of an extract is about; or why it has to wait."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from registry.intake.extract_held import HeldCases, HeldOperation, HeldStay
from registry.intake.log_mapping import ONE, Extract
from registry.intake.log_mapping_targets import Target, of_course, of_side
from registry.intake.log_records import LogValue, RowValues
from registry.intake.log_records_store import canonical
from registry.intake.values import parse
from registry.schema.fields import Day

STAY = ("admission", "", ONE)
_OPERATION = ("operation", "", ONE)
_NOT_ITS_OWN = frozenset({"operation", "patient_identity", "course"})


class Why(StrEnum):
    """Why a row waits."""

    PATIENT = "patient"
    OPERATION = "operation"
    WHICH_OPERATION = "which_operation"
    SIDE = "side"
    STAY = "stay"
    WHICH_STAY = "which_stay"
    DAY = "day"


SENTENCES = {
    Why.PATIENT: "No patient of the site has this number yet.",
    Why.OPERATION: "The patient is here, but no operation on the days that the mapping allows.",
    Why.WHICH_OPERATION: "Two operations are equally near: which operation?",
    Why.SIDE: "The row names no side, and the operation has not exactly one: which side?",
    Why.STAY: "The patient is here, but no stay in hospital that the day falls into.",
    Why.WHICH_STAY: "Two stays are equally near: which stay?",
    Why.DAY: "The day is known to the month or year only, so that it leads to no operation.",
}


@dataclass(frozen=True)
class OwnDay:
    """The day that a row is about; ``exact``: known to the day."""

    day: date
    exact: bool = True


def own_day(row: RowValues) -> OwnDay | None:
    """The day of the report, result or event: of the natural key, else of the discharge, else the first that is there.

    None where the row has none, or it cannot be read.
    """
    days: dict[str, OwnDay] = {}
    keys: list[str] = []
    for column, _ in row.bound.columns:
        for target in column.targets:
            if target.table in _NOT_ITS_OWN or not isinstance(target.info.kind, Day):
                continue
            said = _day_of(row, target)
            if said is None:
                continue
            days.setdefault(target.text, said)
            if target.column.in_key and target.table != "admission":
                keys.append(target.text)
    if keys:
        return days[keys[0]]
    if "admission.discharged_on" in days:
        return days["admission.discharged_on"]
    return min(days.values(), key=lambda found: found.day, default=None)


def _day_of(row: RowValues, target: Target) -> OwnDay | None:
    for (table, _, _), values in row.values.items():
        value = values.get(target.heading) if table == target.table else None
        if value is not None:
            parsed = parse(target.info, value.cell)
            if not parsed.failed and isinstance(parsed.value, date):
                return OwnDay(parsed.value, parsed.precision in (None, "day"))
    return None


def operation_of(row: RowValues, study: str, held: HeldCases, rule: Extract) -> HeldOperation | Why | None:
    """The operation that a row is about.

    Args:
        row: the row as it was read.
        study: its patient.
        held: what the registry has.
        rule: how the mapping finds it.

    Returns:
        The operation; why the row waits; or None where the mapping asks for none, or the row has no day.
    """
    operations = held.operations.get(study, [])
    said = row.value("operation", "operated_on")
    if said is not None:  # the row itself names it
        on = canonical("operation", "operated_on", said.cell)
        number = row.value("operation", "day_number")
        day_number = None if number is None else canonical("operation", "day_number", number.cell)
        there = [op for op in operations if op.operated_on == on and day_number in (None, op.day_number)]
        return _nearest(there, row, on)
    if rule.finds == "patient":
        return None
    own = own_day(row)
    if own is None:
        return None
    if not own.exact:
        return Why.DAY
    return _nearest([op for op in operations if _fits(op, own.day, rule)], row, own.day)


def _fits(operation: HeldOperation, day: date, rule: Extract) -> bool:
    after = day - operation.operated_on
    if rule.finds == "operation_on":
        return abs(after) <= timedelta(rule.within_days or 0)
    if rule.finds == "operation_after":
        after = -after
    return timedelta() <= after and (rule.within_days is None or after <= timedelta(rule.within_days))


def _nearest(operations: list[HeldOperation], row: RowValues, day: date) -> HeldOperation | Why:
    """The nearest; of those on the side that the row names, where there are such."""
    named = {*row.sides, *(side for _, side, _ in row.values if side)}
    on_side = [op for op in operations if named & {side for side, _ in op.sides}]
    found = sorted(on_side or operations, key=lambda op: abs(op.operated_on - day))
    if not found:
        return Why.OPERATION
    nearest = abs(found[0].operated_on - day)
    return found[0] if sum(abs(op.operated_on - day) == nearest for op in found) == 1 else Why.WHICH_OPERATION


def leave_named(row: RowValues) -> None:
    """Leave out an operation of which the row says no more than which it is: that is settled."""
    if row.values.get(_OPERATION, {}).keys() <= {"operated_on", "day_number"}:
        row.values.pop(_OPERATION, None)


def needs_side(row: RowValues) -> bool:
    """Something that the row says belongs to one kidney, and the row does not say to which."""
    if row.sides or (("renal_unit", "", ONE), "unit") in row.failed:
        return False
    return any(not key[1] and (of_side(key[0]) or of_course(key[0])) for key in (*row.values, *row.statuses))


def give_side(row: RowValues, operation: HeldOperation | None) -> Why | None:
    """Give a row that names no side the only side of its operation; why it waits where there is none."""
    if operation is None or len(operation.sides) != 1:
        return Why.SIDE
    side, number = operation.sides[0]
    row.sides = [side]
    if number != 1:
        row.values.setdefault(("renal_unit", side, ONE), {})["unit_number"] = LogValue(number)
    return None


def give_stay(row: RowValues, study: str, held: HeldCases, operation: HeldOperation | None) -> Why | None:
    """Give a discharge the stay that its day falls into; why it waits where there is none.

    A stay that ends on that very day goes first, then one that has no end yet, then one that ends later; of several
    the operation's own, else the latest.
    """
    values = row.values.get(STAY, {})
    if not values or "admitted_on" in values or (STAY, "admitted_on") in row.failed:
        return None
    said = values.get("discharged_on")
    day = None if said is None else canonical("admission", "discharged_on", said.cell)
    if day is None:
        return None
    stays = [stay for stay in held.stays.get(study, []) if stay.admitted_on <= day]
    ranked = [
        [stay for stay in stays if stay.discharged_on == day],
        [stay for stay in stays if stay.discharged_on is None],
        [stay for stay in stays if stay.discharged_on is not None and stay.discharged_on > day],
    ]
    found = next((some for some in ranked if some), None)
    if found is None:
        return Why.STAY
    if operation is not None and any(stay.row == operation.stay for stay in found):
        found = [stay for stay in found if stay.row == operation.stay]
    return _take_stay(values, found)


def _take_stay(values: dict[str, LogValue], stays: list[HeldStay]) -> Why | None:
    latest = max(stay.admitted_on for stay in stays)
    last = [stay for stay in stays if stay.admitted_on == latest]
    if len(last) > 1:
        return Why.WHICH_STAY
    values["admitted_on"] = LogValue(last[0].admitted_on)
    values["admission_number"] = LogValue(last[0].number)
    return None
