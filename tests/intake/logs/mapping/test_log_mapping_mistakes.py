"""Every mistake in a mapping is named at once: the entry, the key, the value, and what was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.intake.load_plan import make_plan
from registry.intake.log_mapping_reader import read_mapping
from registry.schema.errors import GravelbookError
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, found, log, write_mapping

ROWS = [HEADINGS, ["H-1", "03.05.2024", "L"]]
COLUMN = '\n[[column]]\nheading = "Size"\n'


def said(folder: Path, mapping: str) -> str:
    """What is said about a mapping."""
    with pytest.raises(GravelbookError) as refused:
        read_mapping(write_mapping(folder, mapping))
    return str(refused.value)


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ('to = "stone.lenght_mm"', "[[column]] 4 (Size), key to: 'stone.lenght_mm' cannot be used; right: perhaps "),
        ('to = "stones.length_mm"', "perhaps stone.length_mm"),
        ('to = "stone.length_mm"\nunit = "kg"', "'kg' is not a unit of stone.length_mm; one of: mm, cm"),
        ('to = "stone.location"\nunit = "mm"', "stone.location is no number, so that it has no unit"),
        ('to = "stone.length_mm"\nunit = "h:mm"', "'h:mm' is not a unit of stone.length_mm"),
        ('splits = ["{stone.length_mm:kg} {stone.location}"]', "'kg' is not a unit of stone.length_mm"),
        ('splits = ["{stone.lengths} x"]', "the pattern '{stone.lengths} x' names an unknown field"),
        (
            'to = "stone.location"\nvalues = { LP = "lower calix" }',
            "'lp' = 'lower calix': stone.location does not take",
        ),
        ('to = "stone.location"\nvalues = "place"', "'place' cannot be used; right: one of: side"),
        ('to = "stone.location"\nvalue = "sides"', "there is no key 'value'; perhaps values; one of: heading,"),
        ('to = "stone.length_mm"\nside = "lft"', "key side: 'lft' cannot be used; right: perhaps left; one of:"),
        ('to = "stone.measured_on"\ndates = ["dd.mn.yyyy"]', "key dates: 'dd.mn.yyyy' cannot be used; right: a form"),
        ('to = "stone.length_mm"\ndecimal = 5', "key decimal: '5' cannot be used; right: one of: ., ,"),
        ('to = "stone.length_mm"\neach = [1, 2]', "each and a heading with {n} belong together"),
        ('to = "stone.length_mm"\nletter = "C"', "needs a heading or a letter, one of the two"),
        ("unit = 'mm'", "needs one of to, splits and status; it has none"),
        ('status = "reading"\nat_mm = 2', "a status needs its words"),
        ('status = "reading"\nyes = ["y"]\nno = ["y"]', "key no: 'y' cannot be used; right: a word on one of the two"),
        (
            'status = "reading"\nyes = ["y"]\nbelow = true',
            "key below: 'True' cannot be used; right: only together with",
        ),
        ('to = "stone.length_mm"\nat_mm = 2', 'the key at_mm belongs to a status; add status = "reading"'),
        ('to = "drain.removed_on"', "drain.kind is needed for every stent or nephrostomy"),
    ],
)
def test_a_mistake_in_a_column(tmp_path: Path, more: str, sentence: str) -> None:
    assert sentence in said(tmp_path, HEAD + COLUMN + more)


@pytest.mark.parametrize(
    ("mapping", "sentence"),
    [
        (HEAD.replace('name = "theatre log"', ""), "the mapping: the key name is needed"),
        ('kind = "logs"' + HEAD, "key kind: 'logs' cannot be used; right: perhaps log; one of: log, extract"),
        (HEAD.replace("decimal", "decimals"), "[reading]: there is no key 'decimals'; perhaps decimal"),
        (
            HEAD + '[[constant]]\nto = "stone_aim.aim"\nvalue = "aimed"',
            "key value: 'aimed': stone_aim.aim does not take",
        ),
        (HEAD + "[[ignore]]\nletters = 'A'", "[[ignore]] 1: there is no key 'letters'; perhaps letter"),
        (HEAD.replace("hospital_number.number", "patient.note"), "no [[column]] says whose a row is"),
        (
            HEAD.replace('treated_side.intent"\nvalue = "stone_removal"', 'patient.sex"\nvalue = "male"'),
            "purpose is need",
        ),
        ("name = 'x\n", "is not TOML"),
    ],
)
def test_a_mistake_in_the_rest(tmp_path: Path, mapping: str, sentence: str) -> None:
    assert sentence in said(tmp_path, mapping)


def test_all_mistakes_are_said_at_once(tmp_path: Path) -> None:
    text = said(tmp_path, HEAD + COLUMN + 'to = "stone.lenght_mm"' + COLUMN + 'to = "stone.widht_mm"\nunits = "mm"')
    assert "3 mistakes" in text and text.count("\n- ") == 3


def test_a_mapping_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match="cannot be opened"):
        read_mapping(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("column", "sentence"),
    [
        ('heading = "Sid"\nto = "patient.note"', "there is no heading 'sid' in log.csv; perhaps 'Side'"),
        ('letter = "Q"\nto = "patient.note"', "there is no column Q; the last one is C"),
        ('heading = "Side"\nfile = "scan*"\nto = "patient.note"', 'no file or sheet is called file = "scan*"'),
    ],
)
def test_a_column_that_the_log_does_not_have(unit: Registry, tmp_path: Path, column: str, sentence: str) -> None:
    with pytest.raises(GravelbookError) as refused:
        make_plan(unit, log(tmp_path, ROWS, HEAD + "[[column]]\n" + column))
    assert sentence in str(refused.value)


def test_a_heading_that_stands_twice_needs_its_letter(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "Note", "Note"], ["H-1", "03.05.2024", "L", "a", "b"]]
    note = '[[column]]\nheading = "Note"\nto = "patient.note"\n[[ignore]]\nletter = "D"\n'
    with pytest.raises(GravelbookError, match="stands over the columns D, E"):
        make_plan(unit, log(tmp_path, rows, HEAD + note))
    plan = make_plan(unit, log(tmp_path, rows, HEAD + note.replace('heading = "Note"', 'letter = "E"')))
    assert plan.new["patient"][0]["note"] == "b" and plan.findings.errors == 0


def test_a_column_that_nobody_names_is_a_question(unit: Registry, tmp_path: Path) -> None:
    rows = [[*HEADINGS, "Ward", "Bed"], ["H-1", "03.05.2024", "L", "A", ""]]
    finding = found(make_plan(unit, log(tmp_path, rows, HEAD)), "log.column.named")
    assert (finding.severity, finding.column, finding.heading) == (Severity.QUESTION, "D", "Ward")
