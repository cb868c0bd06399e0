"""One table of a mapping file, read key by key; what is wrong is gathered, so that all of it can be said at once."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any

from registry.intake.log_mapping_targets import Target, find_target


class Entry:
    """A table of a mapping, with the words by which a message names it."""

    def __init__(self, name: str, table: Any, mistakes: list[str]) -> None:
        self.name = name
        self.mistakes = mistakes
        self.table: dict[str, Any] = table if isinstance(table, dict) else {}
        if not isinstance(table, dict):
            self.wrong("", table, "a table of keys and values")

    def __contains__(self, key: str) -> bool:
        return key in self.table

    def wrong(self, key: str, value: Any, right: str) -> None:
        """Note a value that cannot be used."""
        at = f", key {key}" if key else ""
        self.mistakes.append(f"{self.name}{at}: {_shown(value)} cannot be used; right: {right}")

    def only(self, allowed: Iterable[str]) -> None:
        """Note every key that the table cannot have."""
        known = list(allowed)
        for key in self.table:
            if key not in known:
                near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
                meant = f"perhaps {near[0]}; " if near else ""
                self.mistakes.append(f"{self.name}: there is no key '{key}'; {meant}one of: {', '.join(known)}")

    def text(self, key: str, default: str = "", *, needed: bool = False) -> str:
        """A text; a number stands for its digits."""
        value = self.table.get(key)
        if value is None:
            if needed:
                self.mistakes.append(f"{self.name}: the key {key} is needed")
            return default
        if isinstance(value, bool | list | dict):
            self.wrong(key, value, "a text in quotes")
            return default
        return str(value)

    def texts(self, key: str) -> tuple[str, ...]:
        """Texts in a list; one text alone is a list of one."""
        value = self.table.get(key, [])
        listed = value if isinstance(value, list) else [value]
        if any(isinstance(one, bool | list | dict) for one in listed):
            self.wrong(key, value, 'texts in a list, as ["one", "other"]')
            return ()
        return tuple(str(one) for one in listed)

    def wholes(self, key: str) -> tuple[int, ...]:
        """Whole numbers above 0 in a list."""
        value = self.table.get(key, [])
        listed = value if isinstance(value, list) else [value]
        if any(isinstance(one, bool) or not isinstance(one, int) or one < 1 for one in listed):
            self.wrong(key, value, "whole numbers from 1 in a list, as [1, 2, 3]")
            return ()
        return tuple(listed)

    def number(self, key: str) -> float | None:
        """A number; None where the key is not there."""
        value = self.table.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or value < 0:
            self.wrong(key, value, "a number of 0 or more, without quotes")
            return None
        return float(value)

    def flag(self, key: str) -> bool:
        """True or false; false where the key is not there."""
        value = self.table.get(key, False)
        if not isinstance(value, bool):
            self.wrong(key, value, "true or false, without quotes")
            return False
        return value

    def choice(self, key: str, allowed: tuple[str, ...], default: str) -> str:
        """One of a few words."""
        value = self.text(key, default)
        if value not in allowed:
            self.wrong(key, value, f"{nearest(value, allowed)}one of: {', '.join(one or 'nothing' for one in allowed)}")
            return default
        return value

    def target(self, key: str, text: str) -> Target | None:
        """A target by its text; None, and noted, where there is none."""
        found = find_target(text)
        if isinstance(found, str):
            self.wrong(key, text, found)
            return None
        return found


def nearest(word: str, known: Iterable[str]) -> str:
    """The words spelled most alike, as the beginning of a sentence about what is right."""
    near = difflib.get_close_matches(word, list(known), n=3, cutoff=0.5)
    return f"perhaps {' or '.join(near)}; " if near else ""


def _shown(value: Any) -> str:
    text = "a table" if isinstance(value, dict) else str(value)
    return f"'{text if len(text) <= 80 else text[:79] + '…'}'"
