"""Yardstick: every cell of a workbook by calamine alone.

python calamine_cells.py WORKBOOK
"""

import json
import sys
import time

from python_calamine import CalamineWorkbook, SheetTypeEnum


def main() -> None:
    started = time.perf_counter()
    workbook = CalamineWorkbook.from_path(sys.argv[1])
    rows = 0
    for sheet in workbook.sheets_metadata:
        if sheet.typ == SheetTypeEnum.WorkSheet:
            rows += len(workbook.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False))
    print(json.dumps({"seconds": time.perf_counter() - started, "rows": rows}))


if __name__ == "__main__":
    main()
