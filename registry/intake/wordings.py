"""Words that mean more than themselves: reasons for a missing value, and wordings that must not be taken for one.

A cell that holds ``not_done``, ``Not done`` or ``missing: not done`` says why a value is missing. A wording that
would be read so, or whose outer blanks would be lost, stands in double quotes; a wording in double quotes that needs
none keeps them. Every text can so be written in a cell and read back letter by letter.
"""

from __future__ import annotations

import re

from registry.schema.lists_common import MissingReason

_MARK = "missing:"
_REASONS = {word.casefold(): reason.value for reason in MissingReason for word in (reason.value, reason.label)}


def reason_in(text: str, *, marked_only: bool = False) -> str | None:
    """The reason for a missing value that a cell states, as its code; None when it states none.

    Args:
        text: what stands in the cell.
        marked_only: only ``missing: ...`` counts, as where the plain word is a code of the field's own list.
    """
    folded = text.strip().casefold()
    if folded.startswith(_MARK):
        return _REASONS.get(folded[len(_MARK) :].strip())
    return None if marked_only else _REASONS.get(folded)


def reason_typed(reason: str, *, marked: bool = False) -> str:
    """A reason as it is typed in a cell."""
    return f"{_MARK} {reason}" if marked else reason


def read_text(cell: str) -> str:
    """The wording that a cell holds: outer blanks gone, protecting quotes taken off."""
    text = cell.strip()
    return text[1:-1] if _quoted(text) and _needs_quotes(text[1:-1]) else text


def typed_text(wording: str) -> str:
    """A wording as it has to stand in a cell for ``read_text`` to give it back."""
    return f'"{wording}"' if _needs_quotes(wording) else wording


def _quoted(text: str) -> bool:
    return len(text) >= 2 and text[0] == text[-1] == '"'


def _needs_quotes(wording: str) -> bool:
    core = wording
    while _quoted(core):
        core = core[1:-1]
    return core != core.strip() or core == "" or reason_in(core) is not None


# A short text is one line; free wording may hold anything that both engines can store.
_NOT_IN_A_LINE = re.compile(r"[\x00-\x1f\x7f\ud800-\udfff]")
_NOT_IN_WORDING = re.compile(r"[\x00\ud800-\udfff]")


def control_character(text: str, *, one_line: bool) -> str | None:
    """The first character of a text that cannot be kept, as its code point; None when there is none."""
    found = (_NOT_IN_A_LINE if one_line else _NOT_IN_WORDING).search(text)
    return None if found is None else f"U+{ord(found.group()):04X}"
