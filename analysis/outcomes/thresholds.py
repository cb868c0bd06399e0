"""Residual-fragment thresholds: a size in millimetres and whether that size itself still passes."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

_WRITTEN = re.compile(r"(?P<strict>lt)?(?P<value>\d+(?:\.\d+)?)")


class DefinitionError(ValueError):
    """A definition that cannot be used; its text is a sentence for the person who asked."""


@dataclass(frozen=True)
class Threshold:
    """The largest fragment that still counts as stone-free.

    value_mm: size in millimetres, 0 or more.
    strict: True when a fragment of exactly `value_mm` is already too large (written `lt2`).
    """

    value_mm: float
    strict: bool = False

    def __post_init__(self) -> None:
        if not math.isfinite(self.value_mm) or self.value_mm < 0:
            raise DefinitionError(
                f"A threshold is a size of 0 mm or more, not {self.value_mm}; write 0, 2 or lt2, for example."
            )
        if self.strict and self.value_mm == 0:
            raise DefinitionError("No fragment is smaller than 0 mm, so lt0 means nothing; write 0 for 'none seen'.")

    @property
    def comparison(self) -> str:
        """'<=' when the size itself passes, '<' when it does not."""
        return "<" if self.strict else "<="

    @property
    def code(self) -> str:
        """As written on the command line: `2` or `lt2`."""
        return f"{'lt' if self.strict else ''}{self.value_mm:g}"

    @property
    def order(self) -> tuple[float, bool]:
        """Sort key: just under 2 comes before 2."""
        return (self.value_mm, not self.strict)

    def in_words(self) -> str:
        if self.value_mm == 0:
            return "no fragment at all"
        if self.strict:
            return f"no fragment of {self.value_mm:g} mm or more (< {self.value_mm:g} mm)"
        return f"no fragment larger than {self.value_mm:g} mm (<= {self.value_mm:g} mm)"


def parse_thresholds(text: str) -> tuple[Threshold, ...]:
    """Read "0,lt2,2" into thresholds, in the order written.

    Raises DefinitionError for an empty list, a word that is no threshold, or one given twice.
    """
    words = [word.strip() for word in text.split(",")]
    found: list[Threshold] = []
    for word in words:
        match = _WRITTEN.fullmatch(word)
        if match is None:
            raise DefinitionError(
                f"'{word}' is no threshold; write sizes in millimetres separated by commas, "
                "2 for 'up to and including 2 mm' or lt2 for 'smaller than 2 mm'."
            )
        found.append(Threshold(float(match["value"]), strict=match["strict"] is not None))
    if len(set(found)) != len(found):
        raise DefinitionError(f"A threshold is given twice in '{text}'; name each one once.")
    return tuple(found)
