"""One declaration changed changes the CHECK, the intake's sentence and test, the template's list, the dictionary."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]

PROBE = """
import json
from registry.intake.heading_notes import heading_note
from registry.intake.template import template_workbook
from registry.intake.values import parse
from registry.schema.checks import checks_of
from registry.schema.dictionary import as_csv, as_markdown, as_table_schema, entries
from registry.schema.fields import info_of
from registry.schema.sheets import sheets
from registry.schema.tables import metadata

length = metadata.tables["stone"].columns["length_mm"]
sex = metadata.tables["patient"].columns["sex"]
stone = next(s for s in sheets() if s.table == "stone")
lists = template_workbook()["lists"]
at = next(cell.column for cell in lists[1] if cell.value == "Sex")
words = {(e["table"], e["field"]): e for e in entries()}
schema = next(r["schema"] for r in json.loads(as_table_schema())["resources"] if r["name"] == "stone")
print(json.dumps({
    "dictionary": [words["stone", "length_mm"]["limits"], words["patient", "sex"]["codes"]],
    "maximum": next(f["constraints"]["maximum"] for f in schema["fields"] if f["name"] == "length_mm"),
    "third": ["third = Third" in as_csv(), "third = Third" in as_markdown()],
    "checks": [text for column in (length, sex) for _, text, _ in checks_of(column)],
    "sentence": parse(info_of(length), 230).problems[0].right,
    "refused": parse(info_of(length), 230).failed,
    "codes": parse(info_of(sex), "x").problems[0].right,
    "list": [lists.cell(row, at).value for row in range(2, lists.max_row + 1) if lists.cell(row, at).value],
    "note": heading_note(stone.column("length_mm"), info_of(length)),
}))
"""


def probe(folder: Path) -> dict[str, object]:
    environment = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-W", "error", "-c", PROBE]
    ran = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=True)
    found: dict[str, object] = json.loads(ran.stdout)
    return found


def changed(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")


def test_a_limit_and_a_code_are_stated_in_one_place(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "registry", tmp_path / "registry", ignore=shutil.ignore_patterns("__pycache__"))
    before = probe(tmp_path)
    changed(
        tmp_path / "registry/schema/stones.py",
        '        "Length",\n        Number("mm", 0.5, 200, (2, 60)),',
        '        "Length",\n        Number("mm", 0.5, 240, (2, 60)),',
    )
    changed(
        tmp_path / "registry/schema/lists_people.py",
        'OTHER = "other", "Other or not stated"',
        'THIRD = "third", "Third"',
    )
    after = probe(tmp_path)
    assert before["checks"] == ["length_mm BETWEEN 0.5 AND 200", "sex IN ('female', 'male', 'other')"]
    assert after["checks"] == ["length_mm BETWEEN 0.5 AND 240", "sex IN ('female', 'male', 'third')"]
    assert (before["refused"], after["refused"]) == (True, False)
    assert "0.5 to 200 mm" in str(before["sentence"])
    assert "usually 2 to 60 mm" in str(after["sentence"])
    assert ("Limits: 0.5 to 240 mm" in str(after["note"]), "240" in str(before["note"])) == (True, False)
    assert (before["list"], after["list"]) == (["female", "male", "other"], ["female", "male", "third"])
    assert ("third" in str(after["codes"]), "other" in str(after["codes"])) == (True, False)
    assert before["dictionary"] == ["0.5 to 200 mm", "female = Female; male = Male; other = Other or not stated"]
    assert after["dictionary"] == ["0.5 to 240 mm", "female = Female; male = Male; third = Third"]
    assert (before["maximum"], after["maximum"]) == (200, 240)
    assert (before["third"], after["third"]) == ([False, False], [True, True])
