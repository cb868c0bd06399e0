"""What goes with a column: its group, its side, and what the heading says that no cell says."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from registry.intake.map_words import Heading

SEEN_AFTER = ("examination", "reading", "fragment")
_PERIOD = re.compile(r"(?<![\d.,])(\d{1,3})\s*-?\s*(months?|mths?|mo|m|weeks?|wks?|w|days?|d)\b(?!m)", re.IGNORECASE)
_MODALITIES = {"ct": "ct", "ultrasound": "ultrasound", "kub": "kub"}


@dataclass
class Family:
    """Group, side and constants of a column.

    Attributes:
        group: tells records of one table apart; empty for the only one.
        side: left or right; empty for the row's side.
        constants: what the heading says beside the value, by target.
        period: how long after the operation the heading speaks of, as "3 m".
    """

    group: str = ""
    side: str = ""
    constants: dict[str, str] = field(default_factory=dict)
    period: str = ""


def family(name: str, heading: Heading) -> Family:
    """What goes with a column that holds a field.

    Args:
        name: the field.
        heading: the heading of the column.
    """
    table, words = name.partition(".")[0], heading.words
    made = Family(str(heading.number or ""), heading.side)
    if table == "equipment_model":
        for word, kind in (("sheath", "access_sheath"), ("scope", "scope")):
            if word in words:
                made.group = f"{word} {heading.number}" if heading.number else word
                made.constants["equipment_model.kind"] = kind
    elif table == "operation_operator":
        role = "assistant" if "assistant" in words else "first"
        made.group = role
        made.constants["operation_operator.role"] = role
    elif table in SEEN_AFTER:
        modality = next((code for word, code in _MODALITIES.items() if word in words), "")
        if modality and name != "examination.modality":
            made.constants["examination.modality"] = modality
        found = _PERIOD.search(heading.text)
        made.period = f"{found.group(1)} {found.group(2)[0].casefold()}" if found else ""
        made.group = modality
    elif table == "observation_set":
        made.group = "after" if heading.after else "before" if heading.before else ""
        if made.group:
            made.constants["observation_set.timing"] = made.group
    elif table in ("culture", "culture_organism") and words & {"urine", "msu"}:
        made.constants["culture.specimen"] = "urine"
    return made
