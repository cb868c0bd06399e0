"""Requests that cannot be met: one paragraph on standard error, nothing on standard output, the status that says why.

Status 2: the command line itself is wrong. Status 1: the request is well formed, and data or files do not allow it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from registry.schema.tables import metadata
from registry.store.registry import open_registry
from registry.store.revisions import known_revisions
from registry.store.upgrade import migrating, move
from tests.command_line import Answered, gravelbook
from tests.conftest import sqlite_copy
from tests.golden.stone_free_cases import CASES
from tests.golden.through_workbook import Workbook

WRONG_USAGE = [
    ("--threshold two", "'two' is no threshold"),
    ("--threshold 2,2", "given twice"),
    ("--threshold nan", "'nan' is no threshold"),
    ("--threshold lt0", "lt0 means nothing"),
    ("--imaging mri", "any, ct, us, kub, us+kub, second-look"),
    ("--pick first", "nearest, last, best"),
    ("--adequacy nothing", "neither a table nor a file"),
    ("--assume-slice thick", "number of millimetres"),
    ("--assume-slice -1", "above 0"),
    ("--window 90:14", "is no window"),
    ("--window 14", "is no window"),
    ("--window 14:99999999999999999999", "at most 36,500"),
    ("--target 5", "outside the window 14:90"),
    ("--unit kidney", "side, stone, operation, course, patient"),
    ("--sessions double", "single, planned, auxiliary"),
    ("--sessions planned", "A side belongs to one operation"),
    ("--unit stone --sessions auxiliary", "A stone belongs to one operation"),
    ("--unit operation --sessions planned", "cannot be judged after several sessions"),
    ("--unscanned nothing", "complete, lower, upper"),
    ("--unscanned lower,lower", "twice"),
    ("--stones some", "any, targeted"),
    ("--retreated out", "failed, unknown"),
    ("--died unknown", "out, failed"),
    ("--denominator all", "intended, protocol"),
    ("--as-of yesterday", "is no date"),
    ("--as-of 2024-02-30", "is no date"),
    ("--interval wald", "wilson, exact, mid-p, jeffreys"),
    ("--level 95", "between 0 and 1"),
    ("--by a,b,c", "at most 2"),
    ("--by operator,operator", "twice"),
    ("--by largest_mm:20,10", "must rise"),
    ("--by largest_mm:wide", "is no number"),
    ("--compare technique", "COLUMN=INDEX,COMPARATOR"),
    ("--compare technique=flexible,flexible", "with itself"),
    ("--strata largest_mm:10", "there is none: add --compare"),
    ("--compare technique=flexible,open --strata technique", "no stratum would hold both"),
    ("--seed x", "whole number"),
    ("--replicates 0", "from 1 to 100000"),
    ("--unscanned complete,imputed --threshold 0,lt2", "cannot answer --threshold lt2"),
    ("--unscanned weighted --unit stone", "cannot be asked of --unit stone"),
    ("--unscanned weighted --compare technique=flexible,open --strata year", "--strata cannot be joined"),
    ("--figure rates.pdf", ".png or .svg"),
    ("--cases unit.db", ".csv"),
    ("--cases unit.db.key", ".csv"),
    ("--rules=", "--rules is empty"),
    ("--cases=", "--cases is empty"),
]

AT_FAULT = [
    ("--by tecnique", "The nearest are: technique"),
    ("--by operator:10", "holds no numbers"),
    ("--compare tecnique=flexible,open", "'tecnique' is no column of the cohort"),
    ("--compare technique=flexible,open", "has technique 'open'"),
    ("--compare technique=flexible,open --strata larges_mm:10", "The nearest are: largest_mm"),
    ("--rules none.toml", "no such file"),
    ("--rules .", "is a directory"),
    ("--rules unit.db.key", "is not TOML"),
    ("--rules operator.toml", "'at_lest' is no condition. Did you mean at_least"),
    ("--rules column.toml", "'age_year' is no column of the cohort. The nearest are: age_years"),
    ("--rules code.toml", "'unicorn' is not on its list"),
    ("--rules number.toml", "compares numbers, and technique holds codes"),
    ("--adequacy modality.toml", "the modality 'mri'"),
    ("--adequacy bytes.toml", "no text in UTF-8"),
    ("--rules bytes.toml", "no text in UTF-8"),
    ("--snapshot never", "Kept are: none"),
    ("--snapshot ../unit", "cannot name a snapshot"),
    ("--cases nowhere/cases.csv", "cannot be written: no such file or directory"),
    ("--cases folder.csv", "cannot be written: is a folder"),
    ("--figure nowhere/rates.svg", "cannot be written"),
    ("--by study_number --cases cases.csv --figure rates.png", "a figure shows 1 to 24"),
    ("--registry none.db", "There is no registry at none.db"),
    ("--registry .", "is a folder"),
    ("--registry operator.toml", "is not an SQLite file"),
    ("--registry empty.db", "is empty, not a registry"),
    ("--registry other.db", "holds no registry"),
    ("--registry mysql://x/y", "begins with postgresql://"),
]

FILES = {
    "operator.toml": '[[include]]\ncolumn = "age_years"\nat_lest = 3\nreason = "x"\n',
    "column.toml": '[[include]]\ncolumn = "age_year"\nat_least = 3\nreason = "x"\n',
    "code.toml": '[[exclude]]\ncolumn = "technique"\namong = ["unicorn"]\nreason = "x"\n',
    "number.toml": '[[exclude]]\ncolumn = "technique"\nat_least = 3\nreason = "x"\n',
    "modality.toml": '[[row]]\nmodality = "mri"\nfrom_mm = 0\n',
    "empty.db": "",
}


@pytest.fixture(scope="module")
def unit(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a registry `unit.db` of forty worked cases, and files that are not what they should be."""
    folder = tmp_path_factory.mktemp("unit")
    sqlite_copy(sqlite_template, folder / "unit.db")
    Workbook(CASES[:40]).save(folder / "worked.xlsx")
    assert gravelbook("intake", "load", str(folder / "worked.xlsx"), "--registry", str(folder / "unit.db")).status == 0
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "bytes.toml").write_bytes(b"name = \xff\xfe\n")
    (folder / "folder.csv").mkdir()
    other = sqlite3.connect(folder / "other.db")
    other.execute("CREATE TABLE somebody_elses (x)")
    other.close()
    assert gravelbook("stone-free", "--registry", str(folder / "unit.db")).status == 0
    return folder


