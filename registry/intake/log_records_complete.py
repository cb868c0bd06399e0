"""What a row implies: its sides, the parents of what it names, what its statuses mean, and the mapping's constants."""

from __future__ import annotations

from dataclasses import replace

from registry.intake.log_mapping import ONE, Mapping
from registry.intake.log_mapping_targets import Target, of_course, of_operation, of_side, parents_of
from registry.intake.log_records import Key, LogValue, RowValues, named_sides
from registry.intake.log_status import Said, judge
from registry.intake.values import Cell, parse
from registry.schema.lists_stone import Finding as StoneFinding
from registry.validation.findings import FindingList, Problem, Severity

# What a row says of these, it says of both kidneys where it treats both; of all else it has to say of which.
_OF_BOTH = frozenset({"renal_unit", "treated_side", "reading"})
_SIZED = ("diameter_low_mm", "diameter_high_mm")
NONE_SEEN = StoneFinding.NONE_SEEN.value


def complete(row: RowValues, mapping: Mapping, findings: FindingList) -> None:
    """Add what a row implies to what it says.

    Args:
        row: the row as it was read; changed in place.
        mapping: the mapping, for its constants.
        findings: takes what belongs to no side, and statuses that contradict each other.
    """
    for constant in mapping.constants:
        if constant.to == Target("renal_unit", "unit") and not row.sides:
            row.sides = list(named_sides(constant.value))
    _give_sides(row, findings)
    for key in row.statuses:
        row.values.setdefault(key, {})
    for key in list(row.values):
        _imply(row, key)
    _context(row, findings)
    _aims(row, mapping)
    _constants(row, mapping)
    _sizes_of_nothing(row)
    _statuses(row, findings)
    _intents(row)
    _birth_year(row)


def treated(row: RowValues) -> list[str]:
    """The renal units that the row's operation treated: those it names, and those that have something done to them."""
    done = [side for table, side, _ in row.values if side and of_side(table) and of_operation(table)]
    if not row.sides and not done:
        done = [side for table, side, _ in row.values if side and of_course(table)]
    return list(dict.fromkeys([*row.sides, *done]))


def parent_of(row: RowValues, key: Key, parent: str) -> Key | None:
    """The record of the row that a record belongs to, of several by its group: that of ``ct 2`` is ``ct``."""
    _, side, group = key
    for own in dict.fromkeys((side, "")):
        words = group.split(" ")
        for length in range(len(words), 0, -1):
            found = (parent, own, " ".join(words[:length]))
            if found in row.values:
                return found
    known = [one for one in row.values if one[0] == parent and (not side or one[1] in (side, ""))]
    return known[0] if len({group for _, _, group in known}) == 1 else None


def _give_sides(row: RowValues, findings: FindingList) -> None:
    sides = treated(row)
    values: dict[Key, dict[str, LogValue]] = {}
    for key, said in row.values.items():
        for given in _sided(row, key, sides, tuple(c for v in said.values() for c in v.columns), findings):
            # The column that speaks of one kidney goes before the one that speaks of the row's.
            values[given] = {**{h: LogValue(v.cell, v.columns) for h, v in said.items()}, **values.get(given, {})}
    row.values = values
    statuses: dict[Key, list[tuple[Said, int]]] = {}
    for key, spoken in row.statuses.items():
        named = _sided(row, key, sides, tuple(index for _, index in spoken), findings)
        told = spoken if len(named) < 2 else [_of_either(row, one, index, findings) for one, index in spoken]
        for given in named:
            statuses[given] = told
    row.statuses = statuses


def _of_either(row: RowValues, said: Said, index: int, findings: FindingList) -> tuple[Said, int]:
    """What is said once of both kidneys: both are free, or one of them at least is not, and nobody knows which."""
    if said.free is not False or said.status.at_mm is None:
        return said, index
    why = "The row treats both kidneys, and does not say which of them was not free: no fragment is recorded of either."
    right = "a [[column]] for each kidney, with its side; or a row for each"
    row.report(findings, (index,), Problem("log.status.side", Severity.QUESTION, why, right))
    return replace(said, status=replace(said.status, at_mm=None)), index


def _sided(row: RowValues, key: Key, sides: list[str], columns: tuple[int, ...], findings: FindingList) -> list[Key]:
    table, side, group = key
    if side or not of_side(table):
        return [key]
    if len(sides) == 1 or (sides and table in _OF_BOTH):
        return [(table, one, group) for one in sides]
    if (("renal_unit", "", ONE), "unit") not in row.failed:
        if sides:
            why = f"The row treats {' and '.join(sides)}, and nothing says of which kidney this is."
        else:
            why = "Nothing in the row says of which kidney this is."
        right = "a side in the row, or a [[column]] with its side"
        row.report(findings, columns, Problem("log.side.named", Severity.ERROR, why, right))
    return []


def _imply(row: RowValues, key: Key) -> None:
    """Make the records that a record cannot be without."""
    table, side, group = key
    for parent in parents_of(table):
        if parent in ("operator", "local_field"):
            continue
        found = parent_of(row, key, parent)
        if found is None:
            found = (parent, side, group)
            row.values[found] = {}
        _imply(row, found)


