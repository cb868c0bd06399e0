"""The proposal as a mapping file: what is sure stands in it, all else as a comment for a person to decide."""

from __future__ import annotations

import json
import shlex
from collections import Counter
from typing import Any

from registry.intake.map_repeats import Entry
from registry.intake.map_whole import WholeProposal

PROSE, CODE = "#: ", "# "
# In the order in which a person reads them.
_KEYS = ("splits", "separator", "status", "at_mm", "below", "yes", "no", "unit", "decimal", "dates", "values")


def as_mapping(whole: WholeProposal, *, name: str, file: str, mapping: str) -> str:
    """Write the mapping.

    Args:
        whole: the proposal.
        name: the log's name, by which its later versions go.
        file: the log, as it is named on the command line.
        mapping: the mapping file that this becomes.
    """
    parts = [_head(whole, file, mapping), f"name = {_text(name)}\n", _site(), _reading(whole)]
    said: set[tuple[str, ...]] = set()
    repeated = Counter(p.made.heading.text.casefold() for p in whole.columns)
    for entry in whole.entries:
        by_letter = not entry.first.made.heading.text.strip() or repeated[entry.first.made.heading.text.casefold()] > 1
        parts.append(_active(entry, by_letter, said) if entry.first.proposed else _left(entry, by_letter))
    parts.append(_constants(whole))
    return "\n".join(part for part in parts if part)


def _head(whole: WholeProposal, file: str, mapping: str) -> str:
    sure = sum(p.proposed for p in whole.columns)
    both = f"{shlex.quote(file)} --mapping {shlex.quote(mapping)}"
    lines = [
        f"Proposed for {whole.file}{f', sheet {whole.sheet}' if whole.sheet else ''}: {whole.rows} rows, "
        f"{len(whole.columns)} columns.",
        f"{sure} columns are proposed; {len(whole.columns) - sure} are left for you to decide.",
        "Read every entry. An entry that is a comment is not used: to use it, take the '# ' off its lines.",
        "Every column needs an entry: a [[column]], or an [[ignore]] if it is to stay where it is.",
        f"Then list what is still wrong, changing nothing: gravelbook intake check {both}",
        f"And load: gravelbook intake load {both}",
    ]
    lines += [f"No column surely says {words} ({target})." for target, words in whole.wanting.items()]
    return "".join(f"{PROSE}{line}\n" for line in lines)


def _site() -> str:
    return f'{PROSE}Needed where the registry has more than one site.\n{CODE}site = "code"\n'


def _reading(whole: WholeProposal) -> str:
    lines = []
    if whole.sheet:
        lines += ["[reading]", f"sheets = [{_text(whole.sheet)}]"]
    if whole.more_sheets:
        also = [whole.sheet, *whole.more_sheets]
        lines += [
            f"{PROSE}Other sheets have the same headings. To read them as well:",
            f"{CODE}sheets = {_value(also)}",
        ]
    if whole.other_sheets:
        lines.append(f"{PROSE}Not looked at, with other headings: sheets {', '.join(whole.other_sheets)}.")
    if whole.heading_rows:
        lines += [] if "[reading]" in lines else ["[reading]"]
        lines += [f"{PROSE}Both rows seem to hold headings.", f"headings_in_rows = {list(whole.heading_rows)}"]
    if whole.totals:
        lines += [] if "[reading]" in lines else ["[reading]"]
        lines += [f"{PROSE}Rows that begin so are passed over.", f"totals = {_value(whole.totals)}"]
    if whole.marks:
        counts = ", ".join(f"{count} cells hold {mark}" for mark, count in whole.marks.most_common())
        lines += [] if lines else [f"{CODE}[reading]"]
        lines += [
            f"{PROSE}These marks look as if a value were missing ({counts}). Only you can say so.",
            f"{CODE}missing = {_value(sorted(whole.marks))}",
        ]
    if any("the years have two digits" in reason for p in whole.columns for reason in p.reasons):
        lines += [] if lines else [f"{CODE}[reading]"]
        lines += [
            f"{PROSE}The first of the hundred years that a year of two digits can be.",
            f"{CODE}century_from = 1930",
        ]
    return "\n".join(lines) + "\n" if lines else ""


