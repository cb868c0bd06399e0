"""Why a value is missing, as its row says."""

from __future__ import annotations


def reasons_of(pairs: str | None) -> dict[str, str]:
    """The reasons of a row's missing values, by field (kept as ``field=reason;field=reason;``)."""
    return dict(pair.strip().split("=", 1) for pair in (pairs or "").split(";") if "=" in pair)


def reason_for(pairs: str | None, name: str) -> str | None:
    """The reason why a field's value is missing; None when none is given."""
    return reasons_of(pairs).get(name)
