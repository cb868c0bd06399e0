"""The registry's clinical tables as a workbook in the layout of the intake."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.intake.read_me import READ_ME_LINES
from registry.intake.registry_rows import RegistryRows
from registry.intake.workbook_file import save_package
from registry.intake.workbook_reader import READ_ME
from registry.schema.sheets import Sheet, sheets
from registry.schema.xlsx_parts import write_sheets
from registry.store.files import refuse_overwriting

if TYPE_CHECKING:
    from registry.store.registry import Registry

CAUTION = "This workbook was written from a registry. It holds data of patients: keep it inside the hospital."


@dataclass
class Written:
    """What was written: how many rows, and a sentence for everything that the layout cannot say."""

    rows: int = 0
    lost: list[str] = field(default_factory=list)


def write_workbook(registry: Registry, path: Path, *, overwrite: bool = False) -> Written:
    """Write the clinical tables as a workbook. Loaded into an empty registry, it gives the same record.

    Args:
        registry: where the rows come from.
        path: the workbook to write.
        overwrite: replace what stands there.

    Raises:
        GravelbookError: the file is there and ``overwrite`` is not set, or it cannot be written.
    """
    refuse_overwriting(path, overwrite=overwrite)
    written = Written()
    with registry.reading() as connection:
        source = RegistryRows(registry, connection)

        def rows(layout: Sheet) -> Iterator[list[Any]]:
            yield layout.headings
            for cells in source.of(layout):
                written.rows += 1
                yield cells

        first: list[list[Any]] = [[line] for line in (CAUTION, *READ_ME_LINES)]
        tables = ((layout.title, rows(layout)) for layout in sheets())
        pages: Iterable[tuple[str, Iterable[list[Any]]]] = chain([(READ_ME, first)], tables)
        save_package(path, lambda stream: write_sheets(stream, pages))
    written.lost = source.lost
    return written
