"""What is said when the good rows of a file were loaded."""

from __future__ import annotations

from pathlib import Path

from registry.intake.good_rows import GoodRows
from registry.intake.load_kinds import waiting_words
from registry.schema.plurals import counted


def said(name: str, good: GoodRows) -> str:
    """What became of the rows of a file, in a sentence or two.

    Args:
        name: what the file is called.
        good: what became of it.
    """
    loaded = good.loaded
    if good.refused:
        return (
            f"Nothing was loaded: some errors of {name} are not about a row, so its rows cannot be told apart by them. "
            "Mend headings, sheets and mapping first."
        )
    if loaded.seen_before:
        return f"Nothing was changed: this very file was loaded before ({name})."
    there = sum(loaded.there.values())
    cases = loaded.new.get("operation", 0)
    if loaded.batch_id is None:
        first = f"No row of {name} was loaded: {there} are already there."
    else:
        named = f" ({counted(cases, 'operation')})" if cases else ""
        already = f"; {there} were already there" if there else ""
        rows = counted(sum(loaded.new.values()), "row")
        first = f"Loaded {rows}{named} of {name} as batch {loaded.batch_id}{already}.{waiting_words(loaded.waiting)}"
    if not good.rejected:
        return f"{first} None was rejected, so no workbook of rejected rows was written."
    names = " and ".join(Path(file).name for file in good.files)
    were = "was" if good.rejected == 1 else "were"
    return (
        f"{first} {counted(good.rejected, 'row')} of the file {were} rejected and stand{'s' * (good.rejected == 1)} in "
        f"{names} with the reasons: mend them there and load that file in the same way, until nothing is left."
    )
