"""Model files that are wrong, each with the sentence that it must produce; it stands in the file's first line."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.reports.ratio.answer import answered
from analysis.reports.ratio.request import read_request
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.source import Asked
from registry.schema.errors import GravelbookError

from .scoped_unit import ScopedUnit

FOLDER = Path(__file__).with_name("wrong_models")
FILES = sorted(FOLDER.glob("*.toml"))


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Asked:
    """A unit of two ratios that answers a plain question, so that what is refused is the model's own fault."""
    unit = ScopedUnit()
    for pair, free in (((75, 100), 30), ((85, 100), 20)):
        for number in range(45):
            age = {"age_years": 30 + number}
            sex = "female" if number % 2 else "male"
            side = unit.side(pair, number < free, operator=f"S{number % 3}", sex=sex)
            unit.rows.tables["operation"][unit.rows.operation_of(side) - 1].update(age)
    return unit.asked(tmp_path_factory.mktemp("wrong"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_is_refused_in_its_sentence(asked: Asked, path: Path) -> None:
    first = path.read_text(encoding="utf-8").splitlines()[0]
    with pytest.raises(GravelbookError) as fault:
        request = read_request(path, {})
        answered(request.model, asked, contrast_asked=True, show=request.show)
    said = str(fault.value)
    assert first.removeprefix("# says: ") in said
    assert path.name in said
    assert "\n" not in said
    assert not isinstance(fault.value, MalformedOptionError)  # a file at fault leaves with status 1


def test_the_neighbour_runs(asked: Asked, tmp_path: Path) -> None:
    path = tmp_path / "model.toml"
    path.write_text('[outcome]\nwhat = "stone_free"\nthreshold = "2"\n[exposure]\ncolumn = "sheath_to_scope_ratio"\n')
    request = read_request(path, {})
    made = answered(request.model, asked, contrast_asked=True, show=request.show)
    assert made.adjusted is not None
    assert made.adjusted.n == 90


def test_a_file_that_is_not_there_or_no_text(tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match=r"cannot be read: no such file"):
        read_request(tmp_path / "none.toml", {})
    path = tmp_path / "sheet.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(GravelbookError, match="no text in UTF-8"):
        read_request(path, {})
