"""The registry's clinical tables as a workbook in the layout of the intake."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.intake.cell_texts import is_formula
from registry.intake.read_me import READ_ME_LINES
from registry.intake.registry_rows import RegistryRows
from registry.intake.workbook_file import refuse_overwriting, save_workbook
from registry.intake.workbook_reader import READ_ME
from registry.schema.sheets import sheets

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
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    refuse_overwriting(path, overwrite=overwrite)
    workbook = Workbook(write_only=True)
    first = workbook.create_sheet(READ_ME)
    for line in (CAUTION, *READ_ME_LINES):
        first.append([line])
    written = Written()
    with registry.reading() as connection:
        source = RegistryRows(registry, connection)
        for layout in sheets():
            sheet = workbook.create_sheet(layout.title)
            sheet.freeze_panes = "A2"
            sheet.append(layout.headings)
            for cells in source.of(layout):
                sheet.append([_cell(sheet, cell, WriteOnlyCell) for cell in cells])
                written.rows += 1
    written.lost = source.lost
    save_workbook(workbook, path)
    return written


def _cell(sheet: Any, value: Any, make: Any) -> Any:
    """A cell that a spreadsheet takes for nothing but the value: no text becomes a formula."""
    if isinstance(value, date):
        cell = make(sheet, value=value)
        cell.number_format = "yyyy-mm-dd"
        return cell
    if is_formula(value):
        cell = make(sheet)
        cell._value, cell.data_type = value, "s"  # the setter would guess a formula or an error
        return cell
    return value
