"""The type that every code list is made of.

A code list is a closed set of values that a field may take. Each list is a type of its own, so that a
value from one list cannot be mistaken for a value of another, and carries the place it was taken from.
"""

from __future__ import annotations

from enum import StrEnum


class CodeList(StrEnum):
    """A closed list of codes. Members are written ``NAME = "code", "label"``; their order is the list's order.

    The class docstring's first line says what is listed; ``source()`` gives the line that begins with
    ``Source:``.
    """

    label: str

    def __new__(cls, code: str, label: str = "") -> CodeList:
        member = str.__new__(cls, code)
        member._value_ = code
        member.label = label or code.replace("_", " ")
        return member

    @classmethod
    def codes(cls) -> list[str]:
        """The codes, in the list's order."""
        return [member.value for member in cls]

    @classmethod
    def source(cls) -> str:
        """Where the list was taken from, as its docstring says."""
        for line in (cls.__doc__ or "").splitlines():
            if line.strip().startswith("Source:"):
                return line.strip().removeprefix("Source:").strip()
        return "common practice"
