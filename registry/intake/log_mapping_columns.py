"""The ``[[column]]`` entries of a mapping."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from registry.intake.log_mapping import ONE, MappedColumn, Status, Translation, ValueForm, folded
from registry.intake.log_mapping_entry import Entry, nearest
from registry.intake.log_mapping_targets import Target, all_targets, find_target
from registry.intake.log_patterns import Pattern, PatternError, compile_pattern
from registry.intake.log_values_dates import FormError, date_form
from registry.intake.values import spellings
from registry.schema.fields import Code

_KEYS = (
    *("heading", "letter", "each", "to", "splits", "separator", "status", "at_mm", "below", "yes", "no", "unit"),
    *("decimal", "dates", "missing", "values", "side", "group", "if_blank", "file", "sheet", "where"),
)


def read_columns(table: dict[str, Any], reading: Entry, mistakes: list[str]) -> tuple[MappedColumn, ...]:
    """Read every ``[[column]]``; one with ``each`` becomes as many as it names.

    Args:
        table: the whole mapping file.
        reading: its ``[reading]``, which says how values are typed where a column does not.
        mistakes: takes what is wrong.
    """
    named = _named_values(table, mistakes)
    general = _form(reading, ValueForm(), {})
    century = reading.number("century_from")
    general = replace(general, century_from=1930 if century is None else int(century))
    entries = table.get("column", [])
    if not isinstance(entries, list) or not entries:
        mistakes.append("column: at least one [[column]], in double brackets, says what is read")
        return ()
    found: list[MappedColumn] = []
    for number, one in enumerate(entries, start=1):
        entry = Entry(f"[[column]] {number}", one, mistakes)
        label = entry.table.get("heading") or entry.table.get("letter") or "?"
        entry.name = f"[[column]] {number} ({label})"
        found += _columns(entry, general, named)
    return tuple(found)


def _named_values(table: dict[str, Any], mistakes: list[str]) -> dict[str, Translation]:
    named = Entry("[values]", table.get("values", {}), mistakes)
    return {name: _translation(Entry(f"[values.{name}]", one, mistakes)) for name, one in named.table.items()}


def _translation(entry: Entry) -> Translation:
    found: Translation = {}
    for word, meaning in entry.table.items():
        if isinstance(meaning, bool):
            meaning = "yes" if meaning else "no"
        if isinstance(meaning, list | dict):
            entry.wrong(word, meaning, "a text: a code of the field, a value, or missing: and the reason")
            continue
        found[folded(word)] = str(meaning)
    return found


def _columns(entry: Entry, general: ValueForm, named: dict[str, Translation]) -> list[MappedColumn]:
    entry.only(_KEYS)
    if ("heading" in entry) == ("letter" in entry):
        entry.mistakes.append(f"{entry.name}: needs a heading or a letter, one of the two")
    ways = [key for key in ("to", "splits", "status") if key in entry]
    if len(ways) != 1:
        entry.mistakes.append(f"{entry.name}: needs one of to, splits and status; it has {', '.join(ways) or 'none'}")
    form = _form(entry, general, named)
    to = tuple(t for text in entry.texts("to") if (t := entry.target("to", text)) is not None)
    column = MappedColumn(
        name=entry.name,
        heading=entry.text("heading"),
        letter=entry.text("letter").strip().upper(),
        to=to,
        splits=_patterns(entry, form),
        separator=entry.text("separator"),
        status=_status(entry),
        form=form,
        side=entry.choice("side", ("", "left", "right", "transplant"), ""),
        group=entry.text("group", ONE),
        file=entry.text("file"),
        sheet=entry.text("sheet"),
        where=_where(entry),
    )
    each = entry.wholes("each")
    if bool(each) != ("{n}" in column.heading):
        entry.mistakes.append(f"{entry.name}: each and a heading with {{n}} belong together")
    if not each:
        return [replace(column, heading=folded(column.heading))]
    group = column.group if "group" in entry else "{n}"
    if "{n}" not in group and len(each) > 1:
        entry.wrong("group", group, 'a group with {n} in it, as "ct {n}", so that each column has its own')
    return [
        replace(column, heading=folded(column.heading.replace("{n}", str(n))), group=group.replace("{n}", str(n)))
        for n in each
    ]


def _where(entry: Entry) -> tuple[tuple[str, frozenset[str]], ...]:
    if "where" not in entry:
        return ()
    named = Entry(f"{entry.name}, key where", entry.table["where"], entry.mistakes)
    found = tuple((folded(heading), frozenset(map(folded, named.texts(heading)))) for heading in named.table)
    if not found:
        entry.wrong("where", "", 'a heading and its words, as { "Test" = ["CREA"] }')
    return found


def _form(entry: Entry, general: ValueForm, named: dict[str, Translation]) -> ValueForm:
    dates = entry.texts("dates")
    for form in dates:
        try:
            date_form(form)
        except FormError as fault:
            entry.wrong("dates", form, str(fault))
    missing = frozenset(map(folded, entry.texts("missing")))
    return replace(
        general,
        unit=entry.text("unit").strip(),
        decimal=entry.choice("decimal", (".", ","), general.decimal),
        dates=dates or general.dates,
        missing=missing if "missing" in entry else general.missing,
        blank=entry.text("if_blank"),
        values=_values(entry, named),
    )


def _values(entry: Entry, named: dict[str, Translation]) -> dict[str, Translation]:
    given = entry.table.get("values")
    if given is None:
        return {}
    if isinstance(given, dict) and given and all(isinstance(find_target(key), Target) for key in given):
        found = {}
        for key, one in given.items():
            target = find_target(key)
            assert isinstance(target, Target)
            found[target.text] = _one_translation(entry, f"values.{key}", one, named)
        return found
    for key in given if isinstance(given, dict) else ():
        if isinstance(given[key], dict):
            entry.wrong("values", key, f"the name of a target: {nearest(key, all_targets()) or 'table.heading'}")
            return {}
    return {"": _one_translation(entry, "values", given, named)}


def _one_translation(entry: Entry, key: str, given: Any, named: dict[str, Translation]) -> Translation:
    if isinstance(given, dict):
        return _translation(Entry(f"{entry.name}, {key}", given, entry.mistakes))
    if str(given) in named:
        return named[str(given)]
    listed = f"one of: {', '.join(named)}" if named else "a table [values.NAME] in the mapping"
    entry.wrong(key, given, f"{nearest(str(given), named)}{listed}")
    return {}


def _patterns(entry: Entry, form: ValueForm) -> tuple[Pattern, ...]:
    def words(target: Target) -> set[str]:
        translated = set(form.translation(target) or ())
        kind = target.info.kind
        return translated | (set(spellings(kind.list)) if isinstance(kind, Code) else set())

    found = []
    for text in entry.texts("splits"):
        try:
            found.append(compile_pattern(text, find_target, words))
        except PatternError as fault:
            entry.mistakes.append(f"{entry.name}, key splits: the pattern '{text}' {fault}")
    return tuple(found)


def _status(entry: Entry) -> Status | None:
    if "status" not in entry:
        for key in ("at_mm", "below", "yes", "no"):
            if key in entry:
                entry.mistakes.append(f'{entry.name}: the key {key} belongs to a status; add status = "reading"')
        return None
    table = entry.choice("status", ("reading",), "reading")
    yes, no = (frozenset(map(folded, entry.texts(key))) for key in ("yes", "no"))
    for word in sorted(yes & no):
        entry.wrong("no", word, "a word on one of the two lists, yes or no")
    if not yes and not no:
        entry.mistakes.append(f"{entry.name}: a status needs its words, as yes = ['y', 'yes'] and no = ['n', 'no']")
    at_mm = entry.number("at_mm")
    if entry.flag("below") and not at_mm:
        entry.wrong("below", True, "only together with at_mm above 0")
    return Status(table, at_mm, entry.flag("below"), yes, no)