@pytest.fixture
def ask(unit: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Answered]:
    """Asks in that folder, and sees that a refusal leaves every file as it was."""

    def asked(*options: str) -> Answered:
        monkeypatch.chdir(unit)
        before = stamps(unit)
        where = () if "--registry" in options else ("--registry", "unit.db")
        said = gravelbook("stone-free", *where, *options)
        assert stamps(unit) == before
        return said

    return asked


def stamps(folder: Path) -> dict[str, int]:
    """Every file and when it was last written; the log beside an open database comes and goes."""
    kept = [path for path in folder.iterdir() if not path.name.endswith(("-wal", "-shm"))]
    return {path.name: path.stat().st_mtime_ns for path in kept}


def is_one_paragraph(text: str) -> bool:
    return text.endswith("\n") and "\n\n" not in text and "Traceback" not in text and "went wrong inside" not in text


@pytest.mark.parametrize(("options", "why"), WRONG_USAGE, ids=[options for options, _ in WRONG_USAGE])
def test_wrong_usage(ask: Callable[..., Answered], options: str, why: str) -> None:
    said = ask(*options.split())
    assert (said.status, said.out) == (2, "")
    assert is_one_paragraph(said.err)
    assert why in " ".join(said.err.split())


@pytest.mark.parametrize(("options", "why"), AT_FAULT, ids=[options for options, _ in AT_FAULT])
def test_data_or_files_at_fault(ask: Callable[..., Answered], options: str, why: str) -> None:
    said = ask(*options.split())
    assert (said.status, said.out) == (1, "")
    assert is_one_paragraph(said.err)
    assert why in " ".join(said.err.split())


