"""What is said when a file was not loaded because of what is wrong in it."""

from __future__ import annotations

from registry.schema.plurals import counted


def refusal(name: str, errors: int) -> str:
    """The sentence for a file with so many errors.

    Args:
        name: the file's name.
        errors: how many there are, one or more.
    """
    them = "it" if errors == 1 else "them"
    return f"Nothing was loaded: {name} has {counted(errors, 'error')}. Mend {them} and load the file again."