def _context(row: RowValues, findings: FindingList) -> None:
    if row.value("operation", "operated_on") is None:
        return
    sides = treated(row)
    row.values.setdefault(("operation", "", ONE), {})
    for side in sides:
        row.values.setdefault(("treated_side", side, ONE), {})
    for key in list(row.values):
        if key[0] in ("equipment_model", "equipment_item"):
            columns = tuple(c for value in row.values[key].values() for c in value.columns)
            for used in _sided(row, ("equipment_use", key[1], key[2]), sides, columns, findings):
                row.values.setdefault(used, {})
    for table, side, group in list(row.values):
        serial = row.values[table, side, group].get("serial") if table == "equipment_use" else None
        if serial is not None:
            row.values.setdefault(("equipment_item", side, group), {}).setdefault("serial", serial)
    for side in dict.fromkeys(side for table, side, _ in row.values if side and of_side(table)):
        row.values.setdefault(("renal_unit", side, ONE), {})


def _aims(row: RowValues, mapping: Mapping) -> None:
    """Where the mapping says what was meant to happen to stones, each stone of an operation is linked to it."""
    if ("operation", "", ONE) in row.values and any(c.to.table == "stone_aim" for c in mapping.constants):
        for table, side, group in list(row.values):
            if table == "stone":
                row.values.setdefault(("stone_aim", side, group), {})


def _constants(row: RowValues, mapping: Mapping) -> None:
    for constant in mapping.constants:
        heading = constant.to.heading
        if constant.when:
            at = row.bound.when.get(constant.when)
            if at is None or not row.sheet.rows[row.at][at].text.strip():
                continue
        for (table, side, group), values in row.values.items():
            fits = table == constant.to.table and constant.side in ("", side) and constant.group in (None, group)
            if not fits or heading in values:
                continue
            if constant.same_as is None:
                values[heading] = LogValue(constant.value)
            elif (same := _same(row, constant.same_as, side, group)) is not None:
                values[heading] = same


def _same(row: RowValues, source: Target, side: str, group: str) -> LogValue | None:
    for key in ((side, group), ("", group), (side, ONE), ("", ONE)):
        found = row.value(source.table, source.heading, *key)
        if found is not None:
            return found
    return None


def _sizes_of_nothing(row: RowValues) -> None:
    """A size that the mapping translates to none seen is a reading without fragments, and no fragment."""
    for key, values in list(row.values.items()):
        if key[0] != "fragment":
            continue
        nothing = [values.pop(h) for h in _SIZED if h in values and values[h].cell == NONE_SEEN]
        reading = parent_of(row, key, "reading")
        if nothing and reading is not None:
            row.values[reading].setdefault("finding", LogValue(NONE_SEEN, nothing[0].columns))
            if not any(value.columns for value in values.values()):
                del row.values[key]


def _statuses(row: RowValues, findings: FindingList) -> None:
    for key, spoken in row.statuses.items():
        columns = tuple(dict.fromkeys(index for _, index in spoken))
        words = [row.sheet.rows[row.at][index].text.strip() for index in columns]
        reading = row.values[key]
        reading.setdefault("wording", LogValue("; ".join(words), columns))
        judged = judge([said for said, _ in spoken])
        if judged.problem is not None:
            row.report(findings, columns, judged.problem)
        listed = any(k[0] == "fragment" and parent_of(row, k, "reading") == key for k in row.values)
        reading.setdefault("finding", LogValue(judged.finding, columns))
        if judged.fragment is not None and not listed:
            values: dict[str, Cell] = dict(judged.fragment)
            row.values["fragment", key[1], key[2]] = {h: LogValue(cell, columns) for h, cell in values.items()}
    for key in list(row.values):
        reading_key = parent_of(row, key, "reading") if key[0] == "fragment" else None
        if reading_key is not None:
            columns = tuple(c for v in row.values[key].values() for c in v.columns)
            row.values[reading_key].setdefault("finding", LogValue(StoneFinding.FRAGMENTS.value, columns))


def _birth_year(row: RowValues) -> None:
    """The year of birth follows from the birth date, which rules and analysis never see.

    No cell stands behind it, so that no finding about the year can show the date.
    """
    born = row.value("patient_identity", "birth_date")
    patient = row.values.setdefault(("patient", "", ONE), {})
    day = None if born is None else parse(Target("patient_identity", "birth_date").info, born.cell).value
    if day is not None and "birth_year" not in patient:
        patient["birth_year"] = LogValue(int(str(day)[:4]))


def _intents(row: RowValues) -> None:
    """What a visit was for, and what was meant on its side, say the same where only one of them is in the log."""
    operation = row.values.get(("operation", "", ONE))
    if operation is None:
        return
    sides = [values for (table, _, _), values in row.values.items() if table == "treated_side"]
    purpose = operation.get("purpose")
    for side in sides:
        if purpose is not None:
            side.setdefault("intent", purpose)
    intents = [side["intent"] for side in sides if "intent" in side]
    if purpose is None and intents:
        operation["purpose"] = next((i for i in intents if i.cell == "stone_removal"), intents[0])