@pytest.mark.parametrize("options", [("--no-such-option",), ("--format", "xml"), ("more",)])
def test_click_refuses_in_its_own_words(ask: Callable[..., Answered], options: tuple[str, ...]) -> None:
    said = ask(*options)
    assert (said.status, said.out) == (2, "")
    assert "Error: " in said.err
    assert "gravelbook stone-free --help" in said.err


def test_an_older_revision_is_named_with_the_way_out(sqlite_location: str) -> None:
    with migrating(sqlite_location) as connection:
        move(connection, known_revisions()[-2])
    said = gravelbook("stone-free", "--registry", sqlite_location)
    assert (said.status, said.out) == (1, "")
    assert is_one_paragraph(said.err)
    assert "gravelbook store upgrade" in " ".join(said.err.split())


@pytest.mark.parametrize("name", ["treated_side.parquet", "manifest.json"])
def test_a_tampered_snapshot_answers_nothing(unit: Path, tmp_path: Path, sqlite_template: Path, name: str) -> None:
    place = sqlite_copy(sqlite_template, tmp_path / "unit.db")
    assert gravelbook("intake", "load", str(unit / "worked.xlsx"), "--registry", str(place)).status == 0
    assert gravelbook("snapshot", "take", "spring", "--registry", str(place)).status == 0
    (held,) = (tmp_path / "unit.db.snapshots" / "kept").rglob(name)
    held.chmod(0o600)
    changed = bytearray(held.read_bytes())
    changed[len(changed) // 2] ^= 1
    held.write_bytes(changed)
    said = gravelbook("stone-free", "--registry", str(place), "--snapshot", "spring")
    assert (said.status, said.out) == (1, "")
    assert is_one_paragraph(said.err)
    assert "is not as it was taken" in " ".join(said.err.split())


@pytest.mark.parametrize(
    ("name", "value", "why"),
    [
        ("stone_free_window", "soon", "stone_free_window = soon"),
        ("stone_free_windo", "14:90", "stands for no option"),
        ("auxiliary_days", "ninety", "auxiliary_days of site GC is 'ninety'"),
        ("small_number", "few", "small_number = few"),
    ],
)
def test_a_setting_that_cannot_be_meant(
    unit: Path, tmp_path: Path, sqlite_template: Path, name: str, value: str, why: str
) -> None:
    place = str(sqlite_copy(sqlite_template, tmp_path / "unit.db"))
    book = Workbook(CASES[:1])
    book.add("setting", {"site": "GC"}, setting_name=name, since=CASES[0].as_of.replace(year=2020), value=value)
    book.save(tmp_path / "unit.xlsx")
    assert gravelbook("intake", "load", str(tmp_path / "unit.xlsx"), "--registry", place).status == 0
    said = gravelbook("stone-free", "--registry", place)
    assert (said.status, said.out) == (1, "")
    assert is_one_paragraph(said.err)
    assert why in " ".join(said.err.split())


def test_a_registry_whose_key_is_gone(sqlite_location: str) -> None:
    Path(sqlite_location + ".key").unlink()
    said = gravelbook("stone-free", "--registry", sqlite_location)
    assert (said.status, said.out) == (1, "")
    assert is_one_paragraph(said.err)
    assert ".key" in said.err


def test_a_registry_with_two_units_that_set_different_defaults(sqlite_location: str, tmp_path: Path) -> None:
    with open_registry(sqlite_location) as registry, registry.writing(by="data desk") as door:
        for code, window in (("A", "14:90"), ("B", "28:120")):
            site = door.insert("site", {"code": code, "name": code})
            since = CASES[0].as_of.replace(year=2020)
            row = {"site_id": site, "setting_name": "stone_free_window", "since": since, "value": window}
            assert set(row) <= set(metadata.tables["setting"].columns.keys())
            door.insert("setting", row)
    said = gravelbook("stone-free", "--registry", sqlite_location, "--as-of", "2024-01-01")
    assert (said.status, said.out) == (1, "")
    assert "14:90 (A), 28:120 (B)" in " ".join(said.err.split())
    assert (
        gravelbook("stone-free", "--registry", sqlite_location, "--as-of", "2024-01-01", "--window", "14:90").status
        == 0
    )
