"""How fields, units and values are worded for people; read off the declarations."""

from __future__ import annotations

from registry.schema import sentences
from registry.schema.fields import (
    Code,
    Day,
    FieldInfo,
    Keeping,
    Moment,
    Note,
    Number,
    Reference,
    RowKey,
    Secret,
    Stage,
    Text,
    Whole,
)

NEEDED_WORDS = {
    Stage.ENTRY: "always needed: a row without it is refused",
    Stage.OPERATION: "needed when the operation is recorded",
    Stage.DISCHARGE: "needed at discharge",
    Stage.FOLLOW_UP: "needed at follow-up",
}


def shown_unit(info: FieldInfo) -> str:
    """The unit in which a field is typed, as people write it; empty where there is none."""
    return sentences.shown_unit(info.typed_unit)


def type_hint(info: FieldInfo, stored: int) -> str:
    """What to type of a number that is kept in a part of the unit it is typed in: ``type 7.5 (Fr), not 75``.

    stored: the value as it is kept, 75 tenths of French. Read under a heading that names the stored unit, it is easily
    typed as it is kept.
    """
    return f"type {sentences.shown(info, stored, unit=False)} ({shown_unit(info)}), not {stored}"


def within_sentence(label: str) -> str:
    """A label as it stands within a sentence: ``Length`` as length, ``ASA class`` as it is."""
    return label if label[1:2].isupper() else label[:1].lower() + label[1:]


def hides(info: FieldInfo) -> bool:
    """The value may name a person and is not repeated in a list of findings."""
    return isinstance(info.kind, Secret | Note)


def kind_words(info: FieldInfo) -> str:
    """What sort of value a field takes, in words."""
    match info.kind:
        case Whole(scale=1):
            return "a whole number"
        case Whole(scale=scale):
            return f"a number in steps of {1 / scale:g}"
        case Number():
            return "a number"
        case Code():
            return "one code of the list"
        case Day(imprecise=True):
            return "a date as 2024-05-03; if only the month or year is known, 2024-05 or 2024"
        case Day():
            return "a date as 2024-05-03"
        case Moment():
            return "a date and time as 2024-05-03 08:30, or with its offset from UTC as 2024-05-03T08:30+02:00"
        case Text(longest=longest) | Note(longest=longest) | Secret(longest=longest):
            return f"text of at most {longest} characters"
        case Reference() | RowKey() | Keeping():
            return "kept by the registry"
