"""The same seed gives the same files, truth and list of errors, byte for byte."""

from __future__ import annotations

from pathlib import Path

import pytest

from synthetic_cohort.logs.make_log import STYLES, make_log
from synthetic_cohort.logs.mess import Mess


@pytest.mark.parametrize("style", STYLES)
def test_log_same_seed_same_bytes(style: str, tmp_path: Path) -> None:
    for name in ("one", "other"):
        make_log(style, 40, 5, mess=Mess.heavy(), errors=8).write(tmp_path / name)
    files = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert {"mapping.toml", "truth.json", "planted.json"} < set(files)
    for name in files:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "other" / name).read_bytes(), name


@pytest.mark.parametrize("style", STYLES)
def test_log_other_seed_other_patients(style: str) -> None:
    one, other = (make_log(style, 40, seed, mess=Mess.none()) for seed in (5, 6))
    assert one.contents() != other.contents()


@pytest.mark.parametrize("style", STYLES)
def test_log_mess_moves_no_planted_error(style: str) -> None:
    """What is planted does not depend on how messy the log is: the kinds, the patients, the cells' own values."""
    tidy, messy = (make_log(style, 40, 5, mess=mess, errors=8) for mess in (Mess.none(), Mess.heavy()))

    def said(log: object) -> list[object]:
        return [
            (of.kind.id, [[cell.value for cell in line.cells] for line in of.lines])
            for of in log.planted  # type: ignore[attr-defined]
        ]

    assert said(tidy) == said(messy)