def _active(entry: Entry, by_letter: bool, said: set[tuple[str, ...]]) -> str:
    lines = [f"{PROSE}{line}" for line in _why(entry)]
    lines += _block(entry, by_letter)
    for target, value in entry.first.family.constants.items():
        once = (target, entry.group, entry.first.family.side, *map(str, entry.each))
        if once in said:
            continue
        said.add(once)
        lines += ["", "[[constant]]", f"to = {_text(target)}", f"value = {_text(value)}"]
        if entry.group or entry.each:
            lines.append(f"group = {_text(entry.group or '{n}')}")
        lines += [f"each = {entry.each}"] if entry.each else []
        lines += [f"side = {_text(entry.first.family.side)}"] if entry.first.family.side else []
    return "\n".join(lines) + "\n"


def _left(entry: Entry, by_letter: bool) -> str:
    lines = [f"{PROSE}To decide. {line}" if n == 0 else f"{PROSE}{line}" for n, line in enumerate(_why(entry))]
    where = _where(entry, by_letter)
    if entry.first.to:
        lines += [f"{CODE}{line}" for line in _block(entry, by_letter)]
        if entry.first.others:
            lines.append(f"{PROSE}or to = {' or '.join(map(_text, entry.first.others))}")
        lines.append(f"{PROSE}or leave it out:")
    for place in where if len(where) == 1 or by_letter else where[:1]:
        for heading in [place.replace("{n}", str(n)) for n in entry.each] or [place]:
            lines += [f"{CODE}[[ignore]]", f"{CODE}{heading}"]
    return "\n".join(lines) + "\n"


def _why(entry: Entry) -> list[str]:
    first = entry.first
    columns = ", ".join(p.made.letter for p in entry.proposals)
    named = f" '{' '.join(first.made.heading.text.split())}'" if first.made.heading.text.strip() else ""
    lines = [f"Column {columns}{named}: {first.words} ({first.sureness:.2f}). {_sentence(first.reasons)}"]
    if first.doubts:
        lines.append(f"But: {_sentence(first.doubts)}")
    if "perhaps_unit" in first.settings:
        lines.append(f"If so: unit = {_text(first.settings['perhaps_unit'])}")
    if first.settings.get("unsaid") == "at_mm":
        lines.append("Add at_mm = 2 if yes means that nothing above 2 mm was left; without a size it settles nothing.")
    return lines


def _sentence(reasons: list[str]) -> str:
    return "; ".join(dict.fromkeys(reasons)) + "."


def _where(entry: Entry, by_letter: bool) -> list[str]:
    if by_letter:
        return [f"letter = {_text(p.made.letter)}" for p in entry.proposals]
    heading = entry.first.made.heading
    return [f"heading = {_text(' '.join((heading.pattern if entry.each else heading.text).split()))}"]


def _block(entry: Entry, by_letter: bool) -> list[str]:
    first, settings = entry.first, entry.settings
    lines = ["[[column]]", *_where(entry, by_letter)[:1]]
    lines += [f"each = {entry.each}"] if entry.each else []
    if "splits" not in settings and "status" not in settings:
        lines.append(f"to = {_text(first.to[0])}")
    for key in _KEYS:
        if key in settings:
            lines.append(f"{key} = {_value(settings[key])}")
    lines += [f"values.{_text(k[7:])} = {_value(v)}" for k, v in settings.items() if k.startswith("values.")]
    lines += [f"side = {_text(first.family.side)}"] if first.family.side else []
    lines += [f"group = {_text(entry.group)}"] if entry.group else []
    return lines


def _constants(whole: WholeProposal) -> str:
    lines = []
    for target, value, why in whole.taken:
        lines += [f"{PROSE}Taken to be so in every row, because {why}. Change it if it is not so."]
        lines += ["[[constant]]", f"to = {_text(target)}", f"value = {_text(value)}", ""]
    for target, value in whole.constants:
        lines += [f"{PROSE}To decide. No column says it; if it is so in every row:", f"{CODE}[[constant]]"]
        lines += [f"{CODE}to = {_text(target)}", f"{CODE}value = {_text(value)}", ""]
    return "\n".join(lines)


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_text(k)} = {_text(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_text(v) for v in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, int | float) else _text(str(value))


def _text(text: str) -> str:
    """A text in TOML: JSON's escapes are TOML's, apart from the one for a deleted character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
