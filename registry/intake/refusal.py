"""What is said when a file was not loaded because of what is wrong in it."""

from __future__ import annotations


def refusal(name: str, errors: int) -> str:
    """The sentence for a file with so many errors.

    Args:
        name: the file's name.
        errors: how many there are, one or more.
    """
    what, them = ("1 error", "it") if errors == 1 else (f"{errors} errors", "them")
    return f"Nothing was loaded: {name} has {what}. Mend {them} and load the file again."
