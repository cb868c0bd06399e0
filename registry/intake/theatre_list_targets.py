"""What the mapping of a theatre list can aim at: the day, the hospital number, the wording and the state of a line."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from registry.schema.base import model_of
from registry.schema.fields import info_of
from registry.schema.lists_outcome import ListLineState
from registry.schema.sheets import Sheet, SheetColumn
from registry.schema.tables import metadata

if TYPE_CHECKING:
    from registry.intake.log_mapping import Mapping

LINE = "theatre_list_line"
LISTED_ON, NUMBER, WORDING, STATE = "listed_on", "hospital_number", "wording", "state"
# What became of a line beside these is found by matching, or said by a person.
_SAID_BY_LIST = (ListLineState.CANCELLED.value, ListLineState.OPEN.value)


@cache
def line_sheet() -> Sheet:
    """The lines of a theatre list in the manner of a sheet; no workbook has it."""
    table, model = metadata.tables[LINE], model_of(metadata.tables[LINE])
    columns = tuple(
        SheetColumn(name, info_of(table.columns[name]), (name,), name in model.key_fields)
        for name in (LISTED_ON, NUMBER, WORDING, STATE)
    )
    return Sheet(LINE, model.label, model.about, columns)


def check_list(mapping: Mapping, mistakes: list[str]) -> None:
    """Note what a theatre list's mapping lacks or cannot say, and lines of a list in any other mapping.

    Args:
        mapping: the mapping.
        mistakes: takes a sentence for each.
    """
    targets = [(column.name, target) for column in mapping.columns for target in column.targets]
    targets += [(constant.name, constant.to) for constant in mapping.constants]
    if mapping.kind != "theatre_list":
        mistakes += [
            f'{name}: {target.text} is for a mapping with kind = "theatre_list"'
            for name, target in targets
            if target.table == LINE
        ]
        return
    right = ", ".join(f"{LINE}.{heading}" for heading in line_sheet().headings)
    mistakes += [
        f"{name}: a theatre list fills nothing but its own lines; right: one of {right}"
        for name, target in targets
        if target.table != LINE
    ]
    given = {target.heading for _, target in targets}
    for heading in (LISTED_ON, NUMBER):
        if heading not in given:
            mistakes.append(f"the mapping: {LINE}.{heading} is needed; a [[column]] has to give it")
    for column in mapping.columns:
        if not any(target.heading == STATE for target in column.targets):
            continue
        words = {meaning for values in column.form.values.values() for meaning in values.values()}
        wrong = sorted(word for word in words if word.strip() and word not in _SAID_BY_LIST)
        if wrong:
            said = ", ".join(wrong)
            mistakes.append(f"{column.name}, key values: a list says {' or '.join(_SAID_BY_LIST)} alone, not {said}")
